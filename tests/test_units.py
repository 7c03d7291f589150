"""Text with units to SI floats and back, and SI floats to the solver's integers."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.errors import QuantityError
from autoplan.units import (
    STEP_TOLERANCE,
    Dimension,
    cents_down,
    read,
    tenth_mm_down,
    tenth_mm_up,
    write,
)

# Exact by definition: the international inch, 25.4 mm, and pound, 0.45359237 kg (1959 agreement); the US
# gallon, 231 cubic inches; the imperial gallon, 4.54609 L; standard gravity, 9.80665 m/s2 (3rd CGPM, 1901).
G = 9.80665
PSI = 0.45359237 * G / 0.0254**2


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("65in", Dimension.LENGTH, 1.651),
        ("1650 mm", Dimension.LENGTH, 1.65),
        ("0.9 m", Dimension.LENGTH, 0.9),
        (".5 ft", Dimension.LENGTH, 0.1524),
        ("\u2212500 mm", Dimension.LENGTH, -0.5),
        ("3/4 in", Dimension.LENGTH, 0.01905),
        ("1 1/2 in", Dimension.LENGTH, 0.0381),
        ("-1-1/2in", Dimension.LENGTH, -0.0381),
        ("5 ft 6 in", Dimension.LENGTH, 1.6764),
        ("5ft 11.5in", Dimension.LENGTH, 71.5 * 0.0254),
        ("-2 feet 3 1/4 inches", Dimension.LENGTH, -27.25 * 0.0254),
        ("5 foot 0 inch", Dimension.LENGTH, 1.524),
        ("1/2 /hour", Dimension.RATE, 0.5 / 3600),
        ("12 ft\u00b2", Dimension.AREA, 12 * 0.3048**2),
        ("1.2 m2", Dimension.AREA, 1.2),
        ("1600 L", Dimension.VOLUME, 1.6),
        ("1.6 m^3", Dimension.VOLUME, 1.6),
        ("275 gal", Dimension.VOLUME, 275 * 231 * 0.0254**3),
        ("10 imp_gal", Dimension.VOLUME, 0.0454609),
        ("3600 L/h", Dimension.FLOW, 0.001),
        ("3600 L per hour", Dimension.FLOW, 0.001),
        ("60 gpm", Dimension.FLOW, 231 * 0.0254**3),
        ("1.5/hour", Dimension.RATE, 1.5 / 3600),
        ("1.5 per hour", Dimension.RATE, 1.5 / 3600),
        ("36 / day", Dimension.RATE, 1.5 / 3600),
        ("68 degF", Dimension.TEMPERATURE, 20.0),
        ("20 \u00b0C", Dimension.TEMPERATURE, 20.0),
        ("2.5 m", Dimension.PRESSURE_HEAD, 2.5),
        ("1 bar", Dimension.PRESSURE_HEAD, 1e5 / (1000 * G)),
        ("100 kPa", Dimension.PRESSURE_HEAD, 1e5 / (1000 * G)),
        ("10 psi", Dimension.PRESSURE_HEAD, 10 * PSI / (1000 * G)),
        ("5 ft/s", Dimension.VELOCITY, 1.524),
        ("1 hp", Dimension.POWER, 550 * 0.3048 * 0.45359237 * G),
        ("40 %", Dimension.NUMBER, 0.4),
        ("0.4", Dimension.NUMBER, 0.4),
        (2, Dimension.NUMBER, 2.0),
        ("36 years", Dimension.YEARS, 36.0),
        (3, Dimension.YEARS, 3.0),
        (0.3, Dimension.ENERGY_PRICE, 0.3),
        ("0.3/kWh", Dimension.ENERGY_PRICE, 0.3),
    ],
)
def test_reads_what_a_builder_writes(text: object, dimension: Dimension, si: float) -> None:
    """Common ways to write a quantity give its SI value, by the units' definitions."""
    assert read(text, dimension) == pytest.approx(si, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "dimension", "problem", "remedy"),
    [
        (65, Dimension.LENGTH, "65 has no unit", 'write e.g. "65 mm" or "65 in"'),
        ("65", Dimension.LENGTH, '"65" has no unit', 'write e.g. "65 mm" or "65 in"'),
        ("3 kg", Dimension.LENGTH, '"3 kg" is a mass, a length is needed', 'write e.g. "3 mm" or "3 in"'),
        ("5 L", Dimension.FLOW, '"5 L" is a volume, a flow is needed', 'write e.g. "5 L/h" or "5 gal/h"'),
        ("3 m", Dimension.AREA, '"3 m" is a length, an area is needed', 'write e.g. "3 m2" or "3 ft2"'),
        ("5 L", Dimension.NUMBER, '"5 L" is a volume, a number is needed', 'write e.g. 5 or "5 %"'),
        (
            "2 kg/m",
            Dimension.LENGTH,
            '"2 kg/m" is a different kind of quantity, a length is needed',
            'write e.g. "2 mm" or "2 in"',
        ),
        (
            "1,600 L",
            Dimension.VOLUME,
            '"1,600 L" has a comma, which may mark thousands or decimals',
            "write the number without a comma and with a point for decimals, as in 1600 or 1.6",
        ),
        (
            "6'",
            Dimension.LENGTH,
            '"6\'" has a foot or inch mark',
            'write the unit out, as in "6 ft" or "6 ft 3 in"',
        ),
        *(
            (
                text,
                Dimension.LENGTH,
                f'"{text}" is not one number',
                'write it as in "1.5 in" or "1 1/2 in"',
            )
            for text in (
                *("1 3/2 in", "1 2/2 in", "1/0 in", "0/5 in", "5-6 in", "1 1/2/4 in", "1.5/2 in", "1 2 in"),
                *("1 000/2 in", f"{'9' * 20}/2 in"),
            )
        ),
        (
            "5 ft 12 in",
            Dimension.LENGTH,
            '"5 ft 12 in" has a foot or more of inches beside its feet',
            'write it as in "5 ft 6 in"',
        ),
        (
            "5 ft 6",
            Dimension.LENGTH,
            '"5 ft 6" has inches without their unit',
            'write it as in "5 ft 6 in"',
        ),
        (
            "5 ft 6 in",
            Dimension.VOLUME,
            '"5 ft 6 in" has a unit that cannot be read',
            'write e.g. "5 L" or "5 gal"',
        ),
        ("5 MM", Dimension.LENGTH, '"5 MM" has an unknown unit "MM"', 'did you mean "mm"'),
        ("5 metrs", Dimension.LENGTH, '"5 metrs" has an unknown unit "metrs"', 'did you mean "metre"'),
        ("0 NAN", Dimension.LENGTH, '"0 NAN" has an unknown unit "NAN"', 'write e.g. "0 mm" or "0 in"'),
        ("5 inf", Dimension.LENGTH, '"5 inf" has an unknown unit "inf"', 'did you mean "in"'),
        (
            "5 mn",
            Dimension.LENGTH,
            '"5 mn" has an unknown unit "mn"',
            'write e.g. "5 mm" or "5 in"',
        ),
        ("5 m)", Dimension.LENGTH, '"5 m)" has a unit that cannot be read', 'write e.g. "5 mm" or "5 in"'),
        ("", Dimension.LENGTH, '"" does not start with a number', 'write e.g. "1.5 mm" or "1.5 in"'),
        (
            "nan m",
            Dimension.LENGTH,
            '"nan m" does not start with a number',
            'write e.g. "1.5 mm" or "1.5 in"',
        ),
        ("1e999 m", Dimension.LENGTH, '"1e999 m" is not a finite number', "write an ordinary number"),
        (float("nan"), Dimension.NUMBER, "nan is not a finite number", "write an ordinary number"),
        (10**400, Dimension.NUMBER, "a huge number is not a finite number", "write an ordinary number"),
        (True, Dimension.NUMBER, "true is not a number with a unit", 'write e.g. 1.5 or "1.5 %"'),
        (
            [1],
            Dimension.LENGTH,
            "[1] is not a number with a unit",
            'write e.g. "1.5 mm" or "1.5 in"',
        ),
    ],
)
def test_says_what_is_wrong_and_what_would_be_right(
    text: object, dimension: Dimension, problem: str, remedy: str
) -> None:
    """Each kind of wrong text has its own sentence and its own remedy."""
    with pytest.raises(QuantityError) as caught:
        read(text, dimension)
    assert (caught.value.problem, caught.value.remedy) == (problem, remedy)


