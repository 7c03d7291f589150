"""The builder's units: exact factors, rounding that never misleads, and a whole answer told in them."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from autoplan.errors import InputError
from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report import units as module
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.units import SI, US, Gauge, feet_and_inches, sixteenths, units_of
from autoplan.sentence import Amount, say
from tests.lists import rewritten

PROBLEMS = Path(__file__).parents[2] / "problems"

LENGTHS_M = st.floats(-30.0, 30.0)


def _us(outcome: Outcome) -> Outcome:
    return replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))


def _words(text: str) -> str:
    return " ".join(text.split())


def test_factors_are_exact() -> None:
    """Inch, foot, gallon and fluid ounce as in scipy's table (NIST SP 811); a gallon is 3.785411784 L."""
    assert scipy.constants.inch == module.INCH_M
    assert pytest.approx(scipy.constants.foot, rel=1e-15) == module.FOOT_M
    assert pytest.approx(scipy.constants.gallon, rel=1e-15) == module.GALLON_M3
    assert pytest.approx(scipy.constants.fluid_ounce, rel=1e-15) == module.FLUID_OUNCE_M3
    assert pytest.approx(3.785411784e-3, rel=1e-15) == module.GALLON_M3


@pytest.mark.parametrize(
    ("steps", "shown"),
    [
        (0, "0"),
        (1, "1/16"),
        (2, "1/8"),
        (8, "1/2"),
        (15, "15/16"),
        (16, "1"),
        (756, "47-1/4"),
        (-24, "-1-1/2"),
        (-3, "-3/16"),
        (-16, "-1"),
    ],
)
def test_sixteenths_are_told_as_on_a_tape(steps: int, shown: str) -> None:
    """Lowest terms, whole inches first, the sign in front of both."""
    assert sixteenths(steps) == shown


@pytest.mark.parametrize(
    ("inches", "shown"),
    [(0, "0 in"), (11, "11 in"), (12, "1 ft 0 in"), (152, "12 ft 8 in"), (-13, "-1 ft 1 in")],
)
def test_runs_are_told_in_feet_and_inches(inches: int, shown: str) -> None:
    """Twelve inches are a foot; a run under a foot has none."""
    assert feet_and_inches(inches) == shown


@pytest.mark.parametrize(("off_m", "shown"), [(1e-5, "10-1/16"), (-1e-5, "10")])
def test_pieces_round_to_the_nearest_sixteenth(off_m: float, shown: str) -> None:
    """On either side of 10 1/32 in a piece goes to the nearer mark."""
    half = (10 + 1 / 32) * 0.0254
    assert US.piece.text(half + off_m) == shown
    assert US.height.text(half + off_m) == shown


@pytest.mark.parametrize(("off_m", "shown"), [(1e-6, "101"), (-1e-6, "100")])
def test_pieces_round_to_the_nearest_millimetre(off_m: float, shown: str) -> None:
    """On either side of 100.5 mm a piece goes to the nearer one."""
    assert SI.piece.text(0.1005 + off_m) == shown


@pytest.mark.parametrize("half_m", [0.6825, 0.6835, -0.0175])
def test_halves_add_up_over_a_floor(half_m: float) -> None:
    """A level halfway between two marks is as high over a floor of 500 mm as the two figures tell."""
    floor, level = 0.5, 0.5 + half_m
    assert int(SI.piece.text(level)) - int(SI.piece.text(floor)) == int(SI.piece.text(level - floor))


@given(LENGTHS_M)
def test_a_tape_figure_is_within_a_thirty_second(length_m: float) -> None:
    """What is read off the tape, fraction and all, is within 1/32 in of the length."""
    shown = US.piece.text(length_m)
    value = sum(map(Fraction, shown.removeprefix("-").split("-")))
    value = -value if shown.startswith("-") else value
    assert abs(float(value) - length_m / 0.0254) <= 1 / 32 + 1e-9
    assert float(US.piece.number(length_m)) == float(value)


@pytest.mark.parametrize(
    "gauge",
    [SI.small, US.small, SI.head, US.head, SI.flow, US.flow, US.height],
    ids=lambda gauge: f"{gauge.unit}-{gauge.per_unit}",
)
@given(value=st.floats(-5.0, 5.0))
def test_margins_are_never_overstated(gauge: Gauge, value: float) -> None:
    """Rounded down a figure is at most the value, and short of it by less than a step."""
    steps = gauge.steps_down(value)
    exact = value / gauge.si * gauge.per_unit
    assert exact - 1 < steps <= exact + 1e-6 * (1 + abs(exact))


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0.0"), (-1e-12, "0.0"), (12.49, "12.4"), (-0.01, "-0.1")]
)
def test_a_margin_below_nothing_is_not_told_as_nothing(value: float, shown: str) -> None:
    """Dust is nothing; a rule missed by a hundredth of a millimetre is told as missed."""
    assert SI.measure_down(value, "mm") == shown


