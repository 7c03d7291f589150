"""What the selection asks of the rules: one class for each thing that may be refused.

A rule answers a question by a method marked with its class (`base.answers`); whoever needs another kind of
question adds a class here and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

from autoplan.catalog.joining import Need
from autoplan.catalog.parts import Catalog, Fixture, Part, Penetration, Pipe, TurnStyle, Valve, Way
from autoplan.fittings.floor import ThroughFloor
from autoplan.line.row import Line
from autoplan.problem.brief import AirWish, HandPumpWish
from autoplan.problem.site import Guard, Run, Site


@dataclass(frozen=True, slots=True)
class OnShelf:
    """This row of the price list anywhere at all."""

    part: Part


@dataclass(frozen=True, slots=True)
class UnderHead:
    """This pipe where no pump to be had has less than a head against a closed valve [m]."""

    pipe: Pipe
    head_m: float


@dataclass(frozen=True, slots=True)
class OfPipe:
    """A run of this pipe."""

    site: Site
    run: Run
    pipe: Pipe


@dataclass(frozen=True, slots=True)
class Turned:
    """A turn of this style on a run."""

    run: Run
    angle: int
    style: TurnStyle


@dataclass(frozen=True, slots=True)
class Valved:
    """This hand valve on a run."""

    run: Run
    valve: Valve


@dataclass(frozen=True, slots=True)
class InWall:
    """This part in the wall or floor that a run passes."""

    site: Site
    run: Run
    vessel: str
    in_floor: bool
    part: Penetration


@dataclass(frozen=True, slots=True)
class Begun:
    """A drain of this pipe that starts so in its bed's floor."""

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    end: ThroughFloor


@dataclass(frozen=True, slots=True)
class LetIn:
    """Water that gets from a bed into a drain of this pipe so.

    Asked twice: of the standpipe alone, which leaves out early what no wall part mends, and of all of it.
    """

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    end: ThroughFloor
    screen: str | None


@dataclass(frozen=True, slots=True)
class DrawnSo:
    """A run that is drawn so; heights that hang on levels are still open."""

    site: Site
    catalog: Catalog
    drawn: Line


@dataclass(frozen=True, slots=True)
class Guarded:
    """This guard against siphoning back on an inlet of this pipe and way."""

    site: Site
    run: Run
    pipe: Pipe
    guard: Guard
    way: Way


@dataclass(frozen=True, slots=True)
class Joined:
    """A joint at a run's "start" or "finish" that does no more than this beside holding water."""

    site: Site
    run: Run
    side: str
    need: Need


@dataclass(frozen=True, slots=True)
class Screened:
    """This screen, or none, on a drain's inlet."""

    site: Site
    run: Run
    pipe: Pipe
    screen: Fixture | None


@dataclass(frozen=True, slots=True)
class Flushed:
    """A drain in this pipe with a flushing point, or without one."""

    site: Site
    run: Run
    pipe: Pipe
    flush: bool


@dataclass(frozen=True, slots=True)
class ByHand:
    """This hand pump for a vessel's waste."""

    wish: HandPumpWish
    pump: Fixture


@dataclass(frozen=True, slots=True)
class AirAt:
    """An air line that asks for so much of a pump of this pressure [m of water]."""

    pressure_m: float
    needed_m: float


@dataclass(frozen=True, slots=True)
class AirLine:
    """An air line with this check valve or with none."""

    wish: AirWish
    check: str | None
