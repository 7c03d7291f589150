"""A top-up valve that sticks open: when it runs over and how much, by hand, and where there is none."""

from __future__ import annotations

import pytest

from autoplan.outcome import Fault
from autoplan.rules.book import read_rules
from autoplan.verdict.faults.walk import faults
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from autoplan.verdict.steady.supplies import Supplies
from tests.rules.conftest import Plan


def topped_up(plan: Plan, litres_per_hour: float, vessel: str = "sump") -> dict[str, Fault]:
    """Faults of top-ups with so much let into a vessel."""
    filled = plan.vessel(vessel, top_up_m3_s=litres_per_hour / 3.6e6)
    survey = filled.survey
    works = Waterworks(survey, bed_siphons(survey, read_rules(survey.site)))
    found = faults(works, Supplies(works))
    return {fault.name: fault for fault in found if "top-up" in fault.name}


def room_l(plan: Plan) -> float:
    """Room in the sump over its running level [L]."""
    sump = plan.site.vessels["sump"]
    return 1000 * (sump.rim_m - plan.drawing.levels["sump"].design_m) * sump.area_m2


@pytest.mark.parametrize(("share", "spills"), [(0.9, False), (1.25, True)])
def test_both_sides_of_running_over_in_a_night(plan: Plan, share: float, spills: bool) -> None:
    """In 12 hours nine tenths of its room do not fill the sump, and a quarter more than its room does."""
    flow = share * room_l(plan) / 12
    (fault,) = topped_up(plan, flow).values()
    assert fault.name == "sump top-up stuck open"
    assert (fault.spilled_l > 0.0) is spills
    hours = room_l(plan) / flow
    assert f"after about {hours:.0f} hours" in fault.saved_by
    assert fault.cure == ("an overflow from sump" if spills else "")


def test_what_it_spills_by_hand(plan: Plan) -> None:
    """200 L/h for 12 hours, less the sump's room: what fills a few litres elsewhere does not spill."""
    (fault,) = topped_up(plan, 200.0).values()
    assert fault.spilled_l == pytest.approx(12 * 200 - room_l(plan), rel=0.005)
    assert fault.minutes == pytest.approx(60 * room_l(plan) / 200, rel=0.05)
    assert fault.where == "sump"


def test_into_the_tank_it_runs_over_at_the_sump(plan: Plan) -> None:
    """The tank passes on what comes in, so the water lost is the same."""
    (tank,) = topped_up(plan, 200.0, "tank").values()
    (sump,) = topped_up(plan, 200.0).values()
    assert tank.spilled_l == pytest.approx(sump.spilled_l, rel=0.01)
    assert "overflow from sump" in tank.cure


def test_without_one_there_is_no_fault(plan: Plan) -> None:
    """Nobody tops up: nothing sticks."""
    assert topped_up(plan, 0.0) == {}
