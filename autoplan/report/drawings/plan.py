"""The circuit as a scheme: vessels and junctions in the order of the water, and the runs between them.

Falling water is drawn on the right of them, pumped water on the left, so that the two are never mixed up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from autoplan.report.alike import together
from autoplan.report.contract.built import GRAVITY, RunRow
from autoplan.report.drawings.canvas import EDGE, SMALL, TALLEST, Canvas, begun, fold, ident
from autoplan.report.drawings.paint import FAINT, GROUND, INK, Look
from autoplan.report.drawings.paint import GRAVITY as GRAVITY_TONE
from autoplan.report.drawings.paint import PRESSURE as PRESSURE_TONE
from autoplan.report.drawings.tables import TableColumn, key, row_height, table
from autoplan.report.drawings.view import DesignView, Sheet, later

LEFT, RIGHT = 140.0, 250.0
"""Both sides of the boxes [px]."""

LANE = 21.0
"""Between two runs that pass the same box [px]."""

BETWEEN = 12.0
"""Between two boxes [px]."""

SPARE = 50.0
"""By how much a sheet may be higher, rather than that a few rows stand alone on another [px]."""

FEW = 3
"""Most junctions that are drawn each by itself."""

VESSEL = Look(INK, 2.4, (), GROUND)
JUNCTION = Look(FAINT, 1.0, (), GROUND)

COLUMNS = (
    TableColumn("", 22.0, figures=False),
    TableColumn("run", 88.0, figures=False),
    TableColumn("from", 68.0, figures=False),
    TableColumn("to", 68.0, figures=False),
    TableColumn("pipe", 62.0, figures=False),
    TableColumn("on the plan", 62.0),
)


@dataclass(slots=True)
class _Node:
    """Vessels or junctions in one box; where it is, and the runs that are fastened to each side of it."""

    names: tuple[str, ...]
    lines: list[tuple[str, bool]]
    top: float = 0.0
    bottom: float = 0.0
    sides: dict[bool, list[tuple[int, bool]]] = field(default_factory=lambda: {True: [], False: []})

    def at(self, pressed: bool, run: int, *, out: bool) -> float:
        """Where a run is fastened [px]."""
        places = self.sides[pressed]
        share = (places.index((run, out)) + 1) / (len(places) + 1)
        return self.top + share * (self.bottom - self.top)


@dataclass(frozen=True, slots=True)
class _Route:
    """Runs built alike between the same two boxes, and the number that they go by."""

    number: str
    runs: tuple[RunRow, ...]
    start: int
    finish: int
    pressed: bool


def plan(answer: DesignView) -> Iterator[Sheet]:
    """The scheme and the lengths; these go on in further drawings where they are many."""
    nodes = _nodes(answer)
    every = _ways(answer, nodes)
    ways = [way for way in every if way.start != way.finish]
    for node_at, node in enumerate(nodes):
        among = [way.number for way in every if way.start == way.finish == node_at]
        if among:
            node.lines += [(line, False) for line in _folded(f"joined by {together(among)}")]
    rows = [
        [
            *(answer.number(run), run.name + (" (later)" if run.later else "")),
            *(run.start, run.finish, answer.size(run), level_words(answer, run)),
        ]
        for way in every
        for run in way.runs
    ]
    canvas, y = begun("Plan scheme, not to scale", SAID)
    y = _picture(canvas, y + 10.0, nodes, ways) + 6.0
    y = key(canvas, y, levels=False) + 2.0
    fit = _fitting(rows, y)
    table(canvas, y, COLUMNS, rows[:fit])
    yield Sheet("plan", "Plan scheme, not to scale", " ".join(_alt(answer)), canvas)
    yield from _more(rows[fit:])


SAID = (
    "A scheme: it says what is joined to what, not where it stands. On the right water falls, on the left it "
    "is pumped. Numbers in rings are runs, listed below with their level distances from wall to wall and the "
    "corners between them; how each goes up and down is drawn by itself."
)


def _more(rows: Sequence[list[str]]) -> Iterator[Sheet]:
    """Rows that did not find room under the scheme."""
    number = 1
    while rows:
        number += 1
        title = "Plan scheme, lengths continued"
        canvas = Canvas()
        y = canvas.title(title)
        fit = max(1, _fitting(rows, y))
        table(canvas, y, COLUMNS, rows[:fit])
        alt = " ".join(
            f"Run {row[0]}, {row[1]}: {row[5]} of {row[4]}, {row[2]} to {row[3]}." for row in rows[:fit]
        )
        yield Sheet(f"plan-{number}", title, alt, canvas)
        rows = rows[fit:]


def level_words(answer: DesignView, run: RunRow) -> str:
    """Level distances from wall to wall with the corners between them, of a measured run its length."""
    if not run.level_mm:
        return answer.way(run.length_m)
    corners = ["", *("corner, " if angle == 90 else f"{angle} degrees, " for angle in run.corners)]
    legs = zip(corners, map(answer.mark, run.level_mm), strict=False)
    return ", ".join(f"{corner}{mark}" for corner, mark in legs)


def _fitting(rows: Sequence[list[str]], y: float) -> int:
    """How many rows a sheet takes whose table begins at y: all of them rather than leave a few over."""
    height, fit = y + 30.0, 0
    while fit < len(rows) and height + row_height(COLUMNS, rows[fit]) <= TALLEST:
        height += row_height(COLUMNS, rows[fit])
        fit += 1
    rest = sum(row_height(COLUMNS, row) for row in rows[fit:])
    return len(rows) if height + rest <= TALLEST + SPARE else fit


def _nodes(answer: DesignView) -> list[_Node]:
    """Boxes in the order of the water: vessels, alike ones together, then junctions."""
    found = []
    for names in answer.groups:
        volume = answer.volume(answer.vessels[names[0]].volume_l)
        each = "" if len(names) == 1 else " each"
        found.append(
            _Node(
                tuple(names),
                [*((line, True) for line in _folded(later(answer, names))), (volume + each, False)],
            )
        )
    junctions = list(
        dict.fromkeys(
            end
            for run in answer.runs.values()
            for end in (run.start, run.finish)
            if end not in answer.vessels
        )
    )
    by_stem: dict[str, list[str]] = {}
    for name in junctions:
        stem = re.sub(r"\d+$", "", name)
        by_stem.setdefault(stem if len(junctions) > FEW else name, []).append(name)
    found += [
        _Node(tuple(names), [(line, False) for line in _folded(together(names))])
        for names in by_stem.values()
    ]
    return found


def _folded(text: str) -> list[str]:
    return fold(text, RIGHT - LEFT - 10.0, SMALL, bold=True)[:4]


def _ways(answer: DesignView, nodes: Sequence[_Node]) -> list[_Route]:
    """The runs, those built alike between the same two boxes together, by their numbers."""
    at = {name: number for number, node in enumerate(nodes) for name in node.names}
    grouped: dict[tuple[int, bool, int, int], list[RunRow]] = {}
    for run in answer.runs.values():
        key = (int(answer.number(run)), run.kind != GRAVITY, at[run.start], at[run.finish])
        grouped.setdefault(key, []).append(run)
    return [
        _Route(str(number), tuple(grouped[number, pressed, start, finish]), start, finish, pressed)
        for number, pressed, start, finish in sorted(grouped)
    ]


def _picture(canvas: Canvas, y: float, nodes: Sequence[_Node], ways: Sequence[_Route]) -> float:
    """The boxes and the runs between them; answers where what comes next begins."""
    for number, way in enumerate(ways):
        nodes[way.start].sides[way.pressed].append((number, True))
        nodes[way.finish].sides[way.pressed].append((number, False))
    for node in nodes:
        for side in node.sides.values():
            side.sort(key=lambda end: _towards(end, ways))
        most = max(len(side) for side in node.sides.values())
        node.top = y
        node.bottom = y + max(13.0 * len(node.lines) + 8.0, 11.0 * (most + 1), 24.0)
        y = node.bottom + BETWEEN
    lanes = _lanes(nodes, ways)
    deepest = {
        pressed: max([lanes[n] for n, w in enumerate(ways) if w.pressed is pressed], default=0)
        for pressed in (True, False)
    }
    pitch = {pressed: min(LANE, (LEFT - 2 * EDGE) / (deepest[pressed] + 1.4)) for pressed in (True, False)}
    marks = []
    for number, way in enumerate(ways):
        away = (lanes[number] + 1.0) * pitch[way.pressed]
        start = nodes[way.start].at(way.pressed, number, out=True)
        finish = nodes[way.finish].at(way.pressed, number, out=False)
        wall, x = (LEFT, LEFT - away) if way.pressed else (RIGHT, RIGHT + away)
        gid = ident("way", way.runs[0].name)
        canvas.pipe(((wall, start), (x, start), (x, finish), (wall, finish)), pressed=way.pressed, gid=gid)
        tone = PRESSURE_TONE if way.pressed else GRAVITY_TONE
        canvas.arrow(wall, finish, 1.0 if way.pressed else -1.0, 0.0, tone)
        marks.append((x, (start + finish) / 2, way.number))
    for node in nodes:
        vessel = node.lines[0][1]
        canvas.box(
            LEFT, node.top, RIGHT, node.bottom, VESSEL if vessel else JUNCTION, ident("node", node.names[0])
        )
        base = (node.top + node.bottom - 13.0 * len(node.lines)) / 2 + SMALL
        for at, (line, bold) in enumerate(node.lines):
            canvas.text((LEFT + RIGHT) / 2, base + 13.0 * at, line, SMALL, "middle", bold=bold)
    for x, middle, figure in _clear(marks):
        canvas.number(x, middle, figure)
    return y


def _towards(end: tuple[int, bool], ways: Sequence[_Route]) -> tuple[int, int]:
    """What puts runs at a side in order: those that come from above first, those that go down last."""
    way, out = ways[end[0]], end[1]
    here, there = (way.start, way.finish) if out else (way.finish, way.start)
    return int(there > here), there


def _lanes(nodes: Sequence[_Node], ways: Sequence[_Route]) -> list[int]:
    """How far out each run goes, the short ones nearest, so that no two lie on each other."""
    lanes = [0] * len(ways)
    taken: dict[tuple[bool, int], list[tuple[float, float]]] = {}
    order = sorted(range(len(ways)), key=lambda at: abs(ways[at].start - ways[at].finish))
    for at in order:
        way = ways[at]
        ends = (
            nodes[way.start].at(way.pressed, at, out=True),
            nodes[way.finish].at(way.pressed, at, out=False),
        )
        low, high = min(ends) - 7.0, max(ends) + 7.0
        lane = 0
        while any(a < high and low < b for a, b in taken.get((way.pressed, lane), [])):
            lane += 1
        taken.setdefault((way.pressed, lane), []).append((low, high))
        lanes[at] = lane
    return lanes


def _clear(marks: Sequence[tuple[float, float, str]]) -> Iterator[tuple[float, float, str]]:
    """The numbers, each moved along its run until it is clear of those before it."""
    placed: list[tuple[float, float]] = []
    for x, middle, figure in marks:
        y = middle
        while any(abs(x - a) < 17.0 and abs(y - b) < 17.0 for a, b in placed):
            y += 2.0
        placed.append((x, y))
        yield x, y, figure


def _alt(answer: DesignView) -> Iterator[str]:
    yield "A scheme of vessels and runs, not to scale."
    for run in answer.runs.values():
        how = "falls" if run.kind == GRAVITY else "is pumped"
        yield (
            f"{run.name}: water {how} from {run.start} to {run.finish} through "
            f"{answer.way(run.length_m)} of {answer.size(run)}"
            + (f", on the plan {level_words(answer, run)} {answer.unit}." if run.level_mm else ".")
        )
