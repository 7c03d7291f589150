"""What stands on a bed's floor: standpipe, bell, guard and air tube from the side, to scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from autoplan.report.alike import together
from autoplan.report.contract.built import BellRow, EndRow
from autoplan.report.contract.water import SiphonRow, TimerRow, WeepRow
from autoplan.report.drawings.canvas import EDGE, SMALL, Canvas, begun, ident, spread
from autoplan.report.drawings.paint import FAINT, GROUND, INK, RUNNING, WALL, WATERLINE, Look
from autoplan.report.drawings.tables import TableColumn, table
from autoplan.report.drawings.view import DesignView, Sheet, grouped
from autoplan.report.units import MM_M

RIGHT = 232.0
"""Where the drawn part of the floor ends; heights are named to its right [px]."""

PICTURE = 300.0
"""Height of all that stands on the floor at most [px]."""

BELOW = 26.0
"""What is drawn under the floor [px]."""

AT_LEAST = "at least"
"""Ends what is said of a height that may be more and not less."""

PIPE = Look(INK, 1.6, (), GROUND)
BELL = Look(INK, 1.8)
GUARD = Look(FAINT, 1.4, (3.0, 2.4))
TUBE = Look(WATERLINE, 2.2)
NOT_DRAWN = 40.0
"""Width of a standpipe whose size the answer does not have [mm]."""


@dataclass(frozen=True, slots=True)
class _Upright:
    """One standpipe with what stands round it: its pipe, lip and the bed's water over the floor [mm].

    Attributes:
        facts: the siphon or the bed with a drain hole, for how high bell and guard must be.
    """

    end: EndRow
    pipe: str
    lip: float
    water: float
    facts: SiphonRow | TimerRow | WeepRow | None

    @property
    def guard(self) -> str | None:
        """The media guard."""
        siphon, hole = self.end.siphon, self.end.drain_hole
        return (siphon.guard if siphon else None) or (hole.guard if hole else None)

    @property
    def least(self) -> dict[str, float | None]:
        """How high bell and guard must be at least [mm]."""
        facts = self.facts
        return {
            "bell": facts.bell_least_mm if isinstance(facts, SiphonRow) else None,
            "guard": facts.guard_least_mm if facts else None,
        }


def siphons(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each kind of standpipe, under a bell or bare."""
    facts: dict[str, SiphonRow | TimerRow | WeepRow] = {one.drain: one for one in answer.design.siphons}
    drilled: dict[str, TimerRow | WeepRow] = {one.bed: one for one in answer.design.timers}
    drilled |= {one.bed: one for one in answer.design.weeps}
    uprights = {}
    for run in answer.runs.values():
        end = run.ends[0]
        lip = end.standpipe_top_above_floor_mm
        if lip is not None and not run.later:
            water = answer.levels[end.vessel].water_mm - answer.vessels[end.vessel].floor_mm
            own = facts.get(run.name) or drilled.get(end.vessel)
            uprights[run.name] = _Upright(end, end.standpipe or run.pipe, lip, water, own)

    def likeness(name: str) -> tuple[Any, ...]:
        one = uprights[name]
        marks = answer.mark(one.lip), answer.mark(one.water)
        return one.pipe, marks, one.end.siphon, one.end.drain_hole, *one.least.values()

    for names in grouped(uprights, likeness):
        beds = [uprights[name].end.vessel for name in names]
        yield _sheet(answer, uprights[names[0]], beds)


def _sheet(answer: DesignView, one: _Upright, beds: Sequence[str]) -> Sheet:
    what = "Bell and standpipe" if one.end.siphon else "Standpipe"
    title = f"{what}, to scale: {together(beds)}"
    canvas, y = begun(
        title, f"From the side, cut through the middle; heights in {answer.unit} above the floor inside."
    )
    labels = list(_heights(one))
    y = _Section(canvas, answer, one, y + 12.0).draw(labels)
    y = table(canvas, y, COLUMNS, list(_parts(answer, one)))
    if one.end.siphon and not one.end.siphon.guard:
        canvas.para(EDGE, y, "The price list has no media guard for it.", size=SMALL)
    alt = [f"{what} of {', '.join(beds)} from the side."]
    unit = answer.units.piece.unit
    alt += [f"{words} at {_mark(answer, words, mm)} {unit} above the floor." for words, mm, _ in labels]
    return Sheet(ident("standpipe", beds[0]), title, " ".join(alt), canvas, beds[0])


