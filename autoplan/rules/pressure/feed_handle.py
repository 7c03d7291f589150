"""A child cannot starve a vessel: the handle of a valve by which its feed is shut comes off."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog
from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import Valved
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey
from autoplan.sentence import Text


class FeedHandle(Rule):
    """Each hand valve on a run under pressure has a handle that comes off.

    Shut by a hand that should not, it leaves a tank without new water or a bed dry, and sends what it held
    back elsewhere. A timed valve has no handle to turn. Where no valve of the price list says that its handle
    comes off, nothing is asked, and that is told.
    """

    id = "feed-handle"
    sentence = "Each hand valve by which a vessel could be starved has a handle that comes off."
    source = "common practice, no source"
    unit = "handles"
    local = True
    negotiable = True
    of_taste = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a valve on a run under pressure."""
        return any(run.kind is RunKind.PRESSURE and run.valve for run in site.runs.values())

    @answers(Valved)
    def comes_off(self, asked: Valved) -> bool:
        """On a feed only hand valves whose handle comes off, if the price list has any."""
        valve = asked.valve
        return valve.handle_off or not valve.by_hand or not feeds(asked.run) or not told(asked.catalog)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per hand valve drawn on a run under pressure."""
        for name, drawn in survey.drawing.runs.items():
            valve = drawn.one(ValveSet)
            row = None if valve is None else survey.catalog.valves[valve.valve]
            if row is not None and row.by_hand and feeds(survey.run(name)) and told(survey.catalog):
                yield self.not_under(OnRun(name), 1.0 if row.handle_off else 0.0, 1.0)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """Whether handles come off, where the price list says it of none."""
        if self.concerns(survey.site) and not told(survey.catalog):
            yield (
                "No valve of the price list says that its handle comes off: where children get to the feeds, "
                "see to it."
            )


def feeds(run: Run) -> bool:
    """Whether a run brings pumped water."""
    return run.kind is RunKind.PRESSURE


def told(catalog: Catalog) -> bool:
    """Whether the price list says of any hand valve that its handle comes off."""
    return any(valve.handle_off for valve in catalog.valves.values())
