"""How drawings look: one set of colours, and for each thing of a drawing a line or fill of its own.

Gravity, pressure, water and structure are told apart without colour too: a pipe by gravity is hollow, one
under pressure is a row of dashes, water is ruled with thin level lines, a wall is one thick line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

INK, FAINT, GROUND = "#1b2430", "#55606e", "#ffffff"
WATER, WATERLINE, GRAVITY, PRESSURE, GRAVEL, OFFCUT = (
    "#d3e6f4",
    "#1c5d92",
    "#6b4310",
    "#9a1b34",
    "#efe7d6",
    "#d9dde2",
)

VARIABLES = {
    INK: "--drawing-ink",
    FAINT: "--drawing-faint",
    GROUND: "--drawing-ground",
    WATER: "--drawing-water",
    WATERLINE: "--drawing-waterline",
    GRAVITY: "--drawing-gravity",
    PRESSURE: "--drawing-pressure",
    GRAVEL: "--drawing-gravel",
    OFFCUT: "--drawing-offcut",
}
"""Colours, and the CSS variables by which a page may set others; each colour is its variable's fallback."""

DARK = {
    "--drawing-ink": "#eef2f6",
    "--drawing-faint": "#b4bfcb",
    "--drawing-ground": "#141a21",
    "--drawing-water": "#1d3a52",
    "--drawing-waterline": "#8fc4ee",
    "--drawing-gravity": "#e7bd83",
    "--drawing-pressure": "#ff9fb0",
    "--drawing-gravel": "#3a3527",
    "--drawing-offcut": "#39424d",
}
"""The same for a dark page; contrast of text against ground and water is over 4.5:1 in both."""


@dataclass(frozen=True, slots=True)
class Look:
    """A line and a fill: colours or None, width [px], dashes [px]."""

    line: str | None = INK
    width: float = 1.0
    dashes: tuple[float, ...] = ()
    fill: str | None = None

    def wide(self, width: float) -> Look:
        """The same in another width."""
        return replace(self, width=width)


WALL = Look(INK, 3.0)
RUNNING = Look(WATERLINE, 1.6)
REST = Look(WATERLINE, 1.2, (1.0, 2.5))
OVERLOAD = Look(WATERLINE, 1.2, (6.0, 3.0))
RULED = Look(WATERLINE, 0.35)
WET = Look(None, 0.0, (), WATER)
STONES = Look(FAINT, 1.7, (1.7, 6.3))
BED = Look(None, 0.0, (), GRAVEL)
PIPE_EDGE, PIPE_BORE = Look(GRAVITY, 5.0), Look(GROUND, 2.4)
PRESSED = Look(PRESSURE, 3.4, (5.0, 2.2))
THIN = Look(FAINT, 0.7)
LEADER = Look(FAINT, 0.6)
DATUM = Look(FAINT, 0.8, (8.0, 3.0, 1.5, 3.0))
HOLE = Look(INK, 1.4, (), GROUND)
MARK = Look(INK, 1.0, (), GROUND)
HALO = Look(None, 0.0, (), GROUND)
LEFT_OVER = Look(INK, 0.8, (), OFFCUT)
BAR = Look(INK, 1.0, (), GROUND)
SAW = Look(INK, 1.4)
