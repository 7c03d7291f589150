"""A siphon pipe outside a bed keeps its hole under water till it breaks, and its crest under the rim."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog
from autoplan.fittings.outside import TUBE_ROOM_M
from autoplan.fittings.screen import InletScreen
from autoplan.line.row import Line
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import siphoned_outside
from autoplan.problem.site import Draw, Site
from autoplan.problem.standing import OFF_WALL_M
from autoplan.rules.asked import DrawnSo, Fitted
from autoplan.rules.base import Given, Rule, Setting, answers
from autoplan.rules.siphoned import outside_siphons
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class CrestFit(Rule):
    """Air comes by the tube and not by the hole: so the pipe in the wall lies under the tube's mouth.

    The pipe runs full at its crest, whether or not it starts, before the water reaches the rim: so a siphon
    that does not start is still the bed's overflow. The tube reaches from its mouth up over the rim and down
    to the crest. A screen under the gravel is not brushed every week: its openings are no finer than so.
    """

    id = "crest-fit"
    sentence = (
        "A siphon pipe outside a bed has its hole under its air tube's mouth, its crest under the rim, and a "
        "screen that stays open."
    )
    source = "from memory"
    unit = "mm"
    local = True
    settings = (
        Setting(
            "air",
            Dimension.LENGTH,
            "70 mm",
            "from memory",
            "mouth of the air tube of a siphon pipe outside a bed over the floor",
            Given.AIR_MOUTH,
        ),
        Setting("opening", Dimension.LENGTH, "2 mm", "from memory", "least opening of its screen"),
        Setting(
            "cover", Dimension.LENGTH, "5 mm", "from memory", "the tube's mouth over the pipe in the wall"
        ),
        Setting(
            "rim", Dimension.LENGTH, "20 mm", "from memory", "the rim over the top of the bore at the crest"
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon pipe outside."""
        return siphoned_outside(site)

    @answers(DrawnSo)
    def fits(self, asked: DrawnSo) -> bool:
        """Only holes low enough, crests low enough, tubes long enough."""
        measures = self._measures(asked.site, asked.catalog, asked.drawn)
        return all(value >= least - 1e-9 for _, value, least in measures)

    @answers(Fitted)
    def stays_open(self, asked: Fitted) -> bool:
        """No fine mesh on its inner end."""
        if asked.run.draw is not Draw.OUTSIDE or not isinstance(asked.fitting, InletScreen):
            return True
        return asked.catalog.fixtures[asked.fitting.part].slot_m >= self.values["opening"] - 1e-9

    def _measures(self, site: Site, catalog: Catalog, drawn: Line) -> Iterator[tuple[str, float, float]]:
        """Each measure in words, what it is and what it must be at least [m]."""
        start, pipe = drawn.outside, catalog.pipes[drawn.pipe]
        if start is None or start.centre_m is None or start.lip_m is None:
            return
        vessel = site.vessels[start.at]
        mouth, crown = vessel.floor_m + start.air_m, start.lip_m + pipe.bore_m
        yield "air tube over the hole", mouth - start.centre_m - pipe.outside_m / 2, self.values["cover"]
        yield "flood over the air tube", vessel.water_max_m - mouth, self.values["cover"]
        yield "rim over the crest", vessel.rim_m - crown, self.values["rim"]
        screen = drawn.one(InletScreen)
        if screen is not None:
            yield "openings of the screen", catalog.fixtures[screen.part].slot_m, self.values["opening"]
        if start.air_tube is not None:
            way = vessel.rim_m - mouth + vessel.wall_m + OFF_WALL_M + max(0.0, vessel.rim_m - crown)
            yield "length of the air tube", catalog.siphons[start.air_tube].tallest_m, way + TUBE_ROOM_M

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each measure of each siphon pipe."""
        for name, start in outside_siphons(survey):
            for what, value, least in self._measures(survey.site, survey.catalog, survey.drawn(name)):
                yield self.not_under(InVessel(start.at, what), value, least, 1e-6)
