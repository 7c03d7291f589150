"""Each leg that must be balanced carries a valve."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class BranchValve(Rule):
    """A run that asks for a balancing valve has one; the selection offers nothing else."""

    id = "branch-valve"
    sentence = "Each leg that asks for a balancing valve has one."
    source = "common practice, no source"
    unit = "valves"
    local = True

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run that asks for a valve."""
        for run in survey.site.runs.values():
            if run.valve:
                yield self.not_under(run.name, 0.0 if survey.drawn(run.name).valve is None else 1.0, 1.0)