INCH, YARD, GALLON = Fraction(254, 10**4), Fraction(9144, 10**4), 231 * Fraction(254, 10**4) ** 3
EXACT = {
    Dimension.LENGTH: {
        "mm": Fraction(1, 1000),
        "cm": Fraction(1, 100),
        "m": Fraction(1),
        "in": INCH,
        "yd": YARD,
    },
    Dimension.AREA: {"m2": Fraction(1), "cm2": Fraction(1, 10**4), "ft2": (12 * INCH) ** 2},
    Dimension.VOLUME: {"L": Fraction(1, 1000), "ml": Fraction(1, 10**6), "m3": Fraction(1), "gal": GALLON},
    Dimension.FLOW: {"L/h": Fraction(1, 3_600_000), "m3/h": Fraction(1, 3600), "gpm": GALLON / 60},
    Dimension.RATE: {"/hour": Fraction(1, 3600), "/day": Fraction(1, 86400)},
    Dimension.VELOCITY: {"m/s": Fraction(1), "ft/min": 12 * INCH / 60},
    Dimension.POWER: {"W": Fraction(1), "kW": Fraction(1000)},
    Dimension.TIME: {"s": Fraction(1), "min": Fraction(60), "h": Fraction(3600), "days": Fraction(86400)},
    Dimension.NUMBER: {"%": Fraction(1, 100), "": Fraction(1)},
}
"""What each unit comes to in that of its dimension, exactly, by the definitions above."""


