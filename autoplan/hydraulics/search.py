"""Bracketed searches, for inverting functions that only rise."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

_NARROWEST = 1e-13
"""Width at which a search ends, over the place found [-]."""

_MOST_HALVINGS = 200


def crossing(holds: Callable[[float], bool], low: float, high: float) -> tuple[float, float]:
    """Narrow [low, high] around the place where `holds` turns from true to false, by halving.

    The caller takes the end that lies on the safe side. Halving is chosen over faster methods because it also
    closes on a step or a kink, as at the laminar limit of friction.

    Args:
        holds: true at `low`, false at `high`, and changing once in between.
        low: where it still holds [-].
        high: where it no longer holds [-].

    Returns:
        The last place known to hold and the first known not to, within 1e-13 of each other, relative [-].
    """
    for _ in range(_MOST_HALVINGS):
        if high - low <= _NARROWEST * high:
            break
        middle = 0.5 * (low + high)
        if holds(middle):
            low = middle
        else:
            high = middle
    return low, high


def root(
    excess: Callable[[float], float], low: float, high: float, share: float = _NARROWEST
) -> tuple[float, float]:
    """Narrow [low, high] around the place where `excess` turns from 0 or less to more, by its values.

    Inverse quadratic interpolation where the last three values bend little, else halving (T. R. Chandrupatla,
    Advances in Engineering Software 28, 1997): a smooth function takes a quarter of the steps of `crossing`,
    and one with a step or a kink is closed on all the same.

    Args:
        excess: 0 or less at `low`, more at `high`, and rising in between.
        low: where it is not yet over 0.
        high: where it is.
        share: width at which to end, over the place found [-].

    Returns:
        The last place known to be at or below 0 and the first known to be over it.
    """
    here, other, third = high, low, low
    at_here, at_other = excess(high), excess(low)
    at_third = at_other
    part = 0.5
    for _ in range(_MOST_HALVINGS):
        least = share * max(abs(here), abs(other)) / (2.0 * abs(here - other))
        if least >= 0.5:
            break
        place = here + min(max(part, least), 1.0 - least) * (other - here)
        at_place = excess(place)
        if (at_place > 0.0) == (at_here > 0.0):
            third, at_third = here, at_here
        else:
            third, at_third, other, at_other = other, at_other, here, at_here
        here, at_here = place, at_place
        part = _interpolated((here, at_here), (other, at_other), (third, at_third))
    return (other, here) if at_here > 0.0 else (here, other)


def _interpolated(here: tuple[float, float], other: tuple[float, float], third: tuple[float, float]) -> float:
    """Where between two places that bracket 0, as a share of the way, a third says that it lies."""
    (x1, y1), (x2, y2), (x3, y3) = here, other, third
    if y3 in (y1, y2):
        return 0.5
    along, up = (x1 - x2) / (x3 - x2), (y1 - y2) / (y3 - y2)
    if not 1.0 - sqrt(max(0.0, 1.0 - along)) < up < sqrt(max(0.0, along)):
        return 0.5
    return y1 / (y2 - y1) * y3 / (y2 - y3) + (x3 - x1) / (x2 - x1) * y1 / (y3 - y1) * y2 / (y3 - y2)
