"""SI floats -> figures in the units that a builder reads; the report converts nowhere else.

A `Gauge` shows one kind of quantity, `Units` is a set of them, and there are two: `SI` and `US`. The factors
are exact: 1 in = 25.4 mm and 1 ft = 12 in (the yard and pound agreement of 1959), 1 US gal = 231 in3.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from autoplan.errors import QuantityError
from autoplan.problem.brief import PrintUnits
from autoplan.sentence import Amount, Sentence, Text, Written
from autoplan.units import Dimension, read

MM_M = 1e-3
INCH_M = 0.0254
FOOT_M = 12 * INCH_M
LITRE_M3 = 1e-3
GALLON_M3 = 231 * INCH_M**3
FLUID_OUNCE_M3 = GALLON_M3 / 128
POUND_KG = 0.45359237
HOUR_S = 3600.0

DUST = 1e-6
"""Share of a step by which a figure may miss a whole step and still count as it, when rounding down [-]."""

FINEST = 1_000_000
"""Most steps in a unit, where two figures are told apart."""


LEAST_FLOW_M3_S = 1e-8
"""Flow below which no bucket ever fills, 0.04 L/h [m3/s]."""


def mm(metres: float) -> float:
    """Metres -> millimetres."""
    return metres / MM_M


def litres_per_hour(m3_per_s: float) -> float:
    """Cubic metres per second -> litres per hour."""
    return m3_per_s / LITRE_M3 * HOUR_S


def fixed(value: float, places: int) -> str:
    """A number with that many decimals, never "-0"."""
    return f"{round(value, places) or 0.0:.{places}f}"


def sixteenths(steps: int) -> str:
    """Sixteenths of an inch as a tape shows them, in lowest terms: 756 -> "47-1/4".

    Written with a hyphen, as pipe sizes are, so that no fold of a table parts an inch from its fraction.
    """
    whole, part = divmod(abs(steps), 16)
    shared = math.gcd(part, 16)
    figures = [str(whole)] if whole or not part else []
    if part:
        figures.append(f"{part // shared}/{16 // shared}")
    return ("-" if steps < 0 else "") + "-".join(figures)


def feet_and_inches(inches: int) -> str:
    """Whole inches in feet and inches: 152 -> "12 ft 8 in"."""
    feet, rest = divmod(abs(inches), 12)
    return ("-" if inches < 0 else "") + (f"{feet} ft {rest} in" if feet else f"{rest} in")


def tenths(steps: int) -> str:
    """Tenths as a figure, with a decimal only where there is one: 640 -> "64", 255 -> "25.5"."""
    return fixed(steps / 10, 1).removesuffix(".0")


MOST_PLACES = 4
"""Decimals in a spreadsheet at most: a tenth of a thousandth of an inch is finer than any step here."""


def saw_inches(steps: int) -> str:
    """A hole's size in 1600ths of an inch: a fraction where it is near a whole sixteenth, else two decimals.

    A hole of 64 mm is 2.52 in and not 2-1/2: whoever drills it must know that the usual saw is too small.
    """
    nearest = round(steps / 100)
    # Saws are listed in tenths of a millimetre: 1-7/8 in as 47.6 mm.
    return sixteenths(nearest) if abs(steps - 100 * nearest) <= 2 else fixed(steps / 1600, 2)


@dataclass(frozen=True, slots=True)
class Gauge:
    """How one kind of quantity is shown.

    Attributes:
        unit: word behind the figure; "" where the figure has its own.
        si: one such unit in SI.
        per_unit: steps in a unit: 1, 10 or 100 for decimals, 16 for sixteenths.
        write: steps as a figure; None for a decimal number.
    """

    unit: str
    si: float
    per_unit: int
    write: Callable[[int], str] | None = None

    def steps(self, value: float) -> int:
        """A value [SI] in steps, to the nearest; halves go up, so that heights still add up over a floor."""
        return math.floor(value / self.si * self.per_unit + 0.5 + DUST)

    def steps_down(self, value: float) -> int:
        """A value [SI] in steps, rounded down."""
        return math.floor(value / self.si * self.per_unit + DUST)

    def text(self, value: float) -> str:
        """A value [SI] as a figure, to the nearest step."""
        return self.figure(self.steps(value))

    def text_down(self, value: float) -> str:
        """A value [SI] as a figure, rounded down, so that what is left is never overstated."""
        return self.figure(self.steps_down(value))

    def figure(self, steps: int) -> str:
        """So many steps as a figure."""
        return self.write(steps) if self.write else self.decimal(steps)

    def said(self, value: float) -> str:
        """A value [SI] as a figure with its unit."""
        return f"{self.text(value)} {self.unit}".rstrip()

    def number(self, value: float) -> str:
        """A value [SI] as a decimal number for a spreadsheet, to the nearest step."""
        return self.decimal(self.steps(value))

    def number_down(self, value: float) -> str:
        """The same, rounded down."""
        return self.decimal(self.steps_down(value))

    def decimal(self, steps: int) -> str:
        """So many steps as a decimal number."""
        return fixed(steps / self.per_unit, self.places)

    def title(self, what: str) -> str:
        """A column's title."""
        return f"{what} {self.unit}".rstrip()

    @property
    def places(self) -> int:
        """Decimals that tell every step from the next."""
        return min(MOST_PLACES, len(f"{1 / self.per_unit:.6f}".rstrip("0").partition(".")[2]))


