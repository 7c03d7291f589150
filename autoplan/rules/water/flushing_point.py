"""A drain too slow to stay clean has a point to flush it by."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Pipe
from autoplan.fittings.flushing import FlushTee
from autoplan.hydraulics.friction import velocity
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.brief import Flushing
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class FlushingPoint(Rule):
    """A tee with a plug near a slow drain's start, to put a hose in: what settles there never gets further.

    Ahead of a settler no drain goes without; the builder may wish for it on every drain from a tank, or on
    none. The optimiser weighs the tee and its plug against a narrower pipe that is fast enough.
    """

    id = "flushing-point"
    sentence = "A drain ahead of a settler, or where wished for, is fast enough or has a flushing point."
    source = "common practice, no source; speed from memory"
    unit = "missing"
    negotiable = True
    wished = "flushing_points"
    settings = (
        Setting("below", Dimension.VELOCITY, "0.3 m/s", "from memory", "speed below which solids settle"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with drains that it is wished for."""
        return any(_wished(site, run) for run in site.runs.values())

    def asks(self, site: Site, run: Run, pipe: Pipe) -> bool:
        """Whether this drain in this pipe needs one."""
        if not _wished(site, run):
            return False
        return velocity(site.flows[run.name].design_m3_s, pipe.bore_m) < self.values["below"] - 1e-9

    @answers(Fitted)
    def can_be_flushed(self, asked: Fitted) -> bool:
        """No slow drain without one."""
        missing = asked.kind is FlushTee and asked.fitting is None
        return not missing or not self.asks(asked.site, asked.run, asked.pipe)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per slow drain: a flushing point is missing unless tee and plug are there and mate."""
        for run in survey.gravity_runs():
            if self.asks(survey.site, run, survey.pipe(run.name)):
                yield self.at_most(OnRun(run.name), 0.0 if _works(survey, run.name) else 1.0, 0.0)


def _wished(site: Site, run: Run) -> bool:
    """Whether a run is a drain from a tank that is to have one where it is slow."""
    start, wish = site.vessels.get(run.start), site.wishes.flushing_points
    if wish is Flushing.NOWHERE or run.kind is not RunKind.GRAVITY or run.idle:
        return False
    if start is None or start.kind is not VesselKind.TANK:
        return False
    return wish is Flushing.ALL or ahead_of_settler(site, run)


def ahead_of_settler(site: Site, run: Run) -> bool:
    """Whether the vessel that a drain comes down to is a settler."""
    ends = {site.runs[path[-1]].finish for path in gravity_paths(site) if run.name in path}
    return any(site.vessels[end].kind is VesselKind.SETTLER for end in ends)


def _works(survey: Survey, name: str) -> bool:
    """Whether a run's flushing point is a tee whose third end its plug closes."""
    point = survey.drawn(name).one(FlushTee)
    if point is None or point.tee not in survey.catalog.tees or point.plug not in survey.catalog.fixtures:
        return False
    end = survey.catalog.fixtures[point.plug].end
    return end is not None and survey.joining.mates(survey.catalog.tees[point.tee].ends[2], end)
