"""Where everything stands, from above and to scale: vessels that have places, and the runs between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.report.contract.built import PRESSURE, VesselRow
from autoplan.report.drawings.canvas import EDGE, SMALL, WIDTH, Canvas, Spot, begun, ident
from autoplan.report.drawings.paint import GROUND, INK, THIN, Look
from autoplan.report.drawings.tables import TableColumn, key, table
from autoplan.report.drawings.view import DesignView, Sheet

HIGH = 380.0
"""Height of the picture at most [px]."""

OUTLINE = Look(INK, 2.2, (), GROUND)

COLUMNS = (
    TableColumn("", 24.0, figures=False),
    TableColumn("vessel", 146.0, figures=False),
    TableColumn("along", 66.0),
    TableColumn("across", 66.0),
    TableColumn("turned", 66.0),
)


def site(answer: DesignView) -> Iterator[Sheet]:
    """One drawing of all vessels whose places are known; none where fewer than two are."""
    placed = [vessel for vessel in answer.vessels.values() if vessel.x_mm is not None]
    if len(placed) < 2:
        return
    title = "Plan of the site, to scale"
    canvas, y = begun(
        title,
        "From above. Vessels stand where the problem puts them, the outsides of their walls drawn; runs "
        "go as they are planned, those whose way is not known are left out. The table has the middles "
        f"of vessels, in {answer.unit}.",
    )
    y = _picture(canvas, answer, placed, y + 6.0)
    y = key(canvas, y, levels=False) + 2.0
    rows = [
        [
            chr(ord("A") + number % 26) * (1 + number // 26),
            vessel.name,
            answer.mark(vessel.x_mm or 0.0),
            answer.mark(vessel.y_mm or 0.0),
            f"{vessel.facing_deg:.0f} degrees",
        ]
        for number, vessel in enumerate(placed)
    ]
    table(canvas, y, COLUMNS, rows)
    alt = " ".join(f"{row[1]}: its middle {row[2]} along and {row[3]} across." for row in rows)
    yield Sheet("site", title, f"The site from above, to scale. {alt}", canvas)


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


def _x(vessel: VesselRow) -> float:
    return vessel.x_mm or 0.0


def _y(vessel: VesselRow) -> float:
    return vessel.y_mm or 0.0


def _picture(canvas: Canvas, answer: DesignView, placed: Sequence[VesselRow], top: float) -> float:
    """The vessels and runs; answers where what comes next begins."""
    runs = [(run, [(spot.x_mm, spot.y_mm) for spot in run.on_plan]) for run in answer.runs.values()]
    outlines = [outline(vessel) for vessel in placed]
    every = [spot for spots in (*outlines, *(spots for _, spots in runs)) for spot in spots]
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
    for number, vessel in enumerate(placed):
        ((x, y),) = px([(_x(vessel), _y(vessel))])
        while any(abs(x - a) < 22.0 and abs(y - b) < 13.0 for a, b in clear):
            y += 13.0
        clear.append((x, y))
        letter = chr(ord("A") + number % 26) * (1 + number // 26)
        canvas.text(x, y + 3.6, letter, SMALL, "middle", bold=True, halo=True)
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
