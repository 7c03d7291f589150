"""A line as the water meets it: its own pipe, and what stands in the way, folded over its fittings."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from functools import lru_cache

from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Fitting
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.passage import least_rating, passage, smallest_bore
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.trim import Trim
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.wall import Pierced
from autoplan.hydraulics.conduit import Conduit, Resistance, Stretch
from autoplan.hydraulics.gravity import part_full_inlet_head
from autoplan.hydraulics.water import Water, water_at
from autoplan.line.row import Line
from autoplan.problem.site import Run, RunKind, Site, Vessel

_inlet_head = lru_cache(maxsize=4096)(part_full_inlet_head)


def site_water(site: Site) -> Water:
    """Water at the temperature that the problem states."""
    return water_at(site.wishes.water_celsius)


def conduit_of(catalog: Catalog, run: Run, line: Line) -> Conduit:
    """The line from its start to its finish, without what happens at junctions and at the pump."""
    pipe = catalog.pipes[line.pipe]
    fittings = resistances_of(catalog, run, line)
    return Conduit(pipe.bore_m, pipe.roughness_m, line.length_m, fittings, stretches_of(catalog, line))


def stretches_of(catalog: Catalog, line: Line) -> tuple[Stretch, ...]:
    """Lengths of other pipe on the line: a standpipe of its own."""
    return () if line.floor is None else line.floor.stretch(catalog)


def resistances_of(catalog: Catalog, run: Run, line: Line) -> tuple[Resistance, ...]:
    """What stands in the water's way along a line besides its pipe; no length or height has a say in it."""
    pipe = catalog.pipes[line.pipe]
    found: list[Resistance | None] = [turn.resistance(catalog, pipe) for turn in line.turns]
    found += (each for one in line.fittings for each in one.resistances(catalog, pipe))
    if line.joins:
        found += [passage(pipe.bore_m, smallest_bore(catalog, line.coupling), pipe.bore_m)] * line.joins
    if run.kind is RunKind.GRAVITY:
        found += line.start.entry(catalog, pipe)
    found += line.finish.outlet(catalog, pipe)
    return tuple(one for one in found if one is not None)


def narrowest(catalog: Catalog, line: Line, vessels: Collection[str]) -> float:
    """Narrowest place of a line [m]: pipe and all on it, but for what joins it to a pump in a vessel."""
    parts = [line.pipe, *line.couplings, *(part for turn in line.turns for part in turn.pieces)]
    at_pump = type(line.start) is LineEnd and line.start.at in vessels
    parts += [part for one in line.fittings if not (at_pump and one is line.start) for part in one.parts()]
    bores: Iterator[float] = (getattr(catalog.part(part), "bore_m", 0.0) for part in parts)
    # A seal passes its pipe, and has none of its own.
    return min(bore for bore in bores if bore)


def rating_of(catalog: Catalog, line: Line) -> float:
    """Least rating of the pipe and of everything on it that a pump's head can reach [m of water]."""
    own = catalog.pipes[line.pipe].rating_m, least_rating(catalog, line.coupling)
    turns = (catalog.turns[part].rating_m for turn in line.turns for part in turn.pieces)
    return min(*own, *turns, *(rating for one in line.fittings for rating in one.ratings_m(catalog)))


def inlet_of(line: Line) -> Pierced:
    """The hole through which a drain takes its water.

    Raises:
        ValueError: the line starts at none.
    """
    if not isinstance(line.start, Pierced):
        raise ValueError(f"{line.run}: a drain needs a hole to start in")
    return line.start


def inlet_bore(catalog: Catalog, line: Line) -> float:
    """Bore [m] through which a drain takes its water at the wall, the floor or the standpipe's lip."""
    return inlet_of(line).inlet_bore_m(catalog, catalog.pipes[line.pipe])


def screen_head(catalog: Catalog, line: Line, flow_m3_s: float) -> float:
    """How much higher the water stands before a drain's screen than behind it [m], at a flow [m3/s]."""
    return sum((screen.resistance(catalog).loss(flow_m3_s) for screen in line.all(InletScreen)), 0.0)


def trim_head(catalog: Catalog, line: Line, flow_m3_s: float) -> float:
    """Head [m] that an elbow or a sleeve on a drain's inner end takes at a flow [m3/s]."""
    trim = line.one(Trim)
    return 0.0 if trim is None else trim.resistance(catalog, catalog.pipes[line.pipe]).loss(flow_m3_s)


