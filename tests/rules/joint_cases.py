"""Both sides of the limits of the rules on joints, stands, saws, clamps and cement."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from autoplan.catalog.mating import JointKind
from autoplan.fittings.valve import ValveSet
from autoplan.problem.site import VesselKind
from tests.rules.limits import Case, drilled, owning, packs

COUPLING, UNION, RUBBER = "drain-coupling-50", "union-50", "rubber-coupling-50"


def cemented(plan: Any, spare_m3: float) -> Any:
    """One tin of cement that holds what all sockets take, 3 mm thick, and a little more or less."""
    sizes = [joint.left_end.size for joint in plan.survey.joints if joint.kind is JointKind.WELDED]
    rows = [plan.catalog.systems["metric"][size] for size in sizes]
    need = sum(math.pi * row.outside_m * row.socket_m * 0.003 for row in rows)
    return plan.part(bought(plan, "cement"), content=need + spare_m3)


def bought(plan: Any, word: str) -> str:
    """The one part on the order whose id begins so."""
    (part,) = [line.part for line in plan.drawing.purchases if line.part.startswith(word)]
    return str(part)


def wiped(plan: Any, spare_m3: float) -> Any:
    """One tin of cleaner that holds what all sockets take, 1 mm thick, and a little more or less."""
    sizes = [joint.left_end.size for joint in plan.survey.joints if joint.kind is JointKind.WELDED]
    rows = [plan.catalog.systems["metric"][size] for size in sizes]
    need = sum(math.pi * row.outside_m * row.socket_m * 0.001 for row in rows)
    return plan.part(bought(plan, "cleaner"), content=need + spare_m3)


def greased(plan: Any, spare_m3: float) -> Any:
    """One tube that holds what the last 50 mm of pipe in all seals take, half a millimetre thick."""
    sizes = [joint.left_end.size for joint in plan.survey.joints if joint.kind is JointKind.SEAL]
    assert sizes
    need = sum(math.pi * plan.catalog.systems["metric"][size].outside_m * 0.05 * 0.0005 for size in sizes)
    return plan.part(bought(plan, "lubricant"), content=need + spare_m3)


def walled(plan: Any, wall_m: float) -> Any:
    """The tank's wall made so thick, in a list that has stands, none of which is on the order."""
    return plan.vessel("tank", wall_m=wall_m)


def standing(plan: Any, stands: int) -> Any:
    """The tank's wall of 2 mm, and so many stands for 50 mm pipe owned."""
    return owning(walled(plan, 0.002), "stand-40-65", stands)


def filtered(plan: Any, side: str, part: str) -> Any:
    """A tank that counts as a filter, and one adaptor at the end of its drain, which is drilled."""
    name = {"start": "tank", "finish": "sump"}[side]
    return drilled(plan).vessel(name, kind=VesselKind.SETTLER).end("tank drain", side, chain=(part,))


def hosed(plan: Any, clamps: Mapping[str, int]) -> Any:
    """The tank's feed in hose of 33 mm outside, two of its barbs under the shut-off head; clamps owned."""
    feed = plan.run("tank feed", pipe="hose-25-metre").fitting("tank feed", ValveSet, valve="ball-hose-25")
    feed = feed.end("tank feed", "start", chain=("hose-spigot-32-25",))
    return replace(feed, site=replace(feed.site, owned=clamps))


def unsettled(plan: Any, vessel: str, side: str, by_m: float, part: str) -> Any:
    """A vessel of uncertain height, and the adaptor at the tank drain's end there."""
    return drilled(plan).vessel(vessel, uncertain_m=by_m).end("tank drain", side, chain=(part,))


JOINT_CASES = (
    # Each millilitre counts: a tin that is one short is no tin.
    Case("sundries", "solvent cement", lambda p: cemented(p, 0.0), lambda p: cemented(p, -1e-6)),
    Case(
        "sundries", "solvent cement", lambda p: cemented(p, 1e-6), lambda p: packs(p, bought(p, "cement"), -1)
    ),
    Case("sundries", "cleaner", lambda p: wiped(p, 1e-9), lambda p: wiped(p, -1e-6)),
    Case("sundries", "seal lubricant", lambda p: greased(p, 1e-9), lambda p: greased(p, -1e-6)),
    # Tail and valve's inlet are clamped, the valve's outlet is not (common practice, no source).
    Case(
        "hose-clamps",
        "hose clamp 33 mm",
        lambda p: hosed(p, {"clamp-25-40": 2}),
        lambda p: hosed(p, {"clamp-25-40": 1}),
    ),
    Case(
        "hose-clamps",
        "hose clamp 33 mm",
        lambda p: hosed(p, {"clamp-25-40": 2}),
        lambda p: hosed(p, {"clamp-16-27": 9, "clamp-35-60": 9, "clamp-25-40": 1}),
    ),
    # A 2 mm wall does not carry the pipe in its seal, one of 6 mm does (common practice, no source).
    Case("seal-stand", "support stand 50 mm", lambda p: standing(p, 1), lambda p: standing(p, 0)),
    Case(
        "seal-stand",
        "support stand 50 mm",
        lambda p: owning(walled(p, 0.0059), "stand-40-65", 1),
        lambda p: walled(p, 0.0059),
    ),
    Case(
        "seal-stand",
        "support stand 50 mm",
        lambda p: standing(drilled(p).vessel("sump", wall_m=0.002), 2),
        lambda p: standing(drilled(p).vessel("sump", wall_m=0.002), 1),
    ),
    Case("hole-saw", "hole saw 64 mm", lambda p: packs(p, "saw-64", 1), lambda p: packs(p, "saw-64", -1)),
    Case(
        "hole-saw",
        "hole saw 64 mm",
        lambda p: owning(packs(p, "saw-64", -1), "saw-64", 1),
        lambda p: owning(packs(p, "saw-64", -1), "saw-61", 1),
    ),
    Case(
        "hole-saw",
        "hole saw 43 mm",
        lambda p: p.part("saw-43", least_m=0.043, most_m=0.043),
        lambda p: p.part("saw-43", least_m=0.0431, most_m=0.0431),
    ),
    Case(
        "comes-apart",
        "main at sump",
        lambda p: p.end("main", "start", chain=("union-female-32-1",)),
        lambda p: p.end("main", "start", chain=("thread-female-32-1",)),
    ),
    Case(
        "comes-apart",
        "tank drain at tank",
        lambda p: filtered(p, "start", UNION),
        lambda p: filtered(p, "start", COUPLING),
    ),
    Case(
        "comes-apart",
        "tank drain at sump",
        lambda p: filtered(p, "finish", RUBBER),
        lambda p: filtered(p, "finish", COUPLING),
    ),
    Case(
        "flexible-joint",
        "tank drain at tank",
        lambda p: unsettled(p, "tank", "start", 0.011, RUBBER),
        lambda p: unsettled(p, "tank", "start", 0.011, COUPLING),
    ),
    Case(
        "flexible-joint",
        "tank drain at sump",
        lambda p: unsettled(p, "sump", "finish", 0.0101, RUBBER),
        lambda p: unsettled(p, "sump", "finish", 0.0101, UNION),
    ),
    Case(
        "flexible-joint",
        "tank drain at tank",
        lambda p: unsettled(p, "tank", "start", 0.5, RUBBER),
        lambda p: unsettled(p, "tank", "start", 0.5, UNION),
    ),
)
