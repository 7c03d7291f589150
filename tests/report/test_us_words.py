"""The builder's units beside tables and lengths: temperatures, fish, weights, refusals."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.problem.toml.load import load_problem
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.units import SI, US
from autoplan.sentence import Written, as_written, say

ANY_WAY = Path(__file__).parents[2] / "problems" / "any-way.toml"

METRIC = re.compile(r"\bC\b|\bkg a litre|kg of fish|\bm3\b(?! \()|degC(?! \()")


def us(outcome: Outcome) -> Outcome:
    """The same for a builder who reads US units."""
    return replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))


@pytest.mark.parametrize(
    ("celsius", "metric", "other"), [(5.0, "5 C", "41 F"), (30.0, "30 C", "86 F"), (15.0, "15 C", "59 F")]
)
def test_temperatures(celsius: float, metric: str, other: str) -> None:
    """9/5 and 32 more."""
    assert (SI.temperature(celsius), US.temperature(celsius)) == (metric, other)


def test_fish_in_water_and_what_water_weighs() -> None:
    """20 kg in 264.17 gal are 44.09 lb, 0.167 a gallon; a gallon is 3.785 kg, 8.345 lb, rounded up."""
    assert SI.stocking(20.0, " of fish") == "20 kg of fish in a m3"
    assert US.stocking(20.0, " of fish") == "0.17 lb of fish in a gallon"
    assert (SI.water_weighs, US.water_weighs) == ("1 kg a litre", "8.4 lb a gallon")


@pytest.mark.parametrize(
    ("text", "other"),
    [
        ("20 kg/m3", "20 kg/m3 (0.17 lb in a gallon)"),
        ("20 degC", "20 degC (68 F)"),
        ("570 mm", "570 mm (22.44 in)"),
        ("siphon", "siphon"),
    ],
)
def test_a_value_as_a_problem_file_has_it(text: str, other: str) -> None:
    """In brackets in US units, alone in metric ones; what is no quantity stays."""
    assert (SI.written(text), US.written(text)) == (text, other)
    said = say("at most {}", Written(text))
    assert (SI.told(said), US.told(said)) == (f"at most {text}", f"at most {other}")
    assert as_written(said) == f"at most {text}"


def test_what_cannot_be_built_is_told_in_both() -> None:
    """Why an arrangement is left out: its heights also in inches, and the same words in metric."""
    problem = load_problem(ANY_WAY)
    (left_out,) = problem.left_out
    assert as_written(left_out) == SI.told(left_out)
    assert "at most at 570 mm, to bed 1, at least at 950 mm" in SI.told(left_out)
    assert "at most at 570 mm (22.44 in), to bed 1, at least at 950 mm (37.40 in)" in US.told(left_out)


def test_no_metric_words_are_left(outcome: Outcome) -> None:
    """No degrees C, no kilograms in a litre or a m3 alone in a whole plan; in metric units there are."""
    told = {
        units: " ".join(plain_text(report(one)).split())
        for units, one in ((SI.name, outcome), (US.name, us(outcome)))
    }
    assert METRIC.search(told[SI.name])
    assert not METRIC.findall(told[US.name])