def trim_of(line: Line) -> Fitting | None:
    """What sets a drain's share by hand: a part for it, or the valve that the line has anyway."""
    found = (*line.all(Trim), *(one for one in line.all(ValveSet) if not isinstance(one, CheckValveSet)))
    return next(iter(found), None)


def trim_range(catalog: Catalog, line: Line) -> float:
    """By how much what sets a drain's share raises its edge, at most [m]; a valve by all there is."""
    trim = line.one(Trim)
    return math.inf if trim is None else trim.range_m(catalog)


def throttled(site: Site, line: Line) -> bool:
    """Whether a valve sets the share of a drain: it takes more the more runs, where an edge does not."""
    trim = trim_of(line)
    return trim is not None and trim.on_straight and Trim.suits(site, site.runs[line.run])


def head_at_wall(catalog: Catalog, site: Site, line: Line, flow_m3_s: float) -> float:
    """Head [m] over its hole's invert that a drain through a wall needs at a flow [m3/s], with all before it.

    Behind a riser the vessel stands higher than the water that enters at the wall by what the riser takes.
    Of a siphon pipe outside a bed it is the head over its crest.
    """
    if line.outside is not None:
        return _head_over_crest(catalog, site, line, line.outside, flow_m3_s)
    riser, pipe = line.one(Riser), catalog.pipes[line.pipe]
    at_hole = head_at_hole(catalog, line, flow_m3_s) + trim_head(catalog, line, flow_m3_s)
    if riser is None:
        return at_hole
    vessel = site.vessels[inlet_of(line).at]
    return at_hole + riser.head(catalog, pipe, vessel, flow_m3_s, site_water(site))


def head_at_hole(catalog: Catalog, line: Line, flow_m3_s: float) -> float:
    """Head [m] over its hole's invert by which a drain's hole and screen alone let in a flow [m3/s]."""
    start, pipe = inlet_of(line), catalog.pipes[line.pipe]
    at_wall = _inlet_head(flow_m3_s, start.inlet_bore_m(catalog, pipe), start.inlet_k)
    return at_wall + screen_head(catalog, line, flow_m3_s)


def _head_over_crest(
    catalog: Catalog, site: Site, line: Line, start: OutsideSiphon, flow_m3_s: float
) -> float:
    """Head [m] over the invert at the crest of a siphon pipe that water runs over and does not fill.

    It passes critical depth there, behind a turn; up to it screen, hole, first turn and riser run full.
    """
    pipe, vessel = catalog.pipes[line.pipe], site.vessels[start.at]
    turn, up_m = line.turns[0].resistance(catalog, pipe), vessel.water_max_m - vessel.floor_m
    full = tuple(one for one in (*start.entry(catalog, pipe), turn) if one is not None)
    up = Conduit(pipe.bore_m, pipe.roughness_m, up_m, full)
    over = _inlet_head(flow_m3_s, pipe.bore_m, turn.k)
    return over + screen_head(catalog, line, flow_m3_s) + up.loss(flow_m3_s, site_water(site))


def inlet_line(
    catalog: Catalog, pipe: Pipe, end: ThroughFloor, vessel: Vessel, screen: str | None = None
) -> Conduit:
    """A floor outlet down to its foot: bell, screen, lip, standpipe and wall part, and the jet below it."""
    behind = None if screen is None else InletScreen(screen).resistance(catalog)
    return end.down_to_foot(catalog, pipe, vessel, behind)


def foot_of(catalog: Catalog, line: Line, vessel: Vessel) -> Conduit:
    """A drain down to the foot of the standpipe that it starts at, as `inlet_line`.

    Raises:
        ValueError: the line starts in no floor.
    """
    if line.floor is None:
        raise ValueError(f"{line.run}: no outlet in a floor")
    screen = line.one(InletScreen)
    part = None if screen is None else screen.part
    return inlet_line(catalog, catalog.pipes[line.pipe], line.floor, vessel, part)


def flap_head(catalog: Catalog, line: Line) -> float:
    """Head [m] that lifts the flap of a line's check valve; 0 without one."""
    check = line.one(CheckValveSet)
    return 0.0 if check is None else check.flap_head(catalog, catalog.pipes[line.pipe])


def timed_watts(catalog: Catalog, site: Site, line: Line) -> float:
    """Mean power of a line's timed valve [W]: its own for the share of time that it is open; else 0."""
    finish, valve = site.vessels.get(site.runs[line.run].finish), line.one(ValveSet)
    bed = None if finish is None else finish.bed
    if line.later or valve is None or bed is None or bed.timer is None:
        return 0.0
    return catalog.valves[valve.valve].watts * min(1.0, bed.timer.on_s * bed.floods_per_s)
