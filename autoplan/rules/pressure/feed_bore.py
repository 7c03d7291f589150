"""Water that is not filtered finds no narrow place on its way to a bed."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Way
from autoplan.fittings.strainer import Strainer
from autoplan.line.water import narrowest
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import Run, RunKind, Site, VesselKind
from autoplan.rules.asked import InWall, Narrowed, OfPipe
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.pressure.strainer import strained
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class FeedBore(Rule):
    """Pipe, valve, bends, tees and adaptors on every way from a pump to a bed have a least bore.

    What a sump holds behind a settler and a biofilter still carries fines of the gravel and flakes of growth
    (common practice, no source): water counts as filtered behind a strainer on the line from its pump alone,
    and there nothing is asked. What joins a line to its pump may be as narrow as the pump's own outlet.
    """

    id = "feed-bore"
    sentence = "Nothing on the way from a pump to a bed is narrower than the least bore, unless strained."
    source = "from memory"
    unit = "mm"
    as_sold = True
    negotiable = True
    of_taste = True
    hint = ", or ask for a strainer below [rules.strainer]"
    settings = (
        Setting(
            "least",
            Dimension.LENGTH,
            "16 mm",
            "from memory",
            "least bore of all on the way to a bed of water that is not strained",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites that pump water to beds."""
        return any(feeds_bed(site, run) for run in site.runs.values())

    def _allows(self, site: Site, run: Run, bore_m: float) -> bool:
        """Whether a place may be so narrow [m]."""
        return bore_m >= self.values["least"] - 1e-9 or strained(site) or not feeds_bed(site, run)

    @answers(OfPipe)
    def is_wide(self, asked: OfPipe) -> bool:
        """Only pipes of that bore or more."""
        return self._allows(asked.site, asked.run, asked.pipe.bore_m)

    @answers(InWall)
    def leaves_most(self, asked: InWall) -> bool:
        """Only wall parts of that bore or more; a seal leaves the pipe's own."""
        return asked.part.way is Way.SEAL or self._allows(asked.site, asked.run, asked.part.bore_m)

    @answers(Narrowed)
    def lets_through(self, asked: Narrowed) -> bool:
        """Only passages of that bore or more."""
        return self._allows(asked.site, asked.run, asked.bore_m)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per line on the way to a bed; value is its narrowest place, with the tee it leaves."""
        site, seen = survey.site, set[str]()
        for path in pressure_paths(site):
            if site.vessels[site.runs[path[-1]].finish].kind is not VesselKind.BED:
                continue
            clear = False
            for name in path:
                line = survey.drawn(name)
                if not clear and name not in seen:
                    left = survey.drawing.junctions.get(line.start.at)
                    tee = None if left is None or left.tee is None else survey.catalog.tees[left.tee]
                    bores = [] if left is None or tee is None else [tee.bore_at(left.ports.index(name))]
                    bore = min([narrowest(survey.catalog, line, site.vessels), *bores])
                    yield self.not_under(OnRun(name), bore, self.values["least"], 1e-6)
                seen.add(name)
                clear = clear or line.one(Strainer) is not None


def feeds_bed(site: Site, run: Run) -> bool:
    """Whether a pressure run leads to a bed."""
    if run.kind is not RunKind.PRESSURE:
        return False
    if run.finish in site.vessels:
        return site.vessels[run.finish].kind is VesselKind.BED
    return any(feeds_bed(site, after) for after in site.runs.values() if after.start == run.finish)
