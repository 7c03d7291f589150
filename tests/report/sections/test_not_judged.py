"""What no rule can judge since the price list does not say it: told once in each form, or not at all."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest

from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import outcome_json
from autoplan.report.contract.reading import wrong_in
from autoplan.report.page import sheet
from autoplan.report.page.sheet import sheet_html
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.contents import sections
from autoplan.report.sections.levels_picture import ASCII
from autoplan.report.sections.screen import first_screen
from autoplan.report.units import SI, US
from autoplan.sentence import Amount, say
from tests.report.page.reading import read

SAID = say("{} wall parts have no flange, so a bell of {} may not fit", "2", Amount(0.05, "mm"))


@pytest.fixture
def unsure(outcome: Outcome) -> Outcome:
    """An answer of which a rule cannot judge two things."""
    first, *others = outcome.designs
    verdict = replace(first.verdict, unjudged={"bell-fit": (SAID, "nobody knows the guard")})
    return replace(outcome, designs=(replace(first, verdict=verdict), *others))


@pytest.fixture(autouse=True)
def _undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """No drawings, which take most of the time that a page takes."""
    monkeypatch.setattr(sheet, "sheets", lambda *_: ())


def of_rules(outcome: Outcome, asked: str = "rules") -> str:
    """What is shown of the rules, in one line."""
    return " ".join(plain_text(sections(outcome, SI, (asked,))).split())


@pytest.mark.parametrize("asked", ["rules", "all"])
def test_told_with_the_rules(outcome: Outcome, unsure: Outcome, asked: str) -> None:
    """Each sentence stands with its rule's name under a heading of its own, and the heading only with one."""
    text = of_rules(unsure, asked)
    assert text.count("Not judged") == 1
    assert "2 wall parts have no flange, so a bell of 50 mm may not fit [bell-fit]" in text
    assert "nobody knows the guard [bell-fit]" in text
    assert "Not judged" not in of_rules(outcome, asked)


def test_one_line_on_the_first_screen(outcome: Outcome, unsure: Outcome) -> None:
    """Rules that cannot judge all are named once each, in one line, which is not there where none is."""
    (line,) = [line for line in first_screen(unsure, SI, ASCII) if "Not judged" in line]
    assert "bell-fit" in line
    assert "--show rules" in line
    assert not any("Not judged" in line for line in first_screen(outcome, SI, ASCII))


def test_in_the_json_and_on_the_sheet(outcome: Outcome, unsure: Outcome) -> None:
    """The JSON has the sentences in the units asked for, and the sheet shows them with the rules."""
    answer = outcome_json(unsure)
    told = answer["designs"][0]["told"]["not-judged"]  # type: ignore[index, call-overload]
    assert told[0] == f"{SI.told(SAID)} [bell-fit]"
    inches = replace(unsure, site=replace(unsure.site, print_units=PrintUnits.US))
    told = outcome_json(inches)["designs"][0]["told"]["not-judged"]  # type: ignore[index, call-overload]
    assert told[0] == f"{US.told(SAID)} [bell-fit]"
    assert "(1.97 in) may not fit" in told[0]
    assert "nobody knows the guard [bell-fit]" in read(sheet_html(answer)).words["rules"]
    assert "Not judged" not in read(sheet_html(outcome_json(outcome))).words["rules"]


def test_an_answer_of_before_has_its_sheet(unsure: Outcome) -> None:
    """An answer stored without the key is right as it is, and its sheet says nothing of it."""
    answer = copy.deepcopy(outcome_json(unsure))
    for design in answer["designs"]:  # type: ignore[attr-defined]
        del design["told"]["not-judged"]
    assert not list(wrong_in(answer))
    assert "Not judged" not in read(sheet_html(answer)).words["rules"]
