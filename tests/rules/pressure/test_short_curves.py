"""A pump whose curve ends while it still has head: nothing past the end for its duty, no less flat out."""

from __future__ import annotations

import pytest

from autoplan.optimiser.options.speeds import pump_choices
from autoplan.problem.brief import Overload, PrintUnits
from autoplan.report.units import units_of
from autoplan.rules.balance import run_out_factor
from autoplan.rules.book import read_rules
from autoplan.rules.pressure.pump_duty import PumpDuty
from autoplan.sentence import Text
from autoplan.verdict.steady.network import steady
from tests.rules.conftest import Plan


def points(plan: Plan) -> tuple[tuple[float, float], ...]:
    """The curve of the plan's pump."""
    return plan.catalog.pumps[plan.drawing.pumps["sump"].part].curve


def cut(plan: Plan) -> Plan:
    """The plan with the curve of its pump ending at the first point past its duty."""
    flow = plan.survey.pump_flow("sump")
    past = next(number for number, (given, _) in enumerate(points(plan)) if given >= flow)
    assert points(plan)[past][1] > 0
    return plan.part(plan.drawing.pumps["sump"].part, curve=points(plan)[: past + 1])


def told(plan: Plan) -> list[Text]:
    """What pump-duty cannot judge."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if isinstance(rule, PumpDuty)]
    return list(rule.unjudged(plan.survey))


def test_duty_is_as_it_was(plan: Plan) -> None:
    """What the pump must give lies on the stated curve, so the rule finds the same."""
    assert cut(plan).findings("pump-duty") == plan.findings("pump-duty")


def test_no_duty_past_its_end(plan: Plan) -> None:
    """At the last point itself a pump may be chosen, a litre an hour past it not."""
    short = cut(plan)
    pump = short.catalog.pumps[short.drawing.pumps["sump"].part]
    last = pump.curve[-1][0]
    assert list(pump_choices(pump, last))
    assert not list(pump_choices(pump, last + 1 / 3.6e6))


def test_flat_out_it_gives_no_less_than_the_whole_curve(plan: Plan) -> None:
    """With open valves, at overload in the model and in the verdict it gives as much and more."""
    short = cut(plan)
    assert steady(short.survey).flows["main"] >= steady(plan.survey).flows["main"] - 1e-12
    whole, part = (one.wishes(overload=Overload.PUMP) for one in (plan, short))
    assert part.survey.overload_factor() >= whole.survey.overload_factor() > 1.5
    for one in (whole, part):
        curve = one.survey.pump_curve("sump")
        assert run_out_factor(one.site, "sump", curve) == pytest.approx(one.survey.overload_factor())
    dry = [one.findings("overload")["tank"].value for one in (whole, part)]
    assert dry[1] <= dry[0]


def test_it_is_told_once(plan: Plan) -> None:
    """The end of the curve is told, of one that ends at a head of 0 nothing."""
    assert told(plan) == []
    (said,) = told(cut(plan))
    flow, head = cut(plan).catalog.pumps[plan.drawing.pumps["sump"].part].curve[-1]
    text = units_of(PrintUnits.SI).told(said)
    assert f"ends at {head:.2f} m and {flow * 3.6e6:.0f} L/h" in text
