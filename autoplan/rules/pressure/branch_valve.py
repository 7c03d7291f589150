"""Each leg that must be balanced carries a valve."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class BranchValve(Rule):
    """A run that asks for a balancing valve has one, the feed of a timed bed one that a clock opens.

    The optimiser offers nothing else.
    """

    id = "branch-valve"
    sentence = "Each leg that asks for a balancing valve has one, for a timed bed a timed one."
    source = "common practice, no source"
    unit = "valves"
    local = True

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run that asks for a valve."""
        timed = survey.timed_feeds().values()
        for run in survey.site.runs.values():
            if run.valve:
                valve = survey.drawn(run.name).one(ValveSet)
                by_clock = valve is not None and survey.catalog.valves[valve.valve].style == "timed"
                right = valve is not None and by_clock is (run.name in timed)
                yield self.not_under(OnRun(run.name), 1.0 if right else 0.0, 1.0)
