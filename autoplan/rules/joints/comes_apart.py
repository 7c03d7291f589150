"""Pumps and filters can be taken out."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.joining import Need
from autoplan.fittings.rim import OverRim
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import Joined
from autoplan.rules.base import Rule, answers
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
    of_taste = True

    @answers(Joined)
    def comes_apart(self, asked: Joined) -> bool:
        """At a pump and at a filter only joints that come apart."""
        return asked.need >= Need.COME_APART or not carried_out(asked.site, asked.run, asked.side)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per end that asks for it; value counts its parts that come apart."""
        for name, side, end in survey.ends():
            # Over a rim it lifts out, and nothing binds it to the vessel.
            if not isinstance(end, OverRim) and carried_out(survey.site, survey.run(name), side):
                count = sum(1 for row in survey.adaptors(end) if row.apart)
                yield self.not_under(AtEnd(name, end.at), float(count), 1.0)


def carried_out(site: Site, run: Run, side: str) -> bool:
    """Whether a pump or a filter is at one end of a run."""
    name = getattr(run, side)
    at_pump = side == "start" and run.kind is RunKind.PRESSURE and name in site.vessels
    vessel = site.vessels.get(name)
    return at_pump or (vessel is not None and vessel.kind in FILTERS)
