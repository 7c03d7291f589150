"""The table `[air]`: which vessels get air, how much and how deep."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from autoplan.errors import Mistake
from autoplan.problem.brief import AirPoint, AirWish
from autoplan.problem.site import Vessel, VesselKind
from autoplan.problem.tables.build import Ledger, metres, tidy
from autoplan.problem.tables.defaults import AIR
from autoplan.problem.tables.schema import Table, filled, key
from autoplan.problem.tables.validate import validate
from autoplan.problem.tables.values import MOST_DEPTH_M, MOST_LENGTH_M, Share, WithUnit, closest, wrong
from autoplan.units import Dimension, quoted, write

_flow = WithUnit('"500 L/h"', Dimension.FLOW, 0, 1)
_depth = WithUnit('"600 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M)
_line = WithUnit('"3 m"', Dimension.LENGTH, 0, MOST_LENGTH_M)
_rate = WithUnit('"0.5/hour"', Dimension.RATE, 0, 1 / 60)


def _each(reader: WithUnit) -> Callable[[object], object]:
    """A quantity for all vessels, or one for each in a table."""

    def of(value: object) -> object:
        if isinstance(value, Mapping):
            return {name: reader(one) for name, one in value.items()}
        return reader(value)

    return of


def _names(value: object) -> tuple[str, ...]:
    if isinstance(value, list) and value and all(isinstance(name, str) for name in value):
        return tuple(dict.fromkeys(value))
    raise wrong(f"{quoted(value)} is not a list of vessels", 'write e.g. vessels = ["tank"]')


class AirTable(Table):
    """`[air]`."""

    vessels: Annotated[tuple[str, ...], BeforeValidator(_names), Field(examples=['["tank"]'])] | None = (
        filled(AIR["vessels"])
    )
    rate: Annotated[float, _rate] | None = filled(AIR["rate"])
    flow: (
        Annotated[float | dict[str, float], BeforeValidator(_each(_flow)), Field(examples=['"500 L/h"'])]
        | None
    ) = key("air for each vessel, or below [air.flow] by vessel", "by rate")
    depth: (
        Annotated[float | dict[str, float], BeforeValidator(_each(_depth)), Field(examples=['"600 mm"'])]
        | None
    ) = key(f"{AIR['depth'].why}, or below [air.depth] by vessel", AIR["depth"].text)
    line: (
        Annotated[float | dict[str, float], BeforeValidator(_each(_line)), Field(examples=['"3 m"'])] | None
    ) = key(f"{AIR['line'].why}, or below [air.line] by vessel", AIR["line"].text)
    above_water: bool | None = filled(AIR["above_water"], ["true"])
    battery: bool | None = filled(AIR["battery"], ["true"])
    reserve: Share | None = filled(AIR["reserve"])


def read_air(
    file: str, table: object, vessels: Mapping[str, Vessel], ledger: Ledger
) -> tuple[AirWish | None, list[Mistake]]:
    """The wish of a file's `[air]`, every gap filled and written down, or its mistakes."""
    found = validate(AirTable, table, file, "air")
    if found.model is None:
        return None, list(found.mistakes)
    given: AirTable = found.model
    mistakes = [
        Mistake(file, f"air.{key}", f'there is no vessel "{name}"', closest(name, list(vessels), "name one"))
        for key in ("vessels", "flow", "depth", "line")
        for name in _named(getattr(given, key))
        if name not in vessels
    ]
    names = given.vessels or [name for name, at in vessels.items() if at.kind is VesselKind.TANK]
    if mistakes:
        return None, mistakes
    if given.vessels is None:
        ledger.said(None, "air.vessels", replace(AIR["vessels"], text=f"[{', '.join(map(quoted, names))}]"))
    points = tuple(_point(given, vessels[name], ledger) for name in names)
    for point in points:
        at = vessels[point.vessel]
        if point.depth_m > at.depth_m:
            problem = f"{write(point.depth_m, Dimension.LENGTH)} is deeper than {point.vessel}"
            mistakes.append(Mistake(file, "air.depth", problem, "give the water above the diffuser"))
    return AirWish(points, _said(given, "above_water", ledger), _reserve(given, ledger)), mistakes


def _named(value: object) -> list[str]:
    return list(value) if isinstance(value, tuple | dict) else []


def _said(given: AirTable, key: str, ledger: Ledger) -> bool:
    """A key that is true or false, or its default."""
    return ledger.said(getattr(given, key), f"air.{key}", AIR[key]) in (True, "true")


def _reserve(given: AirTable, ledger: Ledger) -> float:
    if given.reserve is None and not _said(given, "battery", ledger):
        return 0.0
    return ledger.value(given.reserve, "air.reserve", AIR["reserve"], Dimension.NUMBER)


def _point(given: AirTable, vessel: Vessel, ledger: Ledger) -> AirPoint:
    def own(key: str) -> Any:
        value = getattr(given, key)
        return value.get(vessel.name) if isinstance(value, dict) else value

    flow, depth = own("flow"), own("depth")
    water = metres(vessel.water_max_m - vessel.floor_m)
    if flow is None:
        rate = ledger.value(given.rate, "air.rate", AIR["rate"], Dimension.RATE)
        flow = tidy(rate * water * vessel.area_m2)
    if depth is None:
        whole = replace(AIR["depth"], text=write(water, Dimension.LENGTH))
        ledger.said(None, f"air.depth.{vessel.name}", whole)
    line = ledger.value(own("line"), "air.line", AIR["line"], Dimension.LENGTH)
    return AirPoint(vessel.name, flow, water if depth is None else depth, line)
