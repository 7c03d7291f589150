"""The cautions of one design, each held against arithmetic by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.kinds.sundry import SundryKind
from autoplan.drawing import Purchase
from autoplan.fittings.ends import AtVessel
from autoplan.line.route import Leg, Toward
from autoplan.outcome import Design, Filling, Outcome
from autoplan.places import InVessel
from autoplan.problem.site import BedDrain, BedWater, OnPlan, Vessel, VesselKind
from autoplan.report.sections.cautions import CAUTIONS
from autoplan.report.sections.site_cautions import (
    BARRIER_M,
    RAIN,
    VITAMIN_SHARE,
    breath_s,
    full_kg,
    life,
    of_this_design,
    relays,
    uplift_kg,
)
from autoplan.report.units import SI, US, Units

PROBLEMS = Path(__file__).parents[3] / "problems"

TANK = Vessel("trough", VesselKind.TANK, 0.2, 0.8, 1.5, 0.006, 0.01, True, 0.8, 0.9)
BED = replace(
    TANK,
    name="plants",
    kind=VesselKind.BED,
    depth_m=0.3,
    area_m2=1.0,
    bed=BedWater(0.25, 0.4, 2 / 3600, 3.0, BedDrain.SIPHON),
)


def said(outcome: Outcome, *vessels: Vessel, units: Units = SI, **verdict: object) -> str:
    """All cautions of the fixture's first design with other vessels in place of its own, if any are given."""
    first = outcome.designs[0]
    site = outcome.site
    if vessels:
        site = replace(site, vessels={one.name: one for one in vessels}, runs={})
    levels = {
        one.name: replace(
            next(iter(first.drawing.levels.values())), vessel=one.name, design_m=one.water_max_m
        )
        for one in site.vessels.values()
    }
    design = replace(
        first,
        drawing=replace(first.drawing, levels=levels, runs={} if vessels else first.drawing.runs),
        verdict=replace(first.verdict, **verdict),  # type: ignore[arg-type]
    )
    return "\n".join(of_this_design(replace(outcome, site=site), design, units))


@pytest.mark.parametrize(
    ("problem", "passing"), [("two-tanks", ("well", "sump")), ("row-of-beds", ()), ("two-lines", ())]
)
def test_pumps_that_pass_water_on_to_each_other(problem: str, passing: tuple[str, ...]) -> None:
    """A well and a sump in one round drift; a sump alone, or one with two pumps' lines, does not."""
    assert relays(autoplan.load_problem(PROBLEMS / f"{problem}.toml").outline) == passing


def test_what_vessels_weigh() -> None:
    """1.5 m2 by 0.8 m of water; 1 m2 by 0.3 m of which two fifths are water, the rest quartz of 2.65 kg/L."""
    assert full_kg(TANK) == pytest.approx(1200.0)
    assert full_kg(BED) == pytest.approx(300 * (0.4 * 1.0 + 0.6 * 2.65))


def test_a_cone_weighs_too() -> None:
    """Below 1.5 m2 a cone of 0.25 m holds a third of 375 L more."""
    assert full_kg(replace(TANK, cone_m=0.25)) == pytest.approx(1200.0 + 125.0)


def test_weights_are_told_in_both_units(outcome: Outcome) -> None:
    """1200 kg are 2646 lb by the pound of 1959."""
    assert "trough: 1200 kg" in said(outcome, TANK)
    assert "Beds are told" not in said(outcome, TANK)
    assert "trough: 2646 lb" in said(outcome, TANK, units=US)
    assert "plants: 597 kg. Beds are told with gravel" in said(outcome, BED)


@pytest.mark.parametrize(("floor_m", "told"), [(0.05, False), (0.051, True)])
def test_what_stands_on_a_stand(outcome: Outcome, floor_m: float, told: bool) -> None:
    """A floor that is more than the thickness of a slab over the ground beside it stands on something."""
    sloping = replace(TANK, floor_m=0.4 + floor_m, ground_m=0.4)
    assert ("These stand on something" in said(outcome, sloping)) is told


@pytest.mark.parametrize(("rim_m", "told"), [(BARRIER_M, False), (BARRIER_M - 0.001, True)])
def test_rims_within_reach_of_a_child(outcome: Outcome, rim_m: float, told: bool) -> None:
    """AS 1926.1 asks 1.2 m of a pool's fence; what is lower is covered or fenced. From memory."""
    low = replace(TANK, floor_m=rim_m - TANK.depth_m)
    assert ("A child can fall into" in said(outcome, low)) is told
    assert BARRIER_M == 1.2


def test_what_has_a_cover_is_not_to_be_covered(outcome: Outcome) -> None:
    """The problem says of one that no child falls through its lid; of the other nothing."""
    low = replace(TANK, floor_m=-0.6)
    told = said(outcome, replace(low, cover=True), replace(low, name="pond"))
    assert "their rims over the ground: pond: 200.0 mm. Cover each" in told
    assert "A child can fall into" not in said(outcome, replace(low, cover=True))


def test_wet_ground_lifts_an_empty_sump(outcome: Outcome) -> None:
    """1.5 m2 buried 0.5 m and a floor of 10 mm push water of 765 kg aside; on the ground nothing lifts."""
    sump = replace(TANK, name="sump", floor_m=-0.5)
    assert uplift_kg(sump) == pytest.approx(1.5 * 0.51 * 1000)
    assert "sump: 765 kg" in said(outcome, sump)
    assert "Dug in and empty" not in said(outcome, replace(sump, floor_m=0.0))
    assert uplift_kg(replace(sump, floor_m=-2.0)) == pytest.approx(1.5 * 0.8 * 1000)


