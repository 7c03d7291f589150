"""Flow from one body of water to the next as a function of their levels, with its slopes.

Worked out once as tables and then asked many thousand times: a walk through a night needs no root finding.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf, log, pi, sqrt
from typing import Protocol, TypeAlias

from autoplan.hydraulics.drain_hole import hole_flow
from autoplan.hydraulics.gravity import WEIR_COEFFICIENT

Rate: TypeAlias = tuple[float, float, float]
"""Flow [m3/s], its slope by the level above, its slope by the level below [m2/s]."""

SHORTAGE_M = 0.01
"""Fall of the water under a pump's cover over which its flow fades to nothing [m]; assumed, no source."""


DEEPEST_M = 10.0
"""Water over a drain hole to which its table reaches [m]; no bed is as deep."""


class Passage(Protocol):
    """Anything that water passes on its way from one basin to another."""

    def rate(self, above_m: float, below_m: float) -> Rate:
        """Flow and slopes at the two water levels above the datum [m]."""


@dataclass(frozen=True, slots=True)
class HeadTable:
    """Flow against head, a power of the head between neighbouring points.

    Pipes, weirs and openings each follow a power of the head or change slowly from one to another, so few
    points do. Beyond the last point the last power holds; under the first, flow falls to 0 with the head, so
    that its slope stays finite.

    Attributes:
        heads_m, flows_m3_s: points, both rising from more than 0.
        bases_m, bases_m3_s, powers: by how many points lie under a head, the point that it is reckoned from
            and the power of the head there.

    Raises:
        ValueError: fewer than two points, or points that do not rise from more than 0.
    """

    heads_m: tuple[float, ...]
    flows_m3_s: tuple[float, ...]
    bases_m: tuple[float, ...] = field(init=False)
    bases_m3_s: tuple[float, ...] = field(init=False)
    powers: tuple[float, ...] = field(init=False)

    def __post_init__(self) -> None:
        points = list(zip(self.heads_m, self.flows_m3_s, strict=True))
        if len(points) < 2:
            raise ValueError("a table of flow against head needs two points")
        if not (min(points[0]) > 0.0 and all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))):
            raise ValueError("flow and head must rise from more than 0")
        between = tuple(log(b[1] / a[1]) / log(b[0] / a[0]) for a, b in pairwise(points))
        object.__setattr__(self, "powers", (max(1.0, between[0]), *between, between[-1]))
        object.__setattr__(self, "bases_m", (self.heads_m[0], *self.heads_m))
        object.__setattr__(self, "bases_m3_s", (self.flows_m3_s[0], *self.flows_m3_s))

    def at(self, head_m: float) -> tuple[float, float]:
        """Flow [m3/s] at a head and its slope [m2/s]; nothing at and below a head of 0."""
        if head_m <= 0.0:
            return 0.0, 0.0
        under = bisect_left(self.heads_m, head_m)
        power = self.powers[under]
        flow = float(self.bases_m3_s[under] * (head_m / self.bases_m[under]) ** power)
        return flow, power * flow / head_m


def table_of(head: Callable[[float], float], flows_m3_s: Iterable[float]) -> HeadTable:
    """The table of a relation that is known the other way round.

    Args:
        head: head [m] that a flow [m3/s] needs; it never falls as flow rises.
        flows_m3_s: rising flows [m3/s]; one whose head is not over the last is left out.

    Returns:
        Flow against head.
    """
    heads: list[float] = []
    flows: list[float] = []
    for flow in flows_m3_s:
        needed = head(flow)
        if needed > (heads[-1] if heads else 0.0):
            heads.append(needed)
            flows.append(flow)
    return HeadTable(tuple(heads), tuple(flows))


def rim_weir(length_m: float) -> HeadTable:
    """What runs over a level rim: a sharp-edged weir all round, Q = 1.83 L H^1.5 (Francis, in SI).

    Args:
        length_m: length of the rim, more than 0 [m].

    Returns:
        Flow against height over the rim.
    """
    heads = (1e-5, 1.0)
    return HeadTable(heads, tuple(WEIR_COEFFICIENT * length_m * float(head**1.5) for head in heads))


@dataclass(frozen=True, slots=True)
class Rim:
    """The rim of a round vessel, whose inside has an area [m2], at a height above the datum [m]."""

    area_m2: float
    rim_m: float
    weir: HeadTable = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "weir", rim_weir(round_rim(self.area_m2)))

    def rate(self, above_m: float, below_m: float) -> Rate:  # noqa: ARG002 -- what spills falls free
        """Flow and slopes."""
        return (*self.weir.at(above_m - self.rim_m), 0.0)


def round_rim(area_m2: float) -> float:
    """Rim of a round vessel, the shortest around an area: so the water stands highest over it.

    Args:
        area_m2: area inside the rim [m2].

    Returns:
        Length of the rim [m].
    """
    return 2.0 * sqrt(pi * area_m2)


def hole_table(hole_m: float) -> HeadTable:
    """What a hole in a standpipe's side passes (`drain_hole.hole_flow`); part full it fades to nothing.

    Args:
        hole_m: its diameter, more than 0 [m].

    Returns:
        Flow against head over its lowest point.
    """
    heads = [0.5 * hole_m * (DEEPEST_M / (0.5 * hole_m)) ** (step / 63) for step in range(64)]
    return HeadTable(
        tuple(head + 0.5 * hole_m for head in heads), tuple(hole_flow(hole_m, head) for head in heads)
    )


