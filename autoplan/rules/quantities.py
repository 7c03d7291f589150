"""What a rule's model half may read of a way to build a run, each quantity taken by one function.

A rule declares what it reads and which way is never worse (`Rule.reads`). Ways to build a class are weighed
against each other by what the rules in force have declared, and by nothing else: a quantity that no rule
reads is free to be anything.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Generic, TypeVar

import numpy as np

from autoplan.catalog.parts import Catalog
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.trim import Trim
from autoplan.fittings.wall import Pierced
from autoplan.hydraulics.conduit import Conduit
from autoplan.hydraulics.conduits import Array, Conduits
from autoplan.hydraulics.gravity import part_full_inlet_head, standpipe_head
from autoplan.hydraulics.water import Water
from autoplan.line.row import Line
from autoplan.line.water import (
    flap_head,
    foot_of,
    head_at_wall,
    inlet_bore,
    inlet_of,
    screen_head,
    throttled,
    trim_of,
)
from autoplan.problem.brief import Mouth
from autoplan.problem.flows import least_kept, running_drains, shared_outlets
from autoplan.problem.site import Guard, Run, RunKind, Site
from autoplan.rules.balance import spared
from autoplan.rules.candidate import Apart, Candidate, Place
from autoplan.rules.heights import ROUNDED, STEPS_IN_A_M
from autoplan.units import tenth_mm_down, tenth_mm_up

Value = TypeVar("Value", covariant=True)


class Better(Enum):
    """Of two ways that are the same otherwise, which is never worse; NEITHER where any change may be."""

    LESS = "less"
    MORE = "more"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True)
class Seen:
    """What ways to build are looked at by: the problem, the price list, the water.

    Attributes:
        shut_off_m: the most head of any pump to be had against a closed valve [m].
        grown_m: roughness of pipe from pumps after a year [m].
    """

    site: Site
    catalog: Catalog
    water: Water
    shut_off_m: float
    grown_m: float


Of = Callable[[Seen, Candidate, Run], Value]
Measured = Callable[[Seen, Run, Sequence[Any]], Sequence[Array]]


def _plainly(seen: Seen, run: Run, values: Sequence[object]) -> Sequence[Array]:  # noqa: ARG001
    """Numbers as they are; None, the same for all that are compared, as nothing."""
    return (np.array([0.0 if value is None else value for value in values], dtype=np.float64),)


@dataclass(frozen=True, slots=True, eq=False)
class Quantity(Generic[Value]):
    """Something that rules read of a way to build a run.

    Attributes:
        name: what it is called.
        of: its value for one way; None where there is no such thing, which is neither better nor worse.
        measured: values of many ways as columns: less of it is less in each, and for a value with several
            columns nothing follows where some are less and others more.
        covers: quantities that are no more, or no less, wherever this one is.
    """

    name: str
    of: Of[Value]
    measured: Measured = _plainly
    covers: tuple[Quantity[Any], ...] = ()

    def __repr__(self) -> str:
        return self.name


On = Callable[[Site, Run], bool]
"""Whether something is read of a run."""


def anywhere(site: Site, run: Run) -> bool:  # noqa: ARG001
    """Of every run."""
    return True


def drains(site: Site, run: Run) -> bool:  # noqa: ARG001
    """Of runs by gravity."""
    return run.kind is RunKind.GRAVITY


def pumped(site: Site, run: Run) -> bool:  # noqa: ARG001
    """Of runs under pressure."""
    return run.kind is RunKind.PRESSURE


def holds_water(site: Site, run: Run) -> bool:
    """Of runs that stand full of water while the pump runs, and run empty as it stops."""
    return run.kind is RunKind.PRESSURE or run.name in running_drains(site)


def stands_over(site: Site, run: Run) -> bool:
    """Of drains of beds that stand full: what is over the lip runs off with the pump."""
    bed = site.vessels[run.start].bed if run.start in site.vessels else None
    return bed is not None and not bed.by_turns and run.kind is RunKind.GRAVITY and not run.idle


def overflows(site: Site, run: Run) -> bool:  # noqa: ARG001
    """Of overflows."""
    return run.overflow


def drowned(site: Site, run: Run) -> bool:
    """Of drains that are to hang below water where they end over a rim."""
    return site.mouth_of(run) is Mouth.BELOW_WATER


def flushes(site: Site, run: Run) -> bool:  # noqa: ARG001
    """Of waste drains."""
    return run.waste


@dataclass(frozen=True, slots=True)
class Read:
    """That a rule reads a quantity of some runs, and which way is never worse to it."""

    quantity: Quantity[Any]
    better: Better
    on: On


def less(quantity: Quantity[Any], on: On = anywhere) -> Read:
    """A quantity of which less is never worse."""
    return Read(quantity, Better.LESS, on)


def more(quantity: Quantity[Any], on: On = anywhere) -> Read:
    """A quantity of which more is never worse."""
    return Read(quantity, Better.MORE, on)


def same(quantity: Quantity[Any], on: On = anywhere) -> Read:
    """A quantity of which neither less nor more is sure to be no worse."""
    return Read(quantity, Better.NEITHER, on)


# --- what water loses on its way ------------------------------------------------------------------------


def _line(_: Seen, candidate: Candidate, run: Run) -> Conduit:
    return candidate.lines[run.name]


def _at_any_flow(_: Seen, run: Run, lines: Sequence[Conduit]) -> Sequence[Array]:  # noqa: ARG001
    return Conduits(lines).measures()


def _at_design_flow(seen: Seen, run: Run, lines: Sequence[Conduit]) -> Sequence[Array]:
    return (Conduits(lines).loss(seen.site.flows[run.name].design_m3_s, seen.water),)


def _grown(seen: Seen, run: Run, lines: Sequence[Conduit]) -> Sequence[Array]:
    flow = seen.site.flows[run.name].design_m3_s
    return (Conduits(lines).loss(flow, seen.water, seen.grown_m),)


def _with_spare(seen: Seen, run: Run, lines: Sequence[Conduit]) -> Sequence[Array]:
    return (Conduits(lines).loss(spared(seen.site, run.name), seen.water, seen.grown_m),)


LOSS_AT_DESIGN = Quantity("loss at design flow", _line, _at_design_flow)

FLAP = Quantity("head of the flap", lambda s, c, r: flap_head(s.catalog, c.drawn[r.name]))
"""What lifts the flap of its check valve [m]."""

GROWN_LOSS = Quantity("loss at design flow after a year", _line, _grown)

SPARE_LOSS = Quantity("loss at the flow with its spare after a year", _line, _with_spare)

LOSS = Quantity("loss at any flow", _line, _at_any_flow, (LOSS_AT_DESIGN, GROWN_LOSS, SPARE_LOSS, FLAP))
"""In pipe of one bore under the same standpipe: metres, fittings, what lifts a flap."""


def _standpipe(seen: Seen, candidate: Candidate, run: Run) -> Conduit:
    return foot_of(seen.catalog, candidate.drawn[run.name], seen.site.vessels[run.start])


STANDPIPE = Quantity("loss of the standpipe alone", _standpipe, _at_any_flow)
"""Open to the air at its foot."""


FLARED, PLAIN, OVER_CREST = 0.0, 1.0, 2.0
"""How a siphon begins: at a standpipe's flared or plain top, or over the crest of a pipe outside the bed."""


