"""Air pumps, their lines and diffusers, and how to keep water out of the pumps."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.naming import name_of, names_of, times
from autoplan.catalog.parts import Catalog
from autoplan.fittings.air import DrawnAirLine, DrawnAirPump
from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, GridColumn, Heading, Para, grid_of, numbers
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
    catalog, height = outcome.catalog, units.height
    points = {point.vessel: point for point in wish.points}

    def flow(pump: DrawnAirPump, line: DrawnAirLine) -> str:
        share = wish.reserve if pump.battery else 1.0
        return units.flow.text(points[line.vessel].flow_m3_s * share)

    yield grid_of(
        # Lines of a pump that are alike stand together.
        [(pump, line) for pump in pumps for line in dict.fromkeys(pump.lines)],
        (
            GridColumn("air pump", 18),
            lambda one: name_of(catalog, one[0].part) + (" (power cut)" if one[0].battery else ""),
        ),
        (GridColumn("vessel", 14), lambda one: one[1].vessel),
        (numbers(units.flow.title("air"), 8), lambda one: flow(*one)),
        (numbers(height.title("depth"), 9), lambda one: height.text(points[one[1].vessel].depth_m)),
        (GridColumn("lines", 24), lambda one: _lines(catalog, *one, units)),
        (GridColumn("divided by", 16), lambda one: _divided(catalog, *one)),
    )
    if any(len(pump.lines) > 1 for pump in pumps):
        yield Para("Set the taps so that every diffuser bubbles evenly: air takes the shallower way first.")
    yield Para(ABOVE if wish.above_water else BELOW)
    if any(pump.battery for pump in pumps):
        yield Para(BATTERY)


def _lines(catalog: Catalog, pump: DrawnAirPump, line: DrawnAirLine, units: Units) -> str:
    """How many lines of which length, and what hangs on each."""
    hung = names_of(catalog, filter(None, (line.diffuser, line.check)))
    pipe = f"{units.way.said(line.length_m)} {name_of(catalog, line.line)}"
    return ", ".join([times(pump.lines.count(line), pipe), *hung])


def _divided(catalog: Catalog, pump: DrawnAirPump, line: DrawnAirLine) -> str:
    """By what a pump's air is shared out."""
    taps = [] if line.tap is None else [times(pump.lines.count(line), name_of(catalog, line.tap))]
    return ", ".join([*names_of(catalog, pump.manifolds), *taps]) or "-"
