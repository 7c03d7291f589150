"""What is refused before anything is drafted: both sides of each limit, and against the full model."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

import autoplan
from autoplan.advice.at_once import refused_at_once
from autoplan.advice.case import Case
from autoplan.advice.heights import Refusal
from autoplan.advice.pumps import unsuited
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.hydraulics.pump import PumpCurve
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.optimiser.search.without import Without
from autoplan.outcome import Status
from autoplan.problem.site import BedDrain, Flow, Site
from autoplan.report.units import SI
from autoplan.rules.book import RuleBook, read_rules
from autoplan.rules.linear import Linear
from tests.optimiser.conftest import CORNER_SHELF, cut_down, tank_and_sump, with_beds
from tests.short_list import from_shortest_list
from tests.words import why_none

LITRE_AN_HOUR = 1 / 3.6e6


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@pytest.fixture(scope="module")
def corner(catalog: Catalog) -> Catalog:
    """A price list whose strongest pump is pump-3000: 4.2 m at most, 3000 L/h at no head."""
    return cut_down(catalog, CORNER_SHELF)


def refused(site: Site, catalog: Catalog, *off: str) -> tuple[Refusal, ...]:
    """What is refused of a site, with some rules off."""
    book = read_rules(replace(site, rule_settings={rule: {"off": True} for rule in off}))
    return refused_at_once(site, book, Workshop(catalog).shelf(site, book))


def pumping(site: Site, litres_per_hour: float) -> Site:
    """The site with so much in every run."""
    flow = litres_per_hour * LITRE_AN_HOUR
    return replace(site, flows={name: Flow(flow, flow) for name in site.flows})


def test_flow_against_pump_curves(corner: Catalog) -> None:
    """One litre less than the largest pump's run-out passes, one more is refused with both numbers."""
    most = max(pump.curve[-1][0] for pump in corner.pumps.values()) / LITRE_AN_HOUR
    site = tank_and_sump()
    assert refused(pumping(site, most - 1), corner, "pump-duty") == ()
    (one,) = refused(pumping(site, most + 1), corner)
    assert one.rules == ("pump-duty",)
    assert f"must give {most + 1:.0f} L/h" in SI.told(one.sentence)
    assert f"gives {most:.0f} L/h against no head" in SI.told(one.sentence)
    # The model has no way to build it either with the rule off.
    (one,) = refused(pumping(site, most + 1), corner, "pump-duty")
    assert one.rules == ()


def test_lift_against_pump_curves(corner: Catalog) -> None:
    """The head at 750 L/h is the highest lift; a millimetre more is refused, or the rule is off."""
    head = max(PumpCurve(pump.curve).head(750 * LITRE_AN_HOUR) for pump in corner.pumps.values())
    low = tank_and_sump(tank_water_m=(0.1 + head - 0.001, 9.0))
    assert refused(raised(low, "tank", 9.0), corner) == ()
    high = raised(tank_and_sump(tank_water_m=(0.1 + head + 0.001, 9.0)), "tank", 9.0)
    (one,) = refused(high, corner)
    assert set(one.rules) == {"pump-duty", "level-range"}
    assert f"gives {head:.2f} m at 750 L/h" in SI.told(one.sentence)
    assert refused(high, corner, "pump-duty") == ()


def raised(site: Site, vessel: str, depth_m: float) -> Site:
    """The site with a vessel so deep."""
    return replace(
        site, vessels={**site.vessels, vessel: replace(site.vessels[vessel], depth_m=depth_m + 0.2)}
    )


@pytest.mark.parametrize("off", [(), ("drain-fall",)])
def test_levels_against_the_reserve(corner: Catalog, off: tuple[str, ...]) -> None:
    """Water that can stand 10 mm over the sump's leaves the reserve of 10 mm, 9.9 mm do not."""
    enough = tank_and_sump(tank_water_m=(0.05, 0.11), sump_water_m=(0.10, 0.20))
    less = tank_and_sump(tank_water_m=(0.05, 0.1099), sump_water_m=(0.10, 0.20))
    assert refused(enough, corner, *off) == ()
    assert bool(refused(less, corner, *off)) == (not off)
    if not off:
        (one,) = refused(less, corner)
        assert set(one.rules) == {"drain-fall", "level-range"}
        assert "0.1 mm are missing" in SI.told(one.sentence)


