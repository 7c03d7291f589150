"""Volumes and levels of vessels with upright walls."""

from __future__ import annotations


def level_change(volume_m3: float, area_m2: float) -> float:
    """Rise of the water when a volume comes in (fall when it is negative), dh = V / A.

    Args:
        volume_m3: volume added [m3].
        area_m2: water surface, more than 0 [m2].

    Returns:
        Change of level [m].

    Raises:
        ValueError: a surface that is not positive.
    """
    if not area_m2 > 0.0:
        raise ValueError(f"water surface must be positive, not {area_m2:g} m2")
    return volume_m3 / area_m2