COLUMNS = (
    TableColumn("part", 86.0, figures=False),
    TableColumn("what to take", 166.0, figures=False),
    TableColumn("outside", 58.0),
    TableColumn("inside", 60.0),
)


def _parts(answer: DesignView, one: _Upright) -> Iterator[list[str]]:
    """A row for each part."""
    siphon, hole = one.end.siphon, one.end.drain_hole
    named_parts = [
        ("standpipe", one.pipe),
        ("flare", siphon.flare if siphon else None),
        ("bell", siphon.bell if siphon else None),
        ("media guard", one.guard),
        ("air tube", siphon.snorkel if siphon else None),
    ]
    for what, part in named_parts:
        if part is not None:
            sizes = (
                answer.units.bore.text(mm / 1000) if mm else "-"
                for mm in (answer.wide(part), answer.inside(part))
            )
            yield [what, f"{answer.describe(part)} ({part})", *sizes]
    if hole:
        yield [
            "drain hole",
            "drilled through one side of the standpipe",
            "-",
            answer.units.bore.text(hole.hole_mm / 1000),
        ]


def _heights(one: _Upright) -> Iterator[tuple[str, float, Look | None]]:
    """What is told with its height, and its line across, from the floor up."""
    yield "floor", 0.0, None
    if one.end.drain_hole:
        yield "middle of the drain hole", one.end.drain_hole.centre_above_floor_mm, None
    siphon = one.end.siphon
    if siphon:
        yield "top of the cut-outs", siphon.cut_out_mm, None
    yield "standpipe's lip", one.lip, None
    yield "water, bed full", one.water, RUNNING
    there = {"bell": siphon.bell if siphon else None, "guard": one.guard}
    for what, high in one.least.items():
        if there[what] and high is not None:
            yield f"top of the {what}, {AT_LEAST}", high, None


def _mark(answer: DesignView, words: str, mm: float) -> str:
    """A height to mark; what must be that high at least is rounded up, as where it is told in words."""
    gauge = answer.units.piece
    return gauge.figure(-gauge.steps_down(-mm * MM_M)) if words.endswith(AT_LEAST) else answer.mark(mm)