@st.composite
def numbers(draw: st.DrawFn) -> tuple[str, Fraction]:
    """A number as a builder may write it, and its exact value."""
    whole, sign = draw(st.integers(0, 9999)), draw(st.sampled_from(("", "-", "\u2212", "+")))
    tail = draw(st.text("0123456789", min_size=1, max_size=4))
    over, under = sorted(draw(st.lists(st.integers(1, 99), min_size=2, max_size=2, unique=True)))
    text, value = draw(
        st.sampled_from(
            (
                (f"{whole}", Fraction(whole)),
                (f"{whole}.{tail}", whole + Fraction(int(tail), 10 ** len(tail))),
                (f".{tail}", Fraction(int(tail), 10 ** len(tail))),
                (f"{over}/{under}", Fraction(over, under)),
                (f"{whole} {over}/{under}", whole + Fraction(over, under)),
                (f"{whole}-{over}/{under}", whole + Fraction(over, under)),
                (f"{whole}e-2", Fraction(whole, 100)),
            )
        )
    )
    return sign + text, -value if sign in ("-", "\u2212") else value


@given(
    numbers(),
    st.sampled_from([(dimension, *unit) for dimension, units in EXACT.items() for unit in units.items()]),
    st.sampled_from(("", " ", "  ")),
)
def test_what_is_read_is_the_number_times_its_unit(
    number: tuple[str, Fraction], unit: tuple[Dimension, str, Fraction], gap: str
) -> None:
    """Whatever way a number is written, before whatever unit, the value is their exact product."""
    (written, value), (dimension, name, factor) = number, unit
    assert read(f"{written}{gap}{name}", dimension) == pytest.approx(float(value * factor), rel=1e-11, abs=0)


SCRAPS = (
    *("0", "7", "12", ".", ",", "/", "-", "\u2212", "+", " ", "e", "x", "\u00d7", "per", "nan", "inf"),
    *("1e999", "mm", "m", "m2", "ft", "in", "L", "gal", "h", "hour", "s", "kWh", "degF", "%", "bar", "'"),
)
"""Of such a quantity is made, and much that is none."""


@given(
    st.text(max_size=20) | st.lists(st.sampled_from(SCRAPS), max_size=6).map("".join),
    st.sampled_from(Dimension),
)
def test_any_text_is_a_quantity_or_a_quantity_error(text: str, dimension: Dimension) -> None:
    """No text makes the border raise anything else, and none becomes a value that it does not spell.

    A value is a finite number; it takes a digit to be any, a minus to be less than nothing, and is the same
    with spaces around it.
    """
    try:
        value = read(text, dimension)
    except QuantityError:
        return
    assert math.isfinite(value)
    assert any(char.isdigit() for char in text)
    if dimension is not Dimension.TEMPERATURE:
        assert value >= 0 or set(text) & {"-", "\u2212"}
    assert read(f" {text} ", dimension) == value


@given(
    st.floats(1e-6, 1e4).map(lambda value: float(f"{value:.12g}")),
    st.sampled_from([dimension for dimension in Dimension if dimension is not Dimension.TEMPERATURE]),
)
def test_written_text_reads_back_to_the_same_float(si: float, dimension: Dimension) -> None:
    """`write` then `read` loses nothing of a number with twelve digits."""
    assert read(write(si, dimension), dimension) == si


@given(st.floats(-40, 90).map(lambda value: round(value, 6)))
def test_temperatures_read_back(celsius: float) -> None:
    """Temperatures survive the way out and in, to a nanokelvin."""
    assert read(write(celsius, Dimension.TEMPERATURE), Dimension.TEMPERATURE) == pytest.approx(
        celsius, abs=1e-9
    )


