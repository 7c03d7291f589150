"""How much higher or lower a hole may come out than it is drawn, before which rule breaks.

The hole is moved in the drawing by whole millimetres, the upright beside it cut to suit, the water of every
vessel let find its level again, and the rules on heights are asked. Nothing else is moved. A hole that parts
a vessel's water with others may be off by no more than what moves a share too far.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing, DrawnLevel
from autoplan.fittings.wall import ThroughWall
from autoplan.line.laid import Bench, slots_and_room
from autoplan.line.route import LEVEL_M, Leg, Toward
from autoplan.line.row import Line
from autoplan.outcome import Finding, HoleRoom
from autoplan.problem.flows import shared_outlets
from autoplan.problem.site import Site
from autoplan.rules.base import Mend, Rule
from autoplan.rules.book import RuleBook
from autoplan.rules.survey import Survey
from autoplan.rules.water.share_hole import ShareHole, hole_tolerances

MM_M = 1e-3

FARTHEST = 50
"""By how many millimetres a hole is moved at most."""


def hole_rooms(
    site: Site, catalog: Catalog, book: RuleBook, drawing: Drawing
) -> dict[tuple[str, str], HoleRoom]:
    """Of every hole in a wall that is built now, by run and vessel.

    Args:
        site, catalog, book: the problem, the price list, the rules in force.
        drawing: a design that breaks no hard rule.
    """
    mover = _Mover(site, catalog, book, drawing)
    return {
        (line.run, end.at): mover.room(line, end)
        for line in drawing.runs.values()
        for end in (() if line.later else line.ends)
        if isinstance(end, ThroughWall) and end.centre_m is not None
    }


def _farthest(holds: Callable[[int], bool]) -> int:
    """The most whole millimetres at which nothing breaks.

    By halving: what holds at some distance is taken to hold at every shorter one.
    """
    if holds(FARTHEST):
        return FARTHEST
    low, high = 0, FARTHEST
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _parting(survey: Survey, book: RuleBook) -> dict[tuple[str, str], int]:
    """By how many whole millimetres a hole that parts a vessel's water may be off, by run and vessel.

    The rule that says so only warns, so it is not among those that a moved hole breaks.
    """
    return {
        (name, vessel): math.floor(off / MM_M + 1e-6)
        for rule in book.rules
        if isinstance(rule, ShareHole)
        for vessel, outlets in shared_outlets(survey.site).items()
        for name, off in hole_tolerances(survey, outlets, rule.values["share"]).items()
    }


@dataclass(frozen=True, slots=True)
class _Water:
    """Where the water of each vessel stands by its outlets above the datum [m]: running, at overload."""

    running: Mapping[str, float]
    overloaded: Mapping[str, float]

    @classmethod
    def of(cls, survey: Survey, factor: float) -> _Water:
        """As the drawing's outlets hold it."""
        vessels = survey.site.vessels
        return cls(
            {name: survey.standing_level(name, 1.0) for name in vessels},
            {name: survey.standing_level(name, factor, clogged=True) for name in vessels},
        )


