"""What is usual where a builder says nothing, worked out from what was said before."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from autoplan.problem.site import VesselKind
from autoplan.problem.tables.defaults import VESSEL
from autoplan.units import Dimension, read

FILTERS = ("settler", "biofilter")

RAIN_M = 0.03
"""A heavy shower, with the power off [m]; from memory."""

RIM_M = 0.1
"""Rim of a sump over the ground, so that no run-off comes in (`rules.water.sump_rim`) [m]."""

FALL_M = 0.12
"""From the water of one vessel to that of the next; common practice, no source [m]."""

MOST_FLOODS = 3.5
"""Floods of each bed an hour that a pump in the tank is laid for at most, under the four that the rule
flood-rate allows [1/h]."""

COVER_M3 = 0.1
"""Water in a sump beside what the beds take, to cover the pump; from memory [m3]."""


class Tape:
    """Lengths and volumes in the builder's units, in round figures."""

    def __init__(self, us: bool) -> None:
        self.us = us
        self.step_m = 0.0254 if us else 0.01

    def up(self, metres: float) -> str:
        """A length rounded up to whole inches, or to whole centimetres."""
        return self._said(math.ceil(metres / self.step_m - 1e-6))

    def down(self, metres: float) -> str:
        """A length rounded down likewise."""
        return self._said(math.floor(metres / self.step_m + 1e-6))

    def volume_up(self, cubic_metres: float) -> str:
        """A volume rounded up to ten gallons, or to fifty litres."""
        if self.us:
            return f"{10 * math.ceil(cubic_metres / (2310 * 0.0254**3) - 1e-6)} gal"
        return f"{50 * math.ceil(cubic_metres / 0.05 - 1e-6)} L"

    def _said(self, steps: int) -> str:
        if not self.us:
            return f"{steps / 100:g} m" if abs(steps) >= 100 else f"{10 * steps} mm"
        feet, inches = divmod(abs(steps), 12)
        sign = "-" if steps < 0 else ""
        if feet < 4:
            return f"{steps} in"
        return f"{sign}{feet} ft {inches} in" if inches else f"{sign}{feet} ft"


def metres(text: str) -> float:
    """A length [m]."""
    return read(text, Dimension.LENGTH)


def volume(text: str) -> float:
    """A volume [m3]."""
    return read(text, Dimension.VOLUME)


def filled(given: Mapping[str, str]) -> dict[str, str]:
    """Every answer: what was given, and what is usual beside it for the rest.

    Args:
        given: answers by key, as `questions.QUESTIONS` names them; texts with units.
    """
    said: dict[str, str] = {}

    def usual(key: str, metric: str, us: str | None = None) -> str:
        said[key] = given.get(key, us if us is not None and said.get("units") == "us" else metric)
        return said[key]

    usual("units", "metric")
    usual("catalog", "metric", "inch")
    usual("place", "indoors")
    usual("besides", "sump")
    sump = "sump" in said["besides"]
    usual("tank.volume", *(("1200 L", "330 gal") if sump else ("600 L", "200 gal")))
    usual("tank.depth", *(("900 mm", "36 in") if sump else ("600 mm", "24 in")))
    usual("tank.shape", "round")
    usual("beds.count", "1" if sump else "2")
    usual("beds.area", "1 m2", "4 ft x 3 ft")
    usual("beds.depth", *(("320 mm", "13 in") if sump else ("260 mm", "10 in")))
    usual("beds.shape", "square")
    if filters_of(said):
        usual("filters.volume", "120 L", "30 gal")
        usual("filters.depth", "700 mm", "28 in")
        usual("filters.shape", "round")
    if sump:
        usual("sump.depth", "500 mm", "20 in")
        usual("sump.volume", Tape(said["units"] == "us").volume_up(_sump_volume(said)))
        usual("sump.shape", "square")
    _floors(said, usual)
    for name in dict.fromkeys(map(asked_as, vessels(said))):
        usual(f"{name}.wall", "6 mm", "1/4 in")
    usual("ways.next", "1 m", "3 ft")
    usual("ways.back", _back(said))
    usual("ways.bed", "1.5 m", "5 ft")
    usual("ways.beds", "1.2 m", "4 ft")
    return said


def vessels(said: Mapping[str, str]) -> tuple[str, ...]:
    """The tables of vessels that there are, in the order of the water."""
    sump = ("sump",) if "sump" in said["besides"].split(", ") else ()
    return ("tank", *filters_of(said), "beds", *sump)


def filters_of(said: Mapping[str, str]) -> tuple[str, ...]:
    """The filters that there are, in the order of the water."""
    return tuple(name for name in FILTERS if name in said["besides"].split(", "))


def asked_as(vessel: str) -> str:
    """The name under which a vessel's size and wall are asked for: filters are alike."""
    return "filters" if vessel in FILTERS else vessel


def flood_of(said: Mapping[str, str]) -> str:
    """How deep a bed floods: a hand's breadth under its rim, or six tenths where it is shallow."""
    us, depth = said["units"] == "us", metres(said["beds.depth"])
    return Tape(us).down(max(depth - (0.0762 if us else 0.07), 0.6 * depth))


def bed_water(said: Mapping[str, str]) -> float:
    """Water of all beds when they are full [m3]."""
    area = read(said["beds.area"], Dimension.AREA)
    void = read(VESSEL[VesselKind.BED]["void"].text, Dimension.NUMBER)
    return int(said["beds.count"]) * area * metres(flood_of(said)) * void


def open_area(said: Mapping[str, str]) -> float:
    """Area of all vessels that are asked about before the sump, on which rain falls [m2]."""
    area = int(said["beds.count"]) * read(said["beds.area"], Dimension.AREA)
    for name in vessels(said):
        if name not in ("beds", "sump"):
            area += volume(said[f"{asked_as(name)}.volume"]) / metres(said[f"{asked_as(name)}.depth"])
    return area


def _sump_volume(said: Mapping[str, str]) -> float:
    """Twice what the beds take, and what covers the pump; outdoors two showers more."""
    rain = 2 * RAIN_M * open_area(said) if said["place"] == "outdoors" else 0.0
    return 2 * bed_water(said) + COVER_M3 + rain


def _floors(said: dict[str, str], usual: Callable[..., str]) -> None:
    """Each vessel's water a little under that of the one before it, the tank as high as that takes."""
    us = said["units"] == "us"
    tape, step = Tape(us), FALL_M
    chain = filters_of(said)
    depth = metres(said["tank.depth"])
    lifted = [metres(said["filters.depth"]) - depth + step * place for place, _ in enumerate(chain, 1)]
    if "sump" not in vessels(said):
        usual("tank.floor", "0 mm", "0 in")
        usual("beds.floor", tape.up(metres(said["tank.floor"]) + depth + 0.15))
        return
    usual("tank.floor", tape.up(max(0.15, *lifted, 0.0)))
    for place, name in enumerate(chain, 1):
        water = metres(said["tank.floor"]) + depth - step * place
        usual(f"{name}.floor", tape.down(water - metres(said["filters.depth"])))
    usual("beds.floor", "550 mm", "22 in")
    usual("sump.floor", tape.up(RIM_M - metres(said["sump.depth"])))


def _back(said: Mapping[str, str]) -> str:
    """From the sump back to the tank: as far as the water came."""
    drains = len(vessels(said)) - 2
    return Tape(said["units"] == "us").up(max(1, drains) * metres(said["ways.next"]))