@pytest.mark.parametrize(
    ("si", "dimension", "text"),
    [
        (0.9, Dimension.LENGTH, "900 mm"),
        (2.5, Dimension.LENGTH, "2.5 m"),
        (0.0, Dimension.LENGTH, "0 mm"),
        (1.6, Dimension.VOLUME, "1600 L"),
        (1.5 / 3600, Dimension.RATE, "1.5/hour"),
        (read("2400 L/h", Dimension.FLOW), Dimension.FLOW, "2400 L/h"),
        (20.0, Dimension.TEMPERATURE, "20 degC"),
        (3.0, Dimension.YEARS, "3 years"),
        (0.3, Dimension.ENERGY_PRICE, "0.3/kWh"),
        (0.4, Dimension.NUMBER, "0.4"),
    ],
)
def test_writes_metric_text_short(si: float, dimension: Dimension, text: str) -> None:
    """Metric text as a builder would write it, without float noise."""
    assert write(float(f"{si:.12g}"), dimension) == text


def test_one_length_written_two_ways_is_one_float() -> None:
    """900 mm, 0.9 m and 90 cm are the same number, though 900 * 0.001 is not 0.9 in every arithmetic."""
    assert (
        read("900 mm", Dimension.LENGTH) == read("0.9 m", Dimension.LENGTH) == read("90 cm", Dimension.LENGTH)
    )


def test_noise_adds_no_step_but_a_real_excess_does() -> None:
    """A millionth of a step past a whole step still counts as it; more goes against the designer."""
    assert tenth_mm_up(0.1 + 0.2) == 3000
    assert tenth_mm_up(0.3 + 0.9e-10) == 3000
    assert tenth_mm_up(0.3 + 1.1e-10) == 3001
    assert tenth_mm_down(0.3 - 0.9e-10) == 3000
    assert tenth_mm_down(0.3 - 1.1e-10) == 2999
    assert cents_down(899.999) == 89999
    assert cents_down(900) == 90000


@given(st.floats(-50, 50))
def test_rounding_stays_within_one_step_on_the_safe_side(metres: float) -> None:
    """Up is never under, down never over, by more than the stated tolerance, and both are within a step."""
    exact = Fraction(metres) * 10_000
    slack = Fraction(2 * STEP_TOLERANCE)
    assert -slack <= tenth_mm_up(metres) - exact < 1
    assert -slack <= exact - tenth_mm_down(metres) < 1


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 m 20", Dimension.LENGTH, 1.2),
        ("1m05", Dimension.LENGTH, 1.05),
        ("1 m 5 cm", Dimension.LENGTH, 1.05),
        ("-1 m 20", Dimension.LENGTH, -1.2),
        ("120 cm", Dimension.LENGTH, 1.2),
        ("4 ft", Dimension.LENGTH, 1.2192),
        ("260 gallons", Dimension.VOLUME, 260 * 231 * 0.0254**3),
        ("1.2 m x 80 cm", Dimension.AREA, 0.96),
        ("1.2 x 0.8 m", Dimension.AREA, 0.96),
        ("1 m 20 x 1 m", Dimension.AREA, 1.2),
        ("4 ft × 3 ft", Dimension.AREA, 12 * 0.3048**2),
        ("4 ft 6 in x 2 ft", Dimension.AREA, 9 * 0.3048**2),
        ("12 sq ft", Dimension.AREA, 12 * 0.3048**2),
        ("2 square metres", Dimension.AREA, 2.0),
    ],
)
def test_reads_what_is_said_at_the_tape(text: str, dimension: Dimension, si: float) -> None:
    """Metres and centimetres in one breath, an area by its sides; by the inch of 25.4 mm exactly."""
    assert read(text, dimension) == pytest.approx(si, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "dimension", "problem"),
    [
        ("1 m 5", Dimension.LENGTH, "is not one length"),
        ("1 m 205", Dimension.LENGTH, "is not one length"),
        ("1 m 20", Dimension.VOLUME, "cannot be read"),
        ("5 m2", Dimension.LENGTH, "is an area"),
        ("5 m3", Dimension.LENGTH, "is a volume"),
        ("1.2 x 0.8", Dimension.AREA, "is not a length times a width"),
        ("1.2 m x 2 L", Dimension.AREA, "is not a length times a width"),
        ("-1 m x -2 m", Dimension.AREA, "has a side below zero"),
        ("3 x", Dimension.AREA, 'unknown unit "x"'),
    ],
)
def test_refuses_what_could_be_two_things(text: str, dimension: Dimension, problem: str) -> None:
    """A digit that could be tens or ones, sides without a unit, an area that is none."""
    with pytest.raises(QuantityError) as caught:
        read(text, dimension)
    assert problem in caught.value.problem


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_not_finite_cannot_be_rounded(value: float) -> None:
    """The solver never sees what is not a number."""
    with pytest.raises(ValueError, match="cannot be rounded"):
        tenth_mm_up(value)


def test_pint_is_imported_only_when_a_unit_is_read() -> None:
    """The integers cost no start-up time."""
    code = "import sys, autoplan.units as u; u.tenth_mm_up(1.0); assert 'pint' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
