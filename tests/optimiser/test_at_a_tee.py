"""Lines on the plan that go up or down close to a tee: what the tee and its adaptors take is left them."""

from __future__ import annotations

import pytest

import autoplan
from autoplan.fittings.ends import AtVessel
from autoplan.line.route import Toward
from autoplan.outcome import Outcome, Status
from autoplan.problem.toml.load import problem_from
from autoplan.problem.toml.write import expand_to_toml
from tests.one_bed import one_bed


def designed(text: str) -> Outcome:
    """The cheapest design of a problem file."""
    problem = problem_from(text, "tee.toml")
    return autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)


def raised(split_mm: int) -> str:
    """The long form of one bed, its split and the feeds so high while the main runs at 150 mm."""
    first, *runs = expand_to_toml(problem_from(one_bed(), "bed.toml")).split("[[run]]")
    low, high = 'height = "150 mm"', f'height = "{split_mm} mm"'
    texts = [first.replace(low, high)]
    texts += [run if 'name = "main"' in run else run.replace(low, high) for run in runs]
    return "[[run]]".join(texts)


def test_a_main_that_comes_up_to_its_tee() -> None:
    """A main at 150 mm goes up 250 mm to a tee at 400; the piece into the tee has room for half the tee."""
    outcome = designed(raised(400))
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    main = outcome.designs[0].drawing.runs["main"]
    *_, up, into = main.legs
    assert up.toward is Toward.UP
    assert up.rise_m == pytest.approx(0.250)
    pipe = outcome.catalog.pipes[main.pipe]
    # Between the elbow and the crossing pipe of the tee.
    assert into.length_m >= pipe.outside_m / 2 + sum(main.slots_m[-1])


NARROWER = """name = "Beds fed by the tank's own pump"
arrangement = "no sump"
[tank]
volume = "1500 L"
depth = "0.75 m"
floor = "0 mm"
[beds]
count = 3
area = "0.6 m2"
floor = "750 mm"
[distances]
tank_to_first_bed = "2.52 m"
trunk_to_bed = "0.74 m"
bed_to_tank = "3.69 m"
[rules.flood-rate]
off = true
[rules.flange-fit]
off = true
"""
"""Feeds of another size than the trunk, which two 45s may take from their tees up to the beds' rims."""


def test_two_45s_behind_an_adaptor() -> None:
    """No design is refused because a bush at the tee leaves too little before the first of two 45s."""
    outcome = designed(NARROWER)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    runs = outcome.designs[0].drawing.runs.values()
    assert any(not isinstance(run.start, AtVessel) and run.start.chain for run in runs)
