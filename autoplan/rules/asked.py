"""What the optimiser asks of the rules: one class for each thing that may be refused.

A rule answers a question by a method marked with its class (`base.answers`); whoever needs another kind of
question adds a class here and nothing else. Thousands are made in a draft, and named tuples are made quickly.
"""

from __future__ import annotations

from typing import NamedTuple

from autoplan.catalog.joining import Need
from autoplan.catalog.parts import (
    Catalog,
    Fixture,
    Part,
    Penetration,
    Pipe,
    SiphonPart,
    TurnStyle,
    Valve,
    Way,
)
from autoplan.fittings.base import Fitting
from autoplan.fittings.floor import ThroughFloor
from autoplan.line.row import Line
from autoplan.problem.brief import AirWish, HandPumpWish
from autoplan.problem.site import Guard, Run, Site


class OnShelf(NamedTuple):
    """This row of the price list anywhere at all on a site."""

    part: Part
    site: Site


class UnderHead(NamedTuple):
    """This pipe where no pump to be had has less than a head against a closed valve [m]."""

    pipe: Pipe
    head_m: float


class OfPipe(NamedTuple):
    """A run of this pipe."""

    site: Site
    run: Run
    pipe: Pipe


class Turned(NamedTuple):
    """A turn of this style on a run."""

    run: Run
    angle: int
    style: TurnStyle


class Narrowed(NamedTuple):
    """A place of this bore [m] on a run, or at the tee that it leaves: a bend, a valve, adaptors, the tee."""

    site: Site
    run: Run
    bore_m: float


class Valved(NamedTuple):
    """This valve of a price list on a run."""

    run: Run
    valve: Valve
    catalog: Catalog


class InWall(NamedTuple):
    """This part in the wall or floor that a run passes."""

    site: Site
    run: Run
    vessel: str
    in_floor: bool
    part: Penetration


class Entering(NamedTuple):
    """A drain that enters the vessel at its finish, its end turned down inside or not.

    Through the wall, there maybe in a stilling well, with the outside of its pipe [m]; or over the rim.
    """

    site: Site
    run: Run
    down: bool
    well: SiphonPart | None = None
    outside_m: float = 0.0
    over_rim: bool = False


class Taped(NamedTuple):
    """Socket joints of this drain made with tape and a screw."""

    site: Site
    run: Run


class OnBranch(NamedTuple):
    """This run on the branch of the tee at a junction."""

    site: Site
    junction: str
    run: Run


class Starting(NamedTuple):
    """A drain of this pipe that starts so in its bed's floor."""

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    end: ThroughFloor


class OverPart(NamedTuple):
    """What stands on a floor outlet over this wall part (its id)."""

    catalog: Catalog
    part: str
    end: ThroughFloor


class StartingAmply(NamedTuple):
    """The same without a flared top, where one on it would make no odds."""

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    end: ThroughFloor


class OfAirTube(NamedTuple):
    """This air tube (its id) at the crest of a siphon pipe outside a bed."""

    catalog: Catalog
    part: str


class LetIn(NamedTuple):
    """Water that gets from a bed into a drain of this pipe so.

    Asked twice: of the standpipe alone, which leaves out early what no wall part mends, and of all of it.
    """

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    end: ThroughFloor
    screen: str | None


class DrawnSo(NamedTuple):
    """A run that is drawn so; heights that hang on levels are still open."""

    site: Site
    catalog: Catalog
    drawn: Line


class Guarded(NamedTuple):
    """This guard against siphoning back on an inlet of this pipe and way."""

    site: Site
    run: Run
    pipe: Pipe
    guard: Guard
    way: Way


class Joined(NamedTuple):
    """A joint at a run's "start" or "finish" that does no more than this beside holding water."""

    site: Site
    run: Run
    side: str
    need: Need


class Fitted(NamedTuple):
    """A run of this pipe with this fitting of a kind, or with none of that kind."""

    site: Site
    catalog: Catalog
    run: Run
    pipe: Pipe
    kind: type[Fitting]
    fitting: Fitting | None


class ByHand(NamedTuple):
    """This hand pump for a vessel's waste."""

    wish: HandPumpWish
    pump: Fixture


class AirAt(NamedTuple):
    """An air line that asks for so much of a pump of this pressure [m of water]."""

    pressure_m: float
    needed_m: float


class AirLine(NamedTuple):
    """An air line with this check valve or with none."""

    wish: AirWish
    check: str | None
