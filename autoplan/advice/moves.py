"""Vessels that stand too low or too high: by how many millimetres each must move."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from autoplan.advice.case import Case, Least, named
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.search.without import Rows
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import Run, RunKind, Site, Vessel, VesselKind
from autoplan.rules.base import Concern
from autoplan.rules.book import KINDS, ROLES
from autoplan.rules.linear import Linear, Var
from autoplan.sentence import Amount, Text, say
from autoplan.side_by_side import side_by_side

MOST_MM = 2000
"""Furthest that a vessel is moved in trying [mm]; common practice, no source."""

LEAST_GUESS_MM = 5
"""First try where the relaxation has no guess [mm]."""

STEPS_IN_A_MM = 10

_OF_ONE_VESSEL = frozenset(rule.id for rule in KINDS.values() if rule.of_one_vessel)
_OF_OUTLETS = frozenset(rule.id for rule in KINDS.values() if rule.of_outlets)


@dataclass(frozen=True, slots=True)
class Move:
    """Vessels that move together: how they are called, which they are, whether up, and a first guess [mm]."""

    said: str
    vessels: tuple[str, ...]
    up: bool
    guess_mm: int

    @property
    def doing(self) -> str:
        """The move as something that is tried."""
        return f"{'raising' if self.up else 'lowering'} {self.said}"

    def at(self, site: Site, by_mm: int) -> Site:
        """The site with its vessels moved by so much."""
        by_m = (by_mm if self.up else -by_mm) / 1000
        moved = {name: lifted(site.vessels[name], by_m) for name in self.vessels}
        runs = {name: self._along(run, by_m) for name, run in site.runs.items()}
        junctions = {
            name: replace(one, height_m=one.height_m + by_m)
            if one.along in self.vessels and one.height_m is not None
            else one
            for name, one in site.junctions.items()
        }
        return replace(site, vessels={**site.vessels, **moved}, runs=runs, junctions=junctions)

    def _along(self, run: Run, by_m: float) -> Run:
        """A run that keeps its height to a vessel which is moved, or whose vent does."""
        plan = run.plan
        if plan is None or plan.along not in self.vessels:
            return run
        height, vent = (None if at_m is None else at_m + by_m for at_m in (plan.height_m, run.vent_m))
        return replace(run, plan=replace(plan, height_m=height), vent_m=vent)


def lifted(vessel: Vessel, by_m: float) -> Vessel:
    """A vessel that stands so much higher, with its water [m]."""
    return replace(
        vessel,
        floor_m=vessel.floor_m + by_m,
        water_min_m=vessel.water_min_m + by_m,
        water_max_m=vessel.water_max_m + by_m,
    )


def moved(case: Case) -> Iterator[Text]:
    """A sentence for each vessel that mends it by its move, up or down; those that move least come first."""
    moves = [move for move in sorted(_moves(case), key=lambda move: move.guess_mm) if case.begin(move.doing)]
    found = side_by_side([partial(_least, case, move) for move in moves])
    for move, least in zip(moves, found, strict=True):
        case.note(move.doing, least)
        if least is not None:
            yield _said(move, least)


def _least(case: Case, move: Move) -> Least | None:
    """The least millimetres by which a move mends it."""
    return case.least(partial(move.at, case.site), move.guess_mm, MOST_MM, partial(_further, case, move))


def _said(move: Move, least: Least) -> Text:
    less, by = (Amount(step / 1000, "mm", 0) for step in (least.step - 1, least.step))
    doing, at_most = move.doing[0].upper() + move.doing[1:], "" if least.proven else "at most "
    enough = say(" {} are not enough.", less) if least.proven and least.step > 1 else ""
    return say("{} by {}{} would leave a design.{}", doing, at_most, by, enough)


def _moves(case: Case) -> Iterator[Move]:
    """Every move by which the relaxation may come to have an answer."""
    rows = case.vain.plain
    for said, names in _movable(case.site):
        if rows is not None and all(case.vain.none_at_any_height(name) for name in names):
            continue
        for up in (True, False):
            guess = LEAST_GUESS_MM if rows is None else _needed_mm(rows, names, up=up)
            if guess is not None and guess <= MOST_MM:
                yield Move(said, names, up, max(1, guess))


def _further(case: Case, move: Move, site: Site) -> int | None:
    """A guess at how much further vessels must move where they have moved already; None where in vain."""
    rows = case.rows_at(site)
    return None if rows is None else _needed_mm(rows, move.vessels, up=move.up)


def _movable(site: Site) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Vessels by themselves, and beds that stand alike together."""
    beds: dict[tuple[float, ...], list[str]] = {}
    for name, vessel in site.vessels.items():
        if vessel.kind is VesselKind.BED:
            alike = (vessel.floor_m, vessel.depth_m, vessel.water_min_m, vessel.water_max_m)
            beds.setdefault(alike, []).append(name)
        else:
            yield name, (name,)
    for names in beds.values():
        yield named(names), tuple(names)


