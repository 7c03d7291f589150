"""What can be refused before anything is drafted: by the site, the pumps to be had and the rules' settings.

Every refusal is a proof that the model has no answer. It leaves all losses out, so what sums up here may
still have no design; what does not never has.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.advice.heights import DATUM, AtLeast, Refusal, Water, clashing, height
from autoplan.catalog.parts import Pump
from autoplan.hydraulics.pump import PumpCurve
from autoplan.problem.flows import gravity_paths, pressure_paths
from autoplan.problem.site import Draw, Site, Vessel, VesselKind
from autoplan.rules.balance import flood_drawdown, flood_volumes, pumped_flow
from autoplan.rules.book import RuleBook
from autoplan.rules.surge import surged
from autoplan.selection.shelf import Shelf
from autoplan.sentence import Amount, Text, joined, say
from autoplan.units import tenth_mm_down, tenth_mm_up

LITRES_PER_HOUR = 3_600_000.0

DOWN = "water runs downwards"


def refused_at_once(site: Site, book: RuleBook, shelf: Shelf) -> tuple[Refusal, ...]:
    """Why a site certainly has no design, as far as that can be told without drafting it.

    Args:
        site, book: the problem and the rules in force.
        shelf: the parts that may be used under them.

    Returns:
        A refusal for each pumped vessel of which no pump gives the flow; else one for heights that cannot all
        hold, whatever pumps are chosen; empty where nothing is refused.
    """
    weak = tuple(too_weak(site, book, shelf))
    if weak:
        return weak
    found = clashing([*_levels(site, book), *_pumps(site, book, shelf)])
    if found is not None:
        return (found,)
    fixed = list(_levels(site, book))
    return tuple(
        none
        for vessel in site.pumped_vessels()
        if (none := _no_pump_alone(site, book, shelf, fixed, vessel)) is not None
    )


def giving(site: Site, shelf: Shelf, vessel: str) -> list[Pump]:
    """The pumps that give a vessel's design flow at all."""
    flow = pumped_flow(site, vessel)
    curves = ((pump, PumpCurve(pump.curve)) for pump in shelf.pumps())
    return [pump for pump, curve in curves if flow <= curve.run_out_m3_s and curve.head(flow) > 0]


def too_weak(site: Site, book: RuleBook, shelf: Shelf) -> Iterator[Refusal]:
    """Vessels of which no pump gives the flow even against nothing."""
    for vessel in site.pumped_vessels():
        if giving(site, shelf, vessel):
            continue
        most = max(
            shelf.pumps(), key=lambda pump: (PumpCurve(pump.curve).run_out_m3_s, pump.id), default=None
        )
        asked = Amount(pumped_flow(site, vessel), "L/h", 0)
        said: Text = "and there is no pump to be had at all."
        if most is not None:
            gives = Amount(PumpCurve(most.curve).run_out_m3_s, "L/h", 0)
            said = say("and the largest to be had, {}, gives {} against no head at all.", most.id, gives)
        rules = () if "pump-duty" in book.off else ("pump-duty",)
        yield Refusal(rules, say("The pump in {} must give {}, {}", vessel, asked, said))


def _levels(site: Site, book: RuleBook) -> Iterator[AtLeast]:
    """What the site and the rules ask of levels, whatever is built."""
    for vessel in site.vessels.values():
        yield from _bounds(site, book, vessel)
    pumped, on = site.pumped_vessels(), _on(book)
    for path in gravity_paths(site):
        first, last = site.runs[path[0]], site.runs[path[-1]]
        above, running = site.vessels[first.start], Water(first.start)
        if "drain-fall" in on:
            reserve = tenth_mm_up(book.settings["drain-fall"]["reserve"])
            because, floor = say("{} in reserve", height(reserve)), tenth_mm_down(above.floor_m)
            if above.kind is VesselKind.BED:
                because = say("{} under the floor of {} at {}", because, above.name, height(floor))
                yield AtLeast("drain-fall", DATUM, Water(last.finish), reserve - floor, because)
            else:
                yield AtLeast("drain-fall", running, Water(last.finish), reserve, because)
        if above.name in pumped:
            continue
        if "level-range" in on:
            yield AtLeast("level-range", running, Water(last.finish), 0, DOWN)
        if "overload" in on:
            over, below = Water(above.name, True), Water(last.finish, last.finish not in pumped)
            yield AtLeast("overload", over, below, 0, DOWN)
            if first.draw is not Draw.STANDPIPE and site.wishes.overload_factor >= 1:
                yield AtLeast("overload", over, running, 0, "more water")


def _on(book: RuleBook) -> frozenset[str]:
    return frozenset(rule.id for rule in book.rules)