@dataclass(frozen=True, slots=True)
class Units:
    """Everything a report shows, and in which unit.

    Attributes:
        lengths: the unit of heights and pieces, to begin a sentence with.
        rounding: how finely heights are told, as a sentence; "" where that goes without saying.
        marked: how finely pieces are told, in words.
        piece, height: lengths to mark on a tape: pieces of pipe, and levels and holes above a floor.
        way: length of a whole run.
        small: losses and margins of height.
        bore, hole: diameters, of a passage and to drill.
        bought: length of pipe or tape on an order.
        flow, head, speed, volume, cement, weight, pieces: see their units.
        bucket_m3: the bucket by which a valve is set [m3].
        jug, jug_m3: the jug that takes its place, in words and how much it holds [m3].
        rise_m: by how much water rises in a vessel while that is timed in place of either [m].
    """

    name: PrintUnits
    lengths: str
    rounding: str
    marked: str
    piece: Gauge
    height: Gauge
    way: Gauge
    small: Gauge
    bore: Gauge
    hole: Gauge
    bought: Gauge
    flow: Gauge
    head: Gauge
    speed: Gauge
    volume: Gauge
    cement: Gauge
    weight: Gauge
    pieces: Gauge
    bucket_m3: float
    jug: str
    jug_m3: float
    rise_m: float

    @property
    def bucket(self) -> str:
        """The bucket in words."""
        return f"{fixed(self.bucket_m3 / self.volume.si, 0)} {self.volume.unit}"

    def bucket_seconds(self, flow_m3_s: float) -> str:
        """Whole seconds in which a flow fills the bucket: volume / flow."""
        return fixed(self.bucket_m3 / flow_m3_s, 0)

    def measure(self, value: float, unit: str) -> str:
        """A finding's number in its unit, as a figure without one."""
        gauge = self._gauge(value, unit)
        return _ENDLESS[value > 0] if gauge is None else gauge.text(value * _SI.get(unit, 1.0))

    def measure_down(self, value: float, unit: str) -> str:
        """A margin in its unit, as a figure without one, rounded down."""
        gauge = self._gauge(value, unit)
        return _ENDLESS[value > 0] if gauge is None else gauge.text_down(value * _SI.get(unit, 1.0))

    def told_apart(self, value: float, limit: float, unit: str) -> tuple[str, str]:
        """Two numbers of a finding as figures, with more decimals where they would else look the same."""
        shown = self.measure(value, unit), self.measure(limit, unit)
        gauge, si = self._gauge(value, unit), _SI.get(unit, 1.0)
        while shown[0] == shown[1] and value != limit and gauge is not None and gauge.per_unit < FINEST:
            gauge = replace(gauge, per_unit=10 * gauge.per_unit)
            shown = gauge.text(value * si), gauge.text(limit * si)
        return shown

    def word(self, unit: str, currency: str) -> str:
        """The unit behind a finding's number; money takes the price list's currency."""
        if unit == "money":
            return currency
        return self._of(unit).unit if unit in _SI else _READ.get(unit, unit)

    def counts(self, unit: str) -> bool:
        """Whether a finding's unit counts things, in place of measuring."""
        return unit not in _SI and unit not in _MEASURED

    def temperature(self, celsius: float) -> str:
        """A temperature in whole degrees."""
        if self.name is PrintUnits.SI:
            return f"{fixed(celsius, 0)} C"
        return f"{fixed(32 + celsius * 9 / 5, 0)} F"

    def stocking(self, kg_m3: float, what: str = "") -> str:
        """Mass in a volume of water; of what goes behind its unit of mass, as in " of fish"."""
        if self.name is PrintUnits.SI:
            return f"{fixed(kg_m3, 0)} kg{what} in a m3"
        return f"{fixed(kg_m3 * GALLON_M3 / POUND_KG, 2)} lb{what} in a gallon"

    @property
    def water_weighs(self) -> str:
        """What water weighs at most, in words: 1 kg/L, 8.345 lb/gal."""
        return "1 kg a litre" if self.name is PrintUnits.SI else "8.4 lb a gallon"

    def told(self, text: Text | Amount | Written) -> str:
        """A sentence in words, its quantities metric and behind that in brackets in these units too.

        What stands in brackets is what was told before it, not what it was rounded from.
        """
        match text:
            case str():
                return text
            case Sentence(words, given):
                return words.format(*map(self.told, given))
            case Written(written):
                return self.written(written)
            case Amount(value, unit, places):
                many = value / _SI[unit]
                figure = f"{many:g}" if places is None else fixed(many, places)
                return self._besides(f"{figure} {unit}", float(figure), unit)

    def written(self, text: str) -> str:
        """A value as a problem file has it, or a list of them, each in these units too, in brackets."""
        if text.startswith("["):
            return f"[{', '.join(map(self.written, text[1:-1].split(', ')))}]"
        unit = text.rpartition(" ")[2].replace("hour", "h")
        if self.name is not PrintUnits.SI and unit in _OTHERWISE:
            dimension, said = _OTHERWISE[unit]
            return f"{text} ({said(self, read(text, dimension))})"
        value = read_as(text, unit) if unit in _SI else None
        return text if value is None else self._besides(text, value, unit)

    def _besides(self, metric: str, value: float, unit: str) -> str:
        """A metric figure, and in these units too where they are others."""
        if self.name is PrintUnits.SI:
            return metric
        return f"{metric} ({self._of(unit).said(value * _SI[unit])})"

    def _gauge(self, value: float, unit: str) -> Gauge | None:
        """How a finding's number is shown; None where it has no end."""
        if not math.isfinite(value):
            return None
        if unit in _SI:
            return self._of(unit)
        whole = round(float(value), 6).is_integer() and unit != "money"
        return Gauge(unit, 1.0, 1 if whole else 100)

    def _of(self, unit: str) -> Gauge:
        shown: Mapping[str, Gauge] = {
            "mm": self.small,
            "m": self.head,
            "m/s": self.speed,
            "L/h": self.flow,
            "L": self.volume,
        }
        return shown[unit]