class _Section:
    """A standpipe with all that stands round it, cut through the middle.

    Args:
        canvas: where; `top` where the picture begins [px].
        answer, one: what.
    """

    def __init__(self, canvas: Canvas, answer: DesignView, one: _Upright, top: float) -> None:
        self.canvas, self.answer, self.one = canvas, answer, one
        self.siphon = one.end.siphon
        bell = self.siphon.bell if self.siphon else None
        self.outside = answer.wide(one.pipe) or NOT_DRAWN
        widths = (self.outside, answer.wide(bell), answer.wide(one.guard))
        heights = [mm for _, mm, _ in _heights(one)]
        self.scale = min(PICTURE / max(heights), (RIGHT - EDGE - 30.0) / max(widths))
        self.middle = (EDGE + RIGHT) / 2
        self.floor = top + max(heights) * self.scale
        self.top = top

    def y(self, mm: float) -> float:
        """Where a height above the inside floor is [px]."""
        return self.floor - mm * self.scale

    def draw(self, labels: Sequence[tuple[str, float, Look | None]]) -> float:
        """All of it; answers where what comes next begins."""
        canvas, one = self.canvas, self.one
        bed = one.end.vessel
        canvas.water(EDGE, self.y(one.water), RIGHT, self.floor)
        outside, bore = (mm * self.scale / 2 for mm in (self.outside, self.answer.inside(one.pipe)))
        lip = self.y(one.lip)
        if self.siphon:
            self._round(self.siphon)
        elif one.end.drain_hole:
            self._guard(one.end.drain_hole.guard, one.least["guard"] or one.water)
        canvas.box(
            self.middle - outside,
            lip,
            self.middle + outside,
            self.floor + BELOW,
            PIPE,
            ident("standpipe", bed),
        )
        if bore:
            for x in (self.middle - bore, self.middle + bore):
                canvas.line(((x, lip), (x, self.floor + BELOW)), Look(INK, 0.8))
        for left, right in ((EDGE, self.middle - outside), (self.middle + outside, RIGHT)):
            canvas.line(((left, self.floor), (right, self.floor)), WALL, ident("floor", bed))
        hole = one.end.drain_hole
        if hole:
            radius = hole.hole_mm / 2 * self.scale
            canvas.disc(
                self.middle,
                self.y(hole.centre_above_floor_mm),
                radius,
                Look(INK, 1.4, (), GROUND),
                ident("drain-hole", bed),
            )
        return max(self.floor + BELOW + 10.0, self._label(labels))

    def _round(self, siphon: BellRow) -> None:
        """Bell with its cut-outs, guard and air tube round the standpipe."""
        bed = self.one.end.vessel
        cut = self.y(siphon.cut_out_mm)
        top = self.y(self.one.least["bell"] or self.one.lip)
        self._guard(siphon.guard, self.one.least["guard"] or self.one.lip)
        outside, inside = (
            mm * self.scale / 2 for mm in (self.answer.wide(siphon.bell), self.answer.inside(siphon.bell))
        )
        if outside:
            left, right = self._hood(outside, cut, top - 2.0, BELL, ident("bell", bed, "outside"))
            for x in (left, right):
                self.canvas.line(((x, cut), (x, self.floor)), Look(INK, 1.4, (3.0, 3.0)))
            if siphon.snorkel:
                tube, over = right + 4.0, top - 7.0
                points = ((right - 6.0, top - 2.0), (right - 6.0, over), (tube, over), (tube, cut - 3.0))
                self.canvas.line(points, TUBE, ident("air-tube", bed))
        if inside:
            self._hood(inside, cut, top, Look(INK, 0.8), ident("bell", bed, "inside"))

    def _hood(self, half: float, cut: float, top: float, look: Look, gid: str) -> tuple[float, float]:
        """Both sides and the top of a bell; answers where the sides are."""
        left, right = self.middle - half, self.middle + half
        self.canvas.line(((left, cut), (left, top), (right, top), (right, cut)), look, gid)
        return left, right

    def _guard(self, part: str | None, tall_mm: float) -> None:
        """The media guard, if there is one, as high as that."""
        half = self.answer.wide(part) * self.scale / 2
        if half:
            for at, x in enumerate((self.middle - half, self.middle + half)):
                gid = "" if at else ident("guard", self.one.end.vessel)
                self.canvas.line(((x, self.floor), (x, self.y(tall_mm))), GUARD, gid)

    def _label(self, labels: Sequence[tuple[str, float, Look | None]]) -> float:
        """Each height with its words at the right; answers what is clear of them."""
        ys = [self.y(mm) for _, mm, _ in labels]
        places = spread(ys, 28.0, self.top - 2.0, self.floor + 14.0)
        for (words, mm, look), y, place in zip(labels, ys, places, strict=True):
            gid = ident("height", self.one.end.vessel, words)
            self.canvas.line(((EDGE if look else self.middle, y), (RIGHT, y)), look or Look(FAINT, 0.6), gid)
            self.canvas.leader(RIGHT, y, RIGHT + 12.0, place)
            self.canvas.text(RIGHT + 14.0, place - 1.0, _mark(self.answer, words, mm), SMALL, bold=True)
            self.canvas.text(RIGHT + 14.0, place + 11.0, words, SMALL)
        return max(places) + 18.0
