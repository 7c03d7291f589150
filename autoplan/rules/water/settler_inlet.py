"""Water comes into a settler downwards and slowly, so that what it carries sinks and is not swept across."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.fittings.rim import OverRim
from autoplan.fittings.wall import ThroughWall
from autoplan.outcome import Finding
from autoplan.places import AtEnd, OnRun
from autoplan.problem.brief import SettlerInletBy
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import Entering
from autoplan.rules.base import Given, Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class SettlerInlet(Rule):
    """A drain that enters a settler is turned down inside, comes over the rim, or ends in a stilling well.

    A jet that shoots across just under the water carries solids straight to the outlet, which
    `report.sections.around` puts on the other side. A stilling well is a wide pipe, open at both ends, that
    hangs from the rim round the end of the drain: the water sinks in it, no faster than is stated, and
    leaves by its foot, well under the inlet and off the floor where the sludge lies.
    """

    id = "settler-inlet"
    sentence = (
        "Water enters a settler downwards: by an end turned down inside, over its rim, or in a stilling well."
    )
    source = "common practice, no source; a stilling well's measures: from memory"
    unit = "ends turned down"
    negotiable = True
    of_taste = True
    local = True
    hint = ', or write settler_inlet = "any" below [wishes]'
    settings = (
        Setting("sinks", Dimension.VELOCITY, "0.1 m/s", "from memory", "most speed down a stilling well"),
        Setting(
            "wide", Dimension.NUMBER, "2", "from memory", "its inside over the outside of the pipe in it"
        ),
        Setting(
            "under",
            Dimension.LENGTH,
            "100 mm",
            "from memory",
            "from the underside of that pipe to its foot, with the water at its lowest",
            Given.WELL_UNDER,
        ),
        Setting("floor", Dimension.LENGTH, "150 mm", "from memory", "from its foot to the floor, at least"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a drain into a settler."""
        return any(settles(site, run) for run in site.runs.values())

    @answers(Entering)
    def looks_down(self, asked: Entering) -> bool:
        """Into a settler only ends that are turned down, over the rim or in a well that is wide and long."""
        if not settles(asked.site, asked.run):
            return not asked.well
        by, well = asked.site.wishes.settler_inlet, asked.well
        if well is None:
            return asked.down and by is not SettlerInletBy.WELL
        vessel = asked.site.vessels[asked.run.finish]
        under = vessel.water_min_m - asked.outside_m - self.values["under"]
        return (
            by is not SettlerInletBy.TURN
            and well.inside_m >= self.values["wide"] * asked.outside_m - 1e-9
            and asked.site.flows[asked.run.name].design_m3_s
            <= self.values["sinks"] * math.pi / 4 * well.inside_m**2 + 1e-12
            # It is cut to a whole millimetre, no shorter than that.
            and vessel.rim_m - under <= well.tallest_m - 0.001
            and under - vessel.floor_m >= self.values["floor"] + 0.001
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain into a settler, and four for each stilling well."""
        by = survey.site.wishes.settler_inlet
        for run in survey.gravity_runs():
            finish = survey.drawn(run.name).finish
            if not settles(survey.site, run) or survey.drawn(run.name).later:
                continue
            welled = isinstance(finish, ThroughWall) and bool(finish.well)
            turned = isinstance(finish, OverRim) or (
                isinstance(finish, ThroughWall) and finish.down is not None
            )
            slowed = {SettlerInletBy.WELL: welled, SettlerInletBy.TURN: turned}.get(by, welled or turned)
            yield self.not_under(AtEnd(run.name, run.finish), float(slowed), 1.0)
            if isinstance(finish, ThroughWall) and finish.well:
                yield from self._well(survey, run, finish)

    def _well(self, survey: Survey, run: Run, end: ThroughWall) -> Iterator[Finding]:
        """Speed, width and length of a stilling well, and how far it stands off the floor."""
        well, pipe = survey.catalog.siphons[end.well], survey.pipe(run.name)
        vessel = survey.site.vessels[run.finish]
        speed = survey.design_flow(run.name) / (math.pi * well.inside_m * well.inside_m / 4)
        at = OnRun(run.name, "speed in its well")
        yield self.at_most(at, speed, self.values["sinks"], 1e-6, "m/s")
        at = OnRun(run.name, "width of its well")
        yield self.not_under(at, well.inside_m, self.values["wide"] * pipe.outside_m, 1e-6, "mm")
        at = OnRun(run.name, "length of its well")
        yield self.at_most(at, end.well_m, well.tallest_m, 1e-6, "mm")
        foot, centre = vessel.rim_m - end.well_m, end.centre_m or 0.0
        at = OnRun(run.name, "foot of its well under it")
        yield self.not_under(at, centre - pipe.outside_m / 2 - foot, self.values["under"], 1e-6, "mm")
        at = OnRun(run.name, "foot of its well over the floor")
        yield self.not_under(at, foot - vessel.floor_m, self.values["floor"], 1e-6, "mm")


def settles(site: Site, run: Run) -> bool:
    """Whether a run is a drain that enters a settler."""
    vessel = site.vessels.get(run.finish)
    return run.kind is RunKind.GRAVITY and vessel is not None and vessel.kind is VesselKind.SETTLER
