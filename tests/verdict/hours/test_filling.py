"""How much water there is, and that it is the same at every level."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from autoplan.hydraulics.basins import walk
from autoplan.problem.site import BedDrain
from autoplan.rules.survey import Survey
from autoplan.verdict.hours.filling import filling, water_left
from autoplan.verdict.hours.through_time import running
from autoplan.verdict.hours.waterworks import Waterworks
from tests.rules.conftest import Plan


@pytest.fixture
def survey(outcome):
    """The small system of these tests, measured up."""
    return Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def full_pipes(survey: Survey) -> float:
    """Room in the pressure pipes and the tank's drain [m3]; the bed's drain runs only as it empties."""
    lines = [survey.drawn(run.name) for run in survey.pressure_runs()]
    lines += [survey.drawn("tank drain")]
    return sum(pi / 4 * survey.catalog.pipes[line.pipe].bore_m ** 2 * line.length_m for line in lines)


def test_water_is_conserved_between_the_levels(survey) -> None:
    """What the sump lacks at its lowest is in the beds; what it has more at its highest ran back to it."""
    (moving,) = filling(survey).moving
    area = survey.site.vessels["sump"].area_m2
    beds = [vessel for vessel in survey.site.vessels.values() if vessel.bed is not None]
    held = sum(bed.bed.void_fraction * bed.area_m2 * bed.bed.flood_m for bed in beds)
    assert (moving.running_m - moving.low_m) * area == pytest.approx(held, rel=1e-9)
    back = 0.0
    for name, vessel in survey.site.vessels.items():
        if vessel.bed is None and name != "sump":
            drains = [run.name for run in survey.gravity_runs() if run.start == name]
            lowest = min(survey.control_height(drain) for drain in drains)
            back += vessel.area_m2 * max(0.0, survey.level(name) - lowest)
    back += full_pipes(survey)
    assert (moving.high_m - moving.running_m) * area == pytest.approx(back, rel=1e-9)


def test_all_of_the_water(survey) -> None:
    """The sum over vessels at their running levels, beds empty, full pressure pipes and the tank's drain."""
    vessels = [vessel for vessel in survey.site.vessels.values() if vessel.bed is None]
    held = sum(vessel.area_m2 * (survey.level(vessel.name) - vessel.floor_m) for vessel in vessels)
    assert filling(survey).total_m3 == pytest.approx(held + full_pipes(survey), rel=1e-9)


def test_fewer_beds_full_at_once(survey) -> None:
    """With no bed full at once the lowest level is the running one."""
    wishes = replace(survey.site.wishes, beds_full=0)
    none = Survey(replace(survey.site, wishes=wishes), survey.catalog, survey.drawing)
    (moving,) = filling(none).moving
    assert moving.low_m == moving.running_m


def test_water_stays_under_the_cut_outs(survey) -> None:
    """A siphon breaks at its cut-outs: area x void x their height stays in each bed, out of the sump."""
    (moving,) = filling(survey).moving
    left = sum(
        siphon.cut_out_m * survey.site.vessels[end.at].area_m2 * survey.site.vessels[end.at].bed.void_fraction
        for _, end, siphon in survey.siphons()
    )
    assert left > 0.0
    assert filling(survey).left_m3 == pytest.approx(left, rel=1e-9)
    assert moving.left_m == pytest.approx(left / survey.site.vessels["sump"].area_m2, rel=1e-9)


def full_bed(plan: Plan, most: int | None = None) -> Survey:
    """The small system with a bed that stands full for good."""
    bed = plan.site.vessels["bed 1"].bed
    assert bed is not None
    plan = plan.vessel("bed 1", bed=replace(bed, drain=BedDrain.STANDPIPE))
    site = replace(plan.site, wishes=replace(plan.site.wishes, beds_full=most))
    return replace(plan, site=site).end("bed drain 1", "start", siphon=None).survey


def test_a_bed_that_stands_full_is_filled_once(plan: Plan) -> None:
    """Its water is put in besides; what is put in is what the hours begin with, and none is left over."""
    survey = full_bed(plan)
    found, works = filling(survey), Waterworks(survey, {})
    begun = sum(works.at_design().volumes_m3.values())
    assert found.total_m3 == pytest.approx(begun + full_pipes(survey) + bed_drain(survey), rel=1e-9)
    before = Survey(plan.site, survey.catalog, survey.drawing)
    held = survey.site.vessels["bed 1"].flood_m3
    assert found.total_m3 - bed_drain(survey) == pytest.approx(filling(before).total_m3 + held, rel=1e-9)
    assert found.left_m3 == 0.0


@pytest.mark.parametrize("most", [None, 1, 0])
def test_a_bed_that_stands_full_asks_nothing_of_the_sump(plan: Plan, most: int | None) -> None:
    """However many may be full at once the lowest water is that of the hours, in which the bed is full."""
    survey = full_bed(plan, most)
    works = Waterworks(survey, {})
    (hours,) = running(works, lambda _: works.as_designed())
    (moving,) = filling(survey).moving
    # How deep the bed stands is judged to be 2 mm from what it comes to, of which the sump has its share.
    assert moving.low_m == pytest.approx(hours.sumps[0].lowest_m, abs=2e-3)
    assert survey.low_level("sump") == moving.low_m == moving.running_m


def test_a_bed_keeps_its_water_through_a_power_cut(plan: Plan) -> None:
    """Walked through a night without power it falls to its lip, and as much more comes to the sump."""
    survey = full_bed(plan)
    works, bed = Waterworks(survey, {}), survey.site.vessels["bed 1"]
    lip, begun = survey.control_height("bed drain 1"), works.at_design()
    night = walk(works.basins, works.drains(), begun, 12 * 3600.0).waters.volumes_m3
    assert night["bed 1"] == pytest.approx((lip - bed.floor_m) * bed.water_area_m2, rel=0.02)
    assert night["bed 1"] > 0.5 * bed.flood_m3
    back = sum(night.values()) - sum(begun.volumes_m3.values())
    assert back == pytest.approx(0.0, abs=1e-9)
    (moving,) = filling(survey).moving
    sump = survey.site.vessels["sump"]
    came = (night["sump"] - begun.volumes_m3["sump"]) / sump.area_m2
    pipes = (full_pipes(survey) + bed_drain(survey)) / sump.area_m2
    assert moving.high_m - moving.running_m == pytest.approx(came + pipes, abs=2e-3)


def bed_drain(survey: Survey) -> float:
    """Room in the bed's drain [m3], which is full once water runs in it all the time."""
    line = survey.drawn("bed drain 1")
    return pi / 4 * survey.catalog.pipes[line.pipe].bore_m ** 2 * line.length_m


def test_no_water_stays_in_a_bed_to_come_later(survey) -> None:
    """A bed that is not built holds nothing yet."""
    runs = {name: replace(drawn, later=True) for name, drawn in survey.drawing.runs.items()}
    later = Survey(survey.site, survey.catalog, replace(survey.drawing, runs=runs))
    assert water_left(later) == {}
