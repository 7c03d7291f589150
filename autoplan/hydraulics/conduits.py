"""Many pipe lines at once: what all of them lose at a flow, as one array."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
from numpy.typing import NDArray

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.friction import friction_head, grown
from autoplan.hydraulics.water import GRAVITY, Water

_HEAD_OF_FLOW = 8.0 / (pi * pi * GRAVITY)
"""Velocity head over Q^2 / d^4 [s2/m]."""

Array = NDArray[np.float64]


class Conduits:
    """Lines as columns, in their order.

    Options for one run share a handful of pipes, so friction is worked out once a pipe and metre; what stands
    on a line without a flap loses with the square of the flow, so its coefficients add up once.

    Args:
        lines: the lines; those with one tuple of resistances share its sum.

    Raises:
        ValueError: a fitting's bore is not positive.
    """

    def __init__(self, lines: Sequence[Conduit]) -> None:
        self._count = len(lines)
        self._pipes: dict[tuple[float, float], int] = {}
        at: list[int] = []
        pipe: list[int] = []
        length: list[float] = []
        sums: dict[int, tuple[float, list[Resistance]]] = {}
        drags: list[float] = []
        self._flaps: list[tuple[int, Resistance]] = []
        for number, line in enumerate(lines):
            for bore, roughness, metres in (
                (line.bore_m, line.roughness_m, line.length_m),
                *((part.bore_m, part.roughness_m, part.length_m) for part in line.stretches),
            ):
                at.append(number)
                pipe.append(self._pipes.setdefault((bore, roughness), len(self._pipes)))
                length.append(metres)
            key = id(line.resistances)
            if key not in sums:
                sums[key] = _sum(line.resistances)
            drag, flaps = sums[key]
            drags.append(drag)
            self._flaps += [(number, flap) for flap in flaps]
        self._at = np.array(at, dtype=np.intp)
        self._pipe = np.array(pipe, dtype=np.intp)
        self._length = np.array(length)
        self._drag = np.array(drags)

    def measures(self) -> tuple[Array, Array, Array]:
        """What of two lines of the same pipes makes one lose no more at any flow, where it is no more in any.

        Returns:
            Length of all pipe [m], sum of K over the fourth power of the bore [1/m4], what lifts flaps [m]:
            an array each, with a value for each line.
        """
        drag, lift = self._drag.copy(), np.zeros(self._count)
        for number, flap in self._flaps:
            drag[number] += flap.k / flap.bore_m**4
            lift[number] += flap.loss(0.0)
        metres: Array = np.bincount(self._at, self._length, self._count).astype(np.float64)
        return metres, drag, lift

    def loss(self, flow_m3_s: float, water: Water, grown_m: float = 0.0) -> Array:
        """Head that each loses at a flow, as `Conduit.loss` [m], to the last digits of its sum.

        Args:
            flow_m3_s: flow, 0 or more [m3/s].
            water: gives the kinematic viscosity.
            grown_m: roughness that every pipe has at least [m].

        Returns:
            Head loss [m], one for each line.

        Raises:
            ValueError: negative flow, or dimensions out of range.
        """
        pipes = [(bore, grown(rough, grown_m, bore)) for bore, rough in self._pipes]
        slopes = np.array([friction_head(flow_m3_s, bore, 1.0, rough, water) for bore, rough in pipes])
        if not self._count:
            return np.zeros(0)
        friction = np.bincount(self._at, slopes[self._pipe] * self._length, self._count)
        lost: Array = friction + self._drag * (_HEAD_OF_FLOW * flow_m3_s * flow_m3_s)
        for number, flap in self._flaps:
            lost[number] += flap.loss(flow_m3_s)
        return lost


def _sum(resistances: Sequence[Resistance]) -> tuple[float, list[Resistance]]:
    """Sum of K over the fourth power of the bore of those without a flap [1/m4], and those with one."""
    plain = [one for one in resistances if not one.lifts_m_s]
    for one in resistances:
        if not one.bore_m > 0.0:
            raise ValueError(f"bore must be positive, not {one.bore_m:g} m")
    drag = sum(one.k / one.bore_m**4 for one in plain)
    return drag, [one for one in resistances if one.lifts_m_s]
