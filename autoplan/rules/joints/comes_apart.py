"""Pumps and filters can be taken out."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.joining import Need
from autoplan.fittings.rim import OverRim
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import Joined
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension

FILTERS = (VesselKind.SETTLER, VesselKind.BIOFILTER)


class ComesApart(Rule):
    """A dead pump is swapped in the dark, a filter is carried out and hosed: neither is glued in.

    Each run that leaves a pump, and each end at a settler or biofilter, has a barrel union, a nut-and-tail or
    another part that comes apart, before the run's first turn. Where the pump's line is so short that the tee
    at its end stands beside the pump, both lift out together: what comes apart is at each run behind the tee,
    and the pump is screwed off on the bench.
    """

    id = "comes-apart"
    sentence = (
        "The pump with a tee beside it, and each pipe of a settler or biofilter, is joined by a part that "
        "comes apart again."
    )
    source = "common practice, no source"
    unit = "joints that come apart"
    negotiable = True
    of_taste = True
    settings = (
        Setting(
            "tee_within",
            Dimension.LENGTH,
            "500 mm",
            "common practice, no source",
            "way on the plan from a pump to a tee that lifts out with it",
        ),
    )

    @answers(Joined)
    def comes_apart(self, asked: Joined) -> bool:
        """At a filter, and at a pump or behind the tee beside it, only joints that come apart."""
        return asked.need >= Need.COME_APART or not self._carried_out(asked.site, asked.run, asked.side)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per end that asks for it; value counts its parts that come apart."""
        for name, side, end in survey.ends():
            # Over a rim it lifts out, and nothing binds it to the vessel.
            if not isinstance(end, OverRim) and self._carried_out(survey.site, survey.run(name), side):
                count = sum(1 for row in survey.adaptors(end) if row.apart)
                yield self.not_under(AtEnd(name, end.at), float(count), 1.0)

    def _carried_out(self, site: Site, run: Run, side: str) -> bool:
        """Whether a pump, a tee that lifts out with one or a filter is at one end of a run."""
        name = getattr(run, side)
        if name in site.vessels:
            at_pump = side == "start" and run.kind is RunKind.PRESSURE
            return site.vessels[name].kind in FILTERS or (at_pump and not self._lifts_a_tee(site, run))
        mains = (main for main in site.runs.values() if main.finish == name and main.start in site.vessels)
        return side == "start" and any(self._lifts_a_tee(site, main) for main in mains)

    def _lifts_a_tee(self, site: Site, main: Run) -> bool:
        """Whether a line from a pump ends at a tee that stands beside the pump."""
        pressed = main.kind is RunKind.PRESSURE and main.start in site.vessels
        meets = sum(main.finish in (run.start, run.finish) for run in site.runs.values())
        near = main.length_m <= self.values["tee_within"]
        return pressed and near and main.finish in site.junctions and meets > 2
