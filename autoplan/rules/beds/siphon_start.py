"""A bell siphon's inflow is enough to start it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.hydraulics.siphon import start_flow
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import under_bells
from autoplan.problem.site import Site
from autoplan.rules.asked import Starting
from autoplan.rules.base import Given, Mend, Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class SiphonStart(Rule):
    """Inflow >= (1 + margin) x the flow from which the standpipe surely fills, with a plain or a flared top.

    Two limits are published, and they are not the same. Up to V / sqrt(g D) = 0.3 an upright pipe lets air
    past (Simpson 1968, Hills 1983): the bed stands full for ever, its roots drown, the inflow runs down the
    pipe as a film. From 0.51 its lip is drowned (`hydraulics.siphon.PRIMING_FROUDE`) and it starts. Between
    them one starts and another does not, so the second is asked for. An inlet over a rim asks for more
    (over-rim-fill), since it must clear a level piece too, which takes 0.54. A flared top (FAO Technical
    Paper 589, appendix 8, has one of 40 mm on 25 mm) gathers the film and closes the pipe before its lip
    drowns; then the air must only go down, which takes 0.35, seven tenths (Davies and Taylor 1950).
    The inflow is that of the bed as it floods; what is left of it with the sump low is full-bed-start's.
    """

    id = "siphon-start"
    sentence = "Each bell siphon gets enough inflow to fill its standpipe and start."
    source = (
        "lip drowned at V / sqrt(g D) = 0.51, from US EPA's weir and orifice; flared 0.35: Davies and Taylor "
        "1950, from memory; margin: from memory"
    )
    unit = "L/h"
    local = True
    mended_by = frozenset((Mend.INFLOW,))
    hint = ', or write drain = "standpipe" for a bed whose inflow suits no siphon'
    settings = (
        Setting(
            "froude",
            Dimension.NUMBER,
            "0.51",
            "from US EPA's weir and orifice",
            "Froude number from which a plain top starts",
            Given.PRIMING,
            above=True,
        ),
        Setting(
            "margin",
            Dimension.NUMBER,
            "10 %",
            "from memory",
            "inflow kept over the limit",
            Given.PRIMING_MARGIN,
        ),
        Setting(
            "flare",
            Dimension.NUMBER,
            "70 %",
            "Davies and Taylor 1950, from memory",
            "share of the limit with a flared top",
            Given.FLARED,
            above=True,
            most=1.0,
        ),
        Setting(
            "least_bore",
            Dimension.LENGTH,
            "15 mm",
            "common practice, no source",
            "least standpipe bore",
            Given.LEAST_STANDPIPE,
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon."""
        return under_bells(site)

    def starts_from(self, bore_m: float, *, flared: bool) -> float:
        """Inflow [m3/s] from which a standpipe of that bore fills and starts, without any margin."""
        return start_flow(bore_m, self.values["froude"], self.values["flare"] if flared else 1.0)

    def least_inflow(self, bore_m: float, *, flared: bool) -> float:
        """Inflow [m3/s] that starts a standpipe of that bore, the margin included."""
        return (1 + self.values["margin"]) * self.starts_from(bore_m, flared=flared)

    @answers(Starting)
    def starts(self, asked: Starting) -> bool:
        """Only standpipes that the bed's own inflow starts."""
        if asked.end.siphon is None:
            return True
        bore = asked.end.stood(asked.catalog, asked.pipe).bore_m
        least = self.least_inflow(bore, flared=asked.end.siphon.flare is not None)
        return (
            bore >= self.values["least_bore"] - 1e-9
            and asked.site.flows[asked.run.name].design_m3_s >= least - 1e-12
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per bell siphon: its inflow, and its standpipe's bore in mm."""
        for name, end, siphon in survey.siphons():
            bore = survey.standpipe(name).bore_m
            least = self.least_inflow(bore, flared=siphon.flare is not None)
            inflow = survey.design_flow(name)
            yield self.not_under(InVessel(end.at), inflow, least, 1e-6)
            place, least = InVessel(end.at, "bore"), self.values["least_bore"]
            narrow = self.not_under(place, bore, least, 1e-6, unit="mm")
            yield replace(narrow, source="common practice, no source")