def test_floods_against_the_sump(corner: Catalog) -> None:
    """Cover, two floods and the rim: what the sump must hold is refused once its rim is a step too low."""
    off, stand_full = ("pump-duty", "flood-rate"), with_beds(tank_and_sump(sump_water_m=(-0.2, 0.28)), 2)
    site = in_turn(stand_full)
    bed = site.vessels["bed 1"]
    assert bed.bed is not None
    sump = site.vessels["sump"]
    cover = min(pump.cover_m for pump in corner.pumps.values())
    fall = 2 * bed.bed.flood_volume_m3(bed.area_m2) / sump.area_m2
    least = sump.floor_m + fall + cover
    fits = with_highest(site, "sump", least + 0.0002)
    short = with_highest(site, "sump", least - 0.0002)
    assert refused(fits, corner, *off) == ()
    (one,) = refused(short, corner, *off)
    assert set(one.rules) == {"sump-low", "level-range"}
    assert "in full beds" in SI.told(one.sentence)
    assert refused(short, corner, *off, "sump-low") == ()
    # What stands full for good takes no more from the sump; of what floods in turn one makes way.
    once = replace(short, wishes=replace(short.wishes, beds_full=1))
    assert refused(once, corner, *off) == ()
    assert refused(with_highest(stand_full, "sump", least - 0.0002), corner, *off) == ()


def in_turn(site: Site) -> Site:
    """The site with a bell siphon in each bed."""
    beds = {
        name: replace(vessel, bed=replace(vessel.bed, drain=BedDrain.SIPHON))
        for name, vessel in site.vessels.items()
        if vessel.bed is not None
    }
    return replace(site, vessels={**site.vessels, **beds})


def test_one_pump_lifts_and_another_is_covered(corner: Catalog) -> None:
    """Where the pump that lifts stands in too little water and the one that is covered is too weak."""
    weak, strong = (
        replace(corner.pumps["pump-1600"], cover_m=0.02),
        replace(corner.pumps["pump-3000"], cover_m=0.2),
    )
    two = replace(corner, pumps={"pump-1600": weak, "pump-3000": strong})
    site = tank_and_sump(tank_water_m=(1.7, 1.75), sump_water_m=(-0.25, -0.15))
    deep = raised(site, "tank", 1.8)
    (one,) = refused(deep, two)
    assert set(one.rules) == {"pump-duty", "sump-low", "level-range"}
    assert "With pump-1600" in SI.told(one.sentence)
    assert "With pump-3000" in SI.told(one.sentence)
    covered = replace(two, pumps={"pump-1600": weak, "pump-3000": replace(strong, cover_m=0.1)})
    assert refused(deep, covered) == ()


def test_what_keeps_a_pump_out(corner: Catalog) -> None:
    """The pump that lifts would need more water: it is told so, by the rules whose rows keep it out alone."""
    weak = replace(corner.pumps["pump-1600"], cover_m=0.02)
    strong = replace(corner.pumps["pump-3000"], cover_m=0.2)
    two = replace(corner, pumps={"pump-1600": weak, "pump-3000": strong})
    site = raised(tank_and_sump(tank_water_m=(1.7, 1.75), sump_water_m=(-0.25, -0.15)), "tank", 1.8)
    book, shop = read_rules(site), Workshop(two)
    vain = Without(site, two, book, shop, water_only=True)
    assert vain.plain is not None
    (said,) = map(SI.told, unsuited(Case(site, two, book, cast(Any, None), vain, shop)))
    assert said.startswith("pump-3000 would give 2.55 m, and is kept out by ")
    assert "sump-low" in said
    assert "level-range" in said
    assert "drain-fall" not in said
    covered = replace(two, pumps={"pump-1600": weak, "pump-3000": replace(strong, cover_m=0.1)})
    vain = Without(site, covered, book, Workshop(covered), water_only=True)
    assert list(unsuited(Case(site, covered, book, cast(Any, None), vain, Workshop(covered)))) == []


def with_highest(site: Site, name: str, water_m: float) -> Site:
    """The site with a vessel's water no higher than that."""
    vessel = replace(site.vessels[name], water_max_m=water_m)
    return replace(site, vessels={**site.vessels, name: vessel})


