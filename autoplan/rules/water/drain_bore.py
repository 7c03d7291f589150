"""Drains that carry the fish's solids have a least bore."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Way
from autoplan.outcome import Finding
from autoplan.places import AtEnd, OnRun
from autoplan.problem.site import Draw, Run, RunKind, Site, VesselKind
from autoplan.rules.asked import InWall, OfPipe
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension

WALL_PART_SHARE = 0.9
"""A wall part may narrow a drain to this share of its least bore; common practice, no source."""


class DrainBore(Rule):
    """One least bore for small flows, another above a given flow, and one for the clear water of a bed.

    A siphon pipe outside a bed is as narrow as its inflow fills (crest-start), like a standpipe under a bell.
    """

    id = "drain-bore"
    sentence = (
        "The pipes of drains have the least bore for their flow, and parts in walls nine tenths of it; bends "
        "and tees are not measured."
    )
    source = "common practice, no source"
    unit = "mm"
    as_sold = True
    local = True
    negotiable = True
    of_taste = True
    settings = (
        Setting(
            "above",
            Dimension.FLOW,
            "1000 L/hour",
            "common practice, no source",
            "flow that asks for the large bore",
        ),
        Setting(
            "large", Dimension.LENGTH, "45 mm", "common practice, no source", "least bore above that flow"
        ),
        Setting("bed", Dimension.LENGTH, "20 mm", "common practice, no source", "least bore for a bed"),
        Setting("small", Dimension.LENGTH, "34 mm", "common practice, no source", "least bore below it"),
    )

    def least_bore(self, site: Site, run: Run) -> float | None:
        """The least bore [m] for a run, or None where the rule does not speak."""
        start = site.vessels.get(run.start)
        if run.kind is not RunKind.GRAVITY or run.draw is Draw.OUTSIDE:
            return None
        if start is not None and start.kind is VesselKind.BED:
            return self.values["bed"]
        flow = site.flows[run.name]
        big = (flow.peak_m3_s if run.overflow else flow.design_m3_s) > self.values["above"] + 1e-12
        return self.values["large"] if big else self.values["small"]

    @answers(OfPipe)
    def is_wide(self, asked: OfPipe) -> bool:
        """Only pipes of that bore or more."""
        least = self.least_bore(asked.site, asked.run)
        return least is None or asked.pipe.bore_m >= least - 1e-9

    @answers(InWall)
    def leaves_most(self, asked: InWall) -> bool:
        """Only wall parts that leave most of the least bore; a seal leaves the pipe's own."""
        least = self.least_bore(asked.site, asked.run)
        return (
            least is None or asked.part.way is Way.SEAL or asked.part.bore_m >= WALL_PART_SHARE * least - 1e-9
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain that the rule speaks about."""
        for run in survey.gravity_runs():
            least = self.least_bore(survey.site, run)
            if least is not None:
                for hole in survey.drawn(run.name).holes():
                    part = survey.catalog.penetrations[hole.penetration]
                    if part.way is not Way.SEAL:
                        share = WALL_PART_SHARE * least
                        yield self.not_under(AtEnd(run.name, hole.at), part.bore_m, share, 1e-6)
                yield self.not_under(OnRun(run.name), survey.pipe(run.name).bore_m, least, 1e-6)