@dataclass(frozen=True, slots=True)
class Inflow:
    """Water from outside that comes whatever stands below: a flow [m3/s]."""

    flow_m3_s: float

    def rate(self, above_m: float, below_m: float) -> Rate:  # noqa: ARG002 -- it falls free
        """Flow and slopes."""
        return self.flow_m3_s, 0.0, 0.0


@dataclass(frozen=True, slots=True)
class Fall:
    """A part of a drain down to where air gets in: flow against the fall to a fixed height [m]."""

    line: HeadTable
    against_m: float


@dataclass(frozen=True, slots=True)
class Drain:
    """A drain by gravity: the lesser of what its inlet lets in and what the fall pushes through it.

    Attributes:
        inlet: flow against the head over `control_m`, or None where nothing throttles the inlet.
        control_m: invert of the inlet or lip of the standpipe, above the datum [m].
        line: flow against the fall from level to level, or None where the pipe is no limit.
        against_m: height that the line runs against where the water below is lower [m].
        open_share: share of that flow which still passes, 0 for fully blocked [-].
        foot: flow by a hole at the foot of a standpipe against the head over `foot_m`, or None without one.
        foot_m: lowest point of that hole, above the datum [m].
        stretches: parts of it from its start to each place on its way that is open to the air; none of them
            carries more than its own fall pushes through it.
    """

    inlet: HeadTable | None
    control_m: float
    line: HeadTable | None
    against_m: float
    open_share: float = 1.0
    foot: HeadTable | None = None
    foot_m: float = inf
    stretches: tuple[Fall, ...] = ()

    def rate(self, above_m: float, below_m: float) -> Rate:
        """Flow and slopes; nothing runs back up."""
        lowest = self.control_m if self.foot is None else min(self.control_m, self.foot_m)
        if above_m <= lowest or self.open_share <= 0.0:
            return 0.0, 0.0, 0.0
        flow, slope, back = inf, 0.0, 0.0
        if self.inlet is not None:
            flow, slope = self.inlet.at(above_m - self.control_m)
        if self.foot is not None:
            by_hole, steeper = self.foot.at(above_m - self.foot_m)
            flow, slope = flow + by_hole, slope + steeper
        if self.line is not None:
            drowned = below_m > self.against_m
            pushed, by_fall = self.line.at(above_m - (below_m if drowned else self.against_m))
            if pushed < flow:
                flow, slope, back = pushed, by_fall, -by_fall if drowned else 0.0
        for stretch in self.stretches:
            pushed, by_fall = stretch.line.at(above_m - stretch.against_m)
            if pushed < flow:
                flow, slope, back = pushed, by_fall, 0.0
        return self.open_share * flow, self.open_share * slope, self.open_share * back


@dataclass(frozen=True, slots=True)
class Pumped:
    """One outlet of a pump, as a function of the water that it draws from.

    Attributes:
        levels_m: rising levels of the water drawn from, at least one [m].
        flows_m3_s: flow at each of them, constant beyond either end [m3/s].
        cover_m: level under which the pump draws air [m]; over the next centimetre down its flow fades to
            nothing.
    """

    levels_m: tuple[float, ...]
    flows_m3_s: tuple[float, ...]
    cover_m: float

    def rate(self, above_m: float, below_m: float) -> Rate:  # noqa: ARG002 -- outlets are free
        """Flow and slopes."""
        flow, slope = self._full(above_m)
        short = self.cover_m - above_m
        if short <= 0.0:
            return flow, slope, 0.0
        left = 1.0 - short / SHORTAGE_M
        if left <= 0.0:
            return 0.0, 0.0, 0.0
        return flow * left, slope * left + flow / SHORTAGE_M, 0.0

    def _full(self, level_m: float) -> tuple[float, float]:
        """Flow and slope as long as the pump is covered."""
        levels, flows = self.levels_m, self.flows_m3_s
        if level_m <= levels[0]:
            return flows[0], 0.0
        if level_m >= levels[-1]:
            return flows[-1], 0.0
        after = bisect_left(levels, level_m)
        slope = (flows[after] - flows[after - 1]) / (levels[after] - levels[after - 1])
        return flows[after - 1] + slope * (level_m - levels[after - 1]), slope


@dataclass(frozen=True, slots=True)
class SiphonFlow:
    """A standpipe under a bell: it trickles over its lip until it primes, then runs full until air gets in.

    Attributes:
        trickle: what passes while it is not primed.
        primed: what passes while it is.
        start_m: level at which it primes, where the trickle has grown to the start flow [m]; infinite for one
            that never starts.
        stop_m: level of the bell's cut-outs, at which it breaks [m]; minus infinity for one that never does.
    """

    trickle: Drain
    primed: Drain
    start_m: float
    stop_m: float


def start_level(trickle: HeadTable, lip_m: float, start_flow_m3_s: float) -> float:
    """Level at which a trickle over a lip has grown to the flow that primes a siphon.

    Args:
        trickle: flow against head over the lip.
        lip_m: the lip above the datum [m].
        start_flow_m3_s: flow from which the standpipe no longer lets air past, more than 0 [m3/s].

    Returns:
        Level [m].
    """
    head = trickle.heads_m[-1]
    while trickle.at(head)[0] < start_flow_m3_s:
        head *= 2.0
    low = 0.0
    for _ in range(60):
        middle = 0.5 * (low + head)
        low, head = (low, middle) if trickle.at(middle)[0] >= start_flow_m3_s else (middle, head)
    return lip_m + head
