"""The border between text with units and SI floats, and between SI floats and the solver's integers.

Pint lives here and nowhere else. Its own table of some thousand units costs more start-up time than a whole
problem does, so a registry is built from `DEFINITIONS`, the few dozen units that a builder writes.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplan.errors import QuantityError

DEFINITIONS = """
meter = [length] = m = metre
millimeter = 1e-3 * meter = mm = millimetre
centimeter = 1e-2 * meter = cm = centimetre
inch = 0.0254 * meter = in = inches
foot = 12 * inch = ft = feet
yard = 3 * foot = yd
second = [time] = s = sec
minute = 60 * second = min
hour = 3600 * second = h = hr
day = 24 * hour = d
year = 365.25 * day = yr
kilogram = [mass] = kg
gram = 1e-3 * kilogram = g
pound = 0.45359237 * kilogram = lb
liter = 1e-3 * meter ** 3 = L = l = litre
milliliter = 1e-3 * liter = mL = ml = millilitre
gallon = 231 * inch ** 3 = gal = us_gal
imperial_gallon = 4.54609 * liter = imp_gal
gallon_per_minute = gallon / minute = gpm
gallon_per_hour = gallon / hour = gph
newton = kilogram * meter / second ** 2 = N
pascal = newton / meter ** 2 = Pa
kilopascal = 1e3 * pascal = kPa
bar = 1e5 * pascal
millibar = 100 * pascal = mbar
psi = 6894.757293168 * pascal
meter_of_water = 9806.65 * pascal = mH2O
joule = newton * meter = J
watt = joule / second = W
kilowatt = 1e3 * watt = kW
horsepower = 745.6998715822702 * watt = hp
kilowatt_hour = 3.6e6 * joule = kWh
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = degC = celsius = C
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF = fahrenheit = F
percent = 0.01
"""
"""Units in pint's own notation. The gallon is the US one; a metre of water is the conventional 9806.65 Pa."""


class Dimension(StrEnum):
    """What a number measures, and so in which unit `read` returns it."""

    LENGTH = "length"  # m
    AREA = "area"  # m2
    VOLUME = "volume"  # m3
    FLOW = "flow"  # m3/s
    RATE = "rate"  # 1/s
    TEMPERATURE = "temperature"  # C
    PRESSURE_HEAD = "pressure"  # m of water; also read from bar, kPa, psi
    VELOCITY = "velocity"  # m/s
    POWER = "power"  # W
    TIME = "time"  # s
    NUMBER = "number"  # a plain number or percent
    YEARS = "time in years"  # a; a plain number is years
    STOCKING = "mass in a volume"  # kg/m3
    ENERGY_PRICE = "price per kWh"  # money per kWh; a plain number is per kWh


@dataclass(frozen=True, slots=True)
class _Border:
    """How one dimension is written: unit it is read to, unit it is shown in, two units to suggest."""

    to: str
    shown: str
    suggest: tuple[str, str]
    bare: bool = False


_BORDERS = {
    Dimension.LENGTH: _Border("m", "mm", (" mm", " in")),
    Dimension.AREA: _Border("m**2", "m2", (" m2", " ft2")),
    Dimension.VOLUME: _Border("m**3", "L", (" L", " gal")),
    Dimension.FLOW: _Border("m**3/s", "L/h", (" L/h", " gal/h")),
    Dimension.RATE: _Border("1/s", "/hour", ("/hour", "/day")),
    Dimension.TEMPERATURE: _Border("degC", "degC", (" degC", " degF")),
    Dimension.PRESSURE_HEAD: _Border("m", "m", (" m", " bar")),
    Dimension.VELOCITY: _Border("m/s", "m/s", (" m/s", " ft/s")),
    Dimension.POWER: _Border("W", "W", (" W", " kW")),
    Dimension.TIME: _Border("s", "min", (" min", " s")),
    Dimension.NUMBER: _Border("", "", ("", " %"), bare=True),
    Dimension.YEARS: _Border("year", "years", (" years", ""), bare=True),
    Dimension.STOCKING: _Border("kg/m**3", "kg/m3", (" kg/m3", " lb/gal")),
    Dimension.ENERGY_PRICE: _Border("1/kWh", "/kWh", ("/kWh", ""), bare=True),
}

_NAMES = (
    ("m", "length"),
    ("m**2", "area"),
    ("m**3", "volume"),
    ("m**3/s", "flow"),
    ("1/s", "rate"),
    ("degC", "temperature"),
    ("Pa", "pressure"),
    ("m/s", "velocity"),
    ("W", "power"),
    ("J", "energy"),
    ("s", "time"),
    ("kg", "mass"),
    ("kg/m**3", "mass in a volume"),
    ("", "plain number"),
    ("1/J", "price per unit of energy"),
)

