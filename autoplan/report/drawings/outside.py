"""A siphon pipe outside its bed from the side: hole, riser, crest, leg down, air tube; heights to scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from autoplan.report.alike import together
from autoplan.report.contract.built import EndRow, OutsideRow
from autoplan.report.drawings.canvas import EDGE, SMALL, Canvas, begun, ident, spread
from autoplan.report.drawings.paint import FAINT, GROUND, INK, RUNNING, WALL, WATERLINE, Look
from autoplan.report.drawings.tables import TableColumn, table
from autoplan.report.drawings.view import DesignView, Sheet, grouped

WALL_X, RISER_X, DOWN_X, RIGHT = 128.0, 158.0, 204.0, 232.0
"""The bed's wall, the middles of both uprights, where the picture ends; widths are not to scale [px]."""

PICTURE = 300.0
"""Height of all that is drawn [px]."""

BELOW = 40.0
"""What of the leg down is drawn below the bed's floor [px]."""

TUBE = Look(WATERLINE, 2.2)
NOT_DRAWN = 25.0
"""Width of a pipe whose size the answer does not have [mm]."""


@dataclass(frozen=True, slots=True)
class _Siphon:
    """One siphon pipe with its bed: heights over the bed's floor [mm]."""

    end: EndRow
    made: OutsideRow
    pipe: str
    wide: float
    bore: float
    hole: float
    lip: float
    water: float
    rim: float

    @property
    def crest(self) -> float:
        """Middle of the pipe at its crest."""
        return self.lip + self.bore / 2


def outside_siphons(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each kind of siphon pipe outside a bed."""
    found = {one.end.vessel + name: one for name, one in _found(answer)}

    def likeness(name: str) -> tuple[object, ...]:
        one = found[name]
        marks = (answer.mark(mm) for mm in (one.hole, one.lip, one.water, one.rim))
        return one.pipe, one.made.air_tube, *marks

    for names in grouped(found, likeness):
        yield _sheet(answer, found[names[0]], [found[name].end.vessel for name in names])


def _found(answer: DesignView) -> Iterator[tuple[str, _Siphon]]:
    for run in answer.runs.values():
        end = run.ends[0]
        made, hole = end.outside_siphon, end.centre_above_floor_mm
        if made is None or made.lip_above_floor_mm is None or hole is None or run.later:
            continue
        bed = answer.vessels[end.vessel]
        water = answer.levels[end.vessel].water_mm - bed.floor_mm
        wide = answer.wide(run.pipe) or NOT_DRAWN
        bore = answer.inside(run.pipe) or wide
        own = (run.pipe, wide, bore, hole, made.lip_above_floor_mm, water, bed.rim_mm - bed.floor_mm)
        yield run.name, _Siphon(end, made, *own)


def _sheet(answer: DesignView, one: _Siphon, beds: Sequence[str]) -> Sheet:
    title = f"Siphon pipe outside: {together(beds)}"
    canvas, y = begun(
        title, f"From the side, heights to scale and in {answer.unit} above the floor inside; widths are not."
    )
    labels = list(_heights(one))
    y = _draw(canvas, one, labels, answer, y + 12.0)
    y = table(canvas, y, COLUMNS, list(_parts(answer, one)))
    if one.made.air_tube is None:
        canvas.para(EDGE, y, "The price list has no air tube for it.", size=SMALL)
    alt = [f"Siphon pipe outside {', '.join(beds)} from the side."]
    alt += [
        f"{words} at {answer.mark(mm)} {answer.units.piece.unit} above the floor." for words, mm, _ in labels
    ]
    return Sheet(ident("crest", beds[0]), title, " ".join(alt), canvas, beds[0])


COLUMNS = (
    TableColumn("part", 86.0, figures=False),
    TableColumn("what to take", 226.0, figures=False),
    TableColumn("outside", 58.0),
)


def _parts(answer: DesignView, one: _Siphon) -> Iterator[list[str]]:
    """A row for each part."""
    for what, part in (("pipe", one.pipe), ("air tube", one.made.air_tube)):
        if part is not None:
            wide = answer.wide(part)
            size = answer.units.bore.text(wide / 1000) if wide else "-"
            yield [what, f"{answer.describe(part)} ({part})", size]


def _heights(one: _Siphon) -> Iterator[tuple[str, float, Look | None]]:
    """What is told with its height, and its line across, from the floor up."""
    yield "floor", 0.0, None
    yield "middle of the hole", one.hole, None
    yield "mouth of the air tube", one.made.air_above_floor_mm, None
    yield "bore begins at the crest", one.lip, None
    yield "middle of the crest", one.crest, None
    yield "water, bed full", one.water, RUNNING
    yield "rim", one.rim, None


def _draw(
    canvas: Canvas,
    one: _Siphon,
    labels: Sequence[tuple[str, float, Look | None]],
    answer: DesignView,
    top: float,
) -> float:
    """All of it; answers where what comes next begins."""
    scale = PICTURE / max(mm for _, mm, _ in labels)
    bed, top = one.end.vessel, top + 14.0
    floor = top + PICTURE

    def y(mm: float) -> float:
        return floor - mm * scale

    canvas.water(EDGE, y(one.water), WALL_X, floor)
    canvas.line(((WALL_X, y(one.rim)), (WALL_X, floor), (EDGE, floor)), WALL, ident("wall", bed))
    half = max(2.0, one.wide * scale / 2)
    way = (
        (WALL_X - 26.0, y(one.hole)),
        (RISER_X, y(one.hole)),
        (RISER_X, y(one.crest)),
        (DOWN_X, y(one.crest)),
        (DOWN_X, floor + BELOW),
    )
    canvas.line(way, Look(INK, 2 * half), ident("siphon-pipe", bed))
    canvas.line(way, Look(GROUND, 2 * half - 2.4))
    if one.made.air_tube is not None:
        over, inside, crown = y(one.rim) - 8.0, WALL_X - 12.0, y(one.crest) - half
        at = (RISER_X + DOWN_X) / 2
        tube = ((at, crown), (at, over), (inside, over), (inside, y(one.made.air_above_floor_mm)))
        canvas.line(tube, TUBE, ident("air-tube", bed))
    canvas.arrow(DOWN_X, floor + BELOW - 4.0, 0.0, 1.0)
    ys = [y(mm) for _, mm, _ in labels]
    places = spread(ys, 28.0, top - 14.0, floor + BELOW)
    for (words, mm, look), at_y, place in zip(labels, ys, places, strict=True):
        left = EDGE if look else WALL_X
        gid = ident("height", bed, words)
        canvas.line(((left, at_y), (RIGHT, at_y)), look or Look(FAINT, 0.6), gid)
        canvas.leader(RIGHT, at_y, RIGHT + 12.0, place)
        canvas.text(RIGHT + 14.0, place - 1.0, answer.mark(mm), SMALL, bold=True)
        canvas.text(RIGHT + 14.0, place + 11.0, words, SMALL)
    return max(max(places) + 18.0, floor + BELOW + 12.0)
