"""What a pump gives beyond its duty, as far as that is wished; and pipe after a year."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.rules.balance import pumped_flow, spare_share
from autoplan.rules.book import read_rules
from tests.rules import by_hand
from tests.rules.conftest import Plan

PROBLEM = Path(__file__).parents[3] / "problems" / "one-tank-one-bed.toml"


def loaded(tmp_path: Path, wish: str) -> Any:
    """A shipped problem with a wish."""
    file = tmp_path / "problem.toml"
    file.write_text(f"{PROBLEM.read_text()}\n[wishes]\n{wish}\n", encoding="utf-8")
    return autoplan.load_problem(file)


def test_none_is_judged_where_none_is_wished(plan: Plan) -> None:
    """Without the wish the rule finds nothing; with it an outlet each."""
    assert plan.findings("pump-spare") == {}
    assert set(plan.wishes(spare=0.15).findings("pump-spare")) == {"tank", "bed 1"}


def test_for_a_bed_more_the_pump_gives_what_one_takes(plan: Plan) -> None:
    """The flow with the spare is that of the main and of the bed's feed, by the pump's own curve."""
    flows = plan.site.flows
    main, feed = flows["main"].design_m3_s, flows["bed feed 1"].design_m3_s
    found = plan.wishes(spare_bed=True).findings("pump-spare")["tank"]
    assert found.value == pytest.approx(by_hand.pump_gives(plan, main + feed))
    asked = by_hand.asked_of_the_pump(plan, "tank feed", 1.0, 1.0 + feed / main)
    assert found.limit == pytest.approx(asked)


def test_a_slowed_pump_can_be_turned_up(plan: Plan) -> None:
    """What a pump has to spare does not hang on the speed at which it runs; its duty does."""
    pumps = {"sump": replace(plan.drawing.pumps["sump"], speed=0.9, mode="slowed")}
    fast = plan.wishes(spare=0.15)
    slowed = replace(fast, drawing=replace(plan.drawing, pumps=pumps))
    assert slowed.findings("pump-spare")["tank"].value == fast.findings("pump-spare")["tank"].value
    assert slowed.findings("pump-duty")["tank"].value < fast.findings("pump-duty")["tank"].value


def test_past_its_run_out_a_pump_gives_no_head(plan: Plan) -> None:
    """A spare of twice the flow is past the end of the curve."""
    curve = plan.catalog.pumps[plan.drawing.pumps["sump"].part].curve
    assert curve[-1][0] < 3 * plan.site.flows["main"].design_m3_s
    found = plan.wishes(spare=2.0).findings("pump-spare")["tank"]
    assert found.value == 0.0
    assert not found.ok


def test_pipe_after_a_year_is_for_what_is_asked_of_pumps(plan: Plan) -> None:
    """Growth raises what duty and spare ask for, and neither overload nor what a fall carries."""
    new = plan.wishes(spare=0.15)
    thick = new.rules({"pump-duty": {"roughness": "0.5 mm"}})
    for rule in ("pump-duty", "pump-spare"):
        assert thick.findings(rule)["tank"].limit > new.findings(rule)["tank"].limit + 0.01
    for rule in ("overload", "drain-fall"):
        rough, smooth = (one.findings(rule).values() for one in (thick, new))
        assert [one.value for one in rough] == [one.value for one in smooth]


@pytest.mark.parametrize(("wish", "share"), [("", 0.15), ('spare = "20 %"', 0.2), ("spare = 0.3", 0.3)])
def test_read_and_assumed(tmp_path: Path, wish: str, share: float) -> None:
    """A share of the flow, 15 % by default, which is told as assumed."""
    problem = loaded(tmp_path, wish)
    assert (problem.wishes.spare, problem.wishes.spare_bed) == (pytest.approx(share), False)
    site = problem.outline
    assumed = {one.place for one in site.assumptions}
    assert ("wishes.spare" in assumed) is not bool(wish)
    assert spare_share(site, "sump") == pytest.approx(share)


def test_words_for_it(tmp_path: Path) -> None:
    """A bed more is what one takes of the flow; none is none."""
    bed, none = (loaded(tmp_path, f'spare = "{word}"').outline for word in ("a bed", "none"))
    assert spare_share(none, "sump") == 0.0
    taken = next(bed.flows[run.name].design_m3_s for run in bed.runs.values() if run.finish == "bed 1")
    assert spare_share(bed, "sump") == pytest.approx(taken / pumped_flow(bed, "sump"))
    assert not any(rule.concerns(none) for rule in read_rules(none).rules if rule.id == "pump-spare")


@pytest.mark.parametrize("word", ['"two beds"', '"-5 %"', '"300 %"', "[1]"])
def test_other_words_are_told(tmp_path: Path, word: str) -> None:
    """What is no spare is refused at its place, with what to write."""
    with pytest.raises(InputError) as error:
        loaded(tmp_path, f"spare = {word}")
    (mistake,) = error.value.mistakes
    assert mistake.place == "wishes.spare"
    assert "%" in mistake.remedy