_VALUE = r"(?:\d{1,6}[ -])?\d{1,4}/\d{1,4}(?!\d)|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
"""A decimal, or a fraction as on a folding rule: 3/4, 1 1/2, 1-1/2."""

_NUMBER = re.compile(rf"([+-]?)({_VALUE})")
_FEET_AND_INCHES = re.compile(rf"([+-]?)({_VALUE}) ?(?:ft|foot|feet)[ -]?({_VALUE}) ?(?:in|inch|inches)")
_FEET_AND_MORE = re.compile(rf"[+-]?(?:{_VALUE}) ?(?:ft|foot|feet)[ -]?(?:{_VALUE})")
_METRES_AND_CENTIMETRES = re.compile(r"([+-]?)(\d+) ?m(?![23]\b) ?(\d+)(?: ?cm)?")
"""As on a tape: 1 m 20. A single digit behind it could be tens or ones, so it takes its unit."""

_SIDES = re.compile(r"([^x\u00d7]*\d[^x\u00d7]*)[x\u00d7]([^x\u00d7]*\d[^x\u00d7]*)")
"""An area by its two sides: 1.2 m x 80 cm."""

_WORD = r"[A-Za-z_]+(?:\*\*[23])?"
_NUMBERS = ("nan", "inf", "infinity")
"""Words that pint takes for numbers."""

_UNIT = re.compile(rf"(?:1/)?{_WORD}(?:[*/]{_WORD})*")


def read(text: object, dimension: Dimension) -> float:
    """Read one value of a file.

    Args:
        text: text such as "1600 L", "65in", "1 1/2 in", "5 ft 6 in" or "1 m 20", for an area also
            "4 ft x 3 ft"; a plain number where the dimension allows one.
        dimension: what the value must measure.

    Returns:
        The value in the unit that `Dimension` states, to twelve significant digits, so that 900 mm and 0.9 m
        are the same float.

    Raises:
        QuantityError: no number, no unit, an unknown unit, the wrong dimension, or not finite.
    """
    return _read_text(text, dimension) if isinstance(text, str) else _read(text, dimension)


@lru_cache(maxsize=4096)
def _read_text(text: str, dimension: Dimension) -> float:
    """The same of a text: rules and findings ask for the same few hundred again and again."""
    if dimension is Dimension.AREA and (sides := _SIDES.fullmatch(text)):
        return _area(sides[1].strip(), sides[2].strip(), text)
    return _read(text, dimension)


def _read(text: object, dimension: Dimension) -> float:
    number, unit = _split(text, dimension)
    _finite(number, text)
    border = _BORDERS[dimension]
    if not unit:
        if not border.bare:
            raise QuantityError(f"{quoted(text)} has no unit", _examples(number, dimension))
        return _finite(number, text)
    quantity = _quantity(number, unit, text, dimension)
    target = border.to
    if dimension is Dimension.PRESSURE_HEAD and quantity.check("[mass]/[length]/[time]**2"):
        target = "mH2O"
    if not quantity.is_compatible_with(target or "percent"):
        raise QuantityError(
            f"{quoted(text)} is {_article(_kind(quantity))}, {_article(dimension)} is needed",
            _examples(number, dimension),
        )
    return _finite(float(quantity.to(target).magnitude), text)


def _area(long: str, wide: str, text: str) -> float:
    """Length times width; the unit of the second goes for the first too, as in "1.2 x 0.8 m"."""
    if _NUMBER.fullmatch(long) and (found := _NUMBER.match(wide)):
        long += wide[found.end() :]
    remedy = 'write an area as in "1.2 m2", "1.2 m x 0.8 m" or "4 ft x 3 ft"'
    try:
        sides = read(long, Dimension.LENGTH), read(wide, Dimension.LENGTH)
    except QuantityError as error:
        raise QuantityError(f"{quoted(text)} is not a length times a width", remedy) from error
    if min(sides) < 0:
        raise QuantityError(f"{quoted(text)} has a side below zero", remedy)
    return _finite(sides[0] * sides[1], text)


def write(si: float, dimension: Dimension) -> str:
    """The shortest metric text that `read` turns back into the same number.

    Args:
        si: value in the unit that `Dimension` states.
        dimension: what it measures.

    A number with more than twelve significant digits is written with all of them in its own unit, and reads
    back to twelve.
    """
    border = _BORDERS[dimension]
    shown = border.shown
    if dimension is Dimension.LENGTH and abs(si) >= 1.0:
        shown = "m"
    gap = " " if shown and not shown.startswith("/") else ""
    scale = _scale(border.to, shown)
    for digits in range(1, 18):
        text = f"{_plain(si * scale, digits)}{gap}{shown}"
        if read(text, dimension) == si:
            return text
    unit = border.to.replace("**", "")
    return f"{si!r} {unit}".replace(" 1/", "/").rstrip()


