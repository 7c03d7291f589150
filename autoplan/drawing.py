"""A finished design as a stranger could have drawn it: parts, pieces, holes and levels, and nothing computed.

The optimiser writes it, the rules and the verdict read it. No loss, velocity or cost stands here: whoever
needs one works it out again from the parts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from autoplan.catalog.parts import End
from autoplan.fittings.air import DrawnAirPump, air_pieces
from autoplan.line.row import Line
from autoplan.problem.site import Run, RunKind, Site


@dataclass(frozen=True, slots=True)
class DrawnJunction:
    """One junction as built: the tee, and which run sits on which of its ends (run, run, branch)."""

    junction: str
    tee: str | None
    ports: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnPump:
    """The pump in one vessel: part id, "throttled" or "slowed", and its speed as a share of full speed."""

    vessel: str
    part: str
    mode: str
    speed: float


@dataclass(frozen=True, slots=True)
class DrawnSpare:
    """What joins a spare pump with another outlet to the line of the pump that is there.

    Attributes:
        line: the run that leaves that pump.
        outlet: the outlet of such a pump.
        chain: adaptors and stubs from it on, to the line.
    """

    line: str
    outlet: End
    chain: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnLevel:
    """Water in one vessel above the datum [m].

    `design_m` is the level with the system running and, for the sump, every bed empty that ever is;
    `overload_m` the level allowed for at overload.
    """

    vessel: str
    design_m: float
    overload_m: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """One line of an order: `packs` packs of a part from a shop; `quantity` is what the design uses.

    Quantity is in pieces; of pipe and thread tape it is the length [m], of solvent cement the volume [m3].
    """

    part: str
    shop: str
    quantity: float
    packs: int


@dataclass(frozen=True, slots=True)
class CutStick:
    """One stick of a pipe and the pieces cut from it [m].

    `offcut_m` is what is left of it, `owned` whether it is the builder's own and not bought.
    """

    pipe: str
    stick_m: float
    pieces_m: tuple[float, ...]
    offcut_m: float
    owned: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole design.

    `screwed_drains` says whether gravity joints are made with tape and a screw instead of cement, but for
    those of the drains `glued`; `hand_pumps` gives by vessel the pump for its waste, `spares` what lies
    ready there for another pump.
    """

    runs: Mapping[str, Line]
    junctions: Mapping[str, DrawnJunction]
    pumps: Mapping[str, DrawnPump]
    levels: Mapping[str, DrawnLevel]
    purchases: tuple[Purchase, ...]
    cuts: tuple[CutStick, ...]
    screwed_drains: bool = False
    air: tuple[DrawnAirPump, ...] = ()
    hand_pumps: Mapping[str, str] = field(default_factory=dict)
    glued: tuple[str, ...] = ()
    spares: Mapping[str, DrawnSpare] = field(default_factory=dict)

    def screwed(self, run: Run) -> bool:
        """Whether socket joints of a run are made with tape and a screw."""
        return self.screwed_drains and run.kind is RunKind.GRAVITY and run.name not in self.glued


def pieces_used(site: Site, pipes: Collection[str], drawing: Drawing) -> Counter[str]:
    """Pieces of every part in a drawing, those of pipe left out.

    Args:
        site: what it is drawn for: a vessel of it may be a part that is bought.
        pipes: ids of what is pipe.
        drawing: the design.
    """
    used: Counter[str] = Counter()
    for drawn in drawing.runs.values():
        used.update(drawn.parts())
    used.update(junction.tee for junction in drawing.junctions.values() if junction.tee is not None)
    used.update(pump.part for pump in drawing.pumps.values())
    used.update(air_pieces(drawing.air))
    used.update(vessel.part for vessel in site.vessels.values() if vessel.part is not None)
    used.update(drawing.hand_pumps.values())
    used.update(part for spare in drawing.spares.values() for part in spare.chain)
    for pipe in [part for part in used if part in pipes]:
        del used[pipe]
    return used
