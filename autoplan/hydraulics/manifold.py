"""Flow through all the passages between some basins at once, each exactly as it says alone.

A walk asks for it ten thousand times, and most of what a passage asked alone takes is the asking: so the
usual drains are worked out here in one row, and the outlets of one pump from one look at its water.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import TypeAlias

from autoplan.hydraulics.passage import SHORTAGE_M, Drain, Passage, Pumped, Rate

Way: TypeAlias = tuple[Passage, int, int]
"""A passage, the number of the basin above it, and that of the basin below.

As many as there are basins stands for outside above, one more for outside below.
"""

_NOTHING: Rate = (0.0, 0.0, 0.0)


class Manifold:
    """Passages between basins.

    Args:
        ways: the passages and where they lead.
        size: how many basins there are.

    Attributes:
        order: the ways' numbers in the order in which rates are told.
        ends: basins above and below, in that order.
    """

    def __init__(self, ways: Sequence[Way], size: int) -> None:
        self.size = size
        drains: list[int] = []
        pumps: dict[tuple[object, ...], list[int]] = {}
        others: list[int] = []
        for number, (passage, above, _) in enumerate(ways):
            if isinstance(passage, Pumped):
                pumps.setdefault((above, passage.levels_m, passage.cover_m), []).append(number)
            elif isinstance(passage, Drain) and _usual(passage):
                drains.append(number)
            else:
                others.append(number)
        self.order = [*drains, *(number for outlets in pumps.values() for number in outlets), *others]
        self.ends = [ways[number][1:] for number in self.order]
        self._drains = [_row(*ways[number]) for number in drains]
        self._pumps = [_outlets([ways[number] for number in outlets]) for outlets in pumps.values()]
        self._others = [(ways[number][0].rate, *ways[number][1:]) for number in others]

    def rates(self, levels_m: Sequence[float]) -> tuple[list[Rate], list[float]]:
        """Flow and slopes of every way, and what each basin gains.

        Args:
            levels_m: by basin, then those of outside above and below [m].

        Returns:
            Rates in the `order`, and gains by basin [m3/s]; nothing outside.
        """
        gains = [0.0] * (self.size + 2)
        rates = self._drained(levels_m, gains)
        for above, outlets in self._pumps:
            self._pumped(levels_m[above], above, outlets, rates, gains)
        for rate, above, below in self._others:
            found = rate(levels_m[above], levels_m[below])
            rates.append(found)
            gains[above] -= found[0]
            gains[below] += found[0]
        gains[-2] = gains[-1] = 0.0
        return rates, gains

    def _drained(self, levels_m: Sequence[float], gains: list[float]) -> list[Rate]:
        """What the usual drains pass, as `Drain.rate` has it."""
        rates: list[Rate] = []
        for above, below, control, against, share, inlet, line in self._drains:
            high, low = levels_m[above], levels_m[below]
            head = high - control
            if head <= 0.0:
                rates.append(_NOTHING)
                continue
            heads, bases, flows, powers = inlet
            at = bisect_left(heads, head)
            power = powers[at]
            flow = flows[at] * (head / bases[at]) ** power
            slope, back = power * flow / head, 0.0
            drowned = low > against
            fall = high - (low if drowned else against)
            if fall <= 0.0:
                rates.append(_NOTHING)
                continue
            heads, bases, flows, powers = line
            at = bisect_left(heads, fall)
            power = powers[at]
            pushed = flows[at] * (fall / bases[at]) ** power
            if pushed < flow:
                flow, slope = pushed, power * pushed / fall
                back = -slope if drowned else 0.0
            flow *= share
            rates.append((flow, share * slope, share * back))
            gains[above] -= flow
            gains[below] += flow
        return rates

    @staticmethod
    def _pumped(
        level_m: float,
        above: int,
        outlets: Sequence[tuple[Pumped, int]],
        rates: list[Rate],
        gains: list[float],
    ) -> None:
        """What the outlets of one pump deliver, as `Pumped.rate` has it."""
        first = outlets[0][0]
        levels, short = first.levels_m, first.cover_m - level_m
        left = 1.0 - short / SHORTAGE_M if short > 0.0 else 1.0
        inside = levels[0] < level_m < levels[-1]
        after = bisect_left(levels, level_m) if inside else 0
        if inside:
            span, over = levels[after] - levels[after - 1], level_m - levels[after - 1]
        for passage, below in outlets:
            if left <= 0.0:
                rates.append(_NOTHING)
                continue
            flows = passage.flows_m3_s
            if inside:
                slope = (flows[after] - flows[after - 1]) / span
                flow = flows[after - 1] + slope * over
            else:
                flow, slope = flows[0] if level_m <= levels[0] else flows[-1], 0.0
            if short > 0.0:
                slope = slope * left + flow / SHORTAGE_M
                flow *= left
            rates.append((flow, slope, 0.0))
            gains[above] -= flow
            gains[below] += flow


def _usual(drain: Drain) -> bool:
    """Whether a drain has both an inlet and a pipe below it, and no hole at its foot."""
    return drain.inlet is not None and drain.line is not None and drain.foot is None


def _outlets(ways: Sequence[Way]) -> tuple[int, list[tuple[Pumped, int]]]:
    """The basin that a pump draws from, and its outlets with the basins they lead to."""
    return ways[0][1], [(passage, below) for passage, _, below in ways if isinstance(passage, Pumped)]


Table: TypeAlias = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...], tuple[float, ...]]


def _row(drain: Passage, above: int, below: int) -> tuple[int, int, float, float, float, Table, Table]:
    """Everything that a usual drain is asked for."""
    assert isinstance(drain, Drain)
    assert drain.inlet is not None
    assert drain.line is not None
    tables = [(one.heads_m, one.bases_m, one.bases_m3_s, one.powers) for one in (drain.inlet, drain.line)]
    return above, below, drain.control_m, drain.against_m, drain.open_share, tables[0], tables[1]
