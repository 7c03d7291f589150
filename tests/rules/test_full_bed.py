"""What a full bed gets with the sump low, against the steady flow that the verdict finds."""

from __future__ import annotations

import pytest

from autoplan.rules.beds.full_bed_start import FullBedStart
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.commissioning import commission
from autoplan.verdict.steady.network import steady
from tests.words import by_place

L_H = 3.6e6


def found(survey: Survey):
    """What the rule says of a drawing, by place."""
    (rule,) = [rule for rule in read_rules(survey.site).rules if isinstance(rule, FullBedStart)]
    return by_place(rule.check(survey))


def low_flows(survey: Survey) -> dict[str, float]:
    """By vessel its inflow [L/h] with as many beds full as may be, valves as set with all empty."""
    outlets = commission(survey, steady(survey, balanced=True)).outlets
    return {outlet.vessel: outlet.low_m3_s * L_H for outlet in outlets}


def test_a_full_bed_gets_no_less_than_it_is_said_to(plan) -> None:
    """The stated flow is under the one that is solved for, and not by more than a sixth."""
    stated, solved = found(plan.survey)["bed 1"].value, low_flows(plan.survey)["bed 1"]
    assert solved * 5 / 6 < stated <= solved


@pytest.mark.parametrize("smaller", [1.0, 0.6])
def test_a_smaller_sump_sinks_further_and_leaves_less(plan, smaller: float) -> None:
    """With less surface the same flood takes more height; the stated flow stays under the solved one."""
    area = plan.site.vessels["sump"].area_m2
    changed = plan.vessel("sump", area_m2=area * smaller)
    assert found(changed.survey)["bed 1"].value <= low_flows(changed.survey)["bed 1"]
    if smaller < 1.0:
        assert found(changed.survey)["bed 1"].value < found(plan.survey)["bed 1"].value
