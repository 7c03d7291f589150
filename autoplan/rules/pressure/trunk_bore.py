"""A trunk runs on as wide as it began until enough of its water has left it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.base import ModelView, Rule, Setting
from autoplan.rules.linear import weighted
from autoplan.rules.quantities import BORE, Better, Quantity
from autoplan.rules.survey import Survey
from autoplan.units import Dimension

FINE = 1e6
"""Bores enter the model in micrometres: price lists have them in hundredths of a millimetre."""


class TrunkBore(Rule):
    """Every stretch of a trunk has most of the bore that the trunk began with.

    A trunk begins at the pump, and anew behind a tee once the stated share of its flow has left it; branches
    to vessels may step down.
    """

    id = "trunk-bore"
    sentence = "A trunk keeps its bore until the stated share of its flow has left it."
    source = "common practice, no source"
    unit = "mm"
    as_sold = True
    local = False
    negotiable = True
    of_taste = True
    settings = (
        Setting(
            "left",
            Dimension.NUMBER,
            "50 %",
            "common practice, no source",
            "share of a trunk's flow that has left where it may step down",
        ),
        Setting(
            "keeps",
            Dimension.NUMBER,
            "90 %",
            "from memory",
            "of its first bore, which pipes of one size but other walls keep",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a trunk of more than one stretch."""
        return any(_goes_on(site, run) for run in site.runs.values())

    def kept(self, site: Site) -> Mapping[str, str]:
        """By stretch that may not step down, the one that its trunk began with."""
        found: dict[str, str] = {}
        ahead = [
            (run, run)
            for run in site.runs.values()
            if run.kind is RunKind.PRESSURE and run.start in site.vessels
        ]
        while ahead:
            run, first = ahead.pop()
            for after in site.runs.values():
                if after.start != run.finish or not _goes_on(site, after):
                    continue
                whole, here = (site.flows[one.name].design_m3_s for one in (first, after))
                if here > (1 - self.values["left"]) * whole + 1e-12:
                    found[after.name] = first.name
                    ahead.append((after, first))
                else:
                    ahead.append((after, after))
        return found

    def declares(self, site: Site, run: Run) -> Iterator[tuple[Quantity[Any], Better]]:
        """A stretch may be wider, the first one narrower."""
        kept = self.kept(site)
        if run.name in kept:
            yield BORE, Better.MORE
        if run.name in kept.values():
            yield BORE, Better.LESS

    def encode(self, draft: ModelView) -> None:
        """Its bore >= share x the first bore, stretch by stretch."""
        share = self.values["keeps"]
        for run, first in self.kept(draft.site).items():
            own = weighted((var, math.floor(bore * FINE + 1e-6)) for var, bore in draft.each(BORE, run))
            began = [(var, math.ceil(share * bore * FINE - 1e-6)) for var, bore in draft.each(BORE, first)]
            draft.at_least(self.id, own, weighted(began))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per stretch that may not step down; value is its bore."""
        for run, first in self.kept(survey.site).items():
            least = self.values["keeps"] * survey.pipe(first).bore_m
            yield self.not_under(OnRun(run), survey.pipe(run).bore_m, least, 1e-6)


def _goes_on(site: Site, run: Run) -> bool:
    """Whether a pressure run behind a junction is no branch: it leads to another, or has none beside it."""
    if run.kind is not RunKind.PRESSURE or run.start not in site.junctions:
        return False
    beside = [one for one in site.runs.values() if one.start == run.start and one is not run]
    return run.finish in site.junctions or not beside