TENTH_MM = 1e-4
"""What the model's heights and lengths are counted in [m]."""


def tenth_mm_up(metres: float) -> int:
    """Whole tenths of a millimetre, rounded up.

    Every rounding here has the same tolerance: a value within one millionth of a step of a whole step counts
    as that step (0.1 nm, a millionth of a cent), so the noise of 0.1 + 0.2 never costs a step.

    Args:
        metres: length or head [m].

    Raises:
        ValueError: not a finite number.
    """
    return _up(metres * 1e4)


def tenths_mm_up(metres: NDArray[np.float64]) -> NDArray[np.int64]:
    """`tenth_mm_up` of many values at once, with its tolerance and errors.

    Args:
        metres: lengths or heads [m].
    """
    if not np.isfinite(metres).all():
        raise ValueError("what is not finite cannot be rounded to a whole step")
    return np.ceil(metres * 1e4 - STEP_TOLERANCE).astype(np.int64)


def tenth_mm_down(metres: float) -> int:
    """Whole tenths of a millimetre, rounded down; tolerance and errors as in `tenth_mm_up`.

    Args:
        metres: length or head [m].
    """
    return -_up(-metres * 1e4)


def cents_down(money: float) -> int:
    """Whole cents, rounded down; tolerance and errors as in `tenth_mm_up`.

    Args:
        money: amount in the currency's unit.
    """
    return -_up(-money * 100)


STEP_TOLERANCE = 1e-6
"""Share of a step by which a value may pass a whole step and still count as it [-]."""


def _up(steps: float) -> int:
    if not math.isfinite(steps):
        raise ValueError(f"{steps} cannot be rounded to a whole step")
    return math.ceil(steps - STEP_TOLERANCE)


@cache
def _registry() -> Any:
    """Pint's registry with the units of `DEFINITIONS`, built on first use."""
    from pint import UnitRegistry

    registry: Any = UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    registry.load_definitions(DEFINITIONS.strip().splitlines())
    return registry


def _split(text: object, dimension: Dimension) -> tuple[float, str]:
    """A value's number and its unit in pint's notation, "" if it has none."""
    if isinstance(text, int | float) and not isinstance(text, bool):
        try:
            return float(text), ""
        except OverflowError:
            return math.inf, ""
    if not isinstance(text, str):
        raise QuantityError(f"{quoted(text)} is not a number with a unit", _examples(None, dimension))
    plain = " ".join(text.replace("\u2212", "-").split())
    if re.match(r"[+-]?\d[\d.]*,\d", plain):
        raise QuantityError(
            f"{quoted(text)} has a comma, which may mark thousands or decimals",
            "write the number without a comma and with a point for decimals, as in 1600 or 1.6",
        )
    if re.search("['\"\u2032\u2033\u2019\u201d]", plain):
        raise QuantityError(
            f"{quoted(text)} has a foot or inch mark", 'write the unit out, as in "6 ft" or "6 ft 3 in"'
        )
    if dimension is Dimension.LENGTH and (both := _FEET_AND_INCHES.fullmatch(plain)):
        return _inches(both[1], both[2], both[3], text), "in"
    if dimension is Dimension.LENGTH and _FEET_AND_MORE.fullmatch(plain):
        raise QuantityError(f"{quoted(text)} has inches without their unit", 'write it as in "5 ft 6 in"')
    if dimension is Dimension.LENGTH and (tape := _METRES_AND_CENTIMETRES.fullmatch(plain)):
        return _centimetres(tape[1], tape[2], tape[3], plain.endswith("cm"), text), "cm"
    found = _NUMBER.match(plain)
    if found is None:
        raise QuantityError(f"{quoted(text)} does not start with a number", _examples(None, dimension))
    rest = plain[found.end() :]
    if re.match(r"\s*(/\s*\d|-\d|\d)", rest):
        raise _not_one_number(text)
    return _signed(found[1], _value(found[2], text)), _pint_notation(rest)


def _inches(sign: str, feet: str, inches: str, text: object) -> float:
    """Feet and inches as inches."""
    rest = _value(inches, text)
    if rest >= 12:
        raise QuantityError(
            f"{quoted(text)} has a foot or more of inches beside its feet", 'write it as in "5 ft 6 in"'
        )
    return _signed(sign, 12 * _value(feet, text) + rest)


def _centimetres(sign: str, metres: str, rest: str, told: bool, text: object) -> float:
    """Metres and centimetres as centimetres."""
    if len(rest) > 2 or (len(rest) < 2 and not told):
        raise QuantityError(f"{quoted(text)} is not one length", 'write it as in "1 m 20" or "1.2 m"')
    return _signed(sign, 100 * float(metres) + float(rest))