def test_how_long_fish_have_air(outcome: Outcome) -> None:
    """4 g/m3 at 0.4 g/h/kg (Varadi, FAO ADCP/REP/84/21): 10 h for a kg in a m3, half an hour for 20."""
    assert breath_s(1.0, 1.0) == pytest.approx(10 * 3600)
    assert breath_s(20.0, 1.0) == pytest.approx(1800)
    assert breath_s(20.0, 0.5) == pytest.approx(900)
    # From 0.7 m of water to 0.35: half of the oxygen.
    assert "trough: about 15 minutes" in said(outcome, TANK, resting={"trough": 0.55})
    assert "trough: about 30 minutes" in said(outcome, TANK, resting={"trough": 0.95})


def test_chlorine_by_the_litre(outcome: Outcome) -> None:
    """2000 L with 1 mg/L hold 2 g of chlorine, which 2.5 times as much ascorbic acid binds: 176.1 / 70.9."""
    assert "takes 5.0 g of ascorbic acid" in said(outcome, filling=Filling(2.0, ()))
    by_moles = 176.1 / 70.9
    assert by_moles == pytest.approx(VITAMIN_SHARE, rel=0.01)
    assert "ascorbic" not in said(outcome, filling=None)


def test_cement_cures_where_there_is_any(outcome: Outcome) -> None:
    """Where cement is bought joints cure, where none is nothing is said of it."""
    cement = next(part for part in outcome.catalog.sundries.values() if part.kind is SundryKind.CEMENT)
    first = outcome.designs[0]

    def bought(*purchases: Purchase) -> str:
        design: Design = replace(first, drawing=replace(first.drawing, purchases=purchases))
        return "\n".join(of_this_design(outcome, design, SI))

    assert f"cure for {cement.cure_h:.0f} hours" in bought(Purchase(cement.id, "any", 1.0, 1))
    assert "cure" not in bought()


def test_nothing_general_is_said_twice(outcome: Outcome) -> None:
    """What one design gives cause for has figures or names in it; the general ones stand by themselves."""
    told = said(outcome).splitlines()
    assert not set(told) & set(CAUTIONS)
    assert any("pull the pump's plug once" in one for one in told)
    assert any("Never test pipes with air" in one for one in told)


def test_what_concerns_life_has_the_figures_of_the_design(outcome: Outcome) -> None:
    """The heaviest vessel and the shortest air in the lines that every form of a plan has."""
    first = outcome.designs[0]
    tank = outcome.site.vessels["fish tank"]
    assert full_kg(tank) == max(map(full_kg, outcome.site.vessels.values()))
    lines = life(outcome, first, SI)
    assert any(f"fish tank {full_kg(tank):.0f} kg" in line for line in lines)
    assert any("about 30 minutes after the power fails" in line for line in lines)
    none = replace(outcome.site, vessels={"sump": outcome.site.vessels["sump"]})
    assert any("suffocate soon after" in line for line in life(replace(outcome, site=none), first, SI))


def test_how_much_rain_there_is_room_for(outcome: Outcome) -> None:
    """What the rule found is told whether it warns or not; where it says nothing, nothing is said."""
    first = outcome.designs[0].verdict.findings[0]
    found = replace(first, rule=RAIN, place=InVessel("sump"), value=38.0, limit=255.0, unit="L")
    assert "sump has room for 38 L of rain; a shower on all that drains to it brings 255 L" in said(
        outcome, findings=(found,)
    )
    assert "10.0 gal of rain" in said(outcome, findings=(found,), units=US)
    assert "room for" not in said(outcome, findings=(first,))


@pytest.mark.parametrize(("deep_m", "told"), [(1.24, False), (1.26, True)])
def test_a_deep_trench(outcome: Outcome, deep_m: float, told: bool) -> None:
    """A line deeper under the ground than the sides of a trench stand is cautioned of with its depth."""
    site = outcome.site
    lowest = min(vessel.ground_m for vessel in site.vessels.values())
    name = next(iter(site.runs))
    buried = replace(site.runs[name], plan=OnPlan((2.0,), (), lowest - deep_m))
    text = said(replace(outcome, site=replace(site, runs={**site.runs, name: buried})))
    assert (f"The trench for {name} is 1260 mm deep" in text) is told
    assert ("shore them before anybody climbs in" in text) is told


@pytest.mark.parametrize(("ground_m", "told"), [(0.64, False), (0.66, True)])
def test_a_trench_on_a_slope(outcome: Outcome, ground_m: float, told: bool) -> None:
    """A drain that drops beside its tank and lies level is as deep as the ground there is over it.

    It drops to -0.6 m and lies there: with the ground at 0.66 m that is 1.26 m under it.
    """
    first, site = outcome.designs[0], outcome.site
    (name,) = (run.name for run in site.runs.values() if run.start == "fish tank")
    drawn = first.drawing.runs[name]
    assert isinstance(drawn.start, AtVessel)
    assert drawn.start.centre_m is not None
    drop_m = drawn.start.centre_m + 0.6
    legs = (Leg(0.2, Toward.ALONG), Leg(drop_m, Toward.DOWN, -drop_m), Leg(1.8, Toward.ALONG))
    drawing = replace(first.drawing, runs={**first.drawing.runs, name: replace(drawn, legs=legs)})
    run = replace(site.runs[name], plan=OnPlan((2.0,), ()))
    tank = replace(site.vessels["fish tank"], ground_m=ground_m)
    site = replace(site, vessels={**site.vessels, "fish tank": tank}, runs={**site.runs, name: run})
    design = replace(first, drawing=drawing)
    text = "\n".join(of_this_design(replace(outcome, site=site, designs=(design,)), design, SI))
    assert (f"The trench for {name} is 1260 mm deep" in text) is told
