"""Nothing that can go wrong is left out: the list of faults, read from the drawing by itself."""

from __future__ import annotations

import pytest

from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.problem.site import Guard, RunKind
from autoplan.verdict.faults.scenarios import Scenarios
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from autoplan.verdict.steady.supplies import Supplies

WHOLE = {
    "power cut",
    "power back",
    "pump flat out, valves open",
    "water at 5 C",
    "water at 30 C",
    "every bore 5 % less",
}
"""What befalls the whole system."""


@pytest.fixture
def tried(plan) -> list[tuple[str, str]]:
    """What goes wrong and where, for the plan with its bell siphon."""
    works = Waterworks(plan.survey, bed_siphons(plan.survey))
    return [(trial.what, trial.place) for trial in Scenarios(works, Supplies(works)).all()]


def test_every_fault_of_the_drawing_is_tried_once(plan, tried: list[tuple[str, str]]) -> None:
    """Power, pump, water, bores; each drain blocked and apart; each siphon, valve and burst."""
    expected = {(what, "") for what in WHOLE}
    for name, run in plan.site.runs.items():
        drawn = plan.drawing.runs[name]
        if run.kind is RunKind.GRAVITY:
            expected |= {("half blocked", name), ("fully blocked", name), ("comes apart", name)}
            if drawn.floor is not None and drawn.floor.siphon is not None:
                expected |= {("siphon never starts", name), ("siphon never stops", name)}
        else:
            expected.add(("bursts", name))
            if any(type(one) is ValveSet for one in drawn.fittings):
                expected.add(("valve shut", name))
    assert ("siphon never stops", "bed drain 1") in expected
    assert ("valve shut", "bed feed 1") in expected
    assert sorted(tried) == sorted(expected)


def test_a_check_valve_may_stick(plan) -> None:
    """Where a check valve keeps an inlet from siphoning back, that it is stuck open is tried as well."""
    guarded = plan.put("tank feed", CheckValveSet("check-25"))
    checked = guarded.end("tank feed", "finish", guard=Guard.CHECK_VALVE)
    works = Waterworks(checked.survey, bed_siphons(checked.survey))
    names = [trial.what for trial in Scenarios(works, Supplies(works)).all()]
    assert names.count("check valve stuck open in a power cut") == 1


def test_each_ends_in_figures_and_a_sentence(outcome) -> None:
    """Each fault of a design gives litres, where, minutes where water is lost, and what saves it."""
    faults = outcome.designs[0].verdict.faults
    assert len(faults) >= len(WHOLE)
    for fault in faults:
        assert fault.spilled_l >= 0.0
        assert (fault.minutes is not None) or fault.spilled_l == 0.0
        assert fault.saved_by.strip().endswith(".")
        assert fault.where
