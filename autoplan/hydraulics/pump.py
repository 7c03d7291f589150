"""Centrifugal pumps: curve, speed and power."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

HOURS_PER_YEAR = 8760.0

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class PumpCurve:
    """Head against flow at one speed, linear between points.

    Straight chords lie under a curve that bends down, as a centrifugal pump's does, so head errs low.

    Attributes:
        points: (flow [m3/s], head [m]) from shut-off (flow 0) to run-out, flow rising, head falling.

    Raises:
        ValueError: fewer than two points, the first not at flow 0, or flows and heads out of order.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError("a pump curve needs at least two points")
        if self.points[0][0] != 0.0:
            raise ValueError("a pump curve starts at flow 0")
        if any(not (a[0] < b[0] and a[1] > b[1]) for a, b in pairwise(self.points)):
            raise ValueError("along a pump curve flow rises and head falls")
        if not self.points[-1][1] >= 0.0:
            raise ValueError("a pump curve ends at a head of 0 or more")

    @property
    def shut_off_m(self) -> float:
        """Head at flow 0 [m]."""
        return self.points[0][1]

    @property
    def run_out_m3_s(self) -> float:
        """Greatest flow on the curve [m3/s]."""
        return self.points[-1][0]

    def head(self, flow_m3_s: float) -> float:
        """Head at a flow.

        Args:
            flow_m3_s: flow, 0 to run-out, give or take a billionth for rounding [m3/s].

        Returns:
            Head [m].

        Raises:
            ValueError: flow below 0 or beyond run-out.
        """
        if not 0.0 <= flow_m3_s <= self.run_out_m3_s * (1.0 + _ROUNDING):
            raise ValueError(f"flow {flow_m3_s:g} m3/s is outside 0 to {self.run_out_m3_s:g} m3/s")
        flow = min(flow_m3_s, self.run_out_m3_s)
        after = max(1, bisect_left(self.points, flow, key=lambda point: point[0]))
        return _between(flow, self.points[after - 1], self.points[after])

    def flow(self, head_m: float) -> float:
        """Flow at a head, the inverse of `head`.

        Args:
            head_m: head [m].

        Returns:
            Flow [m3/s]: 0 at and above shut-off, run-out at and below the last point's head.
        """
        if head_m >= self.shut_off_m:
            return 0.0
        if head_m <= self.points[-1][1]:
            return self.run_out_m3_s
        after = bisect_left(self.points, -head_m, key=lambda point: -point[1])
        (flow_a, head_a), (flow_b, head_b) = self.points[after - 1], self.points[after]
        return _between(head_m, (head_a, flow_a), (head_b, flow_b))

    def carried_on(self) -> PumpCurve:
        """The curve down to a head of 0: where its points end before, it gives no less than the pump does.

        A centrifugal pump's curve bends down, so its last chord carried on lies over it (common practice, no
        source). Where the last chord is flatter than the one before, the curve gets flatter by as much again.
        What a pump must give is not to be read off it past the last point that is stated.

        Returns:
            This curve where it ends at a head of 0, else one with a point more, the last at a head of 0.
        """
        flow, head = self.points[-1]
        if head == 0.0:
            return self
        slopes = [(a[1] - b[1]) / (b[0] - a[0]) for a, b in pairwise(self.points)]
        before, last = slopes[-2:] if len(slopes) > 1 else (slopes[-1],) * 2
        return PumpCurve((*self.points, (flow + head / (last * min(1.0, last / before)), 0.0)))

    def at_speed(self, share: float) -> PumpCurve:
        """The curve at another speed, by the affinity laws: flow as n, head as n^2 (Crane TP-410).

        Args:
            share: speed as a share of this curve's, more than 0 and up to 1 [-].

        Returns:
            The slower curve.

        Raises:
            ValueError: share outside its range; a pump is not run over its speed.
        """
        _check_share(share)
        return PumpCurve(tuple((flow * share, head * share * share) for flow, head in self.points))


def _between(x: float, a: tuple[float, float], b: tuple[float, float]) -> float:
    """Value at x on the straight line from a to b, exact at both ends."""
    share = (x - a[0]) / (b[0] - a[0])
    return a[1] * (1.0 - share) + b[1] * share


def _check_share(share: float) -> None:
    """Refuse a speed that is not more than 0 and up to 1."""
    if not 0.0 < share <= 1.0:
        raise ValueError(f"speed must be more than 0 and up to 1, not {share:g}")


def energy_kwh_per_year(watts: float, hours: float = HOURS_PER_YEAR) -> float:
    """Energy drawn in a year.

    Args:
        watts: electric power [W].
        hours: hours run a year [h].

    Returns:
        Energy [kWh].
    """
    return watts * hours / 1000.0


def watts_at_speed(watts: float, share: float) -> float:
    """Power at another speed, by the affinity laws: power as n^3 (Crane TP-410).

    It leaves out the fall of motor efficiency at part load, so it is a lower estimate for deep slowing.

    Args:
        watts: power at full speed [W].
        share: speed as a share of full, more than 0 and up to 1 [-].

    Returns:
        Power [W].

    Raises:
        ValueError: share outside its range.
    """
    _check_share(share)
    return watts * share**3