def _standpipe_top(seen: Seen, candidate: Candidate, run: Run) -> tuple[float, float] | None:
    drawn = candidate.drawn[run.name]
    if drawn.outside is not None:
        return candidate.pipe.bore_m, OVER_CREST
    if drawn.floor is None or drawn.floor.siphon is None:
        return None
    top = PLAIN if drawn.floor.siphon.flare is None else FLARED
    return drawn.floor.stood(seen.catalog, candidate.pipe).bore_m, top


def _both(_: Seen, run: Run, values: Sequence[tuple[float, float] | None]) -> Sequence[Array]:  # noqa: ARG001
    rows = [(0.0, 0.0) if value is None else value for value in values]
    return list(np.array(rows, dtype=np.float64).T)


STANDPIPE_TOP = Quantity("standpipe of a siphon", _standpipe_top, _both)
"""Its bore [m], and `FLARED`, `PLAIN` or `OVER_CREST`; None without a siphon."""

# --- how water gets into a drain ------------------------------------------------------------------------


def _inlet(seen: Seen, candidate: Candidate, run: Run) -> tuple[float, ...] | None:
    drawn = candidate.drawn[run.name]
    if not isinstance(drawn.start, Pierced):
        return None
    screen, tee, trim = drawn.one(InletScreen), drawn.one(Riser), drawn.one(Trim)
    drags = (
        None if screen is None else screen.resistance(seen.catalog),
        None
        if tee is None and drawn.outside is None
        else drawn.turns[0].resistance(seen.catalog, candidate.pipe),
        None if trim is None else trim.resistance(seen.catalog, candidate.pipe),
    )
    drag = (0.0 if one is None else one.k / one.bore_m**4 for one in drags)
    shut = float(throttled(seen.site, drawn))
    return (-inlet_bore(seen.catalog, drawn), inlet_of(drawn).inlet_k, *drag, shut)


def _by_place(seen: Seen, run: Run, values: Sequence[tuple[float, ...] | None]) -> Sequence[Array]:  # noqa: ARG001
    rows = [(0.0,) * 6 if value is None else value for value in values]
    return list(np.array(rows, dtype=np.float64).T)


