"""Where solids would settle in a drain, say so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.fittings.flushing import FlushTee
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.brief import Flushing
from autoplan.problem.site import Run, VesselKind
from autoplan.rules.base import Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class DrainVelocity(Rule):
    """A drain that is wide for safety may be too slow to stay clean: a warning, never a refusal.

    Speaks of the drains from fish tanks; downstream of a settler speed matters less. That one ahead of a
    settler has a flushing point then is asked by `flushing-point`.
    """

    id = "drain-velocity"
    sentence = "Drains upstream of the settler flow fast enough to stay clean; where not, flush them."
    source = "from memory"
    unit = "m/s"
    hard = False
    settings = (
        Setting(
            "least",
            Dimension.VELOCITY,
            "0.3 m/s",
            "from memory",
            "speed that keeps solids moving in a line that can be flushed",
        ),
    )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain from a tank."""
        for run in survey.gravity_runs():
            start = survey.site.vessels.get(run.start)
            if start is not None and start.kind is VesselKind.TANK and not run.idle:
                how = "flushed by its tee and plug" if survey.drawn(run.name).one(FlushTee) else ""
                place, speed = OnRun(run.name, how=how), survey.velocity(run.name)
                found = self.not_under(place, speed, self.values["least"])
                yield replace(found, warning=_warning(survey, run))


def _warning(survey: Survey, run: Run) -> str:
    """What is wrong with a slow drain, and what to do."""
    said = f"{run.name} runs at {{value}}, and {{limit}} keeps solids moving: flush it now and then"
    if survey.drawn(run.name).one(FlushTee):
        return f"{said} by its tee and plug."
    if survey.site.wishes.flushing_points is Flushing.ALL:
        return f"{said}."
    return f"{said}; flushing_points = true below [wishes] adds a tee to flush by."
