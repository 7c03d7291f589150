"""What a bed to come later will join is there and closed."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.cap import EndCap
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import RunKind, Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class SpareBed(Rule):
    """Pump, trunk, sump and drains are sized as if the bed were there; its feed begins at a capped tee.

    Every other rule judges the whole that is to be. The optimiser offers no feed without a cap for its pipe.
    """

    id = "spare-bed"
    sentence = "The feed of each bed to come later begins at a tee and is capped there."
    source = "common practice, no source"
    unit = "missing"

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a bed to come later."""
        return any(vessel.spare for vessel in site.vessels.values())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per feed to come later."""
        for run in survey.site.runs.values():
            if run.spare and run.kind is RunKind.PRESSURE:
                drawn = survey.drawn(run.name)
                there = drawn.one(EndCap)
                cap = None if there is None else survey.catalog.fixtures[there.part].end
                closed = cap is not None and survey.joining.mates(cap, survey.pipe(run.name).end)
                meets = run.start in survey.drawing.junctions and drawn.later
                yield self.at_most(OnRun(run.name), float(not (closed and meets)), 0.0)
