"""Drains are laid in rigid pipe."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Pipe
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class DrainRigid(Rule):
    """A hose or a coiled line sags between its supports; what sags holds solids and air."""

    id = "drain-rigid"
    sentence = "Drains are laid in rigid pipe, which does not sag and hold solids."
    source = "common practice, no source"
    unit = "pipes that sag"
    local = True
    negotiable = True

    def admits_pipe(self, site: Site, run: Run, pipe: Pipe) -> bool:  # noqa: ARG002
        """In a gravity run, only pipe that does not bend by itself."""
        return run.kind is not RunKind.GRAVITY or pipe.bend_radius_m == 0

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per gravity run."""
        for run in survey.gravity_runs():
            sags = not self.admits_pipe(survey.site, run, survey.pipe(run.name))
            yield self.at_most(OnRun(run.name), float(sags), 0.0)
