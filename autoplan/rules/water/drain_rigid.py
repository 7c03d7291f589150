"""Drains are laid in rigid pipe."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import RunKind
from autoplan.rules.asked import OfPipe
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class DrainRigid(Rule):
    """A hose or a coiled line sags between its supports; what sags holds solids and air."""

    id = "drain-rigid"
    sentence = "Drains are laid in rigid pipe, which does not sag and hold solids."
    source = "common practice, no source"
    unit = "pipes that sag"
    local = True
    negotiable = True
    of_taste = True

    @answers(OfPipe)
    def is_rigid(self, asked: OfPipe) -> bool:
        """In a gravity run, only pipe that does not bend by itself."""
        return asked.run.kind is not RunKind.GRAVITY or asked.pipe.bend_radius_m == 0

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per gravity run."""
        for run in survey.gravity_runs():
            sags = survey.pipe(run.name).bend_radius_m > 0
            yield self.at_most(OnRun(run.name), float(sags), 0.0)