INLET = Quantity("head at the inlet", _inlet, _by_place)
"""At a wall or over a lip, None at a junction: where less at one flow less at any, and so its rise."""


def _inlet_head(seen: Seen, candidate: Candidate, run: Run) -> float:
    drawn, flow = candidate.drawn[run.name], seen.site.flows[run.name].peak_m3_s
    return part_full_inlet_head(flow, inlet_bore(seen.catalog, drawn), inlet_of(drawn).inlet_k)


PEAK_HEAD = Quantity("head over the invert at peak flow", _inlet_head)
"""Of an overflow [m]."""

INVERT = Quantity(
    "invert over the level",
    lambda _, c, r: (
        tenth_mm_up(c.places[r.name, "start"].offset_m)
        + ROUNDED
        - tenth_mm_down(c.places[r.name, "start"].bore_m / 2)
    ),
)
"""Of an overflow [0.1 mm, up]."""


def _drained(_: Seen, candidate: Candidate, run: Run) -> float | None:
    place = candidate.places.get((run.name, "start"))
    return None if place is None else place.bore_m / 2 - place.offset_m


DRAINED = Quantity("water over the invert", _drained)
"""Of a drain whose hole goes with the water [m]; None for one that does not."""

# --- how drains of one vessel part its water --------------------------------------------------------------


def parts_water(site: Site, run: Run) -> bool:
    """Of drains that share a vessel's water."""
    return any(run.name in outlets for outlets in shared_outlets(site).values())


def _over_invert(seen: Seen, drawn: Line, flow_m3_s: float) -> float:
    if drawn.floor is not None:
        bore = inlet_bore(seen.catalog, drawn)
        return standpipe_head(flow_m3_s, bore) + screen_head(seen.catalog, drawn, flow_m3_s)
    return head_at_wall(seen.catalog, seen.site, drawn, flow_m3_s)


def _head(seen: Seen, candidate: Candidate, run: Run) -> float:
    return _over_invert(seen, candidate.drawn[run.name], seen.site.flows[run.name].design_m3_s)


def _in_hand(seen: Seen, candidate: Candidate, run: Run) -> float:
    flow = seen.site.flows[run.name].design_m3_s * least_kept(seen.site, run.name)
    return _head(seen, candidate, run) - _over_invert(seen, candidate.drawn[run.name], flow)


def _trimmed(seen: Seen, candidate: Candidate, run: Run) -> float:
    return float(Trim.suits(seen.site, run) and trim_of(candidate.drawn[run.name]) is not None)


HEAD = Quantity("head over the invert at design flow", _head)
"""Of a drain that shares its vessel's water [m]."""

IN_HAND = Quantity("how far its water may fall", _in_hand)
"""How far the water of a vessel may fall before such a drain leaves a vessel below short [m]."""

TRIMMED = Quantity("whether its share is set by hand", _trimmed)
"""1 where a part does it, else 0; never of the widest stream."""

# --- holes in walls, and how high a run ends ------------------------------------------------------------


def _hole(side: str, *, over: bool) -> Of[Place | None]:
    def hole(_: Seen, candidate: Candidate, run: Run) -> Place | None:
        place = candidate.places.get((run.name, side))
        return None if place is None or place.over is not over else place

    return hole


def _edges(_: Seen, run: Run, places: Sequence[Place | None]) -> Sequence[Array]:  # noqa: ARG001
    """Upper edge and lower edge turned round: less is further from rim and floor."""
    edges = [
        (0.0, 0.0) if p is None else (p.hole_m / 2 + p.offset_m, p.hole_m / 2 - p.offset_m) for p in places
    ]
    return list(np.array(edges, dtype=np.float64).T)


HOLES = {
    (side, over): Quantity(
        f"reach of the hole at the {side}{' over overload' * over}", _hole(side, over=over), _edges
    )
    for side in ("start", "finish")
    for over in (False, True)
}
"""By side and whether the overload level places it: how far a hole reaches up and down from that level."""


def _crown(_: Seen, candidate: Candidate, run: Run) -> float | None:
    finish = candidate.drawn[run.name].finish
    centre = finish.centre_m if isinstance(finish, AtVessel) else None
    return None if centre is None else centre + candidate.pipe.outside_m / 2


CROWN = Quantity("crown of a fixed end", _crown)
"""Top of the pipe where a drain ends at a height of its own [m]; None where it goes with the water."""


def _outlet(_: Seen, candidate: Candidate, run: Run) -> float | None:
    finish = candidate.drawn[run.name].finish
    if isinstance(finish, OverRim):
        return None if finish.under_m else finish.mouth_m
    return finish.centre_m if isinstance(finish, AtVessel) else None


