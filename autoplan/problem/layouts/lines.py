"""What is known of the short form's lines: given, by places on the plan, or assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from autoplan.problem.plan import WallToWall
from autoplan.problem.site import Vessel
from autoplan.problem.tables.build import Ledger, in_pieces, metres
from autoplan.problem.tables.defaults import (
    FEEDS,
    FEEDS_OVER_RIM_M,
    GEOMETRY,
    HEIGHTS,
    LINES,
    MEMORY,
    ON_GROUND_M,
    UNDER_BED_M,
)
from autoplan.problem.tables.values import Lie, RunsAt
from autoplan.units import Dimension, read, write

Level = tuple[tuple[float, ...], tuple[int, ...]]
"""Level pieces of a line [m], and the corners between them [degrees]."""


@dataclass(frozen=True, slots=True)
class GivenLines:
    """What is known of each line, by its key.

    Attributes:
        levels: level distances from wall to wall, or their pieces from corner to corner [m].
        bends: changes of direction on the plan [degrees].
        heights: where drains lie, and the pump's lines.
        ledger: where what is assumed goes.
    """

    levels: Mapping[str, tuple[float, ...]]
    bends: Mapping[str, tuple[int, ...]]
    heights: Mapping[str, RunsAt]
    ledger: Ledger

    def length(self, key: str) -> float:
        """Level distance of a line from wall to wall [m]."""
        if key not in self.levels:
            text, why = LINES[key].length, LINES[key].why
            self.ledger.note(f"distances.{key}", text, MEMORY, f"level distance {why}")
            return read(text, Dimension.LENGTH)
        return sum(self.levels[key])

    def corners(self, key: str) -> tuple[int, ...]:
        """Changes of direction of a line on the plan [degrees]."""
        if key in self.bends:
            return self.bends[key]
        pieces = self.levels.get(key, ())
        corners = (90,) * (len(pieces) - 1) if len(pieces) > 1 else LINES[key].corners
        why = "corners on the plan" if len(pieces) > 1 else "corners on the plan, as far from each other"
        self.ledger.note(f"corners.{key}", str(list(corners)), MEMORY, why)
        return corners

    def level(self, key: str, further_m: float = 0.0) -> Level:
        """A line as it is given or assumed, longer by so much."""
        length, corners = self.length(key), self.corners(key)
        return in_pieces(self.levels.get(key, (length,)), corners, further_m), corners

    def by_places(self, key: str, way: WallToWall, first_m: float = 0.0) -> Level:
        """A line as it follows from where its ends are, behind a first part that leads to a tee [m]."""
        level = way.in_tenths()
        pieces = [write(piece, Dimension.LENGTH) for piece in (metres(level[0] + first_m), *level[1:])]
        text = pieces[0] if len(pieces) == 1 else f"[{', '.join(pieces)}]"
        note = self.ledger.note
        note(f"distances.{key}", text, GEOMETRY, f"level distance {LINES[key].why}, by their places")
        note(f"corners.{key}", str(list(way.corners)), GEOMETRY, "corners on the plan, by their places")
        return level, way.corners

    def feeds(self) -> RunsAt:
        """Where the pump's lines lie."""
        if FEEDS not in self.heights:
            usual = HEIGHTS[FEEDS]
            self.ledger.note(f"heights.{FEEDS}", usual.text, usual.mark, usual.why)
        return self.heights.get(FEEDS, RunsAt(Lie.RIM))


def joined(first: Level, then: Level, corner: int | None) -> Level:
    """Two lines one behind the other, with a corner between [degrees] or straight on."""
    (pieces, corners), (more, further) = first, then
    if corner is not None:
        return (*pieces, *more), (*corners, corner, *further)
    return (*pieces[:-1], metres(pieces[-1] + more[0]), *more[1:]), (*corners, *further)


def lies(runs_at: RunsAt, start: str, vessels: Mapping[str, Vessel], ground_m: float) -> tuple[float, str]:
    """The height at which a line runs [m], and the vessel that it keeps it to; "" for none.

    Args:
        runs_at: where it lies.
        start: the vessel that it starts at.
        vessels: all of them; where there are no beds it cannot lie under them.
        ground_m: the lowest ground that any stands on.
    """
    if runs_at.lie is Lie.HEIGHT:
        return runs_at.metres, ""
    if runs_at.lie is Lie.RIM:
        return metres(vessels[start].rim_m + FEEDS_OVER_RIM_M), start
    if runs_at.lie is Lie.BEDS and (bed := vessels.get("bed 1")) is not None:
        return metres(bed.floor_m - bed.base_m - UNDER_BED_M), bed.name
    return metres(ground_m - runs_at.metres if runs_at.lie is Lie.BURIED else ground_m + ON_GROUND_M), ""
