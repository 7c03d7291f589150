"""The cubic between two moments of which values and slopes are known (Hermite): where it turns and meets 0.

Time runs from 0 to 1 between them, and slopes are for that unit of time.
"""

from __future__ import annotations

from math import copysign, sqrt

_HALVINGS = 20


def between(before: float, after: float, start: float, end: float, part: float) -> float:
    """The value at a time between.

    Args:
        before, after: the value at both ends.
        start, end: its slopes there.
        part: when, from 0 to 1.

    Returns:
        The value of the cubic there.
    """
    left = 1.0 - part
    return left * left * (before * (1.0 + 2.0 * part) + start * part) + part * part * (
        after * (3.0 - 2.0 * part) - end * left
    )


def turn(start: float, end: float, rise: float) -> tuple[float, float]:
    """Where a level turns that rises at one end and falls at the other.

    Args:
        start, end: its slopes at both ends, of unlike signs.
        rise: by how much it has risen in the end.

    Returns:
        When, from 0 to 1, and how much it has risen by then.
    """
    part = _level(start, end, rise)
    bent, twisted = 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise
    return part, part * (start + part * (bent + part * twisted))


def _level(start: float, end: float, rise: float) -> float:
    """The one time from 0 to 1 at which the slope, a parabola in time, is 0."""
    square, linear = 3.0 * (start + end) - 6.0 * rise, 6.0 * rise - 4.0 * start - 2.0 * end
    root = -0.5 * (linear + copysign(sqrt(max(0.0, linear * linear - 4.0 * square * start)), linear))
    for part, whole in ((start, root), (root, square)):
        if whole and 0.0 <= part * whole <= whole * whole:
            return part / whole
    # Rounding hid both: then the slope goes straight from one to the other.
    return start / (start - end)


def met(before: float, after: float, start: float, end: float) -> float:
    """When, from 0 to 1, a value rises past 0; to a millionth.

    Args:
        before, after: the value at both ends, below and above 0.
        start, end: its slopes there.
    """
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        part = 0.5 * (low + high)
        value = between(before, after, start, end, part)
        low, high = (low, part) if value > 0.0 else (part, high)
    return 0.5 * (low + high)
