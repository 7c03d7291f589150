"""Fish and media stay out of the drains that ask for a screen."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.fittings.screen import InletScreen
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, Site, VesselKind
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class Screens(Rule):
    """A screen's openings are narrow enough for what it holds back, and together no less than its pipe's.

    Half of them count as blocked between two cleanings; that loss is in the drain's own.
    """

    id = "screens"
    sentence = "A drain that asks for a screen has one, fine enough and as open as its pipe."
    source = "common practice, no source"
    unit = "mm"
    negotiable = True
    settings = (
        Setting("fingerlings", Dimension.LENGTH, "3 mm", "from memory", "widest opening in a fish tank"),
        Setting("fry", Dimension.LENGTH, "1 mm", "from memory", "widest opening in a fish tank with fry"),
        Setting("media", Dimension.LENGTH, "5 mm", "from memory", "widest opening against media"),
        Setting(
            "open_share",
            Dimension.NUMBER,
            "1",
            "common practice, no source",
            "all openings of a screen over the pipe's own area",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a screen."""
        return any(run.screen for run in site.runs.values())

    def widest(self, site: Site, run: Run) -> float:
        """Widest opening that holds back what it must [m]."""
        if run.fry:
            return self.values["fry"]
        fish = site.vessels[run.start].kind is VesselKind.TANK
        return self.values["fingerlings" if fish else "media"]

    @answers(Fitted)
    def holds_back(self, asked: Fitted) -> bool:
        """Only screens of that opening or less, and of enough area; none where none is asked for."""
        if asked.kind is not InletScreen:
            return True
        if not asked.run.screen or not isinstance(asked.fitting, InletScreen):
            return not asked.run.screen and asked.fitting is None
        screen = asked.catalog.fixtures[asked.fitting.part]
        area = math.pi / 4 * asked.pipe.bore_m**2
        fine = screen.slot_m <= self.widest(asked.site, asked.run) + 1e-9
        return fine and screen.open_m2 >= self.values["open_share"] * area

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per screened drain: its widest opening, and its area as the bore of one round hole."""
        for run in survey.site.runs.values():
            if not run.screen:
                continue
            drawn, bore = survey.drawn(run.name), survey.pipe(run.name).bore_m
            there = drawn.one(InletScreen)
            screen = None if there is None else survey.catalog.fixtures[there.part]
            # A drain without its screen is open as wide as its bore.
            widest = bore if screen is None else screen.slot_m
            yield self.at_most(OnRun(run.name), widest, self.widest(survey.site, run), 1e-6)
            if screen is not None:
                hole = math.sqrt(4 * screen.open_m2 / math.pi)
                least = bore * math.sqrt(self.values["open_share"])
                yield self.not_under(OnRun(run.name, "all openings as one"), hole, least, 1e-6)