_SI = {"mm": MM_M, "m": 1.0, "m/s": 1.0, "L/h": LITRE_M3 / HOUR_S, "L": LITRE_M3}
"""What findings are measured in, in SI."""

_OTHERWISE: dict[str, tuple[Dimension, Callable[[Units, float], str]]] = {
    "degC": (Dimension.TEMPERATURE, Units.temperature),
    "kg/m3": (Dimension.STOCKING, Units.stocking),
}
"""Units of a problem file's values that no finding is measured in: what they measure, and how it is told."""

MEASURES = {
    "mm": Dimension.LENGTH,
    "m": Dimension.LENGTH,
    "m/s": Dimension.VELOCITY,
    "L/h": Dimension.FLOW,
    "L": Dimension.VOLUME,
    "1/h": Dimension.RATE,
}
"""Units of findings that an assumption moves little by little, and what they measure."""

_READ = {"1/h": "an hour", "-": ""}
"""Units that are not read as they are written."""

_MEASURED = frozenset({"money", "%", "min", *_READ})
"""The other units that measure; the rest count things."""

_ENDLESS = {True: "no limit", False: "none"}

SI = Units(
    name=PrintUnits.SI,
    lengths="Millimetres",
    rounding="",
    marked="whole millimetres",
    piece=Gauge("mm", MM_M, 1),
    height=Gauge("mm", MM_M, 10),
    way=Gauge("mm", MM_M, 1),
    small=Gauge("mm", MM_M, 10),
    bore=Gauge("mm", MM_M, 10),
    hole=Gauge("mm", MM_M, 10, tenths),
    bought=Gauge("m", 1.0, 1000),
    flow=Gauge("L/h", LITRE_M3 / HOUR_S, 1),
    head=Gauge("m", 1.0, 100),
    speed=Gauge("m/s", 1.0, 100),
    volume=Gauge("L", LITRE_M3, 1),
    cement=Gauge("ml", 1e-6, 1),
    weight=Gauge("kg", 1.0, 1),
    pieces=Gauge("", 1.0, 1),
    bucket_m3=10 * LITRE_M3,
    jug="1 L",
    jug_m3=LITRE_M3,
    rise_m=20 * MM_M,
)

