"""The kinds of part, and a whole price list of them, frozen. SI floats, money in integer cents.

A kind is a module of `catalog.kinds` and an attribute of `Catalog`, which is all that names it: what reads,
lists, documents or joins parts goes over `KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, get_args, get_type_hints

from autoplan.catalog.columns import Column
from autoplan.catalog.ends import End as End
from autoplan.catalog.kinds.adaptor import Adaptor as Adaptor
from autoplan.catalog.kinds.air import AirKind as AirKind
from autoplan.catalog.kinds.air import AirPart as AirPart
from autoplan.catalog.kinds.fixture import Fixture as Fixture
from autoplan.catalog.kinds.fixture import FixtureKind as FixtureKind
from autoplan.catalog.kinds.part import Part as Part
from autoplan.catalog.kinds.penetration import Penetration as Penetration
from autoplan.catalog.kinds.penetration import Way as Way
from autoplan.catalog.kinds.pipe import LONGEST_RIGID_M as LONGEST_RIGID_M
from autoplan.catalog.kinds.pipe import Pipe as Pipe
from autoplan.catalog.kinds.pump import Pump as Pump
from autoplan.catalog.kinds.siphon import SiphonKind as SiphonKind
from autoplan.catalog.kinds.siphon import SiphonPart as SiphonPart
from autoplan.catalog.kinds.strainer import StrainerPart
from autoplan.catalog.kinds.sundry import Sundry as Sundry
from autoplan.catalog.kinds.sundry import SundryKind as SundryKind
from autoplan.catalog.kinds.tee import Tee as Tee
from autoplan.catalog.kinds.trim import TrimPart
from autoplan.catalog.kinds.tub import Tub as Tub
from autoplan.catalog.kinds.turn import Turn as Turn
from autoplan.catalog.kinds.turn import TurnStyle as TurnStyle
from autoplan.catalog.kinds.valve import Valve as Valve
from autoplan.catalog.rows import columns_of
from autoplan.catalog.shops import Offer as Offer
from autoplan.catalog.shops import Shop as Shop
from autoplan.catalog.sizes import Size as Size


@dataclass(frozen=True, slots=True)
class PartKind:
    """A kind of part.

    Attributes:
        title: what it is called where parts are listed.
        file: its price list; its name if empty.
        spare: whether that may be absent.
        name: attribute of a `Catalog`.
        part: what a row is read into.
    """

    title: str
    file: str = ""
    spare: bool = False
    name: str = ""
    part: type[Part] = Part

    @property
    def columns(self) -> tuple[Column, ...]:
        """Columns of its file without those that every file of parts must have."""
        return columns_of(self.part)[len(COMMON) :]


@dataclass(frozen=True, slots=True)
class Catalog:
    """A whole price list; parts by id in the order of the files; sizes by system, then size."""

    name: str
    folder: str
    currency: str
    shops: Mapping[str, Shop]
    pipes: Annotated[Mapping[str, Pipe], PartKind("Pipes")]
    turns: Annotated[Mapping[str, Turn], PartKind("Turns")]
    tees: Annotated[Mapping[str, Tee], PartKind("Tees")]
    adaptors: Annotated[Mapping[str, Adaptor], PartKind("Joints", "joints.csv")]
    valves: Annotated[Mapping[str, Valve], PartKind("Valves")]
    penetrations: Annotated[Mapping[str, Penetration], PartKind("Penetrations")]
    pumps: Annotated[Mapping[str, Pump], PartKind("Pumps")]
    sundries: Annotated[Mapping[str, Sundry], PartKind("Sundries", spare=True)] = field(default_factory=dict)
    siphons: Annotated[Mapping[str, SiphonPart], PartKind("Bell siphons", spare=True)] = field(
        default_factory=dict
    )
    air: Annotated[Mapping[str, AirPart], PartKind("Air", spare=True)] = field(default_factory=dict)
    vessels: Annotated[Mapping[str, Tub], PartKind("Vessels", spare=True)] = field(default_factory=dict)
    strainers: Annotated[Mapping[str, StrainerPart], PartKind("Strainers", spare=True)] = field(
        default_factory=dict
    )
    trims: Annotated[Mapping[str, TrimPart], PartKind("Trims of shares", spare=True)] = field(
        default_factory=dict
    )
    fixtures: Annotated[Mapping[str, Fixture], PartKind("Fixtures", spare=True)] = field(default_factory=dict)
    systems: Mapping[str, Mapping[str, Size]] = field(default_factory=dict)

    def part(self, part_id: str) -> Part:
        """The part of that id.

        Raises:
            KeyError: no such part.
        """
        for group in self.groups():
            if part_id in group:
                return group[part_id]
        raise KeyError(part_id)

    def groups(self) -> tuple[Mapping[str, Part], ...]:
        """The parts by kind, each by id."""
        return tuple(getattr(self, kind.name) for kind in KINDS)


COMMON = tuple(column for column in columns_of(Part) if not column.spare)
"""Columns that every file of parts must have."""


def _kinds() -> tuple[PartKind, ...]:
    hints = get_type_hints(Catalog, include_extras=True)
    marked = {name: get_args(hint) for name, hint in hints.items() if hasattr(hint, "__metadata__")}
    return tuple(
        replace(kind, name=name, part=get_args(parts)[1], file=kind.file or f"{name}.csv")
        for name, (parts, kind) in marked.items()
    )


KINDS = _kinds()
"""Every kind of part, in the order in which parts are listed and bought."""
