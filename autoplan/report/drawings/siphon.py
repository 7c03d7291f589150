"""What stands on a bed's floor: standpipe, bell, guard and air tube from the side, to scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from autoplan.report.drawings.answer import Answer, Row, Sheet, grouped, named
from autoplan.report.drawings.canvas import EDGE, SMALL, Canvas, ident, spread
from autoplan.report.drawings.paint import FAINT, GROUND, INK, RUNNING, WALL, WATERLINE, Look
from autoplan.report.drawings.tables import Column, table
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
    """One standpipe with what stands round it; heights over the floor inside [mm]."""

    run: Row
    end: Row
    siphon: Row | None
    facts: Row


def siphons(answer: Answer) -> Iterator[Sheet]:
    """A drawing for each kind of standpipe, under a bell or bare."""
    facts = {one["drain"]: one for one in answer.design["siphons"]}
    uprights = {
        run["name"]: _Upright(run, run["ends"][0], run["ends"][0]["siphon"], facts.get(run["name"], {}))
        for run in answer.runs.values()
        if run["ends"][0]["standpipe_top_above_floor_mm"] is not None and not run["later"]
    }

    def likeness(name: str) -> tuple[Any, ...]:
        one = uprights[name]
        siphon = tuple((one.siphon or {}).values())
        hole = tuple((one.end["drain_hole"] or {}).values())
        lip = answer.mark(one.end["standpipe_top_above_floor_mm"])
        water = answer.mark(_water(answer, one))
        return _pipe(one), lip, water, siphon, hole, one.facts.get("bell_least_mm")

    for names in grouped(uprights, likeness):
        beds = [uprights[name].end["vessel"] for name in names]
        yield _sheet(answer, uprights[names[0]], beds)


def _pipe(one: _Upright) -> str:
    return str(one.end["standpipe"] or one.run["pipe"])


def _water(answer: Answer, one: _Upright) -> float:
    """Water over the floor with the bed full [mm]."""
    name = one.end["vessel"]
    return float(answer.levels[name]["water_mm"] - answer.vessels[name]["floor_mm"])


def _sheet(answer: Answer, one: _Upright, beds: Sequence[str]) -> Sheet:
    what = "Bell and standpipe" if one.siphon else "Standpipe"
    title = f"{what}, to scale: {named(beds)}"
    canvas = Canvas()
    y = canvas.title(title)
    y = canvas.para(
        EDGE,
        y,
        f"From the side, cut through the middle; heights in {answer.unit} above the floor inside.",
        size=SMALL,
    )
    labels = list(_heights(answer, one))
    y = _Section(canvas, answer, one, y + 12.0).draw(labels)
    y = table(canvas, y, COLUMNS, list(_parts(answer, one)))
    if one.siphon and not one.siphon["guard"]:
        canvas.para(EDGE, y, "The price list has no media guard for it.", size=SMALL)
    alt = [f"{what} of {', '.join(beds)} from the side."]
    unit = answer.units.piece.unit
    alt += [f"{words} at {_mark(answer, words, mm)} {unit} above the floor." for words, mm, _ in labels]
    return Sheet(ident("standpipe", beds[0]), title, " ".join(alt), canvas, beds[0])


COLUMNS = (
    Column("part", 86.0, figures=False),
    Column("what to take", 166.0, figures=False),
    Column("outside", 58.0),
    Column("inside", 60.0),
)


def _parts(answer: Answer, one: _Upright) -> Iterator[list[str]]:
    """A row for each part."""
    siphon = one.siphon or {}
    hole = one.end["drain_hole"] or {}
    named_parts = [
        ("standpipe", _pipe(one)),
        ("flare", siphon.get("flare")),
        ("bell", siphon.get("bell")),
        ("media guard", siphon.get("guard") or hole.get("guard")),
        ("air tube", siphon.get("snorkel")),
    ]
    for what, part in named_parts:
        if part is not None:
            row = answer.parts.get(part, {})
            inside = row.get("inside_mm", row.get("bore_mm"))
            sizes = (
                "-" if mm is None else answer.units.bore.text(mm / 1000)
                for mm in (row.get("outside_mm"), inside)
            )
            yield [what, f"{answer.describe(part)} ({part})", *sizes]
    if hole:
        yield [
            "drain hole",
            "drilled through one side of the standpipe",
            "-",
            answer.units.bore.text(hole["hole_mm"] / 1000),
        ]


def _heights(answer: Answer, one: _Upright) -> Iterator[tuple[str, float, Look | None]]:
    """What is told with its height, and its line across, from the floor up."""
    yield "floor", 0.0, None
    if one.end["drain_hole"]:
        yield "middle of the drain hole", one.end["drain_hole"]["centre_above_floor_mm"], None
    if one.siphon:
        yield "top of the cut-outs", one.siphon["cut_out_mm"], None
    yield "standpipe's lip", one.end["standpipe_top_above_floor_mm"], None
    yield "water, bed full", _water(answer, one), RUNNING
    for what in ("bell", "guard"):
        high = one.facts.get(f"{what}_least_mm")
        if one.siphon and one.siphon[what] and high is not None:
            yield f"top of the {what}, {AT_LEAST}", high, None


def _mark(answer: Answer, words: str, mm: float) -> str:
    """A height to mark; what must be that high at least is rounded up, as where it is told in words."""
    gauge = answer.units.piece
    return gauge.figure(-gauge.steps_down(-mm * MM_M)) if words.endswith(AT_LEAST) else answer.mark(mm)


class _Section:
    """A standpipe with all that stands round it, cut through the middle.

    Args:
        canvas: where; `top` where the picture begins [px].
        answer, one: what.
    """

    def __init__(self, canvas: Canvas, answer: Answer, one: _Upright, top: float) -> None:
        self.canvas, self.answer, self.one = canvas, answer, one
        self.parts = answer.parts
        widths = [self._size(_pipe(one), "outside_mm") or NOT_DRAWN]
        siphon = one.siphon or {}
        guard = siphon.get("guard") or (one.end["drain_hole"] or {}).get("guard")
        widths += [self._size(part, "outside_mm") for part in (siphon.get("bell"), guard)]
        heights = [mm for _, mm, _ in _heights(answer, one)]
        self.scale = min(PICTURE / max(heights), (RIGHT - EDGE - 30.0) / max(widths))
        self.middle = (EDGE + RIGHT) / 2
        self.floor = top + max(heights) * self.scale
        self.top = top

    def _size(self, part: str | None, key: str) -> float:
        return float(self.parts.get(part, {}).get(key, 0.0)) if part else 0.0

    def y(self, mm: float) -> float:
        """Where a height above the inside floor is [px]."""
        return self.floor - mm * self.scale

    def draw(self, labels: Sequence[tuple[str, float, Look | None]]) -> float:
        """All of it; answers where what comes next begins."""
        canvas, one = self.canvas, self.one
        bed = one.end["vessel"]
        canvas.water(EDGE, self.y(_water(self.answer, one)), RIGHT, self.floor)
        pipe = _pipe(one)
        outside = (self._size(pipe, "outside_mm") or NOT_DRAWN) * self.scale / 2
        bore = self._size(pipe, "bore_mm") * self.scale / 2
        lip = self.y(one.end["standpipe_top_above_floor_mm"])
        if one.siphon:
            self._round(one.siphon)
        elif one.end["drain_hole"]:
            self._guard(one.end["drain_hole"]["guard"], _water(self.answer, one))
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
        hole = one.end["drain_hole"]
        if hole:
            radius = hole["hole_mm"] / 2 * self.scale
            canvas.disc(
                self.middle,
                self.y(hole["centre_above_floor_mm"]),
                radius,
                Look(INK, 1.4, (), GROUND),
                ident("drain-hole", bed),
            )
        return max(self.floor + BELOW + 10.0, self._label(labels))

    def _round(self, siphon: Row) -> None:
        """Bell with its cut-outs, guard and air tube round the standpipe."""
        bed = self.one.end["vessel"]
        cut = self.y(siphon["cut_out_mm"])
        lip = self.one.end["standpipe_top_above_floor_mm"]
        tall = {what: self.one.facts.get(f"{what}_least_mm") or lip for what in ("bell", "guard")}
        self._guard(siphon["guard"], tall["guard"])
        for key in ("outside_mm", "inside_mm"):
            half = self._size(siphon["bell"], key) * self.scale / 2
            if not half:
                continue
            top = self.y(tall["bell"]) - (2.0 if key == "outside_mm" else 0.0)
            left, right = self.middle - half, self.middle + half
            gid = ident("bell", bed, key.removesuffix("_mm"))
            self.canvas.line(
                ((left, cut), (left, top), (right, top), (right, cut)),
                BELL if key == "outside_mm" else Look(INK, 0.8),
                gid,
            )
            if key == "outside_mm":
                for x in (left, right):
                    self.canvas.line(((x, cut), (x, self.floor)), Look(INK, 1.4, (3.0, 3.0)))
                if siphon["snorkel"]:
                    tube = right + 4.0
                    points = (
                        (right - 6.0, top),
                        (right - 6.0, top - 5.0),
                        (tube, top - 5.0),
                        (tube, cut - 3.0),
                    )
                    self.canvas.line(points, TUBE, ident("air-tube", bed))

    def _guard(self, part: str | None, tall_mm: float) -> None:
        """The media guard, if there is one, as high as that."""
        half = self._size(part, "outside_mm") * self.scale / 2
        if half:
            for at, x in enumerate((self.middle - half, self.middle + half)):
                gid = "" if at else ident("guard", self.one.end["vessel"])
                self.canvas.line(((x, self.floor), (x, self.y(tall_mm))), GUARD, gid)

    def _label(self, labels: Sequence[tuple[str, float, Look | None]]) -> float:
        """Each height with its words at the right; answers what is clear of them."""
        ys = [self.y(mm) for _, mm, _ in labels]
        places = spread(ys, 28.0, self.top - 2.0, self.floor + 14.0)
        for (words, mm, look), y, place in zip(labels, ys, places, strict=True):
            gid = ident("height", self.one.end["vessel"], words)
            self.canvas.line(((EDGE if look else self.middle, y), (RIGHT, y)), look or Look(FAINT, 0.6), gid)
            self.canvas.leader(RIGHT, y, RIGHT + 12.0, place)
            self.canvas.text(RIGHT + 14.0, place - 1.0, _mark(self.answer, words, mm), SMALL, bold=True)
            self.canvas.text(RIGHT + 14.0, place + 11.0, words, SMALL)
        return max(places) + 18.0