US = Units(
    name=PrintUnits.US,
    lengths="Inches",
    rounding="Fractions are to the nearest 1/16.",
    marked="inches to the nearest 1/16",
    piece=Gauge("in", INCH_M, 16, sixteenths),
    height=Gauge("in", INCH_M, 16, sixteenths),
    way=Gauge("", INCH_M, 1, feet_and_inches),
    small=Gauge("in", INCH_M, 100),
    bore=Gauge("in", INCH_M, 100),
    hole=Gauge("in", INCH_M, 1600, saw_inches),
    bought=Gauge("ft", FOOT_M, 100),
    flow=Gauge("gph", GALLON_M3 / HOUR_S, 10),
    head=Gauge("ft", FOOT_M, 100),
    speed=Gauge("ft/s", FOOT_M, 100),
    volume=Gauge("gal", GALLON_M3, 10),
    cement=Gauge("fl oz", FLUID_OUNCE_M3, 10),
    weight=Gauge("lb", POUND_KG, 1),
    pieces=Gauge("", 1.0, 1),
    bucket_m3=5 * GALLON_M3,
    jug="1 quart",
    jug_m3=GALLON_M3 / 4,
    rise_m=INCH_M,
)


def read_as(text: str, unit: str) -> float | None:
    """A value as a problem file has it, in a finding's unit; None where it measures something else."""
    try:
        value = read(text, MEASURES[unit])
    except (KeyError, QuantityError):
        return None
    return value / _SI.get(unit, 1 / HOUR_S)


def whole_marks(units: Units) -> Units:
    """Units with heights as they are marked on a tape: whole millimetres, or sixteenths of an inch."""
    return replace(units, height=units.piece)


def units_of(name: PrintUnits) -> Units:
    """The units of that name."""
    return {PrintUnits.SI: SI, PrintUnits.US: US}[name]