def _needed_mm(rows: Rows, vessels: Sequence[str], *, up: bool) -> int | None:
    """By how much the relaxation would have vessels move [mm, up], all else as it is; None where in vain.

    Runs that lead from one height to another can be bent otherwise once they lie further apart, of which the
    relaxation knows nothing; so where it has no answer it is asked again without what it says of their way.
    """
    shares = dict(_shares(rows, vessels))
    found, levels = None, sorted(_levels(rows.draft, vessels))
    if shares:
        found = rows.least_given(shares, up, levels)
        if found is None:
            found = rows.least_given(shares, up, levels, (ROLES[Concern.ROUTE],))
    return None if found is None else math.ceil(found / STEPS_IN_A_MM - 1e-6)


def _shares(rows: Rows, vessels: Sequence[str]) -> Iterator[tuple[int, int]]:
    """By place of a row how much more room it has for each step that vessels are raised.

    Rows of one vessel's own heights move with it. What a bed's drain is driven by is the bed's floor, what
    stands before a drain may come as high as its vessel's rim lets it, and what a pump lifts to is the lowest
    water of the vessel that it feeds; all are numbers in rows that know no level of theirs.
    """
    draft = rows.draft
    levels = _levels(draft, vessels)
    others = _levels(draft, [name for name in draft.site.vessels if name not in vessels])
    outlets, drains, feeds = _classes(draft.site, vessels)
    choices = {var for name in draft.site.classes() for var, _ in draft.candidates(name)}
    for place, row in enumerate(rows.rows):
        mine = sum(coef for var, coef in row.left.terms.items() if var in levels)
        has_mine = any(var in levels for var in row.left.terms)
        has_other = any(var in others for var in row.left.terms)
        from_here = row.rule in _OF_OUTLETS and bool(row.classes & outlets)
        falls = row.rule == ROLES[Concern.FALL] and bool(row.classes & drains)
        own = row.rule in _OF_ONE_VESSEL or from_here
        if has_mine and not has_other and (own or not _chosen(row.left, choices)):
            share = -mine
        elif not has_mine and row.rule == ROLES[Concern.LIFT] and row.classes & feeds:
            share = -1
        elif not has_mine and has_other and (falls or from_here):
            share = 1
        else:
            continue
        if share:
            yield place, share


def _chosen(left: Linear, choices: Collection[Var]) -> bool:
    return any(var in choices for var in left.terms)


def _levels(draft: Draft, vessels: Sequence[str]) -> Mapping[Var, str]:
    return {
        var: name
        for name in vessels
        for level in (draft.level(name), draft.overload_level(name))
        for var in level.terms
    }


def _classes(site: Site, vessels: Sequence[str]) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """Classes of their drains, of the drains of those that are beds, and of the feeds that end in them."""
    runs = site.runs
    outlets = [runs[path[0]] for path in gravity_paths(site) if runs[path[0]].start in vessels]
    drains = {run.run_class for run in outlets if site.vessels[run.start].kind is VesselKind.BED}
    feeds = {run.run_class for run in runs.values() if run.kind is RunKind.PRESSURE and run.finish in vessels}
    return frozenset(run.run_class for run in outlets), frozenset(drains), frozenset(feeds)
