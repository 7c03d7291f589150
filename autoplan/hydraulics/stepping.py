"""One step of water that runs between basins.

Steps are those of the linearly implicit method of L. F. Shampine and M. W. Reichelt, "The MATLAB ODE Suite",
SIAM J. Sci. Comput. 18(1), 1997: second order, for stiff systems, since a shallow filter answers in seconds
and a night has 40,000 of them. Volumes move along ways, so whatever leaves one basin arrives in another or
outside: water is conserved to rounding, whatever the length of a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from autoplan.hydraulics.elimination import Pattern
from autoplan.hydraulics.manifold import Manifold
from autoplan.hydraulics.passage import Rate

_D = 1.0 / (2.0 + sqrt(2.0))
_E32 = 6.0 + sqrt(2.0)
_BESIDES = (inf, -inf)
"""Levels outside: above, from where water always comes, and below, where it always goes."""


@dataclass(slots=True)
class Step:
    """A step that could be taken.

    Attributes:
        seconds: how long it is [s].
        volumes, levels: by basin after it [m3], [m]; levels also of outside.
        moved: by way of the manifold, what passed [m3].
        rates: by way after it.
        gains: by basin after it, what it gains [m3/s]; nothing outside.
        error_m: the most that a level may be out [m].
    """

    seconds: float
    volumes: list[float]
    levels: list[float]
    moved: list[float]
    rates: list[Rate]
    gains: list[float]
    error_m: float


class Stepper:
    """Takes the steps of water that has the same ways for a while.

    Args:
        floors_m: by basin, above the datum [m].
        wet_m2: by basin, water per metre of depth [m2].
        manifold: its ways.
        pattern: where basins meet by them, or by more.
    """

    def __init__(
        self, floors_m: Sequence[float], wet_m2: Sequence[float], manifold: Manifold, pattern: Pattern
    ) -> None:
        self.basins = list(zip(floors_m, wet_m2, strict=True))
        self.per_m2 = [*(1.0 / wet for wet in wet_m2), 0.0, 0.0]
        self.manifold = manifold
        self.pattern = pattern
        place = pattern.place
        self.places = [
            (
                above,
                below,
                place(above, above),
                place(below, above),
                place(above, below),
                place(below, below),
            )
            for above, below in manifold.ends
        ]

    def levels(self, volumes: Sequence[float]) -> list[float]:
        """Levels of so much water [m], and of outside."""
        found = [floor + volume / wet for (floor, wet), volume in zip(self.basins, volumes, strict=True)]
        found += _BESIDES
        return found

    def step(
        self, seconds: float, volumes: Sequence[float], rates: Sequence[Rate], gains: list[float]
    ) -> Step:
        """A step from volumes [m3], the rates there and what each basin gains by them."""
        per_m2, pattern, manifold = self.per_m2, self.pattern, self.manifold
        part = seconds * _D
        # Identity less `part` times the change of gains with volumes.
        matrix = pattern.identity()
        slopes: list[tuple[float, float]] = []
        for (_, by_above, by_below), places in zip(rates, self.places, strict=True):
            above, below, own, passed_on, against, back = places
            steep, drowned = by_above * per_m2[above], by_below * per_m2[below]
            slopes.append((steep, drowned))
            if steep:
                matrix[own] += part * steep
                matrix[passed_on] -= part * steep
            if drowned:
                matrix[against] += part * drowned
                matrix[back] -= part * drowned
        pattern.eliminate(matrix)
        first = pattern.solve(matrix, gains.copy())
        half = 0.5 * seconds
        halfway = self.levels([v + half * k for v, k in zip(volumes, first, strict=False)])
        midway, gains1 = manifold.rates(halfway)
        turn = pattern.solve(matrix, [a - b for a, b in zip(gains1, first, strict=True)])
        moved: list[float] = []
        after = [*volumes, 0.0, 0.0]
        for (above, below), (flow, _, _), (steep, drowned) in zip(manifold.ends, midway, slopes, strict=True):
            volume = seconds * (flow + part * (steep * turn[above] + drowned * turn[below]))
            moved.append(volume)
            after[above] -= volume
            after[below] += volume
        del after[-2:]
        levels = self.levels(after)
        rates2, gains2 = manifold.rates(levels)
        third = pattern.solve(
            matrix,
            [
                c2 - _E32 * (k1 + t - c1) - 2.0 * (k1 - c0)
                for c0, c1, c2, k1, t in zip(gains, gains1, gains2, first, turn, strict=True)
            ],
        )
        error = 0.0
        for each, k1, t, k3 in zip(per_m2, first, turn, third, strict=True):
            error = max(error, abs(k3 - k1 - 2.0 * t) * each)
        return Step(seconds, after, levels, moved, rates2, gains2, seconds / 6.0 * error)
