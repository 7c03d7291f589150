"""What stands inside at a settler's inlet, heights to scale: a turn that looks down, or a stilling well."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from autoplan.report.alike import together
from autoplan.report.contract.built import RunRow
from autoplan.report.drawings.canvas import Canvas, Spot, ident
from autoplan.report.drawings.paint import INK, Look
from autoplan.report.drawings.tables import TableColumn
from autoplan.report.drawings.view import DesignView

STANDS_IN = 7.0
"""From the wall to the middle of a turn, or to the near side of a well [px]; widths are not to scale."""

WIDEST = 0.3
"""Share of a vessel's drawn width that a stilling well takes at most."""

WELL = Look(INK, 1.4)

COLUMNS = (
    TableColumn("", 22.0, figures=False),
    TableColumn("inlet of", 84.0, figures=False),
    TableColumn("inside on its end", 140.0, figures=False),
    TableColumn("mouth", 56.0),
    TableColumn("under water", 68.0),
)
MOUTHS = (
    "Mouth: where the water leaves what is inside on the end of an inlet, downwards. "
    "Under water: from the running water down to it."
)


@dataclass(frozen=True, slots=True)
class Slowed:
    """What turns the water down at the end of a drain.

    Attributes:
        words: "turned down" or "hung from the rim", and which part.
        well: the part that is a stilling well; None of a turn.
        mouth_mm: its mouth over the vessel's floor [mm].
        height_mm: the same above the datum [mm].
        under_mm: from the running water down to its mouth [mm]; none where that is no more than 0.
    """

    words: str
    well: str | None
    mouth_mm: float
    height_mm: float
    under_mm: float


def slowed(answer: DesignView, run: RunRow) -> Slowed | None:
    """What stands inside at the end of a run; None where nothing does."""
    end = run.ends[1]
    vessel = answer.vessels.get(end.vessel)
    if vessel is None or run.later:
        return None
    if end.well is not None and end.well_mm is not None:
        mouth = vessel.depth_mm - end.well_mm
        words = f"hung from the rim: {answer.describe(end.well)}, cut {answer.said(end.well_mm)} long"
    elif end.down is not None and end.down_mm is not None and end.centre_above_floor_mm is not None:
        mouth = end.centre_above_floor_mm - end.down_mm
        words = f"turned down: {answer.describe(end.down)}"
    else:
        return None
    height = vessel.floor_mm + mouth
    return Slowed(words, end.well, mouth, height, answer.levels[end.vessel].water_mm - height)


def draw_slowed(
    canvas: Canvas,
    answer: DesignView,
    run: RunRow,
    left: float,
    wide: float,
    y: Callable[[float], float],
    scale: float,
) -> Spot | None:
    """What stands inside at the end of a run, behind the vessel's wall on the left.

    Args:
        canvas: where; `left` the inside of that wall [px], `wide` the vessel's width [px].
        answer: what; `run` whose end.
        y: where a height above the datum is [px]; `scale` how much a millimetre is [px].

    Returns:
        How far to the right and down it reaches [px]; None where there is nothing.
    """
    inside = slowed(answer, run)
    if inside is None:
        return None
    end, vessel = run.ends[1], answer.vessels[run.ends[1].vessel]
    axis, mouth = y(vessel.floor_mm + (end.centre_above_floor_mm or 0.0)), y(inside.height_mm)
    near = left + STANDS_IN
    if inside.well is None:
        way = ((left, axis), (near, axis), (near, mouth))
        canvas.pipe(way, pressed=False, gid=ident("turned-down", run.name))
        return near + 3.0, mouth
    far = near + min(WIDEST * wide, answer.wide(inside.well) * scale)
    canvas.pipe(((left, axis), ((near + far) / 2, axis)), pressed=False)
    # It hangs from the rim by hooks, open at both ends.
    rim = y(vessel.rim_mm)
    canvas.line(((left, rim), (near, rim), (near, mouth)), WELL, ident("well", run.name))
    canvas.line(((far, rim), (far, mouth)), WELL, ident("well", run.name, "far side"))
    return far, mouth


def rows(answer: DesignView, runs: Sequence[Sequence[str]]) -> list[list[str]]:
    """A row for each of some alike runs at the end of which something stands inside."""
    told = []
    for names in runs:
        run = answer.runs[names[0]]
        inside = slowed(answer, run)
        if inside is not None:
            under = answer.mark(inside.under_mm) if inside.under_mm > 0.0 else "-"
            height = answer.mark(inside.height_mm)
            told.append([answer.number(run), together(names), inside.words, height, under])
    return told


def sentences(answer: DesignView, vessels: Sequence[str]) -> list[str]:
    """The same in words, of the runs that end at some vessels."""
    told = []
    for run in answer.runs.values():
        inside = slowed(answer, run) if run.finish in vessels else None
        if inside is not None:
            under = inside.under_mm
            below = f", {answer.said(under)} under the running water" if under > 0.0 else ""
            told.append(
                f"Inside on the end of {run.name} in {run.finish}, {inside.words}; its mouth at "
                f"{answer.said(inside.height_mm)}{below}."
            )
    return told
