"""Lines on the plan that go up or down close to a tee: what the tee and its adaptors take is left them."""

from __future__ import annotations

import pytest

import autoplan
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.line.route import Toward
from autoplan.outcome import Outcome, Status
from autoplan.problem.toml.load import problem_from
from autoplan.problem.toml.write import expand_to_toml
from tests.one_bed import one_bed
from tests.short_list import from_shorter_list, from_shortest_list


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
    outcome = designed(from_shortest_list(raised(400)))
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
    outcome = designed(from_shorter_list(NARROWER))
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    runs = outcome.designs[0].drawing.runs.values()
    assert any(not isinstance(run.start, AtVessel) and run.start.chain for run in runs)


SHORT = """name = "A feed that turns soon behind its tee"
catalog = "inch"
[tank]
volume = "330 gal"
depth = "36 in"
floor = "6 in"
[beds]
count = 1
area = "4 ft x 3 ft"
depth = "13 in"
flood = "10 in"
floor = "22 in"
wall = "1/4 in"
[sump]
volume = "120 gal"
depth = "20 in"
floor = "-16 in"
[distances]
sump_to_split = "18 in"
sump_to_tank = "{back}"
[wishes]
turnover = "1.9/hour"
"""
"""The feed of the tank goes half of the way beyond the split before it turns."""


@pytest.mark.parametrize(("back", "fits"), [("36 in", False), ("37 in", True)])
def test_no_room_for_adaptors_is_found_out_once(back: str, fits: bool) -> None:
    """What union, valve and elbow take beside the tee is 235.2 mm: of 9 in they lack 6.6 mm, of 9.5 in none.

    A refusal forbids every way to build the feed that is as tight, with all adaptors that are as long.
    """
    outcome = designed(SHORT.format(back=back))
    assert outcome.status is Status.PROVEN
    assert (outcome.solver.rejected == 0) is fits
    assert outcome.solver.rejected <= 3
    feed = outcome.designs[0].drawing.runs["tank feed"]
    assert isinstance(feed.start, LineEnd)
    assert (feed.start.chain == ("sch40-1-metre", "compression-1")) is fits
