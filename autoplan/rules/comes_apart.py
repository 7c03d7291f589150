"""Pumps and filters can be taken out."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.joining import Need
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey

FILTERS = (VesselKind.SETTLER, VesselKind.BIOFILTER)


class ComesApart(Rule):
    """A dead pump is swapped in the dark, a filter is carried out and hosed: neither is glued in.

    Each run that leaves a pump, and each end at a settler or biofilter, has a barrel union, a nut-and-tail or
    another part that comes apart, before the run's first turn.
    """

    id = "comes-apart"
    sentence = (
        "The pump, and each pipe of a settler or biofilter, is joined by a part that comes apart again."
    )
    source = "common practice, no source"
    unit = "joints that come apart"
    negotiable = True

    def asks_of_end(self, site: Site, run: Run, side: str) -> Need:
        """At a pump and at a filter the joint must come apart."""
        name = getattr(run, side)
        at_pump = side == "start" and run.kind is RunKind.PRESSURE and name in site.vessels
        vessel = site.vessels.get(name)
        at_filter = vessel is not None and vessel.kind in FILTERS
        return Need.COME_APART if at_pump or at_filter else Need.JOIN

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per end that asks for it; value counts its parts that come apart."""
        for name, side, end in survey.ends():
            if self.asks_of_end(survey.site, survey.run(name), side) is Need.COME_APART:
                count = sum(1 for row in survey.adaptors(end) if row.apart)
                yield self.not_under(AtEnd(name, end.at), float(count), 1.0)
