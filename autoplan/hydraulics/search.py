"""One bracketed search, for inverting functions that only rise."""

from __future__ import annotations

from collections.abc import Callable

_NARROWEST = 1e-13
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
