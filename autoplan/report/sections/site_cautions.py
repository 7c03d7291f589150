"""The cautions that one design gives cause for: its weights, its pits, its water, its tools, in figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.catalog.kinds.sundry import SundryKind
from autoplan.catalog.naming import name_of
from autoplan.outcome import Design, Outcome
from autoplan.places import InVessel
from autoplan.problem.flows import drained_to, pumped_from
from autoplan.problem.site import Site, Vessel
from autoplan.report.alike import gathered, together
from autoplan.report.sections.cautions import LIFE
from autoplan.report.sections.drilling import holes_of
from autoplan.report.sections.ways import way_of
from autoplan.report.units import LITRE_M3, Units, fixed

WATER_KG_M3 = 1000.0
"""Density of water, rounded up [kg/m3]."""

GRAIN_KG_M3 = 2650.0
"""Density of quartz, of which most gravel is [kg/m3]; handbooks of soil mechanics. Clay balls are lighter."""

STAND_M = 0.05
"""Floors higher than that over the ground stand on something [m]."""

BARRIER_M = 1.2
"""Least height of a barrier that a small child does not climb [m]: pool fences by AS 1926.1 and by the
International Swimming Pool and Spa Code (48 in); from memory."""

TRENCH_M = 1.25
"""Depth to which the sides of a trench may stand upright without support [m]: DIN 4124, from memory."""

OXYGEN_KG_M3 = 0.009 - 0.005
"""Oxygen in a volume of water that fish may use until they suffer [kg/m3]: from 9 to 5 g/m3, Varadi, FAO
ADCP/REP/84/21, chapter 13."""

BREATH_KG_S_KG = 0.4e-3 / 3600.0
"""Oxygen that fish use for their mass [kg/s/kg]: 0.4 g an hour and kg; the same."""

VITAMIN_SHARE = 2.5
"""Mass of ascorbic acid that binds a mass of chlorine [-]: USDA Forest Service, Using Vitamin C to Neutralize
Chlorine in Water Systems (2005), from memory; 176.1 / 70.9 g/mol by stoichiometry."""

RAIN = "rain-room"
"""The rule whose finding says how much rain there is room for [L]."""

COLD_C = 15.0
"""Under which cement cures twice as long [C]; from memory."""

CHLORINE_KG_M3 = 1e-3
"""Chlorine by which it is told [kg/m3]: 1 mg/L, of the order of tap water's; from memory."""