def _signed(sign: str, value: float) -> float:
    return -value if sign == "-" else value


def _value(written: str, text: object) -> float:
    """A decimal or a fraction as a float; a whole number goes only with less than one."""
    if "/" not in written:
        return float(written)
    *whole, part = re.split("[ -]", written)
    over, under = (int(number) for number in part.split("/"))
    if not over or not under or (whole and over >= under):
        raise _not_one_number(text)
    return sum(map(float, whole)) + over / under


def _not_one_number(text: object) -> QuantityError:
    return QuantityError(f"{quoted(text)} is not one number", 'write it as in "1.5 in" or "1 1/2 in"')


def _pint_notation(unit: str) -> str:
    """A unit as people write it ("L per hour", "m²", "ft2", "°C", "%") in pint's notation."""
    for written, plain in (("\u00b2", "2"), ("\u00b3", "3"), ("\u00b0", "deg"), ("%", "percent"), ("^", "")):
        unit = unit.replace(written, plain)
    unit = unit.replace("mH2O", "meter_of_water")
    unit = re.sub(r"\b(?:square|sq\.?)\s*([A-Za-z]+)", r"\1**2", unit)
    unit = re.sub(r"\s*(?:/|\bper\b)\s*", "/", unit.strip())
    unit = re.sub(r"([A-Za-z])([23])\b", r"\1**\2", unit)
    unit = re.sub(r"\s+", "*", unit)
    return f"1{unit}" if unit.startswith("/") else unit


def _quantity(number: float, unit: str, text: object, dimension: Dimension) -> Any:
    registry = _registry()
    if not _UNIT.fullmatch(unit):
        raise QuantityError(f"{quoted(text)} has a unit that cannot be read", _examples(number, dimension))
    for word in re.findall(r"[A-Za-z_]+", unit):
        if word.lower() in _NUMBERS or word not in registry:
            raise QuantityError(
                f"{quoted(text)} has an unknown unit {quoted(word)}", _closest(word, number, dimension)
            )
    return registry.Quantity(number, registry.parse_units(unit))


def _closest(word: str, number: float, dimension: Dimension) -> str:
    """The known unit nearest to a wrong one; of a plain dimension's own kind, so that "mn" is no minute."""
    registry = _registry()
    target = _BORDERS[dimension].to
    known = list(registry)
    if "/" not in target:
        known = [name for name in known if registry.is_compatible_with(name, target or "percent")]
    same = [name for name in known if name.lower() == word.lower()]
    close = same or difflib.get_close_matches(word, known, n=1, cutoff=0.75)
    return f"did you mean {quoted(close[0])}" if close else _examples(number, dimension)


def _kind(quantity: Any) -> str:
    """What a quantity of the wrong dimension measures, in a word."""
    for unit, name in _NAMES:
        if quantity.is_compatible_with(unit or "percent"):
            return name
    return "different kind of quantity"


def _article(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def _examples(number: float | None, dimension: Dimension) -> str:
    """Two ways to write a value of this dimension, with the number that was given."""
    value = f"{number:g}" if number is not None and math.isfinite(number) else "1.5"
    first, second = (f'"{value}{unit}"' if unit else value for unit in _BORDERS[dimension].suggest)
    return f"write e.g. {first} or {second}"


def unit_words(dimension: Dimension) -> str:
    """What a dimension is called, with two of the units that it may be written in: "length (mm, in)"."""
    border = _BORDERS[dimension]
    if border.bare:
        return "number or %" if dimension is Dimension.NUMBER else str(dimension)
    return f"{dimension} ({', '.join(unit.strip() for unit in border.suggest)})"


def quoted(value: object) -> str:
    """A value of a file as the builder wrote it, cut to one short line for a message."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        text = f"[{', '.join(quoted(item) for item in value[:20])}]"
    elif isinstance(value, int) and abs(value) >= 10**20:
        text = "a huge number"
    else:
        text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = "".join(mark if mark.isprintable() else "?" for mark in text)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _finite(value: float, text: object) -> float:
    if not math.isfinite(value):
        raise QuantityError(f"{quoted(text)} is not a finite number", "write an ordinary number")
    return float(f"{value:.12g}")


def _plain(value: float, digits: int) -> str:
    """A number with so many significant digits, without an exponent where that stays readable."""
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-6 <= abs(value) < 1e12:
        text = f"{float(text):.17f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{float(text):.0f}"
    return text


@cache
def _scale(to: str, shown: str) -> float:
    """How many of the unit shown make one of the unit read to; 1 where there is nothing to convert."""
    if not shown or shown in ("degC", "years", "/kWh"):
        return 1.0
    registry = _registry()
    one = registry.Quantity(1.0, registry.parse_units(to))
    return float(one.to(registry.parse_units(_pint_notation(shown))).magnitude)
