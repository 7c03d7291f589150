"""Ways to bring air to the vessels that ask for it: several small pumps or one large.

Pumps are shared by neighbours in the order of the problem: every way to divide that row into groups is
weighed, and of each group every pump, manifold, line and diffuser. A way is left out if another costs no more
by any set of shops and takes no more power.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from autoplan.catalog.parts import AirKind, AirPart
from autoplan.fittings.air import DrawnAirLine, DrawnAirPump, air_pieces, line_pieces
from autoplan.hydraulics.air import air_line_head
from autoplan.hydraulics.pump import PumpCurve
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.shelf import Bill, Shelf
from autoplan.problem.brief import AirPoint, AirWish
from autoplan.rules.asked import AirAt, AirLine
from autoplan.rules.book import RuleBook

MOST_LINES = 24
"""Most lines on one pump; more than any manifold in a price list divides."""


@dataclass(frozen=True, slots=True)
class AirChoice:
    """One way to build all of the air: pumps as drawn, and their power [W] while mains power is there."""

    pumps: tuple[DrawnAirPump, ...]
    watts: float

    @property
    def pieces(self) -> Counter[str]:
        """Pieces of each part."""
        return air_pieces(self.pumps)


@dataclass(frozen=True, slots=True)
class _Plan:
    """Something half built: pumps, lines not yet on a pump, what they cost, power [W]."""

    pumps: tuple[DrawnAirPump, ...]
    lines: tuple[DrawnAirLine, ...]
    bill: Bill
    watts: float


def air_choices(shelf: Shelf, book: RuleBook, wish: AirWish, *, battery: bool = False) -> list[AirChoice]:
    """Every way worth weighing, cheapest first.

    Args:
        shelf, book: the parts that may be used, the rules in force.
        wish: what is asked of air.
        battery: whether this is for power cuts, by battery pumps, which take no mains power.

    Raises:
        NoOptionError: nothing in the price list gives that air.
    """
    writer = _Writer(shelf, book, wish, battery)
    points = wish.in_power_cut(shelf.site.tanks()) if battery else wish.points
    best: list[list[_Plan]] = [[writer.plan((), (), 0.0)]]
    for end in range(1, len(points) + 1):
        found = [
            writer.plan((*before.pumps, *group.pumps), (), before.watts + group.watts)
            for start in range(end)
            if best[start]
            for group in writer.groups(points[start:end])
            for before in best[start]
        ]
        best.append(writer.worth(found))
    if not best[-1]:
        what = "battery air pump with its lines" if battery else "air pump with its lines"
        raise NoOptionError("air", what, book.deciding(AirAt, AirLine))
    return [AirChoice(plan.pumps, plan.watts) for plan in best[-1]]


class _Writer:
    def __init__(self, shelf: Shelf, book: RuleBook, wish: AirWish, battery: bool) -> None:
        self.shelf = shelf
        self.book = book
        self.wish = wish
        self.battery = battery

    def parts(self, kind: AirKind) -> list[AirPart]:
        """Parts of a kind that may be used."""
        rows = self.shelf.catalog.air.values()
        return [part for part in rows if part.kind is kind and part.id not in self.shelf.gone]

    def plan(self, pumps: Sequence[DrawnAirPump], lines: Sequence[DrawnAirLine], watts: float) -> _Plan:
        """With its bill."""
        used = air_pieces(pumps)
        for line in lines:
            used.update(line_pieces(line))
        return _Plan(tuple(pumps), tuple(lines), self.shelf.bill(used.elements()), watts)

    def worth(self, plans: Iterable[_Plan]) -> list[_Plan]:
        """Those that no other beats in cost by any set of shops, in power and in lines to hang."""
        kept: list[_Plan] = []
        for plan in sorted(plans, key=lambda plan: (plan.bill.prices[-1], plan.watts, len(plan.lines))):
            if not any(self._beats(other, plan) for other in kept):
                kept.append(plan)
        return kept

    def _beats(self, one: _Plan, other: _Plan) -> bool:
        fewer = len(one.lines) <= len(other.lines) and one.watts <= other.watts
        return fewer and self.shelf.no_dearer(one.bill, other.bill)

    def groups(self, points: Sequence[AirPoint]) -> list[_Plan]:
        """One pump for neighbours, with every way to divide its air."""
        found = []
        flow = sum(point.flow_m3_s for point in points)
        for pump in self.parts(AirKind.BATTERY if self.battery else AirKind.PUMP):
            curve = PumpCurve(pump.curve)
            # Past its run-out a pump has no pressure left; only a rule switched off lets it through.
            pressure = curve.head(flow) if flow <= curve.run_out_m3_s else 0.0
            watts = 0.0 if self.battery else pump.watts
            for divider in (None, *self.parts(AirKind.TAP), *self.parts(AirKind.MANIFOLD)):
                for lines in self._lines(points, pressure, divider):
                    drawn = self._hung(pump, divider, lines, flow)
                    if drawn is not None:
                        found.append(self.plan((drawn,), (), watts))
        return self.worth(found)

    def _admits(self, pressure_m: float, needed_m: float) -> bool:
        return not self.book.refusing(AirAt(pressure_m, needed_m))

    def _lines(
        self, points: Sequence[AirPoint], pressure: float, divider: AirPart | None
    ) -> list[tuple[DrawnAirLine, ...]]:
        """Lines to all of the points, as many to each as it has diffusers."""
        head = 0.0 if divider is None else divider.head_m
        built = [self.plan((), (), 0.0)]
        for point in points:
            ways = list(self._ways(point, pressure - head))
            built = self.worth(
                self.plan((), (*plan.lines, *way), 0.0)
                for plan in built
                for way in ways
                if len(plan.lines) + len(way) <= MOST_LINES
            )
        return [plan.lines for plan in built]

    def _ways(self, point: AirPoint, pressure: float) -> Iterator[tuple[DrawnAirLine, ...]]:
        """Lines to one vessel, alike, that this pressure feeds."""
        for diffuser in self.parts(AirKind.DIFFUSER):
            count = max(1, math.ceil(point.flow_m3_s / diffuser.flow_m3_s - 1e-9))
            flow = point.flow_m3_s / count
            for check in (None, *self.parts(AirKind.CHECK)):
                part = None if check is None else check.id
                if self.book.refusing(AirLine(self.wish, part)):
                    continue
                if check is not None and flow > check.flow_m3_s:
                    continue
                taken = point.depth_m + diffuser.head_m + (0.0 if check is None else check.head_m)
                for line in self.parts(AirKind.LINE):
                    needed = taken + air_line_head(flow, line.bore_m, point.line_m)
                    if self._admits(pressure, needed):
                        drawn = DrawnAirLine(point.vessel, line.id, point.line_m, diffuser.id, None, part)
                        yield (drawn,) * count

    def _hung(
        self, pump: AirPart, divider: AirPart | None, lines: tuple[DrawnAirLine, ...], flow: float
    ) -> DrawnAirPump | None:
        """The lines on the pump: a single one as it is, several each behind a tap or on manifolds."""
        count = len(lines)
        if divider is None:
            return DrawnAirPump(pump.id, (), lines, self.battery) if count == 1 else None
        if divider.kind is AirKind.TAP:
            if not 1 < count <= pump.outlets or flow / count > divider.flow_m3_s:
                return None
            lines = tuple(replace(line, tap=divider.id) for line in lines)
            return DrawnAirPump(pump.id, (), lines, self.battery)
        number = math.ceil(max(count / divider.outlets, flow / divider.flow_m3_s) - 1e-9)
        if count == 1 or number > pump.outlets:
            return None
        return DrawnAirPump(pump.id, (divider.id,) * number, lines, self.battery)
