"""Why there is no design, and what would mend it; what a missing part costs.

Nothing is advised that was not tried: each rule that is named as the one to give way on was switched off and
the problem searched again, and each number of millimetres was put into the problem and searched again. What
is not tried was shown to be in vain (`selection.without`).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from autoplan.advice.case import Case
from autoplan.advice.contradiction import never_cheaper
from autoplan.advice.sump import SUMP_RULES, sump_remedies
from autoplan.catalog.parts import Catalog
from autoplan.errors import InternalError
from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import Clash
from autoplan.problem.graph import drained_to
from autoplan.problem.site import Site, Vessel
from autoplan.rules.balance import highest_lift, pumped_flow
from autoplan.rules.base import Rule
from autoplan.rules.book import RuleBook
from autoplan.selection.attempt import Attempt, Try
from autoplan.selection.rank import Ranked
from autoplan.selection.shelf import Shelf
from autoplan.selection.solve import Ending
from autoplan.selection.without import Without
from autoplan.selection.workshop import Workshop

MATTERS_OF_TASTE = (
    "drain-bore",
    "drain-rigid",
    "drain-turns",
    "pressure-velocity",
    "comes-apart",
    "hole-saw",
    "hose-clamps",
    "sundries",
    "stock",
)
"""Rules a builder may give way on and still have a system that works; the others are how water behaves."""

LESS_TELLING = ("over-rim-start",)
"""Rules that ask for what another asks for anyway, and more: that one is named where either would do."""

HINTS = dict.fromkeys(
    ("flood-rate", "siphon-start", "siphon-break", "bell-fit"),
    ', or write drain = "standpipe" for a bed whose inflow suits no siphon',
) | {
    "timer-fill": ", or give a longer on_time or a smaller hole",
    "timer-drain": ", or give a larger hole, a shorter on_time or fewer floods",
    "drain-hole": ", or give a shorter on_time or fewer floods, which ask for a smaller hole",
    "surge": ", or give a larger vessel below the bed, or a smaller flood",
    "timer-shut": ", or write a higher overload below [wishes], which makes the drains wider",
}
"""What else a builder may do about a rule, by its id."""

EXPLAIN_S = 180.0
"""Time for all of it [s], where the user sets none: a builder would rather hear part of it than wait."""

STEPS_MM = (5, 10, 20, 30, 40, 50, 75, 100, 150, 200, 300, 400, 500)
"""How far a vessel is raised in trying; a builder works in such steps."""


def explain_none(
    site: Site,
    catalog: Catalog,
    book: RuleBook,
    found: Attempt,
    search: Try,
    workshop: Workshop,
    deadline: float | None,
) -> Clash:
    """Why there is no design.

    Args:
        site, catalog, book: the problem, price list and rules that have none.
        found: the attempt that proved it.
        search: searches a changed problem or rule book.
        workshop: what the drafts of this problem share.
        deadline: `time.monotonic()` after which no further remedy is tried; None for `EXPLAIN_S` from now.

    Returns:
        The rules that clash, and one sentence per remedy that was tried and works.
    """
    sentences: list[str] = []
    if found.lacking is not None:
        refused = ", ".join(found.lacking.rules) or "the price list"
        sentences.append(f"{found.lacking.run_class}: no {found.lacking.what} is left; refused by {refused}.")
    by_then = min(math.inf if deadline is None else deadline, time.monotonic() + EXPLAIN_S)
    vain, shelf = Without(site, catalog, book, workshop, by_then), workshop.shelf(site, book)
    case = Case(site, catalog, book, search, vain, shelf, by_then)
    mends: list[str] = []
    for rule in sorted(book.rules, key=lambda r: (r.id != "budget", not r.negotiable)):
        if case.late or not _worth_trying(rule):
            continue
        if "budget" in mends:
            # Money is what lacks; what could be given up to save some is for the builder to say.
            break
        priced = rule.id == "budget" or rule.id in MATTERS_OF_TASTE
        better = case.without(rule.id, cheapest=priced).ranking.designs
        if better:
            mends.append(rule.id)
            sentences.append(_giving_way(rule, site, catalog, better[0]))
            sentences += _strengths(case, rule.id)
    if not mends:
        mends, needed = _clashing(case)
        named = {rule.id: rule.sentence for rule in book.rules}
        sentences += [f"{rule_id}: {named[rule_id]}" for rule_id in mends]
        sentences += [said for rule_id in mends for said in _strengths(case, rule_id)]
        if mends and not needed:
            sentences.append(
                "These rules cannot all hold. Perhaps fewer of them clash already: it takes long to find out."
            )
    sentences += _raised(case, mends)
    if set(SUMP_RULES) & set(mends) and not case.late:
        sentences += sump_remedies(case)
    return Clash(tuple(mends), tuple(sentences))


def _worth_trying(rule: Rule) -> bool:
    """Rules that shape the model; a rule that only counts afterwards can never be what forbids."""
    kind = type(rule)
    hooks = [name for name in vars(Rule) if name in ("encode", "asks_of_end") or name.startswith("admits_")]
    shapes = any(getattr(kind, hook) is not getattr(Rule, hook) for hook in hooks)
    return rule.hard and (shapes or rule.by_orders)


def _giving_way(rule: Rule, site: Site, catalog: Catalog, best: Ranked) -> str:
    whole = best.verdict.cost.to_pay
    if rule.id == "budget" and site.wishes.budget is not None:
        gap = whole - site.wishes.budget
        if gap <= 0:
            raise InternalError(f"a design for {whole:.2f} keeps the budget that none was proven to keep")
        least = "the cheapest design" if best.proven else "the cheapest design found in time"
        return (
            f"budget: {least} costs {whole:.2f} {catalog.currency}, "
            f"{gap:.2f} {catalog.currency} more than there is."
        )
    if rule.id not in MATTERS_OF_TASTE:
        hint = HINTS.get(rule.id, "")
        return (
            f"{rule.id} stands in the way: {rule.sentence} This is no rule to drop; "
            f"change the heights, flows, vessels or parts that it speaks of{hint}."
        )
    return (
        f"{rule.id}: without it there is a design for {whole:.2f} {catalog.currency}. "
        f"The rule says: {rule.sentence}"
    )


def _strengths(case: Case, rule_id: str) -> list[str]:
    """Where pumps are what lacks, a sentence for each pumped vessel: its lift, and the strongest pump."""
    if rule_id != "pump-duty":
        return []
    return [pump_strength(case.site, case.shelf, vessel) for vessel in case.site.pumped_vessels()]


def pump_strength(site: Site, shelf: Shelf, vessel: str) -> str:
    """What a pump has to lift at least, and what the strongest gives that may be used, in a sentence."""
    flow = pumped_flow(site, vessel)
    curves = [PumpCurve(pump.curve) for pump in shelf.pumps()]
    heads = [curve.head(flow) for curve in curves if flow <= curve.run_out_m3_s]
    lift = math.floor(100 * highest_lift(site, vessel) + 1e-6) / 100
    best = (
        f"the strongest pump to be had gives {max(heads):.2f} m" if heads else "no pump to be had gives any"
    )
    return (
        f"From the lowest water of {vessel} the lift alone is at least {lift:.2f} m, and "
        f"losses and a margin come on top; at {flow * 3.6e6:.0f} L/h {best}."
    )


def _clashing(case: Case) -> tuple[list[str], bool]:
    """Rules that cannot hold together, and whether it is proven that each of them is needed for the clash.

    A rule is dropped only where there is proven to be no design even without it: first what the relaxation
    shows at once, then what searches do. Nothing is said where time ran out before each was tried.
    """
    trying = [rule for rule in case.book.rules if _worth_trying(rule)]
    kept = [rule.id for rule in sorted(trying, key=lambda r: (r.negotiable, r.id not in LESS_TELLING))]
    for rule_id in reversed(kept):
        if not case.late and case.vain.none_under(rule_id):
            return [rule_id], True
    # A rule that is left alone forbids every design, and nothing smaller than one rule can be named.
    off: list[str] = []
    for rule_id in kept:
        if len(off) < len(kept) - 1 and not case.late and case.vain.none_without((*off, rule_id)):
            off.append(rule_id)
    undecided = False
    for rule_id in [rule_id for rule_id in kept if rule_id not in off]:
        if len(off) == len(kept) - 1:
            break
        tried = None if case.late else case.without(*off, rule_id).ranking
        if tried is None or case.late:
            return [], False
        if not tried.designs and tried.ending is Ending.NONE:
            off.append(rule_id)
        undecided = undecided or tried.ending is Ending.UNDECIDED
    return [rule_id for rule_id in kept if rule_id not in off], not undecided


def _raised(case: Case, mends: Sequence[str]) -> list[str]:
    """The least step by which raising a fish tank mends it, where heights are what clashes."""
    sentences: list[str] = []
    for name in case.site.tanks():
        vessel = case.site.vessels[name]
        if not _may_be_low(case.site, vessel, mends) or case.vain.none_at_any_height(name):
            continue
        for step in STEPS_MM:
            if case.late:
                return sentences
            higher = _with_vessel(case.site, _lifted(vessel, step / 1000))
            if case.works(higher):
                sentences.append(f"Raising {vessel.name} by {step} mm would leave a design.")
                break
    return sentences


def _may_be_low(site: Site, vessel: Vessel, mends: Sequence[str]) -> bool:
    """Whether raising a vessel may mend what clashes: rules of heights, or a sump that it keeps down."""
    if {"drain-fall", "overload", "level-range", "hole-place"} & set(mends):
        return True
    sumps = (site.vessels[name] for name in drained_to(site, vessel.name))
    return "sump-low" in mends and any(vessel.water_max_m < sump.water_max_m for sump in sumps)


def _lifted(vessel: Vessel, by_m: float) -> Vessel:
    return replace(
        vessel,
        floor_m=vessel.floor_m + by_m,
        water_min_m=vessel.water_min_m + by_m,
        water_max_m=vessel.water_max_m + by_m,
    )


def _with_vessel(site: Site, vessel: Vessel) -> Site:
    return replace(site, vessels={**site.vessels, vessel.name: vessel})


def part_missed(
    site: Site,
    catalog: Catalog,
    book: RuleBook,
    without: Sequence[str],
    best: Ranked,
    search: Callable[[Site, RuleBook], Attempt],
) -> tuple[str, ...]:
    """What planning without some parts changes and costs, against the plan with them.

    Raises:
        InternalError: the plan without them is cheaper than what is proven cheapest with them.
    """
    whole = replace(site, unavailable=site.unavailable - frozenset(without))
    with_them = search(whole, book).ranking.designs
    if not with_them:
        return ()
    before, after = (ranked.verdict.cost.to_pay for ranked in (with_them[0], best))
    parts = ", ".join(without)
    never_cheaper(with_them[0], best, f"without {parts}")
    if best.objective < with_them[0].objective:
        return (
            f"Without {parts} the plan costs {after:.2f} {catalog.currency}; "
            "with it none that is cheaper was found in the time given.",
        )
    if not set(without) & _part_ids(with_them[0]):
        return (f"The cheapest plan does not use {parts}: nothing changes.",)
    # Ranked by ownership a plan that is dearer over the years may be cheaper to buy.
    change = f"{abs(after - before):.2f} {'less to buy' if after < before else 'more'}"
    notes = [
        f"Without {parts} the cheapest plan costs {after:.2f} {catalog.currency} "
        f"instead of {before:.2f}, {change}."
    ]
    for name, value in best.traits.items():
        before_it = with_them[0].traits.get(name, value)
        if before_it != value:
            notes.append(f"{name}: {value} instead of {before_it}.")
    gone = sorted(_part_ids(with_them[0]) - _part_ids(best))
    come = sorted(_part_ids(best) - _part_ids(with_them[0]))
    notes.append(f"Off the order: {', '.join(gone)}. New on it: {', '.join(come)}.")
    return tuple(notes)


def _part_ids(ranked: Ranked) -> set[str]:
    return {line.part for line in ranked.drawing.purchases}
