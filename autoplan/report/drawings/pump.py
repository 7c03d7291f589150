"""A pump's curve, what the pipes ask of it, and where the two meet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from autoplan.report.contract.water import PointRow, PumpRow
from autoplan.report.drawings.canvas import EDGE, SMALL, WIDTH, Canvas, begun, ident
from autoplan.report.drawings.paint import GROUND, INK, PRESSURE, WATERLINE, Look
from autoplan.report.drawings.plot import Plot
from autoplan.report.drawings.view import DesignView, Sheet
from autoplan.report.units import HOUR_S, LITRE_M3

PUMP = Look(INK, 2.2)
FULL = Look(INK, 1.0, (1.5, 2.5))
SYSTEM = Look(PRESSURE, 2.0, (6.0, 3.0))
MEETS = Look(WATERLINE, 2.0, (), GROUND)
ASKED = Look(INK, 1.2, (), INK)

HEIGHT = 250.0
"""Height of the frame [px]."""


def pumps(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each pump."""
    for pump in answer.design.pumps:
        if pump.curve is not None:
            yield _sheet(answer, pump)


def _sheet(answer: DesignView, pump: PumpRow) -> Sheet:
    title = f"Pump in {pump.vessel}"
    slowed = pump.speed < 1.0 - 1e-9
    canvas, y = begun(title, _words(answer, pump))
    y += 18.0
    curve, full, pipes = (
        _points(answer, points or ()) for points in (pump.curve, pump.full_speed_curve, pump.system)
    )
    shown = [curve, *([full] if slowed else [])]
    most_flow = max(flow for points in shown for flow, _ in points) * 1.04
    most_head = max(head for points in shown for _, head in points) * 1.08
    plot = Plot(canvas, EDGE + 30.0, y, WIDTH - EDGE - 6.0, y + HEIGHT, (0.0, most_flow), (0.0, most_head))
    y = plot.frame(f"flow, {answer.units.flow.unit}", f"head, {answer.units.head.unit}")
    name = pump.vessel
    if slowed:
        plot.line(full, FULL, ident("full-speed", name))
    plot.line(curve, PUMP, ident("curve", name))
    plot.line(_within(pipes, most_flow, most_head), SYSTEM, ident("system", name))
    asked = _points(answer, [PointRow(flow_l_h=pump.duty_flow_l_h, head_m=pump.required_head_m)])[0]
    x, at = plot.spot(*asked)
    canvas.box(x - 4.0, at - 4.0, x + 4.0, at + 4.0, ASKED, ident("asked", name))
    assert pump.meets is not None
    meets = _points(answer, [pump.meets])[0]
    canvas.disc(*plot.spot(*meets), 5.0, MEETS, ident("meets", name))
    _key(canvas, y, slowed=slowed)
    return Sheet(ident("pump", name), title, _words(answer, pump), canvas, name)


def _points(answer: DesignView, curve: Sequence[PointRow]) -> list[tuple[float, float]]:
    """A curve in the units that are drawn."""
    flow, head = answer.units.flow.si, answer.units.head.si
    return [(point.flow_l_h * LITRE_M3 / HOUR_S / flow, point.head_m / head) for point in curve]


def _within(points: Sequence[tuple[float, float]], most_x: float, most_y: float) -> list[tuple[float, float]]:
    """A rising line as far as it stays inside the frame."""
    found = [points[0]]
    for (x0, y0), (x1, y1) in pairwise(points):
        share = 1.0
        if x1 > most_x:
            share = min(share, (most_x - x0) / (x1 - x0))
        if y1 > most_y:
            share = min(share, (most_y - y0) / (y1 - y0))
        found.append((x0 + share * (x1 - x0), y0 + share * (y1 - y0)))
        if share < 1.0:
            break
    return found


def _words(answer: DesignView, pump: PumpRow) -> str:
    head = answer.units.head
    speed = "" if pump.speed >= 1.0 - 1e-9 else f", slowed to {pump.speed:.0%} of its speed"
    assert pump.meets is not None
    meets, asked = pump.meets, answer.flow(pump.duty_flow_l_h)
    return (
        f"{answer.describe(pump.part)} ({pump.part}){speed}. Asked of it: {asked} at "
        f"{head.said(pump.required_head_m)}. With every valve set it runs at "
        f"{answer.flow(meets.flow_l_h)} and {head.said(meets.head_m)}, and takes {pump.watts:.0f} W."
    )


def _key(canvas: Canvas, y: float, *, slowed: bool) -> None:
    lines = [("what the pump gives", PUMP), ("what the pipes ask, valves set", SYSTEM)]
    lines += [("what it gives at full speed", FULL)] if slowed else []
    for words, look in lines:
        canvas.line(((EDGE, y + 6.0), (EDGE + 26.0, y + 6.0)), look)
        canvas.text(EDGE + 32.0, y + 9.6, words, SMALL)
        y += 15.0
    canvas.disc(EDGE + 13.0, y + 6.0, 5.0, MEETS)
    canvas.text(EDGE + 32.0, y + 9.6, "where the two meet: this is how it runs", SMALL)
    y += 15.0
    canvas.box(EDGE + 9.0, y + 2.0, EDGE + 17.0, y + 10.0, ASKED)
    canvas.text(EDGE + 32.0, y + 9.6, "what the design asks of it, valves open", SMALL)
