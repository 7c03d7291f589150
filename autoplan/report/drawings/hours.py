"""The water of a pumped vessel against time: while the beds flood, and through a power cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.report.contract.built import VesselRow
from autoplan.report.contract.water import TraceRow
from autoplan.report.drawings.canvas import EDGE, SMALL, WIDTH, Canvas, begun, ident, spread
from autoplan.report.drawings.paint import INK, WATER, WATERLINE, Look
from autoplan.report.drawings.plot import Plot
from autoplan.report.drawings.view import DesignView, Sheet
from autoplan.report.units import MM_M

LEVEL = Look(WATERLINE, 2.2)
UNDER = Look(None, 0.0, (), WATER)
RIM = Look(INK, 2.4)
AIR = Look(INK, 1.2, (2.0, 2.5))
SWITCH = Look(INK, 0.9, (5.0, 3.0))
HEIGHT = 260.0
"""Height of the frame [px]."""

LABELS = 106.0
"""Room for words at the right [px]."""

FURTHER_MM = 2.0
"""What water that is watched for longer goes further than what is drawn, before it is told."""

TITLES = {"floods": "through its beds' floods", "power cut": "through a power cut"}
SAID = {
    "floods": "All beds start together; that is when its water goes up and down most.",
    "power cut": "The power fails with the beds empty, when the most water comes back, and returns later.",
}


def hours(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each trace."""
    for trace in answer.design.traces:
        yield _sheet(answer, trace)


def _sheet(answer: DesignView, trace: TraceRow) -> Sheet:
    vessel = answer.vessels[trace.vessel]
    floor, name = vessel.floor_mm, trace.vessel
    title = f"Water in {name} {TITLES[trace.what]}"
    heights = [point.mm - floor for point in trace.points]
    words = _words(answer, trace, heights, vessel)
    canvas, y = begun(title, f"{SAID[trace.what]} {words}")
    y += 18.0
    unit = answer.units.piece.si / MM_M
    minutes = [point.s / 60.0 for point in trace.points]
    long = minutes[-1] > 300.0
    times = [minute / 60.0 for minute in minutes] if long else minutes
    plot = Plot(
        canvas,
        EDGE + 34.0,
        y,
        WIDTH - EDGE - LABELS,
        y + HEIGHT,
        (0.0, times[-1]),
        (0.0, max(vessel.depth_mm, *heights) / unit * 1.02),
    )
    points = [(time, height / unit) for time, height in zip(times, heights, strict=True)]
    under = [plot.spot(x, up) for x, up in points]
    canvas.area([*under, plot.spot(times[-1], 0.0), plot.spot(0.0, 0.0)], UNDER)
    plot.frame("hours" if long else "minutes", f"height above its floor inside, {answer.units.piece.unit}")
    plot.line(points, LEVEL, ident("trace", name, trace.what))
    across = (0.0, times[-1])
    lines = [
        ("rim", vessel.depth_mm, RIM),
        ("highest", max(heights), None),
        ("lowest", min(heights), None),
    ]
    air = _draws_air(answer, name)
    if air is not None:
        lines.append(("dry below", air - floor, AIR))
    for what, mm, look in lines:
        if look is not None:
            plot.line([(across[0], mm / unit), (across[1], mm / unit)], look, ident("line", name, what))
    _labels(canvas, answer, plot, lines, times[-1], unit)
    for what, seconds in (("off", trace.off_s), ("on", trace.on_s)):
        if seconds is not None:
            at = seconds / (3600.0 if long else 60.0)
            plot.line([(at, plot.y[0]), (at, plot.y[1])], SWITCH, ident("power", name, what))
            x, foot = plot.spot(at, plot.y[0])
            canvas.text(x + 4.0, foot - 6.0, f"power {what}", SMALL, halo=True)
    return Sheet(ident("hours", name, trace.what), title, words, canvas, name)


def _labels(
    canvas: Canvas,
    answer: DesignView,
    plot: Plot,
    lines: Sequence[tuple[str, float, Look | None]],
    end: float,
    unit: float,
) -> None:
    """TextLine for heights, at the right of the frame."""
    ys = [plot.spot(end, mm / unit)[1] for _, mm, _ in lines]
    places = spread(ys, 13.5, plot.top + 2.0, plot.bottom + 4.0)
    for (what, mm, _), y, place in zip(lines, ys, places, strict=True):
        canvas.leader(plot.right, y, plot.right + 8.0, place)
        canvas.text(plot.right + 10.0, place + 3.6, f"{what} {answer.mark(mm)}", SMALL)


def _draws_air(answer: DesignView, vessel: str) -> float | None:
    """Level under which the pump in a vessel draws air, above the datum [mm]; None where nobody says."""
    for phase in answer.design.running:
        for sump in phase.sumps:
            if sump.vessel == vessel:
                return sump.lowest_mm - sump.cover_mm
    return None


def _words(answer: DesignView, trace: TraceRow, heights: Sequence[float], vessel: VesselRow) -> str:
    """How the water moves in what is drawn; and how far it came as its beds were watched on, if further."""
    low, high = min(heights), max(heights)
    words = f"The water in {trace.vessel} stands {_range(answer, low, high, vessel)}."
    seen = [
        (sump.lowest_mm - vessel.floor_mm, sump.highest_mm - vessel.floor_mm)
        for phase in answer.design.running[:1]
        for sump in phase.sumps
        if sump.vessel == trace.vessel and trace.what == "floods"
    ]
    if any(lowest < low - FURTHER_MM or highest > high + FURTHER_MM for lowest, highest in seen):
        lowest, highest = seen[0]
        words += (
            f" Watched for longer it stands {_range(answer, min(low, lowest), max(high, highest), vessel)}."
        )
    return words


def _range(answer: DesignView, low: float, high: float, vessel: VesselRow) -> str:
    """From where to where it stands over the floor, and the wall that is left then, rounded down [mm]."""
    left, piece = vessel.depth_mm - high, answer.units.piece
    spare = (
        f"{piece.text_down(left * MM_M)} {piece.unit} under" if left >= 0.0 else f"{answer.said(-left)} over"
    )
    return f"{answer.said(low)} to {answer.said(high)} above its floor, at its highest {spare} the rim"
