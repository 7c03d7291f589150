"""Each leg that must be balanced carries a valve that may stand half open."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import RunKind
from autoplan.rules.asked import Valved
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class BranchValve(Rule):
    """A run that asks for a balancing valve has one that may throttle, a timed bed's feed one with a clock.

    A valve on a run by gravity is open or shut, and may be a gate.
    """

    id = "branch-valve"
    sentence = (
        "Each leg that asks for a balancing valve has one that may throttle, for a timed bed a timed one."
    )
    source = "common practice, no source"
    unit = "valves"
    local = True

    @answers(Valved)
    def may_throttle(self, asked: Valved) -> bool:
        """On a run under pressure that is balanced only valves that may stand half open."""
        balances = asked.run.kind is RunKind.PRESSURE and asked.run.valve
        return asked.valve.throttles or not balances or asked.valve.style == "check"

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run that asks for a valve."""
        timed = survey.timed_feeds().values()
        for run in survey.site.runs.values():
            if run.valve:
                valve = survey.drawn(run.name).one(ValveSet)
                row = None if valve is None else survey.catalog.valves[valve.valve]
                right = row is not None and (row.style == "timed") is (run.name in timed)
                if row is not None and run.kind is RunKind.PRESSURE:
                    right = right and row.throttles
                yield self.not_under(OnRun(run.name), 1.0 if right else 0.0, 1.0)
