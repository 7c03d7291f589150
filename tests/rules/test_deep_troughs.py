"""What room over a siphon's lip, what a bell's foot lets in and a trunk's bore decide on what is shipped."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import autoplan
from autoplan.drawing import Drawing
from autoplan.outcome import Outcome, Status

PROBLEMS = Path(__file__).parents[2] / "problems"

NO_HEADROOM = '[rules.bell-fit]\nheadroom = "0 mm"\nbores = "0"\n'

TAKEN = """pn10-32-6m pn10-40-6m pn10-40-metre pn10-50-3m pn10-50-metre pn16-20-3m pn16-20-metre pn16-25-3m
    pn16-25-metre"""
"""All pipe that any of these designs takes from the whole list: without the rest they are the same."""

METRIC = autoplan.load_catalog("metric")


@cache
def designed(name: str, rules: str = "", swapped: tuple[str, str] = ("", "")) -> Outcome:
    """The proven cheapest design of a shipped problem, under other settings."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "problem.toml"
        text = (PROBLEMS / f"{name}.toml").read_text(encoding="utf-8").replace(*swapped)
        others = sorted(set(METRIC.pipes) - set(TAKEN.split()))
        file.write_text(f"unavailable = {others}\n{text}\n{rules}", encoding="utf-8")
        problem = autoplan.load_problem(file)
    outcome = autoplan.design(problem, METRIC, top=1)
    assert (outcome.status, outcome.solver.rejected) == (Status.PROVEN, 0)
    return outcome


def drawn(outcome: Outcome) -> Drawing:
    """Its drawing."""
    return outcome.designs[0].drawing


def bell(outcome: Outcome) -> str:
    """The bell of the first siphon."""
    siphons = (line.floor.siphon for line in drawn(outcome).runs.values() if line.floor is not None)
    return next(str(siphon.bell) for siphon in siphons if siphon is not None)


def cost(outcome: Outcome) -> float:
    """What is minimised."""
    return outcome.designs[0].objective


def test_room_over_the_lip() -> None:
    """A flood of 400 mm leaves no room under bells of 400 mm: a taller one is bought, for more."""
    kept, off = designed("deep-troughs"), designed("deep-troughs", NO_HEADROOM)
    kept_m, off_m = (METRIC.siphons[bell(outcome)].tallest_m for outcome in (kept, off))
    assert off_m < 0.4 + 0.025 <= kept_m
    assert cost(off) < cost(kept)


def test_the_trunk_keeps_its_bore() -> None:
    """Behind the first of three beds two thirds of the water go on: the trunk does not step down there."""
    kept, off = designed("deep-troughs"), designed("deep-troughs", "[rules.trunk-bore]\noff = true\n")
    first, second = (
        [METRIC.pipes[drawn(o).runs[f"trunk {n}"].pipe].bore_m for o in (kept, off)] for n in (1, 2)
    )
    assert second[0] >= 0.9 * first[0]
    assert second[1] < 0.9 * first[1]
    assert cost(off) < cost(kept)


def test_the_opening_at_the_foot() -> None:
    """With 15 % of its foot cut out in place of half a bell of 63 mm lets in too little: a wider one."""
    few, usual = designed("two-tanks"), designed("two-tanks", swapped=('cut = "15 %"', 'cut = "50 %"'))
    narrow, wide = (METRIC.siphons[bell(outcome)].inside_m for outcome in (usual, few))
    assert narrow < wide
    assert cost(usual) < cost(few)
    # As areas, by hand: what is cut out against twice the bore of 21.2 mm that the water rises in.
    bore_area = 3.14159 / 4 * 0.0212**2
    cut_out_m = 0.025
    assert 3.14159 * narrow * 0.15 * cut_out_m < 2 * bore_area <= 3.14159 * wide * 0.15 * cut_out_m
