"""The limits of the rules on bell siphons."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from autoplan.catalog.kinds.siphon import MadeOf
from autoplan.problem.site import BellOf
from tests.rules import by_hand
from tests.rules.limits import Case, by_flow
from tests.rules.siphon_by_hand import Siphon

DRAIN = "bed drain 1"


def at_share(rule: str, key: str, share: float, unit: str) -> Any:
    """A plan whose rule asks for a share of what the finding says it has."""

    def changed(plan: Any) -> Any:
        finding = plan.findings(rule)["bed 1"]
        wanted = finding.value * share
        if rule == "full-bed-start":
            wanted = (wanted / (finding.limit / 1.02) - 1) * 100
        if rule == "siphon-break":
            wanted = (wanted / plan.findings("siphon-start")["bed 1"].value - 1) * 100
        return plan.rules({rule: {key: f"{wanted:.9f}{unit}"}})

    return changed


def by_arithmetic(key: str, share: float) -> Any:
    """A plan whose rule asks for a share of what the siphon has by the tests' own arithmetic."""

    def changed(plan: Any) -> Any:
        siphon = Siphon(plan.site, plan.catalog, plan.drawing, DRAIN)
        if key == "margin":
            wanted = (siphon.flow(0.025) / siphon.inflow * share - 1) * 100
            return plan.rules({"siphon-break": {"margin": f"{wanted:.9f} %"}})
        return plan.rules({"flood-rate": {key: f"{siphon.floods_per_hour(0.025) * share:.9f}/hour"}})

    return changed


def least_bore(share: float) -> Any:
    """A plan whose rule asks for a share of its standpipe's bore, 17 mm."""
    return lambda plan: plan.rules({"siphon-start": {"least_bore": f"{17 * share:.9f} mm"}})


def outside_mm(plan: Any) -> float:
    """Outside of the bell [mm]."""
    return float(plan.catalog.siphons[plan.drawing.runs[DRAIN].start.siphon.bell].outside_m * 1000)


def tall_mm(plan: Any) -> float:
    """From the floor to 25 mm over the lip [mm]."""
    return float((plan.drawing.runs[DRAIN].start.standpipe_top_m - 0.550) * 1000 + 25)


def fitted(what: str, key: str, least_mm: Callable[[Any], float], extra_mm: float) -> Any:
    """A plan whose bell or guard measures what it must in one way, give or take."""

    def changed(plan: Any) -> Any:
        siphon = plan.drawing.runs[DRAIN].start.siphon
        part = siphon.guard if what.endswith("guard") else siphon.bell
        return plan.part(part, **{key: (least_mm(plan) + extra_mm) / 1000})

    return changed


def fit(what: str, key: str, least_mm: Callable[[Any], float]) -> Case:
    """A measure of the bell or of the guard."""
    inside, past = fitted(what, key, least_mm, 0.01), fitted(what, key, least_mm, -0.01)
    return Case("bell-fit", f"bed 1: {what}", inside, past)


def flanged(what: str) -> Case:
    """The flange of the part in the floor 4 mm narrower than what stands over it, give or take."""

    def at(plan: Any, extra_mm: float) -> Any:
        end = plan.drawing.runs[DRAIN].start
        inside = plan.catalog.siphons[getattr(end.siphon, what)].inside_m
        other = {"bell": "guard", "guard": "bell"}[what]
        # What else stands over it is wide enough.
        wide = plan.part(getattr(end.siphon, other), inside_m=inside + 0.02)
        return wide.part(end.penetration, flange_m=inside - 0.004 + extra_mm / 1000)

    place = f"bed 1: inside of the {what} over the flange"
    return Case("flange-fit", place, lambda plan: at(plan, -0.01), lambda plan: at(plan, 0.01))


def tube(inside_mm: float) -> Callable[[Any], Any]:
    """A plan whose air tube is so wide inside."""
    return lambda plan: plan.part(plan.drawing.runs[DRAIN].start.siphon.snorkel, inside_m=inside_mm / 1000)


def cut_out(extra_mm: float) -> Callable[[Any], Any]:
    """A plan whose cut-outs, half of its bell's foot, are open for twice the bore of 17 mm, give or take."""

    def changed(plan: Any) -> Any:
        siphon = plan.drawing.runs[DRAIN].start.siphon
        inside = plan.catalog.siphons[siphon.bell].inside_m * 1000
        high = 2 * (math.pi / 4 * 17**2) / (0.5 * math.pi * inside)
        return plan.end(DRAIN, "start", siphon=replace(siphon, cut_out_m=(high + extra_mm) / 1000))

    return changed


def two_bores(extra_mm: float) -> Callable[[Any], Any]:
    """A plan that asks for two bores of 17 mm over the lip, and whose bell has them, give or take."""

    def changed(plan: Any) -> Any:
        asked = plan.rules({"bell-fit": {"bores": "2"}})
        return fitted("bell", "tallest_m", lambda plan: tall_mm(plan) - 25 + 2 * 17, extra_mm)(asked)

    return changed


