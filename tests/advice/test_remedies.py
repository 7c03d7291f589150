"""Why there is no design: what is named as the clash, and what is said to mend it, is tried out again."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.advice.remedies import least_against, over_budget
from autoplan.catalog.parts import Catalog, Way
from autoplan.optimiser.search.ranking import Ranked
from autoplan.outcome import Outcome, Status
from autoplan.rules.book import ALL
from tests.advice.impossible import bisected, drawn, solved
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down
from tests.rules.test_siphons import SHELF
from tests.short_list import from_shorter_list, gone
from tests.words import why_none

TOO_LOW = """
name = "The tank's water stands two millimetres over the settler's at most"
[tank]
volume = "2000 L"
depth = "800 mm"
floor = "{tank} mm"
[settler]
volume = "250 L"
depth = "800 mm"
floor = "{settler} mm"
water_min = "719 mm"
[sump]
volume = "900 L"
"""

WALL = """
name = "A round tank with a wall that gives way"
[tank]
volume = "600 L"
floor = "150 mm"
wall = "1.5 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
"""

STEPS = {
    "tank": r"(Raising|Lowering) tank by (\d+) mm would leave a design",
    "settler": r"(Raising|Lowering) settler by (\d+) mm would leave a design",
    "low": r"(Raising|Lowering) sump by (\d+) mm would leave a design",
    "sump": r"()(\d+) L more in sump",
}
"""What remedies say, by what of the file they change."""

SOON = (15, 1)
"""Seeds of problems that are soon looked into."""


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@pytest.fixture(scope="module")
def shelf(catalog: Catalog) -> Catalog:
    """What a tank and a bed with a siphon are built of, and little else."""
    return cut_down(catalog, SHELF)


def none_for(text: str, folder: Path, catalog: Catalog, **options: Any) -> Outcome:
    """The outcome of a problem that has no design, asked for with `options`."""
    path = folder / "none.toml"
    path.write_text(text)
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1, **options)
    assert outcome.status is Status.NONE
    assert outcome.designs == ()
    assert outcome.clash is not None
    return outcome


def told(outcome: Outcome) -> str:
    """All that is said of why there is none."""
    assert outcome.clash is not None
    return "\n".join(why_none(outcome))


@pytest.fixture(scope="module")
def looked(tmp_path_factory: pytest.TempPathFactory, catalog: Catalog) -> tuple[Outcome, list[str]]:
    """A drain between tank and settler that has no fall to run by, and the stages told meanwhile."""
    stages: list[str] = []

    def watch(stage: str, _best: float | None, _bound: float | None) -> None:
        stages.append(stage)

    text = from_shorter_list(TOO_LOW.format(tank=191, settler=190))
    return none_for(text, tmp_path_factory.mktemp("too-low"), catalog, progress=watch), stages


@pytest.fixture(scope="module")
def too_low(looked: tuple[Outcome, list[str]]) -> Outcome:
    """The drain between tank and settler has no fall to run by."""
    return looked[0]


def test_the_clash_names_the_levels(too_low: Outcome) -> None:
    """The settler's lowest water at 909 mm, the tank's highest at 911 mm, and what the drain loses."""
    assert too_low.clash is not None
    assert too_low.clash.rules == ("level-range",)
    first, second, *_ = why_none(too_low)
    assert "water in settler stands at 909 mm at least (level-range)" in first
    assert "water in tank stands at 911 mm at most (level-range)" in first
    loss = float(re.search(r"water in tank stands ([\d.]+) mm over water in settler", first).group(1))  # type: ignore[union-attr]
    assert f"{loss - 2:g} mm are missing, {loss + 8:g} mm with drain-fall." in first
    assert "level-range: this is no rule to drop" in second


def test_each_rule_named_is_needed(too_low: Outcome, catalog: Catalog) -> None:
    """Without the rule that is named there is a design."""
    assert too_low.clash is not None
    assert set(too_low.clash.rules) <= {kind.id for kind in ALL}
    for rule in too_low.clash.rules:
        site = replace(too_low.site, rule_settings={rule: {"off": True}})
        assert autoplan.design(site, catalog, top=1).designs


def test_either_vessel_may_be_moved(too_low: Outcome, catalog: Catalog, tmp_path: Path) -> None:
    """The tank up or the settler down, each by the least number of millimetres that there is."""

    def works(tank: int, settler: int) -> bool:
        text = TOO_LOW.format(tank=191 + tank, settler=190 - settler)
        return solved(tmp_path, catalog, from_shorter_list(text))

    up, tank = re.search(STEPS["tank"], told(too_low)).groups()  # type: ignore[union-attr]
    down, settler = re.search(STEPS["settler"], told(too_low)).groups()  # type: ignore[union-attr]
    assert (up, down) == ("Raising", "Lowering")
    assert works(int(tank), 0)
    assert not works(int(tank) - 1, 0)
    assert works(0, int(settler))
    assert not works(0, int(settler) - 1)
    assert "Not tried" not in told(too_low)


def least_is_told(folder: Path, catalog: Catalog, seed: int, *, halving: bool = False) -> int:
    """Remedies told for a random problem, each of which works, and none of the steps before.

    With halving each is also the least that plain bisection on the file finds, from none at all upwards; but
    where a step less does not do and a much smaller one does, as where a drain goes down aslant or upright
    and not between, it is enough that.
    """
    written, remedies = drawn(seed), 0
    text = written({})
    if solved(folder, catalog, text):
        return 0
    said = told(none_for(text, folder, catalog))
    for name, pattern in STEPS.items():
        for way, step in re.findall(pattern, said):
            sign = -1 if way == "Lowering" else 1

            def works(by: int, name: str = name, sign: int = sign) -> bool:
                return solved(folder, catalog, written({name: sign * by}))

            if halving:
                assert bisected(works, int(step)) == int(step) or not works(int(step) - 1), (name, said)
            else:
                assert works(int(step)), (name, said)
                assert int(step) == 1 or not works(int(step) - 1), (name, said)
            remedies += 1
    assert remedies, said
    return remedies


@pytest.mark.long
@pytest.mark.parametrize("seed", SOON)
def test_remedies_are_the_least(tmp_path: Path, catalog: Catalog, seed: int) -> None:
    """Problems without a design: what is told works on the file, and a step less does not."""
    assert least_is_told(tmp_path, catalog, seed) > 0


@pytest.mark.long
def test_many_remedies_are_the_least(tmp_path: Path, catalog: Catalog) -> None:
    """Forty random problems without a design: what is told is what plain bisection on the file finds."""
    seed = problems = 0
    while problems < 40:
        problems += least_is_told(tmp_path, catalog, seed, halving=True) > 0
        seed += 1


def test_no_part_suits_the_wall(tmp_path: Path, catalog: Catalog) -> None:
    """A thin curved wall takes seals alone: without them the class and the rule are told."""
    seals = [part.id for part in catalog.penetrations.values() if part.way is Way.SEAL]
    without = f"unavailable = {[*seals, *gone()]}"
    outcome = none_for(without + WALL, tmp_path, catalog)
    assert outcome.clash is not None
    assert "penetration-fit" in outcome.clash.rules
    first, *_ = why_none(outcome)
    assert re.match(r"tank drain: no .+ is left; refused by penetration-fit", first)
    # A flat wall of the same thickness takes a bulkhead fitting.
    square = WALL.replace('wall = "1.5 mm"', 'wall = "1.5 mm"\nshape = "square"')
    assert solved(tmp_path, catalog, without + square)


@pytest.mark.parametrize(
    ("begins", "kind"),
    [("snorkel-", "air tube"), ("bell-", "bell"), ("ball-", "valve"), ("seal-", "wall part")],
)
def test_a_part_that_is_sold_out_is_named(tmp_path: Path, shelf: Catalog, begins: str, kind: str) -> None:
    """The kind of part that is missing is told, and no rule is blamed that refuses something else."""
    sold_out = [part for group in shelf.groups() for part in group if part.startswith(begins)]
    outcome = none_for(f"unavailable = {sold_out}\n{one_bed(sump='500 L')}", tmp_path, shelf)
    assert f"no {kind} is to be had that fits; {sold_out[0]}" in told(outcome)
    assert "no pipe is left" not in told(outcome)


def test_what_lacks_is_told_beside_the_heights(tmp_path: Path, shelf: Catalog) -> None:
    """A sump that cannot fill its bed and no air tube: both are told, for mending one would not do."""
    outcome = none_for(f"unavailable = ['snorkel-6']\n{one_bed(sump='90 L')}", tmp_path, shelf)
    assert outcome.clash is not None
    assert set(outcome.clash.rules) == {"sump-low", "stock"}
    assert "for the 100 L that stand in full beds" in told(outcome)
    assert "no air tube is to be had that fits; snorkel-6" in told(outcome)


def test_a_budget_is_told_what_the_least_costs(tmp_path: Path, shelf: Catalog) -> None:
    """A cent under the cheapest design: its cost, and no other rule; at that cost there is a design."""
    path = tmp_path / "bed.toml"
    path.write_text(one_bed(sump="500 L"))
    site = autoplan.load_problem(path)
    (design,) = autoplan.design(site, shelf, top=1).designs
    cost = design.verdict.cost.to_pay
    outcome = autoplan.design(site, shelf, top=1, budget=cost - 0.01)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert outcome.clash.rules == ("budget",)
    assert why_none(outcome) == (
        f"budget: the cheapest design costs {cost:.2f} EUR, 0.01 EUR more than there is.",
    )
    assert autoplan.design(site, shelf, top=1, budget=cost).designs
    ranked = Ranked(design.drawing, design.verdict, design_cents(cost), design_cents(cost), True, {})
    says_what_is_known(ranked, cost, shelf)


def design_cents(cost: float) -> int:
    """Money in cents."""
    return round(cost * 100)


def says_what_is_known(best: Ranked, cost: float, catalog: Catalog) -> None:
    """A bound over the budget is a clash, one that is not leaves it open, with both numbers."""
    open_ended = replace(best, proven=False, bound=best.objective - 500)
    clash, notes = over_budget(open_ended, cost - 5.01, catalog)
    assert clash is not None
    assert clash.rules == ("budget",)
    assert notes == ()
    clash, (note,) = least_against(10_000.9, 100.0, catalog)
    assert clash is None
    assert "costs at least 100.00 EUR" in note
    assert least_against(10_001.0, 100.0, catalog)[0] is not None
    assert least_against(0.0, 100.0, catalog) == (None, ())
    clash, (note,) = over_budget(open_ended, cost - 5.0, catalog)
    assert clash is None
    assert (
        f"no design costs less than {cost - 5:.2f} EUR; the cheapest found in time costs {cost:.2f}" in note
    )


def test_no_time_for_remedies(too_low: Outcome, catalog: Catalog) -> None:
    """Where time runs out no remedy is made up, the clash is told all the same, and what was not tried."""
    outcome = autoplan.design(too_low.site, catalog, top=1, time_limit=0.01)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert set(outcome.clash.rules) == {"level-range", "drain-fall"}
    assert "water in settler stands at 909 mm at least" in why_none(outcome)[0]
    assert why_none(outcome)[1:] == ("No time was left to look for what would mend it.",)


def test_stages_are_told_while_looking_for_why(looked: tuple[Outcome, list[str]]) -> None:
    """Each thing that is tried is told before it is."""
    _, stages = looked
    assert stages[0] == "laying out what there is to choose from"
    assert stages[1] == "no design: looking for why"
    assert "no design: trying raising tank" in stages
    assert "no design: trying lowering settler" in stages


@pytest.mark.long
@pytest.mark.parametrize("limit", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("seed", [3, 15, 20])
def test_time_limits_are_kept(tmp_path: Path, catalog: Catalog, limit: float, seed: int) -> None:
    """The answer comes within a tenth and a second of the limit; it is none, with a reason, or undecided."""
    path = tmp_path / "none.toml"
    path.write_text(drawn(seed)({}))
    site = autoplan.load_problem(path)
    started = time.monotonic()
    outcome = autoplan.design(site, catalog, top=1, time_limit=limit)
    assert time.monotonic() - started <= 1.1 * limit + 1
    assert outcome.status in (Status.NONE, Status.UNDECIDED)
    assert (outcome.clash is not None) == (outcome.status is Status.NONE)
