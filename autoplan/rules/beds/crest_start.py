"""A siphon pipe outside a bed gets enough water over its crest to fill and start."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import ClassVar

from autoplan.hydraulics.siphon import start_flow
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import siphoned_outside
from autoplan.problem.site import Draw, Site
from autoplan.rules.asked import OfPipe
from autoplan.rules.base import Given, Mend, Rule, Setting, answers
from autoplan.rules.siphoned import outside_siphons
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class CrestStart(Rule):
    """Inflow >= (1 + margin) x the flow that carries the air out of a level pipe, Fr A sqrt(g D).

    Water runs over the crest as over a weir, and down behind it. The pipe fills once the air cannot stand
    against the water any more: 0.54 sqrt(g D) in the level piece at the crest (Benjamin, J. Fluid Mech. 31,
    1968), 0.35 sqrt(g D) in the leg down (Davies and Taylor 1950); both from memory. The first is the more.
    Below 0.3 a leg surely lets air past (Simpson 1968, Hills 1983), and it trickles for ever.
    """

    id = "crest-start"
    sentence = "Each siphon pipe outside a bed gets enough inflow to fill at its crest and start."
    source = "air leaves a level pipe at V / sqrt(g D) = 0.54: Benjamin 1968; this and the margin: memory"
    unit = "L/h"
    local = True
    mended_by = frozenset((Mend.INFLOW,))
    hint = ', or write drain = "siphon" for a bell, whose flared top starts sooner'
    borrows: ClassVar[Mapping[str, Given]] = {"least_bore": Given.LEAST_STANDPIPE}
    settings = (
        Setting(
            "froude",
            Dimension.NUMBER,
            "0.54",
            "Benjamin 1968, from memory",
            "Froude number from which the pipe fills at its crest",
            Given.CREST,
        ),
        Setting(
            "margin",
            Dimension.NUMBER,
            "10 %",
            "from memory",
            "inflow kept over the limit",
            Given.CREST_MARGIN,
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon pipe outside."""
        return siphoned_outside(site)

    def starts_from(self, bore_m: float) -> float:
        """Inflow [m3/s] from which a pipe of that bore fills and starts, without any margin."""
        return start_flow(bore_m, self.values["froude"])

    def _least(self, bore_m: float) -> float:
        return (1 + self.values["margin"]) * self.starts_from(bore_m)

    @answers(OfPipe)
    def starts(self, asked: OfPipe) -> bool:
        """Only pipe that the bed's own inflow fills."""
        if asked.run.draw is not Draw.OUTSIDE:
            return True
        bore, inflow = asked.pipe.bore_m, asked.site.flows[asked.run.name].design_m3_s
        return bore >= self.values["least_bore"] - 1e-9 and inflow >= self._least(bore) - 1e-12

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per siphon pipe: its inflow, and its bore in mm."""
        for name, start in outside_siphons(survey):
            bore = survey.pipe(name).bore_m
            yield self.not_under(InVessel(start.at), survey.design_flow(name), self._least(bore), 1e-6)
            place, least = InVessel(start.at, "bore"), self.values["least_bore"]
            narrow = self.not_under(place, bore, least, 1e-6, unit="mm")
            yield replace(narrow, source="common practice, no source")
