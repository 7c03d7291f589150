"""A child cannot drain a vessel: the handle of a valve that would let its water out comes off."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import Valved
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class ChildSafe(Rule):
    """Each hand valve on a run by gravity has a handle that comes off.

    Those are the waste drain of a filter, which runs out into the garden, and any valve on a drain: opened by
    a hand that should not, either empties the vessel above it to its outlet and nothing brings the water
    back. A valve on a pressure run is none of them: it can starve a vessel but not empty it, and there is
    another rule on those.
    """

    id = "child-safe"
    sentence = "Each valve by which a vessel could be drained has a handle that comes off."
    source = "common practice, no source"
    unit = "handles"
    local = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a valve on a run by gravity."""
        return any(drains(run) for run in site.runs.values())

    @answers(Valved)
    def comes_off(self, asked: Valved) -> bool:
        """Any on a pressure run; on a drain only those whose handle comes off."""
        return asked.valve.handle_off or not drains(asked.run)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per valve drawn on a run by gravity."""
        for name, drawn in survey.drawing.runs.items():
            valve = drawn.one(ValveSet)
            if valve is not None and survey.run(name).kind is RunKind.GRAVITY:
                comes_off = survey.catalog.valves[valve.valve].handle_off
                yield self.not_under(OnRun(name), 1.0 if comes_off else 0.0, 1.0)


def drains(run: Run) -> bool:
    """Whether a run has a valve by which the vessel above it empties."""
    return run.kind is RunKind.GRAVITY and run.valve