def rim_mm(plan: Any) -> float:
    """From the bed's floor to its rim [mm]."""
    bed = plan.site.vessels["bed 1"]
    return float((bed.rim_m - bed.floor_m) * 1000)


def stiff(share: float) -> Any:
    """A plan whose bell is of a plastic so stiff that it just stands twice its height of water, give or take.

    Windenburg and Trilling by hand: E = p (1 - 0.4^2)^0.75 (L / D - 0.45 sqrt(t / D)) / 2.42 / (t / D)^2.5.
    """

    def changed(plan: Any) -> Any:
        end = plan.drawing.runs[DRAIN].start
        bell = plan.catalog.siphons[end.siphon.bell]
        tall = end.standpipe_top_m - 0.550 + 0.050
        thin = (bell.outside_m - bell.inside_m) / 2 / bell.outside_m
        slender = tall / bell.outside_m - 0.45 * math.sqrt(thin)
        modulus = 2 * tall * 1000 * 9.80665 * 0.84**0.75 * slender / 2.42 / thin**2.5
        return plan.rules({"bell-made": {"modulus": f"{modulus * share / 1e9:.12f}"}})

    return changed


def asking(bell: BellOf) -> Any:
    """A plan whose bed asks for bells made of this."""
    return lambda plan: plan.vessel("bed 1", bed=replace(plan.site.vessels["bed 1"].bed, bell=bell))


def of_a_bottle(asked: BellOf) -> Any:
    """A plan whose bell is made of a bottle, in a bed that asks for this."""

    def changed(plan: Any) -> Any:
        return asking(asked)(plan.part(plan.drawing.runs[DRAIN].start.siphon.bell, made=MadeOf.BOTTLE))

    return changed


SIPHON_CASES = (
    Case("bell-made", "bed 1: suction on the bell", stiff(1.0001), stiff(0.9999)),
    Case("bell-made", "bed 1: what the bell is of", of_a_bottle(BellOf.ANY), of_a_bottle(BellOf.PIPE)),
    Case("bell-made", "bed 1: what the bell is of", lambda plan: plan, asking(BellOf.BOTTLE)),
    by_flow(
        "siphon-start",
        "bed 1",
        DRAIN,
        lambda plan: by_hand.starts(plan, DRAIN) / plan.site.flows[DRAIN].design_m3_s,
        -1,
    ),
    Case(
        "full-bed-start",
        "bed 1",
        at_share("full-bed-start", "margin", 0.9999, " %"),
        at_share("full-bed-start", "margin", 1.0001, " %"),
    ),
    Case("siphon-start", "bed 1: bore", least_bore(0.9999), least_bore(1.0001)),
    Case(
        "siphon-break",
        "bed 1",
        at_share("siphon-break", "margin", 0.9999, " %"),
        at_share("siphon-break", "margin", 1.0001, " %"),
    ),
    Case(
        "flood-rate",
        "bed 1",
        at_share("flood-rate", "least", 0.9999, "/hour"),
        at_share("flood-rate", "least", 1.0001, "/hour"),
    ),
    Case(
        "flood-rate",
        "bed 1",
        at_share("flood-rate", "most", 1.0001, "/hour"),
        at_share("flood-rate", "most", 0.9999, "/hour"),
    ),
    # Two readings of what a handful of fittings lose agree to 3 per cent.
    Case("siphon-break", "bed 1", by_arithmetic("margin", 0.97), by_arithmetic("margin", 1.03)),
    Case("flood-rate", "bed 1", by_arithmetic("least", 0.97), by_arithmetic("least", 1.03)),
    Case("flood-rate", "bed 1", by_arithmetic("most", 1.03), by_arithmetic("most", 0.97)),
    # Round a standpipe 20 mm outside and 17 mm in the bore a ring of twice its bore: D^2 = d^2 + 2 bore^2.
    fit("inside of the bell", "inside_m", lambda _: math.hypot(20, math.sqrt(2) * 17)),
    fit("height of the bell", "tallest_m", tall_mm),
    fit("inside of the guard", "inside_m", lambda plan: outside_mm(plan) + 2 * 10),
    fit("height of the guard", "tallest_m", tall_mm),
    Case("bell-fit", "bed 1: height of the bell", two_bores(0.01), two_bores(-0.01)),
    Case("bell-fit", "bed 1: opening of the cut-outs", cut_out(0.01), cut_out(-0.01)),
    flanged("bell"),
    flanged("guard"),
    Case("air-tube", "bed 1: inside of the air tube", tube(6.001), tube(5.999)),
    Case("air-tube", "bed 1: inside of the air tube", tube(7.999), tube(8.001)),
    Case(
        "guard-rim",
        "bed 1: height of the guard",
        fitted("guard", "tallest_m", rim_mm, 0.01),
        fitted("guard", "tallest_m", rim_mm, -0.01),
    ),
)