@pytest.mark.parametrize(
    ("hole_mm", "shown"),
    [
        (63.5, "2-1/2"),
        (60.325, "2-3/8"),
        (64.0, "2.52"),
        (27.5, "1.08"),
        (50.8, "2"),
        (47.6, "1-7/8"),
        (6.0, "0.24"),
    ],
)
def test_a_hole_is_a_fraction_only_if_it_is_one(hole_mm: float, shown: str) -> None:
    """63.5 mm is 2-1/2 in; 64 mm is not, and is told in the nearest hundredths."""
    assert US.hole.text(hole_mm / 1000) == shown
    assert SI.hole.text(hole_mm / 1000) == f"{hole_mm:.1f}".removesuffix(".0")


@pytest.mark.parametrize(
    ("value", "unit", "us", "word"),
    [
        (41.25, "mm", "1.62", "in"),  # / 25.4
        (1.95, "m", "6.40", "ft"),  # / 0.3048
        (0.29, "m/s", "0.95", "ft/s"),
        (1800.0, "L/h", "475.5", "gph"),  # / 3.785411784
        (3.0, "L", "0.8", "gal"),
        (3.0, "valves", "3", "valves"),
        (0.5, "share", "0.50", "share"),
        (33.8, "money", "33.80", "EUR"),
        (float("inf"), "mm", "no limit", "in"),
    ],
)
def test_findings_in_us_units(value: float, unit: str, us: str, word: str) -> None:
    """Each unit of a finding has its US counterpart, worked out by hand; counts and money stay."""
    assert US.measure(value, unit) == us
    assert US.word(unit, "EUR") == word
    assert SI.word(unit, "EUR") == (word if unit in ("valves", "share", "money") else unit)


@pytest.mark.parametrize("units", [SI, US], ids=["si", "us"])
def test_a_broken_limit_does_not_look_kept(units: module.Units) -> None:
    """0.2999 against 0.3 m/s is told with the decimals it takes; equal numbers stay as short as ever."""
    value, limit = units.told_apart(0.2999, 0.3, "m/s")
    assert float(value) < float(limit)
    same = units.measure(0.3, "m/s")
    assert units.told_apart(0.3, 0.3, "m/s") == (same, same)


def test_quantities_of_a_sentence_are_told_in_both_units() -> None:
    """Quantities are metric, and in brackets what is asked for; whatever else stands there stays as it is."""
    raised = say("Raising {} by {} would do.", "tank {2 m}", Amount(0.035, "mm"))
    assert US.told(raised) == "Raising tank {2 m} by 35 mm (1.38 in) would do."
    assert SI.told(raised) == "Raising tank {2 m} by 35 mm would do."
    assert US.told(say("{}; {}", raised, "4 m")) == f"{US.told(raised)}; 4 m"
    # A head of 1.234 m is told as 1.23 m, which is 4.04 ft; 1.234 m would be 4.05 ft.
    assert US.told(say("{}", Amount(1.234, "m", 2))) == "1.23 m (4.04 ft)"
    assert US.told(say("{}", Amount(1000 / 3.6e6, "L/h", 0))) == "1000 L/h (264.2 gph)"


def test_values_of_a_file_get_a_translation() -> None:
    """Metric lengths and flows of a problem file are followed by what they are; other values are not."""
    assert US.written("[1.2 m, -0.8 m]") == "[1.2 m (3.94 ft), -0.8 m (-2.62 ft)]"
    assert US.written("1000 L/hour") == "1000 L/hour (264.2 gph)"
    assert US.written("1.5 m/s") == "1.5 m/s (4.92 ft/s)"
    for text in ("1.5/hour", "pn10-50-6m", "4 mains", "2 m2", "[90, 45]", "standpipe", "a lot L"):
        assert US.written(text) == text
    assert SI.written("35 mm") == "35 mm"


def test_valves_are_set_by_a_bucket_of_five_gallons() -> None:
    """1800 L/h is 0.5 L/s, so 5 gal (18.93 L) take 38 s and 10 L take 20 s."""
    assert (US.bucket, US.bucket_seconds(0.0005)) == ("5 gal", "38")
    assert (SI.bucket, SI.bucket_seconds(0.0005)) == ("10 L", "20")