def of_this_design(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    """What is dangerous about this design in particular, a caution each.

    Args:
        outcome: about this design.
        design: with its verdict complete.
        units: in which figures are put.
    """
    vessels = tuple(outcome.site.vessels.values())
    yield from _weights(vessels, units)
    yield from _stands(vessels, units)
    yield from _rims(vessels, units)
    yield from _pits(vessels, units)
    yield from _relays(outcome.site)
    yield from _trenches(outcome.site, design, units)
    yield from _used(vessels)
    yield from _breath(outcome.site, design, units)
    yield from _rain(design, units)
    yield from _tap_water(design, units)
    yield from _cement(outcome, design, units)
    yield from _saws(outcome, design, units)
    yield from _cables(outcome, design)
    yield (
        "Before there are fish, pull the pump's plug once with everything running and watch the water rise "
        "until it stands; do it again after every change. Never test pipes with air: they burst into "
        "splinters."
    )


def relays(site: Site) -> tuple[str, ...]:
    """Pumped vessels that pass water on to each other, each by a pump of its own."""
    onward = {
        (start, other)
        for run, start in pumped_from(site).items()
        for other in drained_to(site, site.runs[run].finish)
        if other != start
    }
    return tuple(name for name in site.vessels if any(name in pair for pair in onward))


def _relays(site: Site) -> Iterator[str]:
    """No two pumps give the same for long, and nothing but their levels makes them."""
    if passing := relays(site):
        yield (
            f"Pumps in {together(passing)} pass the same water on to each other and never give quite the "
            "same: within hours or days the water gathers in one of these until the levels make both give "
            "alike, and stands there higher than drawn. Watch them for two days before there are fish, "
            "throttle the pump of the one that falls, and only then pull the plugs to see how high it comes."
        )


def life(outcome: Outcome, design: Design, units: Units) -> tuple[str, ...]:
    """What concerns life in a line each, with the heaviest vessel and the minutes of air of this design."""
    heaviest = max(outcome.site.vessels.values(), key=full_kg)
    lasts = [last for _, last in _lasts(outcome.site, design)]
    known = {
        "water": units.water_weighs,
        "heaviest": f"{heaviest.name} {units.weight.said(full_kg(heaviest))}",
        "soon": f"about {fixed(min(lasts) / 60, 0)} minutes" if lasts else "soon",
    }
    return tuple(line.format(**known) for line in LIFE)


def full_kg(vessel: Vessel) -> float:
    """What a vessel weighs filled to its rim [kg], a bed with wet gravel; without its own walls.

    Of a bed the voids are water and the rest is grain: area x depth x (voids x water + (1 - voids) x grain).
    A cone below the floor holds a third of what the upright wall does for as much of its height.
    """
    room_m3 = vessel.area_m2 * (vessel.depth_m + vessel.cone_m / 3)
    return room_m3 * (vessel.water_share * WATER_KG_M3 + (1.0 - vessel.water_share) * GRAIN_KG_M3)


def uplift_kg(vessel: Vessel) -> float:
    """What wet ground lifts an empty vessel by, when water stands to the surface [kg] (Archimedes)."""
    buried_m = min(max(0.0, vessel.ground_m - vessel.floor_m + vessel.base_m), vessel.depth_m)
    return vessel.area_m2 * buried_m * WATER_KG_M3


def breath_s(fish_kg_m3: float, share: float) -> float:
    """How long the oxygen in a tank lasts its fish without a pump or air [s].

    Args:
        fish_kg_m3: fish in the tank as it runs.
        share: share of its water that is left.
    """
    return OXYGEN_KG_M3 * share / (fish_kg_m3 * BREATH_KG_S_KG)


def _weights(vessels: Sequence[Vessel], units: Units) -> Iterator[str]:
    said = gathered(((vessel.name,), units.weight.said(full_kg(vessel))) for vessel in vessels)
    beds = " Beds are told with gravel to the rim." if any(one.bed for one in vessels) else ""
    yield f"Full to the rim, each without its own walls: {'; '.join(said)}.{beds}"


def _stands(vessels: Sequence[Vessel], units: Units) -> Iterator[str]:
    raised = [vessel for vessel in vessels if vessel.floor_m - vessel.ground_m > STAND_M]
    if raised:
        said = gathered(
            ((vessel.name,), units.height.said(vessel.floor_m - vessel.ground_m)) for vessel in raised
        )
        yield (
            f"These stand on something, their floors over the ground: {'; '.join(said)}. What carries them "
            "takes the weight above with room to spare, on ground that does not give when wet, level, and "
            "braced so that it can neither lean nor be pushed over."
        )


def _rims(vessels: Sequence[Vessel], units: Units) -> Iterator[str]:
    low = [
        vessel
        for vessel in vessels
        if vessel.bed is None and not vessel.cover and vessel.rim_m - vessel.ground_m < BARRIER_M
    ]
    if low:
        said = gathered(((vessel.name,), units.height.said(vessel.rim_m - vessel.ground_m)) for vessel in low)
        yield (
            f"A child can fall into these, their rims over the ground: {'; '.join(said)}. Cover each with "
            f"something that carries a child, or fence it off to {units.height.said(BARRIER_M)} or what "
            "the local rules ask."
        )


def _pits(vessels: Sequence[Vessel], units: Units) -> Iterator[str]:
    buried = [vessel for vessel in vessels if uplift_kg(vessel) > 0.0 and vessel.ground_m > vessel.floor_m]
    if buried:
        said = gathered(((vessel.name,), units.weight.said(uplift_kg(vessel))) for vessel in buried)
        yield (
            f"Dug in and empty, wet ground may lift these with as much as: {'; '.join(said)}. Fill as you "
            "backfill, lead ground water away, and never empty one after rain. The sides of a pit can fall "
            "in: slope or shore them before anybody stands in it."
        )


def _trenches(site: Site, design: Design, units: Units) -> Iterator[str]:
    """Lines deep under the ground: on a slope at that end where it is higher."""
    lowest = min(vessel.ground_m for vessel in site.vessels.values())
    deep = {}
    for name, run in site.runs.items():
        ends = [site.vessels[end].ground_m for end in (run.start, run.finish) if end in site.vessels]
        asked = None if run.plan is None else run.plan.height_m
        drawn = way_of(site, design.drawing.runs[name]).lies_m if name in design.drawing.runs else None
        heights = [height for height in (asked, drawn) if height is not None]
        if heights:
            deep[name] = max(ends, default=lowest) - min(heights)
    dug = [name for name, depth in deep.items() if depth > TRENCH_M]
    if dug:
        yield (
            f"The trench for {together(dug)} is {units.way.said(max(deep.values()))} deep: the sides of "
            f"one deeper than {units.way.said(TRENCH_M)} fall in without warning. Slope or shore them "
            "before anybody climbs in, and never work there alone."
        )


def _used(vessels: Sequence[Vessel]) -> Iterator[str]:
    had = [vessel.name for vessel in vessels if vessel.part is None]
    if had:
        yield (
            f"Know what {together(had)} held before, if anything: only containers for food or water, "
            "never for chemicals, fuel or pesticide, however well rinsed."
        )


def _breath(site: Site, design: Design, units: Units) -> Iterator[str]:
    fish = site.wishes.fish_kg_m3
    said = [((name,), f"about {fixed(last / 60, 0)} minutes") for name, last in _lasts(site, design)]
    if said:
        yield (
            "When the power fails, the oxygen in the water that stays lasts the fish: "
            f"{'; '.join(gathered(said))} (with {units.stocking(fish, ' of fish')}; with half as many, "
            "twice as long). A battery air pump must be running before that, also at night."
        )


def _lasts(site: Site, design: Design) -> Iterator[tuple[str, float]]:
    """How long the oxygen in each tank's water lasts, as it stands hours after the power failed [s]."""
    for name in site.tanks():
        floor, level = site.vessels[name].floor_m, design.drawing.levels[name].design_m
        rest = min(design.verdict.resting.get(name, level), level)
        yield name, breath_s(site.wishes.fish_kg_m3, (rest - floor) / (level - floor))


def _rain(design: Design, units: Units) -> Iterator[str]:
    for found in design.verdict.findings:
        if found.rule == RAIN and isinstance(found.place, InVessel):
            room, shower = (units.volume.said(litres * LITRE_M3) for litres in (found.value, found.limit))
            yield (
                f"With the power off {found.place.vessel} has room for {room} of rain; a shower on all that "
                f"drains to it brings {shower}."
            )


def _tap_water(design: Design, units: Units) -> Iterator[str]:
    filling = design.verdict.filling
    if filling is not None:
        grams = filling.total_m3 * CHLORINE_KG_M3 * VITAMIN_SHARE * 1000.0
        yield (
            "Chlorine in tap water kills fish and the filter's bacteria. In the "
            f"{units.volume.said(filling.total_m3)} of the filling each mg/L that a test strip shows takes "
            f"{fixed(grams, 1)} g of ascorbic acid, or a day or two of air bubbling through; chloramine does "
            "not bubble out. Test again before there are fish."
        )


def _cement(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    bought = [
        part
        for line in design.drawing.purchases
        if (part := outcome.catalog.sundries.get(line.part)) is not None and part.kind is SundryKind.CEMENT
    ]
    if bought:
        hours = fixed(max(part.cure_h for part in bought), 0)
        yield (
            f"Let glued joints cure for {hours} hours before water goes in, twice as long where it is colder "
            f"than {units.temperature(COLD_C)}, and longer if the tin says so; then rinse the lines and "
            "throw that away. Gloves and glasses on."
        )


def _saws(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    sizes = sorted({hole.hole_m for hole in holes_of(outcome, design) if hole.place in ("wall", "floor")})
    if sizes:
        said = together([units.hole.said(size) for size in sizes])
        yield (
            f"A hole saw of {said} kicks when it catches: hold the vessel fast, both hands on a drill with a "
            "side handle, slow, glasses on, nothing loose near it; take every chip out of the vessel."
        )


def _cables(outcome: Outcome, design: Design) -> Iterator[str]:
    where = [
        f"{name_of(outcome.catalog, pump.part)} in {vessel}" for vessel, pump in design.drawing.pumps.items()
    ]
    if where:
        yield (
            f"Cable of {'; '.join(where)}: it hangs in a loop lower than its socket, so that drops fall off "
            "before the plug; the socket is above every rim and out of the splash. Press the test button of "
            "the residual-current device monthly, and pull the plug before a hand goes into the water."
        )