IMPOSSIBLE = """
name = "Drawn at random"
[tank]
volume = "{tank} L"
depth = "800 mm"
floor = "{low} mm"
{settler}
[beds]
count = {beds}
area = "{area} m2"
floor = "{high} mm"
drain = "{drain}"
[sump]
volume = "{sump} L"
depth = "500 mm"
floor = "{deep} mm"
[wishes]
turnover = "{turnover}/hour"
{rules}
"""


def impossible(seed: int) -> str:
    """A problem file whose heights or volumes more often than not do not sum up."""
    draw = random.Random(seed)
    low = draw.choice((-600, -300, 0, 150, 300))
    settler = ""
    if draw.random() < 0.5:
        floor = low - draw.randrange(-30, 30)
        settler = f'[settler]\nvolume = "250 L"\ndepth = "800 mm"\nfloor = "{floor} mm"\nwater_min = "710 mm"'
    off = draw.choice(("", "", "drain-fall", "level-range", "sump-low", "overload", "pump-duty", "sump-high"))
    return from_shortest_list(
        IMPOSSIBLE.format(
            tank=draw.choice((300, 800, 2000)),
            low=low,
            settler=settler,
            beds=draw.choice((1, 2, 4)),
            area=draw.choice((0.5, 1, 2)),
            high=draw.choice((-200, 100, 550)),
            drain=draw.choice(("siphon", "standpipe")),
            sump=draw.choice((100, 200, 400, 900)),
            deep=draw.choice((-450, -100, 0)),
            turnover=draw.choice((1, 2, 12)),
            rules=f"[rules.{off}]\noff = true" if off else "",
        )
    )


def modelled(site: Site, catalog: Catalog, book: RuleBook) -> Ending:
    """Whether the full model has an answer at all, asked of the solver itself."""
    try:
        draft = Draft(site, catalog, book)
    except NoOptionError:
        return Ending.NONE
    return Search(draft.model).minimize(Linear(), at_most_s=60.0).ending


def examine(folder: Path, catalog: Catalog, seed: int) -> bool | None:
    """Whether a random problem is refused at once, which the full model confirms; None for wrong input."""
    path = folder / f"{seed}.toml"
    path.write_text(impossible(seed))
    try:
        site = autoplan.load_problem(path).outline
    except InputError:
        return None
    book = read_rules(site)
    found = refused_at_once(site, book, Workshop(catalog).shelf(site, book))
    for one in found:
        assert set(one.rules) <= {rule.id for rule in book.rules}
    if found:
        assert modelled(site, catalog, book) is Ending.NONE, found
    return bool(found)


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6, 7, 8])
def test_refusals_are_theorems(tmp_path: Path, catalog: Catalog, seed: int) -> None:
    """What is refused at once has no answer in the full model."""
    examine(tmp_path, catalog, seed)


@pytest.mark.long
def test_many_refusals_are_theorems(tmp_path: Path, catalog: Catalog) -> None:
    """The same for as many random problems as it takes to refuse sixty."""
    refusals = seed = 0
    while refusals < 60:
        seed += 1
        refusals += bool(examine(tmp_path, catalog, seed))


def test_a_refusal_takes_no_search(tmp_path: Path, catalog: Catalog) -> None:
    """No pump for the flow of many beds: the answer is none, with both numbers and no search for a design."""
    pumps = [part for part in catalog.pumps if part != "pump-1000"]
    text = f"unavailable = {pumps}\n" + IMPOSSIBLE.format(
        tank=500,
        low=150,
        settler="",
        beds=8,
        area=1,
        high=550,
        drain="siphon",
        sump=4000,
        deep=-450,
        turnover=1,
        rules="",
    )
    path = tmp_path / "many.toml"
    path.write_text(text)
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1, time_limit=2.0)
    assert outcome.status is Status.NONE
    assert outcome.solver.solves == 0
    assert outcome.clash is not None
    assert outcome.clash.rules == ("pump-duty",)
    # 500 L/h for the tank and two floods an hour of 100 L in eight beds.
    assert "must give 2100 L/h" in why_none(outcome)[0]
    assert "pump-1000, gives 1000 L/h" in why_none(outcome)[0]