def _bounds(site: Site, book: RuleBook, vessel: Vessel) -> Iterator[AtLeast]:
    """Between what one vessel's levels may lie."""
    on, running = _on(book), Water(vessel.name)
    pumped = vessel.name in site.pumped_vessels()
    over = Water(vessel.name, not pumped)
    for level in dict.fromkeys((running, over)):
        yield AtLeast("", level, DATUM, tenth_mm_down(vessel.floor_m), "its floor")
        yield AtLeast("", DATUM, level, -tenth_mm_up(vessel.rim_m), "its rim")
    if "level-range" in on:
        yield AtLeast("level-range", running, DATUM, tenth_mm_up(vessel.water_min_m), "its lowest water")
        yield AtLeast("level-range", DATUM, running, -tenth_mm_down(vessel.water_max_m), "its highest water")
    for rule, named in (("overload", True), ("surge", vessel.name in surged(site)), ("sump-high", pumped)):
        if rule not in on or not named:
            continue
        dry = book.settings[rule]["freeboard"]
        because = say("{} under its rim", Amount(dry, "mm"))
        level = running if rule == "sump-high" else over
        yield AtLeast(rule, DATUM, level, -tenth_mm_down(vessel.rim_m - dry), because)


def _pumps(
    site: Site, book: RuleBook, shelf: Shelf, only: dict[str, Pump] | None = None
) -> Iterator[AtLeast]:
    """What pumps ask of their vessel's level: by the least cover and the most head of all that give the flow.

    Args:
        only: by vessel the one pump that counts, where not all do.
    """
    on = _on(book)
    for name in site.pumped_vessels():
        vessel, pumps = site.vessels[name], giving(site, shelf, name)
        if only is not None and name in only:
            pumps = [only[name]]
        drawdown = tenth_mm_up(flood_drawdown(site, name))
        if "sump-low" in on:
            cover = min(tenth_mm_up(pump.cover_m) for pump in pumps)
            beds = _held(site, name)
            because = say("{} to cover the pump{}", height(cover), beds)
            low = tenth_mm_up(vessel.floor_m) + drawdown + cover
            yield AtLeast("sump-low", Water(name), DATUM, low, because)
            if vessel.kind is VesselKind.TANK:
                low = tenth_mm_up(vessel.water_min_m) + drawdown
                yield AtLeast("sump-low", Water(name), DATUM, low, say("water for the fish{}", beds))
        if "pump-duty" in on:
            yield from _lifts(site, book, name, pumps, drawdown)


def _held(site: Site, name: str) -> Text:
    """The beds' part of a sump's fall in words."""
    held = sorted(flood_volumes(site, name), reverse=True)[: site.wishes.beds_full]
    if not held:
        return ""
    fall = Amount(flood_drawdown(site, name), "mm", 1)
    return say(", {} for the {} that stand in full beds", fall, Amount(sum(held), "L", 0))


def _lifts(site: Site, book: RuleBook, name: str, pumps: Sequence[Pump], drawdown: int) -> Iterator[AtLeast]:
    """No pump lifts water from further down than its head at the design flow, less its margin."""
    flow, share = pumped_flow(site, name), 1 + book.settings["pump-duty"]["margin"]
    best = max(pumps, key=lambda pump: (PumpCurve(pump.curve).head(flow), pump.id))
    head = PumpCurve(best.curve).head(flow)
    gives = say("{} gives {} at {}", best.id, Amount(head, "m", 2), Amount(flow, "L/h", 0))
    for path in pressure_paths(site):
        if site.runs[path[0]].start != name:
            continue
        to = site.vessels[site.runs[path[-1]].finish]
        low = tenth_mm_down(to.water_min_m) - tenth_mm_down(head / share) + drawdown
        lifts = say("must lift water to {} for {}", Amount(to.water_min_m, "mm", 0), to.name)
        because = say("{}, {} after its margin, and {}", gives, Amount(head / share, "m", 2), lifts)
        yield AtLeast("pump-duty", Water(name), DATUM, low, because)


def _no_pump_alone(
    site: Site, book: RuleBook, shelf: Shelf, fixed: Sequence[AtLeast], vessel: str
) -> Refusal | None:
    """Where each pump clashes with the heights, one for what it lifts and another for the water it needs."""
    found = []
    for pump in giving(site, shelf, vessel):
        none = clashing([*fixed, *_pumps(site, book, shelf, {vessel: pump})])
        if none is None:
            return None
        found.append((pump.id, none))
    rules = tuple(dict.fromkeys(rule for _, none in found for rule in none.rules))
    shortest = {none.rules: (pump, none) for pump, none in reversed(found)}
    said = joined(" ", [say("With {}: {}", pump, none.sentence) for pump, none in shortest.values()])
    return Refusal(rules, say("No pump to be had suits {}. {}", vessel, said))
