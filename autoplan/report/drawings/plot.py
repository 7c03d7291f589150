"""A frame with two scales, and lines in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from autoplan.report.drawings.canvas import EDGE, SMALL, Canvas
from autoplan.report.drawings.paint import FAINT, INK, Look

GRID = Look(FAINT, 0.3)
FRAME = Look(INK, 1.0)

STEPS = (1.0, 2.0, 2.5, 5.0)
"""Steps of a scale, times a power of ten."""


@dataclass(frozen=True, slots=True)
class Plot:
    """A frame on a sheet.

    Attributes:
        canvas: the sheet.
        left, top, right, bottom: the frame [px].
        x: least and greatest value across. y: lowest and highest.
    """

    canvas: Canvas
    left: float
    top: float
    right: float
    bottom: float
    x: tuple[float, float]
    y: tuple[float, float]

    def spot(self, x: float, y: float) -> tuple[float, float]:
        """Where two values are [px]."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return self.left + across * (self.right - self.left), self.bottom - up * (self.bottom - self.top)

    def frame(self, across: str, upwards: str) -> float:
        """The frame with its scales and what they measure; answers where what comes next begins."""
        for value in ticks(*self.x):
            x, _ = self.spot(value, self.y[0])
            self.canvas.line(((x, self.top), (x, self.bottom)), GRID)
            self.canvas.text(x, self.bottom + 12.0, f"{value:g}", SMALL, "middle")
        for value in ticks(*self.y):
            _, y = self.spot(self.x[0], value)
            self.canvas.line(((self.left, y), (self.right, y)), GRID)
            self.canvas.text(self.left - 4.0, y + 3.6, f"{value:g}", SMALL, "end")
        self.canvas.box(self.left, self.top, self.right, self.bottom, FRAME)
        self.canvas.text(EDGE, self.top - 7.0, upwards, SMALL, tone=FAINT)
        middle = (self.left + self.right) / 2
        self.canvas.text(middle, self.bottom + 25.0, across, SMALL, "middle", tone=FAINT)
        return self.bottom + 32.0

    def line(self, points: Sequence[tuple[float, float]], look: Look, gid: str) -> None:
        """A line through values."""
        self.canvas.line([self.spot(x, y) for x, y in points], look, gid)


def ticks(least: float, most: float, about: int = 6) -> list[float]:
    """Round values from least to most, about so many."""
    rough = (most - least) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next((each * power for each in STEPS if each * power >= rough), 10.0 * power)
    first, last = math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9)
    return [round(number * step, 9) for number in range(first, last + 1)]
