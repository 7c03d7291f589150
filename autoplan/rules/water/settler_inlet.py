"""Water comes into a settler downwards and slowly, so that what it carries sinks and is not swept across."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.rim import OverRim
from autoplan.fittings.wall import ThroughWall
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import Entering
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class SettlerInlet(Rule):
    """A drain that enters a settler is turned down inside: by a turn on its end, or over the rim.

    A jet that shoots across just under the water carries solids straight to the outlet, which
    `report.sections.around` puts on the other side.
    """

    id = "settler-inlet"
    sentence = "Water enters a settler downwards: by an end turned down inside, or over its rim."
    source = "common practice, no source"
    unit = "ends turned down"
    negotiable = True
    of_taste = True
    local = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a drain into a settler."""
        return any(settles(site, run) for run in site.runs.values())

    @answers(Entering)
    def looks_down(self, asked: Entering) -> bool:
        """Into a settler only ends that are turned down."""
        return asked.down or not settles(asked.site, asked.run)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain into a settler."""
        for run in survey.gravity_runs():
            finish = survey.drawn(run.name).finish
            if settles(survey.site, run) and not survey.drawn(run.name).later:
                turned = isinstance(finish, OverRim) or (
                    isinstance(finish, ThroughWall) and finish.down is not None
                )
                yield self.not_under(AtEnd(run.name, run.finish), float(turned), 1.0)


def settles(site: Site, run: Run) -> bool:
    """Whether a run is a drain that enters a settler."""
    vessel = site.vessels.get(run.finish)
    return run.kind is RunKind.GRAVITY and vessel is not None and vessel.kind is VesselKind.SETTLER