class _Mover:
    """Moves one hole at a time."""

    def __init__(self, site: Site, catalog: Catalog, book: RuleBook, drawing: Drawing) -> None:
        self.site, self.catalog, self.drawing = site, catalog, drawing
        self.survey = survey = Survey(site, catalog, drawing)
        self.bench = Bench(catalog, survey.joining)
        self.factor = survey.overload_factor()
        self.water = _Water.of(survey, self.factor)
        self.rules = [rule for rule in book.rules if Mend.HEIGHTS in rule.mended_by]
        self.likely = [*self.rules]
        self.holding = {_key(found) for found in self._findings(self.rules, survey) if found.ok}
        self.slack = {name: self._slack(line) for name, line in drawing.runs.items()}
        self.parting = _parting(survey, book)

    def room(self, line: Line, end: ThroughWall) -> HoleRoom:
        """How far one hole may be off."""
        (higher, above), (lower, below) = (self._way(line, end, way) for way in (1, -1))
        return HoleRoom(higher * MM_M, above, lower * MM_M, below)

    def _way(self, line: Line, end: ThroughWall, way: int) -> tuple[int, str]:
        """How many millimetres it may be off one way, and what breaks a millimetre further."""
        most = _farthest(lambda by_mm: self._holds(line, end, way * by_mm))
        parting = self.parting.get((line.run, end.at), FARTHEST)
        if parting < most:
            return parting, ShareHole.sentence
        return most, "" if most == FARTHEST else self.breaks(line, end, way * (most + 1))

    def _findings(self, rules: Iterable[Rule], survey: Survey) -> Iterator[Finding]:
        return (found for rule in rules for found in rule.check(survey) if found.hard)

    def _broken(self, rules: Iterable[Rule], survey: Survey) -> Iterator[Finding]:
        """What broke that held before."""
        found = self._findings(rules, survey)
        return (one for one in found if not one.ok and _key(one) in self.holding)

    def _holds(self, line: Line, end: ThroughWall, by_mm: int) -> bool:
        """Whether no rule breaks with a hole that much higher; what broke last is asked first."""
        survey = self._moved(line, end, by_mm)
        if survey is None:
            return False
        for place, rule in enumerate(self.likely):
            if next(self._broken((rule,), survey), None) is not None:
                self.likely.insert(0, self.likely.pop(place))
                return False
        return True

    def breaks(self, line: Line, end: ThroughWall, by_mm: int) -> str:
        """Sentence of the first rule that breaks with a hole that much higher; "" where none does."""
        survey = self._moved(line, end, by_mm)
        if survey is None:
            return NO_ROOM
        return next((found.sentence for found in self._broken(self.rules, survey)), "")

    def _moved(self, line: Line, end: ThroughWall, by_mm: int) -> Survey | None:
        """The drawing with a hole that much higher; None where the fittings beside it have no room so."""
        moved = shifted(line, end, by_mm * MM_M)
        if moved is None or self._slack(moved) < min(self.slack[line.run], 0.0) - LEVEL_M:
            return None
        return self.survey.with_other(self._with(moved))

    def _slack(self, line: Line) -> float:
        """What the tightest straight of a line has over what its parts take [m]."""
        return slots_and_room(self.bench, self.site, line)[1] if line.legs and not line.later else math.inf

    def _with(self, moved: Line) -> Drawing:
        """The drawing with another line, and the water where its outlets then hold it."""
        drawing = replace(self.drawing, runs={**self.drawing.runs, moved.run: moved})
        now = _Water.of(self.survey.with_other(drawing), self.factor)
        levels = {
            name: DrawnLevel(
                name,
                level.design_m + now.running[name] - self.water.running[name],
                level.overload_m + now.overloaded[name] - self.water.overloaded[name],
            )
            for name, level in self.drawing.levels.items()
        }
        return replace(drawing, levels=levels)


NO_ROOM = "The fittings between this hole and the height at which its run goes have room."


def _key(found: Finding) -> tuple[str, object]:
    return found.rule, found.place


def shifted(line: Line, end: ThroughWall, by_m: float) -> Line | None:
    """A line with one of its holes higher [m] and the legs cut to suit; None where no leg can make it up."""
    assert end.centre_m is not None
    other = replace(end, centre_m=end.centre_m + by_m)
    starts = end is line.start
    moved = line.with_ends(other, line.finish) if starts else line.with_ends(line.start, other)
    if not line.legs:
        return moved
    legs = _made_up([*line.legs], -by_m if starts else by_m, starts=starts)
    return None if legs is None else replace(moved, legs=tuple(legs))


def _made_up(legs: list[Leg], rise_m: float, *, starts: bool) -> list[Leg] | None:
    """Legs that rise by so much more [m]: by the upright nearest to that end, or all of them askew."""
    upright = [place for place, leg in enumerate(legs) if leg.toward in (Toward.UP, Toward.DOWN)]
    if not upright:
        level = sum(leg.level_m for leg in legs)
        return [_rising(leg, leg.level_m, leg.rise_m + rise_m * leg.level_m / level) for leg in legs]
    at = upright[0] if starts else upright[-1]
    leg = legs[at]
    rise = leg.rise_m + rise_m
    if rise * leg.rise_m <= 0:
        return None
    # Two 45s go as far along as they go down: what they take more the next leg lacks.
    aslant = leg.level_m > LEVEL_M
    legs[at] = _rising(leg, abs(rise) if aslant else 0.0, rise)
    if aslant:
        beside = legs[at + 1]
        level = beside.level_m - abs(rise) + leg.level_m
        if level <= 0:
            return None
        legs[at + 1] = _rising(beside, level, beside.rise_m)
    return legs


def _rising(leg: Leg, level_m: float, rise_m: float) -> Leg:
    return Leg(math.hypot(level_m, rise_m), leg.toward, rise_m)
