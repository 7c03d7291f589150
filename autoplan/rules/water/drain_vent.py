"""A drain that would carry air down with its water by fits and starts gets a vent at its head."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Pipe
from autoplan.fittings.vent import Vent
from autoplan.hydraulics.gravity import SELF_VENTING_FROUDE, pipe_froude
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Draw, Run, RunKind, Site
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.rules.water.collector import vent_top
from autoplan.units import Dimension

MARK = "L. L. Simpson, Chem. Eng. 1968; P. D. Hills, Chem. Eng. 1983 (both from memory)"

UP_TO = Setting("froude", Dimension.NUMBER, f"{SELF_VENTING_FROUDE:g}", MARK, "up to which air gets past")


class DrainVent(Rule):
    """Up to a pipe Froude number V / sqrt(g D) of 0.3 a drain lets air back past its water: it vents itself.

    From there until it runs full-bore it swallows air, fills, siphons empty and begins anew: it gulps, and
    the water over it goes up and down. A wall outlet stands at the water line with fall to spare, so it
    never runs full for long: it takes a pipe wide enough, or a tee with an open upright at its head. A
    riser's open tee is such a vent, beds' siphons are to run full, and a junction of drains has its own.
    """

    id = "drain-vent"
    sentence = "A drain too full to vent itself has an open pipe at its head, its top over the rim."
    source = MARK
    unit = "mm"
    negotiable = True
    wished = "vents"
    settings = (UP_TO,)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with drains from walls, unless the builder wants no vents."""
        return site.wishes.vents and any(may_gulp(site, run) for run in site.runs.values())

    def wish(self, site: Site) -> str:  # noqa: ARG002
        """What stands there."""
        return "vents on drains"

    def asks(self, site: Site, run: Run, pipe: Pipe) -> bool:
        """Whether a drain in this pipe needs one."""
        flow = site.flows[run.name].design_m3_s
        if not site.wishes.vents:
            return False
        return may_gulp(site, run) and pipe_froude(flow, pipe.bore_m) > self.values["froude"] + 1e-9

    @answers(Fitted)
    def has_one(self, asked: Fitted) -> bool:
        """No such drain without."""
        missing = asked.kind is Vent and asked.fitting is None
        return not missing or not self.asks(asked.site, asked.run, asked.pipe)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """For each drain from a wall its Froude number, or with a vent the height of its top."""
        for run in survey.gravity_runs():
            if not survey.site.wishes.vents or not may_gulp(survey.site, run):
                continue
            if survey.drawn(run.name).one(Vent) is None:
                found = pipe_froude(survey.design_flow(run.name), survey.pipe(run.name).bore_m)
                yield self.at_most(OnRun(run.name), found, self.values["froude"], unit="V/sqrt(gD)")
            else:
                rim = survey.site.vessels[run.start].rim_m
                yield self.not_under(OnRun(run.name, "vent"), vent_top(survey, run.name), rim, 0.5)


def may_gulp(site: Site, run: Run) -> bool:
    """Whether a run is a drain that takes its water from a wall, without a vent of another kind."""
    drain = run.kind is RunKind.GRAVITY and run.start in site.vessels and not run.idle
    return drain and run.draw is Draw.WALL