OUTLET = Quantity("height of a fixed outlet", _outlet)
"""Where a drain lets its water go, at a height of its own [m]; None where it goes with the water."""


def _least_water(_: Seen, candidate: Candidate, run: Run) -> float | None:
    rim = candidate.drawn[run.name].rim
    return None if rim is None or rim.mouth_m is None or not rim.under_m else rim.mouth_m + rim.under_m


LEAST_WATER = Quantity("least water that a mouth in it is drawn for", _least_water)
"""Above the datum [m]; None for a drain that ends otherwise."""


def _crest(*, drowned: bool) -> Of[float | None]:
    def crest(_: Seen, candidate: Candidate, run: Run) -> float | None:
        rim = candidate.drawn[run.name].rim
        if rim is None or rim.centre_m is None or (rim.guard is not Guard.AIR_GAP) is not drowned:
            return None
        return rim.centre_m + candidate.pipe.outside_m / 2

    return crest


CREST = Quantity("crest over a rim", _crest(drowned=False))
"""Top of the pipe of an air gap over a rim [m]; None for any other end."""

DROWNED_CREST = Quantity("crest of an inlet that opens under water", _crest(drowned=True))
"""Top of the pipe over a rim that it goes down behind, under water [m]; None for any other end."""


def _over_water(_: Seen, candidate: Candidate, run: Run) -> float | None:
    place, guard = candidate.places.get((run.name, "finish")), candidate.drawn[run.name].guard
    if place is None or guard is not Guard.AIR_GAP:
        return None
    return place.offset_m + candidate.pipe.outside_m / 2 + ROUNDED / STEPS_IN_A_M


OVER_WATER = Quantity("crest through a wall", _over_water)
"""Top of the pipe of an air gap through a wall, over the overload level [m]; None for any other end."""


def _mouth(_: Seen, candidate: Candidate, run: Run) -> float | None:
    rim = candidate.drawn[run.name].rim
    return rim.mouth_m if rim is not None and rim.guard is Guard.AIR_GAP else None


MOUTH = Quantity("mouth of an air gap", _mouth)
"""At a fixed height [m]; None for any other end."""


def _hole_top(_: Seen, candidate: Candidate, run: Run) -> float | None:
    rim = candidate.drawn[run.name].rim
    return None if rim is None else rim.hole_top_m


HOLE_TOP = Quantity("upper edge of a siphon-break hole", _hole_top)
"""Above the datum [m]; None without one."""


def _bared(seen: Seen, candidate: Candidate, run: Run) -> float:
    end = candidate.drawn[run.name].rim
    if end is None or end.air_hole_m is None:
        return 0.0
    bared = seen.site.vessels[run.finish].water_min_m - end.air_hole_m + end.air_hole_width_m / 2
    return bared + ROUNDED / STEPS_IN_A_M


BARED = Quantity("water over a siphon-break hole", _bared)
"""Of the vessel behind it at its lowest water, over the hole's lower edge [m]; 0 without one."""


BORE = Quantity("bore of the pipe", lambda _, c, __: c.pipe.bore_m)
"""[m]."""


def _held(_: Seen, candidate: Candidate, run: Run) -> float:
    bore = candidate.pipe.bore_m
    return math.pi / 4 * bore * bore * candidate.drawn[run.name].length_m


HELD = Quantity("water in the pipe", _held)
"""[m3]."""

RATING = Quantity("rating", lambda s, c, _: min(c.rating_m, s.shut_off_m))
"""Least pressure rating of what pressure can reach, as far as any pump could test it [m of water]."""

# --- how a run gets from height to height ---------------------------------------------------------------


def _bounds(_: Seen, run: Run, values: Sequence[tuple[Apart, ...]]) -> Sequence[Array]:  # noqa: ARG001
    """By difference of levels its least, and its most turned round; what asks nothing of it asks least."""
    asked = [{(apart.higher, apart.lower): apart for apart in value} for value in values]
    found: list[Array] = []
    for what in dict.fromkeys(key for each in asked for key in each):
        here = [each.get(what) for each in asked]
        found.append(np.array([-math.inf if one is None else one.least_m for one in here]))
        found.append(np.array([-math.inf if one is None else -one.most_m for one in here]))
    return found


APART = Quantity("levels that its legs need", lambda _, c, r: c.apart.get(r.name, ()), _bounds)
"""What the legs of a run on the plan ask of levels; of fewer and wider bounds less."""

# --- what is bought -------------------------------------------------------------------------------------


def _bought(*_: object) -> None:
    """Weighed by the bills themselves."""


def _by_bill(*_: object) -> Sequence[Array]:
    return ()


PARTS = Quantity("pieces of each part", _bought, _by_bill)
SPENDING = Quantity("spending", _bought, _by_bill)
