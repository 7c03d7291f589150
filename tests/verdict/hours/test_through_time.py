"""The running system against hand arithmetic: fill and drain times, the sump between its bounds."""

from __future__ import annotations

import pytest

from autoplan.hydraulics.basins import walk
from autoplan.hydraulics.water import water_at
from autoplan.problem.site import VesselKind
from autoplan.rules.balance import flood_drawdown
from autoplan.verdict.hours.clockwork import SupplyOf
from autoplan.verdict.hours.through_time import IN_STEP, STEADY, running
from autoplan.verdict.hours.waterworks import BedSiphon, Waterworks, bed_siphons

START_M3_S, CUT_OUT_M = 4e-5, 0.03


def designed(works: Waterworks) -> SupplyOf:
    """Every outlet at its design flow; the plan has no timed valve that could be shut."""
    return lambda _: works.as_designed()


def with_siphon(plan, start_m3_s: float = START_M3_S) -> Waterworks:
    """The plan with a bell over the standpipe of its bed."""
    floor = plan.site.vessels["bed 1"].floor_m
    return Waterworks(plan.survey, {"bed drain 1": BedSiphon(start_m3_s, floor + CUT_OUT_M)})


def test_without_siphons_the_sump_stands_still(plan) -> None:
    """With every bed full its level is the drawn one less what the beds hold, and does not move."""
    works = Waterworks(plan.survey, {})
    (found,) = running(works, designed(works))
    (sump,) = found.sumps
    assert found.phase == STEADY
    assert found.beds == ()
    assert sump.highest_m - sump.lowest_m < 1e-3
    low = plan.survey.level("sump") - flood_drawdown(plan.site, "sump")
    assert sump.lowest_m == pytest.approx(low, abs=2e-3)
    assert sump.cover_m == pytest.approx(sump.lowest_m - works.covers_m["sump"])
    # What lies between that and the pump's need may evaporate: height x area.
    area = plan.site.vessels["sump"].area_m2
    assert sump.reserve_m3 == pytest.approx(sump.cover_m * area)


@pytest.mark.parametrize(("over_need_mm", "fish_mm"), [(-30.0, 0.0), (30.0, 30.0)])
def test_a_fish_tank_keeps_its_lowest_water(plan, over_need_mm: float, fish_mm: float) -> None:
    """With fish in the pumped vessel the reserve ends at their lowest water, if over the pump's need."""
    sump = plan.site.vessels["sump"]
    need = Waterworks(plan.survey, {}).covers_m["sump"]
    fishy = plan.vessel("sump", kind=VesselKind.TANK, water_min_m=need + over_need_mm / 1000)
    works = Waterworks(fishy.survey, {})
    (phase,) = running(works, designed(works))
    (found,) = phase.sumps
    assert found.reserve_m3 == pytest.approx((found.cover_m - fish_mm / 1000) * sump.area_m2)


def test_a_siphon_bed_keeps_its_times(plan) -> None:
    """Fill time = volume / inflow; drain time = volume / (siphon flow at the mean fall - inflow)."""
    works = with_siphon(plan)
    (found,) = running(works, designed(works))
    (bed,) = found.beds
    assert found.phase == IN_STEP
    survey, inflow = plan.survey, plan.survey.design_flow("bed drain 1")
    drain = works.drains()[[link.source for link in works.drains()].index("bed 1")].passage
    depth = drain.start_m - drain.stop_m
    volume = depth * 0.4 * plan.site.vessels["bed 1"].area_m2
    assert bed.filling_s == pytest.approx(volume / inflow, rel=0.05)
    assert bed.filling_s > volume / inflow
    line, end = survey.line("bed drain 1"), survey.drawn("bed drain 1").finish
    crown = end.centre_m + survey.pipe("bed drain 1").outside_m / 2
    flow = line.flow((drain.start_m + drain.stop_m) / 2 - crown, water_at(20.0))
    assert bed.emptying_s == pytest.approx(volume / (flow - inflow), rel=0.02)
    assert bed.floods_per_hour == pytest.approx(3600 / (bed.filling_s + bed.emptying_s), rel=0.01)


def test_the_sump_moves_by_the_bed(plan) -> None:
    """Between bed empty and bed full the sump moves by the bed's water over its own area."""
    (found,) = running(with_siphon(plan), designed(with_siphon(plan)))
    (sump,) = found.sumps
    bed, area = plan.site.vessels["bed 1"], plan.site.vessels["sump"].area_m2
    moved = 0.4 * bed.area_m2 * (plan.survey.control_height("bed drain 1") - bed.floor_m) / area
    assert sump.highest_m == pytest.approx(plan.survey.level("sump"), abs=0.01)
    assert sump.highest_m - sump.lowest_m == pytest.approx(moved, abs=0.02)


@pytest.mark.parametrize(("share", "cycles"), [(0.98, True), (1.02, False)])
def test_the_start_limit(plan, share: float, cycles: bool) -> None:
    """A siphon whose start flow is a little under the bed's inflow cycles; a little over, it never does."""
    inflow = plan.survey.design_flow("bed drain 1")
    works = with_siphon(plan, share * inflow)
    (found,) = running(works, designed(works))
    assert (found.beds[0].floods_per_hour > 0.0) == cycles


def test_no_litre_is_lost_in_hours_of_floods(plan) -> None:
    """Over six hours of floods what is in the vessels and what was spilled is what there was, to 1e-9."""
    works = Waterworks(plan.survey, bed_siphons(plan.survey))
    links = [*works.drains(), *works.as_designed().passages(works.covers_m)]
    start = works.at_design()
    end = walk(works.basins, links, start, 6 * 3600.0)
    had, has = sum(start.volumes_m3.values()), sum(end.waters.volumes_m3.values())
    assert has + sum(end.spilled_m3.values()) == pytest.approx(had, rel=1e-9)
    assert sum(end.spilled_m3.values()) == 0.0
    assert len(end.switches) > 10
