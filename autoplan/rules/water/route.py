"""Every run on the plan leads from the height of its start to that of its finish."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.fittings.ends import AtVessel
from autoplan.line.laid import Bench, slots_and_room
from autoplan.line.route import Toward
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.problem.standing import MOUTH_IN_M, begins_at, inside_m
from autoplan.rules.base import Concern, Given, Mend, ModelView, Rule, Setting, Shared
from autoplan.rules.candidate import Apart
from autoplan.rules.heights import DATUM, Place
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.quantities import APART, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

OFF_M = 0.002
"""Legs lead to the height that is asked to so much [m]: what a saw cut and a socket let go unseen."""


class Route(Rule):
    """Uprights make up the difference of heights, level legs the distance on the plan; drains never rise.

    A drain out of a hole comes down by a tilt, by two 45s or by a drop leg. Each asks for heights that are
    so far apart: a tilt for few, two 45s and a drop leg for room for their fittings. Between its corners each
    leg has room for what turns, ends and valves take, and a stub of pipe.
    """

    id = "route"
    sentence = "Each run leads from the height of its start to that of its finish, and no drain rises."
    source = "geometry; tilt: common practice (one to three degrees)"
    unit = "mm"
    negotiable = True
    role = Concern.ROUTE
    shares = Shared.ROOM
    mended_by = frozenset((Mend.HEIGHTS,))
    of_one_vessel = True
    settings = (
        Setting(
            "tilt",
            Dimension.NUMBER,
            "3.5 %",
            "common practice, no source",
            "most fall of a pipe laid askew, which seals and couplings take",
            Given.TILT,
        ),
    )
    reads = (less(APART, lambda _, run: run.plan is not None),)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Measured legs are taken as they are."""
        return any(run.plan is not None for run in site.runs.values())

    def encode(self, draft: ModelView) -> None:
        """Of each difference of levels that some way to build a run asks for, its least and its most."""
        for name, run in draft.site.runs.items():
            options = draft.each(APART, name) if run.plan is not None else ()
            for higher, lower in dict.fromkeys(
                (one.higher, one.lower) for _, asked in options for one in asked
            ):
                apart = _level(draft, higher) - _level(draft, lower)
                span = _span(draft.site, higher, lower)
                least = weighted(_bounds(options, higher, lower, span, most=False))
                most = weighted(_bounds(options, higher, lower, span, most=True))
                draft.at_least(self.id, apart, least)
                draft.at_least(self.id, most, apart)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """How far legs miss height and distance, rises and tilts of drains, and room for fittings.

        Values are how far at most, what the tightest leg has over a stub, and the most fall in a hundred.
        """
        bench = Bench(survey.catalog, survey.joining)
        for name, run in survey.site.runs.items():
            if run.plan is None or survey.drawn(name).later:
                continue
            yield self.at_most(OnRun(name), self._off(survey, run), OFF_M)
            _, room = slots_and_room(bench, survey.site, survey.drawn(name))
            yield self.not_under(OnRun(name, "room"), room, 0.0, 1e-2)
            steepest = self._steepest(survey, run)
            if steepest is not None:
                most = 100 * self.values["tilt"]
                yield self.at_most(OnRun(name, "tilt"), 100 * steepest, most, 1e-4, unit="%")

    def _off(self, survey: Survey, run: Run) -> float:
        """How far the legs miss where they should lead [m]: in height, on the plan."""
        drawn, site = survey.drawn(run.name), survey.site
        begin, end = _begins(survey, run), _ends(survey, run)
        assert run.plan is not None
        level = run.plan.distance_m + inside_m(site, run)
        if drawn.rim is not None:
            level += site.vessels[run.finish].wall_m + MOUTH_IN_M
        high = abs(end - begin - sum(leg.rise_m for leg in drawn.legs))
        # A pipe that needs more room to turn over a rim hangs further in.
        wide = sum(leg.level_m for leg in drawn.legs) - level
        spare = 0.0 if drawn.rim is None else site.vessels[run.finish].radius_m
        return max(high, -wide, wide - spare)

    def _steepest(self, survey: Survey, run: Run) -> float | None:
        """Most fall of a rigid leg that is neither upright nor between two 45s [m/m]; None without one.

        A drain that rises anywhere counts as falling without end.
        """
        drawn = survey.drawn(run.name)
        falls = run.kind is RunKind.GRAVITY and run.plan is not None and run.plan.height_m is None
        # A siphon pipe outside a bed rises once, to its crest.
        legs = drawn.legs if drawn.outside is None else drawn.legs[2:]
        if falls and any(leg.rise_m > OFF_M for leg in legs):
            return math.inf
        level = (leg for leg in drawn.legs if leg.toward in (Toward.ALONG, Toward.ACROSS))
        return max((abs(leg.rise_m) / leg.level_m for leg in level if leg.level_m > 0), default=None)


def _begins(survey: Survey, run: Run) -> float:
    """Height at which a run begins above the datum [m].

    Raises:
        ValueError: it is not known.
    """
    begin, start = begins_at(survey.site, run), survey.drawn(run.name).start
    if begin is None and isinstance(start, AtVessel):
        begin = start.centre_m
    if begin is None:
        raise ValueError(f"{run.name}: nobody knows at what height it begins")
    return begin


def _ends(survey: Survey, run: Run) -> float:
    """Height at which a run ends above the datum [m], over a rim its crest.

    Raises:
        ValueError: it is not known.
    """
    finish = survey.drawn(run.name).finish
    at = finish.centre_m if isinstance(finish, AtVessel) else survey.site.junctions[finish.at].at_m
    if at is None:
        raise ValueError(f"{run.name}: nobody knows at what height it ends")
    return at


def _level(draft: ModelView, place: Place) -> Linear:
    if isinstance(place, str):
        return Linear()
    return draft.overload_level(place.vessel) if place.overloaded else draft.level(place.vessel)


def _span(site: Site, higher: Place, lower: Place) -> tuple[int, int]:
    """Between what two levels may differ at all [0.1 mm]: from floor to rim."""
    ends = []
    for place in (higher, lower):
        vessel = None if place == DATUM or isinstance(place, str) else site.vessels[place.vessel]
        ends.append((0, 0) if vessel is None else (tenth_mm_down(vessel.floor_m), tenth_mm_up(vessel.rim_m)))
    (low, high), (other_low, other_high) = ends
    return low - other_high, high - other_low


def _bounds(
    options: Sequence[tuple[Var, tuple[Apart, ...]]],
    higher: Place,
    lower: Place,
    span: tuple[int, int],
    *,
    most: bool,
) -> Iterator[tuple[Var, int]]:
    """By way to build a run its bound on a difference of levels [0.1 mm], no wider than can be."""
    for var, asked in options:
        bound = next((one for one in asked if (one.higher, one.lower) == (higher, lower)), None)
        if most:
            asks = bound is not None and bound.most_m < math.inf
            yield var, min(span[1], tenth_mm_down(bound.most_m)) if bound and asks else span[1]
        else:
            asks = bound is not None and bound.least_m > -math.inf
            yield var, max(span[0], tenth_mm_up(bound.least_m)) if bound and asks else span[0]
