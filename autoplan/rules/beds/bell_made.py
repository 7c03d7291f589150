"""A bell is made of what the builder asks for, and stiff enough not to cave in."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.kinds.siphon import MadeOf
from autoplan.catalog.parts import Catalog
from autoplan.fittings.floor import ThroughFloor
from autoplan.hydraulics.siphon import caves_in_at
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import under_bells
from autoplan.problem.site import BellOf, Site, Vessel
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension

PA_PER_GPA = 1e9

HEADROOM_M = 0.050
"""From the lip to the bell's top: more than it must have, since a taller bell caves in sooner [m]."""


class BellMade(Rule):
    """Suction that makes the bell cave in >= factor x its height in water.

    With the bed down at the cut-outs the water in the bell hangs from its top: there it is under a suction of
    nearly the bell's height, and what the ring loses is less than the height of the cut-outs. A bell of pipe
    stands that many times over, a thin bottle does not. One of a bottle is taken only where it is asked for.
    """

    id = "bell-made"
    sentence = "Each bell is made of what is asked for, and stiff enough not to cave in as its siphon draws."
    source = "Windenburg and Trilling 1934, from memory; modulus: from memory; factor: common practice"
    unit = "mm"
    local = True
    hint = ', or write bell = "any" for a bed'
    settings = (
        Setting(
            "modulus",
            Dimension.NUMBER,
            "2",
            "from memory",
            "modulus of the bell's plastic in GPa",
            above=True,
        ),
        Setting("factor", Dimension.NUMBER, "2", "common practice, no source", "kept against caving in"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon."""
        return under_bells(site)

    @answers(Starting)
    def suits(self, asked: Starting) -> bool:
        """Only bells of what is asked for that hold."""
        if asked.end.siphon is None or asked.end.siphon.bell is None:
            return True
        vessel = asked.site.vessels[asked.run.start]
        holds, draws = self._holds_and_draws(asked.catalog, asked.end, vessel)
        return _as_asked(asked.catalog, asked.end, vessel) and holds >= draws - 1e-9

    def _holds_and_draws(self, catalog: Catalog, end: ThroughFloor, vessel: Vessel) -> tuple[float, float]:
        """Suction under which a siphon's bell caves in, and what it must hold [m of water]."""
        assert end.siphon is not None
        assert end.siphon.bell is not None
        bell, tall = catalog.siphons[end.siphon.bell], end.top_m(vessel) + HEADROOM_M
        wall, modulus = (bell.outside_m - bell.inside_m) / 2, self.values["modulus"] * PA_PER_GPA
        return caves_in_at(bell.outside_m, wall, tall, modulus), self.values["factor"] * tall

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per bell: whether it is of what is asked for, and what suction it stands."""
        for _, end, siphon in survey.siphons():
            if siphon.bell is not None:
                vessel = survey.site.vessels[end.at]
                other = float(not _as_asked(survey.catalog, end, vessel))
                place = InVessel(end.at, "what the bell is of")
                yield self.at_most(place, other, 0.0, unit="bells")
                holds, draws = self._holds_and_draws(survey.catalog, end, vessel)
                yield self.not_under(InVessel(end.at, "suction on the bell"), holds, draws, 1e-6)


def _as_asked(catalog: Catalog, end: ThroughFloor, vessel: Vessel) -> bool:
    """Whether a siphon's bell is made of what its bed asks for."""
    assert end.siphon is not None
    assert end.siphon.bell is not None
    asked = BellOf.PIPE if vessel.bed is None else vessel.bed.bell
    bottle = catalog.siphons[end.siphon.bell].made is MadeOf.BOTTLE
    return asked is BellOf.ANY or bottle is (asked is BellOf.BOTTLE)