def test_a_whole_answer_in_us_units(outcome: Outcome) -> None:
    """Each section of the hand-made answer, converted by hand, and no metric unit but in texts of others."""
    text = plain_text(report(_us(outcome)))
    words = _words(text)
    # Spare head 0.30 m and spare fall 12.5 mm, both rounded down.
    assert "0.98 ft" in words
    assert "0.49 in" in words
    # 1800 L/h; duty head 1.95 m; needed 1.5 m.
    assert re.search(r"475\.5 +6\.40 +4\.92 +35", text)
    # Tank drain: bore 46.4 mm, 2.1 m long, 0.2957 m/s, loss 12.3 mm.
    assert re.search(r"metric 50 +1\.83 +6 ft 11 in +475\.5 +0\.97 +0\.48", text)
    # 1.2 m2 by 25.4 mm are 30.5 L, which 0.5 L/s bring in 61 s.
    assert "set the valve so that the water in fish tank rises 1 in in 61 s" in words
    # Tank: floor 0.5 m, water 1.2712 m, overload 1.3105 m, rim 1.4 m above the datum.
    assert re.search(
        r"fish tank +19-11/16 \(0\) +50-1/16 \(30-3/8\) +51-5/8 \(31-15/16\) +55-1/8 \(35-7/16\)", text
    )
    # Hole 734.5 mm above the floor, 63.5 mm wide.
    assert re.search(r"fish tank +tank drain +wall +28-15/16 +2-1/2", text)
    # Pieces of 1.2 m and 0.9 m from a stick of 3 m, which leaves 894 mm.
    assert re.search(r"drain pipe 50 mm, +no\. 1 +118-1/8 +47-1/4 +tank drain: leg 1 +35-1/8", text)
    # 2.1 m of pipe used.
    assert re.search(r"drain-50 .* 6\.89 ft", text)
    # 3 L spilled, margin -4 mm.
    assert re.search(r"drain half blocked +0\.8 +3/16 over +- +12", text)
    assert "rules.drain-fall.reserve = 10 mm (0.39 in)" in words


def test_no_metric_unit_is_left(outcome: Outcome) -> None:
    """But for the shop's descriptions and texts of others, which are translated, nothing is told in SI."""
    described = rewritten(outcome.catalog, lambda row: replace(row, description="as sold"))
    plain = replace(outcome, catalog=described)
    metric = re.compile(r"\b(mm|m|L|L/h|m/s|millimetres|metres)(?![\w/])(?! \()", re.IGNORECASE)
    assert not metric.findall(plain_text(report(_us(plain))))
    assert {"mm", "L/h", "m/s", "m", "Millimetres"} <= set(metric.findall(plain_text(report(plain))))


def test_files_stay_in_si(outcome: Outcome) -> None:
    """The numbers of the JSON are the same whatever is printed; sentences are in the units asked for."""
    us, si = (json.loads(json_text(each)) for each in (_us(outcome), outcome))
    assert (us["units"], si["units"]) == ("us", "si")
    assert "gal" in json.dumps(us["designs"][0]["told"])
    assert "gal" not in json.dumps(si["designs"][0]["told"])
    assert _numbers(us) == _numbers(si)


def _numbers(data: object) -> object:
    """Data as read from JSON with every text left out."""
    if isinstance(data, dict):
        return {key: _numbers(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_numbers(item) for item in data if not isinstance(item, str)]
    return None if isinstance(data, str) else data


def test_units_by_name() -> None:
    """Each name has its units."""
    assert units_of(PrintUnits.SI) is SI
    assert units_of(PrintUnits.US) is US


def test_a_problem_names_its_units(tmp_path: Path) -> None:
    """SI unless the file says otherwise, in the short form as in the long one that it expands to."""
    short = (PROBLEMS / "one-tank-one-bed.toml").read_text()
    file = tmp_path / "p.toml"
    for line, units in (("", PrintUnits.SI), ('print_units = "us"\n', PrintUnits.US)):
        file.write_text(line + short)
        site = load_problem(file)
        assert site.print_units is units
        file.write_text(expand_to_toml(site))
        assert "[[vessel]]" in file.read_text()
        assert load_problem(file).print_units is units


@pytest.mark.parametrize("value", ['"metric"', "1", '["us"]', '"US"'])
def test_unknown_units_are_a_mistake(tmp_path: Path, value: str) -> None:
    """Anything but the two names is told with both of them."""
    file = tmp_path / "p.toml"
    file.write_text(f"print_units = {value}\n" + (PROBLEMS / "one-tank-one-bed.toml").read_text())
    with pytest.raises(InputError) as error:
        load_problem(file)
    assert [mistake.place for mistake in error.value.mistakes] == ["print_units"]
    assert all(name in str(error.value) for name in ('"si"', '"us"'))


def test_the_us_problem_prints_us_units() -> None:
    """The worked problem in inches and gallons asks for its answer in them."""
    assert load_problem(PROBLEMS / "us-units.toml").print_units is PrintUnits.US
