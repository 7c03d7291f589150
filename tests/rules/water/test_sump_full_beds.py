"""What beds that stand full ask of the sump: no water once power returns, some room when it fails."""

from __future__ import annotations

import pytest

import autoplan
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from autoplan.rules.survey import Survey
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list
from tests.words import by_place


def test_a_sump_smaller_than_the_flood() -> None:
    """60 L under a bed of 80 L: all that it must hold is what runs back, over the pump's cover.

    With the power off the bed's water over the lip comes too, 2 L of 0.4 m2, or 20 mm in the sump: were
    that left out the search would be sent back, since there is room for no 10 mm more.
    """
    text = from_shortest_list(one_bed('drain = "standpipe"', sump="60 L"))
    text += '\n[rules.sump-high]\nfreeboard = "130 mm"\n'
    outcome = autoplan.design(problem_from(text, "small.toml"), autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    (design,) = outcome.designs
    survey = Survey(outcome.site, outcome.catalog, design.drawing)
    bed, sump = outcome.site.vessels["bed 1"], outcome.site.vessels["sump"]
    assert sump.area_m2 * sump.depth_m < bed.flood_m3
    over = (survey.level("bed 1") - survey.control_height("bed drain 1")) * bed.water_area_m2
    assert over / sump.area_m2 > 0.015
    low, high = (
        by_place(one for one in design.verdict.findings if one.rule == rule)["sump"]
        for rule in ("sump-low", "sump-high")
    )
    assert low.value == pytest.approx(1000 * (survey.level("sump") - sump.floor_m))
    assert 0.0 <= low.margin + high.margin < 10.0
    # The night has no more than that come back, and the pump has its water when power returns.
    nights = {fault.name: fault for fault in design.verdict.faults}
    assert nights["power cut"].margin_m >= high.value / 1000 - 0.002
    assert nights["power back"].spilled_l == 0.0
    assert nights["power back"].dry_minutes is None
