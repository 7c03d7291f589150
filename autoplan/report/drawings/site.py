"""Where everything stands, from above and to scale: vessels and tees that have places, runs between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.report.contract.built import PRESSURE, JunctionRow, VesselRow
from autoplan.report.drawings.canvas import EDGE, SMALL, TALLEST, WIDTH, Canvas, Spot, begun, ident, letter
from autoplan.report.drawings.paint import GROUND, INK, MARK, THIN, Look
from autoplan.report.drawings.tables import TableColumn, key, row_height, table
from autoplan.report.drawings.view import DesignView, Sheet, divided

HIGH = 380.0
"""Height of the picture at most [px]."""

TEE, BESIDE = 3.5, 12.0
"""Radius of a tee, and from its middle to its letter [px]."""

OUTLINE = Look(INK, 2.2, (), GROUND)

COLUMNS = (
    TableColumn("", 24.0, figures=False),
    TableColumn("vessel or tee", 146.0, figures=False),
    TableColumn("along", 66.0),
    TableColumn("across", 66.0),
    TableColumn("turned", 66.0),
)


def site(answer: DesignView) -> Iterator[Sheet]:
    """One drawing of all vessels whose places are known; none where fewer than two are.

    Where the table is long it goes on in further ones.
    """
    placed = [vessel for vessel in answer.vessels.values() if vessel.x_mm is not None]
    if len(placed) < 2:
        return
    tees = [tee for tee in answer.design.junctions if tee.x_mm is not None]
    title = "Plan of the site, to scale"
    canvas, y = begun(
        title,
        "From above. Vessels stand where the problem puts them, the outsides of their walls drawn; runs "
        "go as they are planned, those whose way is not known are left out. The table has the middles "
        f"of vessels and of tees, in {answer.unit}.",
    )
    y = _picture(canvas, answer, placed, tees, y + 6.0)
    y = key(canvas, y, levels=False) + 2.0
    rows = [
        [
            *(letter(number), name),
            *(answer.mark(x), answer.mark(y)),
            "-" if facing is None else f"{facing:.0f} degrees",
        ]
        for number, (name, x, y, facing) in enumerate(
            [
                *((one.name, _x(one), _y(one), one.facing_deg) for one in placed),
                *((one.junction, _x(one), _y(one), None) for one in tees),
            ]
        )
    ]
    fit = _fitting(rows, TALLEST - y)
    table(canvas, y, COLUMNS, rows[:fit])
    yield Sheet("site", title, f"The site from above, to scale. {_alt(rows[:fit])}", canvas)
    rest = divided(rows[fit:], lambda row: row_height(COLUMNS, row), TALLEST - 60.0)
    for number, some in enumerate(rest, start=2):
        title = "Plan of the site, places continued"
        canvas = Canvas()
        table(canvas, canvas.title(title), COLUMNS, some)
        yield Sheet(f"site-{number}", title, _alt(some), canvas)


def _fitting(rows: Sequence[Sequence[str]], room: float) -> int:
    """How many rows a sheet takes that has so much room for them, their heading among it [px]; 1 at least."""
    first = divided(rows, lambda row: row_height(COLUMNS, row), room - 20.0)
    return len(first[0]) if first else 0


def _alt(rows: Sequence[Sequence[str]]) -> str:
    return " ".join(f"{row[1]}: its middle {row[2]} along and {row[3]} across." for row in rows)


def outline(vessel: VesselRow) -> list[Spot]:
    """The outside of a vessel that has a place, corner by corner [mm]; a round one by many."""
    half = (vessel.outside_length_mm or 0.0) / 2, (vessel.outside_width_mm or 0.0) / 2
    if vessel.shape == "round":
        around = [math.tau * step / 72 for step in range(72)]
        return [(_x(vessel) + half[0] * math.cos(a), _y(vessel) + half[0] * math.sin(a)) for a in around]
    turn = math.radians(vessel.facing_deg)
    corners = ((half[0], half[1]), (-half[0], half[1]), (-half[0], -half[1]), (half[0], -half[1]))
    return [
        (
            _x(vessel) + x * math.cos(turn) - y * math.sin(turn),
            _y(vessel) + x * math.sin(turn) + y * math.cos(turn),
        )
        for x, y in corners
    ]


def _x(one: VesselRow | JunctionRow) -> float:
    return one.x_mm or 0.0


def _y(one: VesselRow | JunctionRow) -> float:
    return one.y_mm or 0.0


def _picture(
    canvas: Canvas,
    answer: DesignView,
    placed: Sequence[VesselRow],
    tees: Sequence[JunctionRow],
    top: float,
) -> float:
    """The vessels, runs and tees; answers where what comes next begins."""
    runs = [(run, [(spot.x_mm, spot.y_mm) for spot in run.on_plan]) for run in answer.runs.values()]
    outlines = [outline(vessel) for vessel in placed]
    every = [spot for spots in (*outlines, *(spots for _, spots in runs)) for spot in spots]
    every += [(_x(tee), _y(tee)) for tee in tees]
    left, right = min(x for x, _ in every), max(x for x, _ in every)
    near, far = min(y for _, y in every), max(y for _, y in every)
    scale = min((WIDTH - 2 * EDGE) / (right - left), HIGH / (far - near))

    def px(spots: Sequence[Spot]) -> list[Spot]:
        """Places [mm] on the sheet; across goes up."""
        return [(EDGE + (x - left) * scale, top + (far - y) * scale) for x, y in spots]

    for vessel, corners in zip(placed, outlines, strict=True):
        canvas.area(px(corners), OUTLINE, ident("stands", vessel.name))
    for run, spots in runs:
        if len(spots) > 1:
            canvas.pipe(px(spots), pressed=run.kind == PRESSURE, gid=ident("goes", run.name))
    clear: list[Spot] = []
    for tee in tees:
        canvas.disc(*px([(_x(tee), _y(tee))])[0], TEE, MARK, ident("tee", tee.junction))
    lettered = [px([(_x(vessel), _y(vessel))])[0] for vessel in placed]
    lettered += [
        (x + BESIDE if x + 2 * BESIDE < WIDTH else x - BESIDE, y)
        for x, y in px([(_x(tee), _y(tee)) for tee in tees])
    ]
    for number, (x, y) in enumerate(lettered):
        while any(abs(x - a) < 22.0 and abs(y - b) < 13.0 for a, b in clear):
            y += 13.0
        clear.append((x, y))
        canvas.text(x, y + 3.6, letter(number), SMALL, "middle", bold=True, halo=True)
    bottom = max(top + (far - near) * scale, *(y for _, y in clear)) + 14.0
    return _bar(canvas, answer, bottom, scale)


def _bar(canvas: Canvas, answer: DesignView, y: float, scale: float) -> float:
    """A length to measure by; answers where what comes next begins."""
    long = 1000.0
    canvas.line(((EDGE, y), (EDGE + long * scale, y)), THIN, "bar")
    for x in (EDGE, EDGE + long * scale):
        canvas.line(((x, y - 3.0), (x, y + 3.0)), THIN)
    canvas.text(EDGE + long * scale + 6.0, y + 3.6, answer.said(long), SMALL)
    return y + 14.0
