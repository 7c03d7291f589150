"""Air pumps, their lines and diffusers, and how to keep water out of the pumps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.catalog.naming import name_of, names_of, times
from autoplan.fittings.air import DrawnAirLine, DrawnAirPump
from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Column, Grid, Heading, Para, numbers
from autoplan.report.units import Units

ABOVE = (
    "Stand or hang each air pump above the highest water of every vessel it feeds, on a hook or a shelf that "
    "cannot fall in: when it stops, its lines fill with water and would siphon the vessel out through a pump "
    "that stands lower."
)
BELOW = (
    "The air pumps stand below the water: each line has its check valve, fitted near the pump with its arrow "
    "towards the vessel. Check valves tire; try them once a year by pulling the line off the stopped pump."
)
BATTERY = (
    "The battery air pump starts when the mains fails and feeds the tanks by lines and diffusers of its own; "
    "let it run for an hour twice a year."
)


def air(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """What each vessel gets of air and by what."""
    wish, pumps = outcome.site.air, design.drawing.air
    if wish is None or not pumps:
        return
    yield Heading("Air")
    yield Grid(
        (
            Column("air pump", 18),
            Column("vessel", 14),
            numbers(units.flow.title("air"), 8),
            numbers(units.height.title("depth"), 9),
            Column("lines", 24),
            Column("divided by", 16),
        ),
        tuple(_row(outcome, pump, line, units) for pump in pumps for line in _vessels(pump)),
    )
    if any(len(pump.lines) > 1 for pump in pumps):
        yield Para("Set the taps so that every diffuser bubbles evenly: air takes the shallower way first.")
    yield Para(ABOVE if wish.above_water else BELOW)
    if any(pump.battery for pump in pumps):
        yield Para(BATTERY)


def _vessels(pump: DrawnAirPump) -> Counter[DrawnAirLine]:
    """Lines of a pump that are alike, with their count."""
    return Counter(pump.lines)


def _row(outcome: Outcome, pump: DrawnAirPump, line: DrawnAirLine, units: Units) -> tuple[str, ...]:
    assert outcome.site.air is not None
    point = next(point for point in outcome.site.air.points if point.vessel == line.vessel)
    flow = point.flow_m3_s * (outcome.site.air.reserve if pump.battery else 1.0)
    catalog = outcome.catalog
    hung = names_of(catalog, filter(None, (line.diffuser, line.check)))
    count = pump.lines.count(line)
    pipe = times(count, f"{units.way.said(line.length_m)} {name_of(catalog, line.line)}")
    taps = [times(count, name_of(catalog, line.tap))] if line.tap is not None else []
    return (
        name_of(catalog, pump.part) + (" (power cut)" if pump.battery else ""),
        line.vessel,
        units.flow.text(flow),
        units.height.text(point.depth_m),
        ", ".join([pipe, *hung]),
        ", ".join([*names_of(catalog, pump.manifolds), *taps]) or "-",
    )
