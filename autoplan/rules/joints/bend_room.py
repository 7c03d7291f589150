"""Pipe that bends by itself has length enough for its bends."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog
from autoplan.fittings.lengths import Lengths
from autoplan.line.row import Line
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Site
from autoplan.rules.asked import DrawnSo
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class BendRoom(Rule):
    """The legs of a run, less what elbows and valves take, hold both tangents of every bend, a drop its own.

    A bend of radius R through an angle a begins R tan(a / 2) before the corner of its legs and ends as far
    behind it. Bent tighter than its price list states a pipe kinks, and over a rim it would hang further into
    the water than drawn. How long each leg is counts only in sum, for a bend may move along the run.
    """

    id = "bend-room"
    sentence = "Pipe that bends by itself has room for its bends at the least radius that it takes."
    source = "geometry of an arc"
    unit = "mm"
    local = True
    negotiable = True

    @answers(DrawnSo)
    def has_room(self, asked: DrawnSo) -> bool:
        """Only runs with that room."""
        found = measures(asked.site, asked.catalog, asked.drawn)
        return all(room >= least - 1e-9 for _, room, least in found)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run that bends, and one per rim over which it does; value is what there is."""
        for name, drawn in survey.drawing.runs.items():
            for what, room, asked in measures(survey.site, survey.catalog, drawn):
                yield self.not_under(OnRun(name, what), room, asked, 1e-6)


def measures(site: Site, catalog: Catalog, drawn: Line) -> Iterator[tuple[str, float, float]]:
    """Where a drawn run bends by itself: what bends in words, the room there is, and what is needed [m]."""
    bends = [turn for turn in drawn.turns if turn.bends]
    if not bends or drawn.later:
        return
    lengths = Lengths(catalog, catalog.pipes[drawn.pipe])
    drop = 0.0 if drawn.rim is None else drawn.rim.drop_m
    over = bool(drop) and drawn.turns[-1].bends
    fittings = sum(2 * turn.takes_m(lengths) for turn in drawn.turns if not turn.bends)
    if drop and not over:
        # Half of an elbow over a rim is in the drop.
        fittings -= drawn.turns[-1].takes_m(lengths)
    fittings += sum(lengths.stub + one.takes_m(lengths) for one in drawn.fittings if one.on_straight)
    asked = sum(2 * turn.takes_m(lengths) for turn in bends)
    if over:
        asked -= bends[-1].takes_m(lengths)
        yield "over the rim", drop, bends[-1].takes_m(lengths)
    yield "", site.runs[drawn.run].length_m - fittings, asked
