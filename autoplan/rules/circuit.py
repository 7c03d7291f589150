"""From parts to hydraulics: which resistance each part of a drawn run puts in the water's way.

The one place where a part's row becomes a K value; the selection's options and the verdict's survey both
come here, so that a design is priced and judged on the same physics, each with its own arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

from autoplan.catalog.parts import Catalog, Pipe, Tee, TurnStyle, Valve, Way
from autoplan.drawing import DrawnEnd, DrawnRun, DrawnTurn
from autoplan.hydraulics.fittings import (
    CHECK_LIFT_M_S,
    EXIT_K,
    SCREEN_K,
    ball_valve_k,
    check_valve_k,
    dividing_tee_k,
    entrance_k,
    joining_tee_k,
    k_from_kv,
    passage_k,
    turn_k,
)
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.gravity import part_full_inlet_head
from autoplan.hydraulics.line import Line, Resistance, Stretch
from autoplan.hydraulics.siphon import bell_resistance
from autoplan.hydraulics.water import Water, water_at
from autoplan.problem.site import Run, RunKind, Site, Vessel

FLARE_WALL = 1.15
"""Outside of a socket over that of the pipe that it takes; common practice, no source."""

_turn_k = lru_cache(maxsize=None)(turn_k)
_passage_k = lru_cache(maxsize=None)(passage_k)
_entrance_k = lru_cache(maxsize=None)(entrance_k)
_ball_valve_k = lru_cache(maxsize=None)(ball_valve_k)
_check_valve_k = lru_cache(maxsize=None)(check_valve_k)
_k_from_kv = lru_cache(maxsize=None)(k_from_kv)
_tee_k = lru_cache(maxsize=1000)(dividing_tee_k)
_inlet_head = lru_cache(maxsize=4096)(part_full_inlet_head)
# A plan asks for the K of a few hundred fittings tens of thousands of times.


def site_water(site: Site) -> Water:
    """Water at the temperature that the problem states."""
    return water_at(site.wishes.water_celsius)


def smallest_bore(catalog: Catalog, parts: Sequence[str]) -> float:
    """Smallest passage [m] through a chain of adaptors and pipe stubs; infinite for an empty chain."""
    bores = (
        catalog.adaptors[part].bore_m if part in catalog.adaptors else catalog.pipes[part].bore_m
        for part in parts
    )
    return min(bores, default=float("inf"))


def least_rating(catalog: Catalog, parts: Sequence[str]) -> float:
    """Least pressure rating [m of water] in a chain of adaptors and pipe stubs; infinite if empty."""
    ratings = (
        catalog.adaptors[part].rating_m if part in catalog.adaptors else catalog.pipes[part].rating_m
        for part in parts
    )
    return min(ratings, default=float("inf"))


def inlet_bore(catalog: Catalog, drawn: DrawnRun) -> float:
    """Bore [m] through which a gravity run takes its water at the wall, the floor or the standpipe's lip."""
    if drawn.start.standpipe is not None:
        return catalog.pipes[drawn.start.standpipe].bore_m
    pipe = catalog.pipes[drawn.pipe]
    return min(pipe.bore_m, penetration_bore(catalog, drawn.start))


def inlet_k(end: DrawnEnd) -> float:
    """Entrance K of a gravity run: a pipe that stands out from the wall is re-entrant, a fitting is flush."""
    protrudes = end.way is Way.SEAL or end.in_floor
    return _entrance_k("re-entrant" if protrudes else "flush")


def head_at_wall(catalog: Catalog, site: Site, drawn: DrawnRun, flow_m3_s: float) -> float:
    """Head [m] over its hole's invert that a drain through a wall needs at a flow [m3/s], with its screen.

    Behind a riser the vessel stands higher than the water that enters at the wall by what the riser takes.
    """
    at_wall = _inlet_head(flow_m3_s, inlet_bore(catalog, drawn), inlet_k(drawn.start))
    before = screen_head(catalog, drawn, flow_m3_s)
    return at_wall + before + _riser_head(catalog, site, drawn, flow_m3_s)


def _riser_head(catalog: Catalog, site: Site, drawn: DrawnRun, flow_m3_s: float) -> float:
    """Head [m] from the middle of a vessel's floor to the open tee at its wall; 0 without one.

    The mouth of a pipe that stands free, level to the wall, a turn, up to the highest water. What turning
    into the branch takes stands for the entrance there, which `part_full_inlet_head` counts.
    """
    if drawn.open_tee is None:
        return 0.0
    vessel, pipe = site.vessels[drawn.start.at], catalog.pipes[drawn.pipe]
    length = vessel.radius_m + vessel.water_max_m - vessel.floor_m
    mouth = Resistance(entrance_k("re-entrant"), pipe.bore_m)
    turn = turn_resistance(catalog, pipe, drawn.turns[0])
    return Line(pipe.bore_m, pipe.roughness_m, length, (mouth, turn)).loss(flow_m3_s, site_water(site))


SCREEN_CLEAR = 0.5
"""Share of a screen's openings that is clear between two cleanings; common practice, no source."""


def screen_resistance(catalog: Catalog, screen: str | None) -> Resistance | None:
    """The resistance of the screen on a drain's inlet, in one round hole of the area that is clear."""
    if screen is None:
        return None
    area = catalog.fixtures[screen].open_m2 * SCREEN_CLEAR
    return Resistance(SCREEN_K, math.sqrt(4.0 * area / math.pi))


def screen_head(catalog: Catalog, drawn: DrawnRun, flow_m3_s: float) -> float:
    """How much higher the water stands before a drain's screen than behind it [m], at a flow [m3/s]."""
    resistance = screen_resistance(catalog, drawn.screen)
    return 0.0 if resistance is None else resistance.loss(flow_m3_s)


def penetration_bore(catalog: Catalog, end: DrawnEnd) -> float:
    """Smallest passage [m] at an end: its penetration (a seal leaves the pipe's own) and its adaptors."""
    bore = smallest_bore(catalog, end.chain)
    if end.penetration is not None:
        own = catalog.penetrations[end.penetration].bore_m
        bore = min(bore, own or float("inf"))
    return bore


def start_bore(catalog: Catalog, end: DrawnEnd) -> float:
    """Smallest passage [m] between what stands in a vessel and the drain outside: wall part and adaptors.

    What only keeps a piece from sliding out of its seal narrows nothing.
    """
    bore = penetration_bore(catalog, end)
    return bore if end.way is Way.SEAL else min(bore, smallest_bore(catalog, end.inner_chain))


def passage(before_m: float, narrow_m: float, after_m: float) -> Resistance | None:
    """The resistance of a narrower passage between two bores [m], or None where nothing narrows or widens."""
    narrow = min(narrow_m, before_m, after_m)
    k = _passage_k(before_m, narrow, after_m)
    return Resistance(k, narrow) if k > 0 else None


def turn_resistance(catalog: Catalog, pipe: Pipe, turn: DrawnTurn) -> Resistance:
    """The resistance of one drawn turn, in its own bore where that is less than the pipe's."""
    if turn.style is TurnStyle.BEND:
        return Resistance(
            _turn_k(turn.angle, turn.style, pipe.bore_m, pipe.bend_radius_m / pipe.bore_m, pipe.roughness_m),
            pipe.bore_m,
        )
    part = catalog.turns[turn.parts[0]]
    bore = min(pipe.bore_m, part.bore_m)
    return Resistance(_turn_k(turn.angle, turn.style, bore, part.radius_over_bore, pipe.roughness_m), bore)


def valve_resistance(catalog: Catalog, pipe: Pipe, valve_id: str) -> Resistance:
    """The resistance of a valve fully open, from its measured Kv or its bore, with a check valve's flap."""
    valve = catalog.valves[valve_id]
    if valve.style == "check":
        return _check_resistance(valve, pipe)
    if valve.kv_m3_h is not None:
        return Resistance(_k_from_kv(valve.kv_m3_h, pipe.bore_m), pipe.bore_m)
    return Resistance(_ball_valve_k(min(valve.bore_m, pipe.bore_m), pipe.bore_m), pipe.bore_m)


def flap_head(catalog: Catalog, drawn: DrawnRun) -> float:
    """Head [m] that lifts the flap of a run's check valve; 0 without one."""
    if drawn.check is None:
        return 0.0
    return valve_resistance(catalog, catalog.pipes[drawn.pipe], drawn.check).loss(0.0)


def _check_resistance(valve: Valve, pipe: Pipe) -> Resistance:
    """The resistance of a check valve, whose flap weighs what Crane's does also where its Kv is measured."""
    k = _check_valve_k(valve.bore_m)
    if valve.kv_m3_h is None:
        return Resistance(k, min(valve.bore_m, pipe.bore_m), CHECK_LIFT_M_S)
    measured = _k_from_kv(valve.kv_m3_h, valve.bore_m)
    return Resistance(measured, valve.bore_m, CHECK_LIFT_M_S * math.sqrt(max(1.0, k / measured)))


def timed_watts(catalog: Catalog, site: Site, drawn: DrawnRun) -> float:
    """Mean power of a run's timed valve [W]: its own for the share of time that it is open; else 0."""
    finish = site.vessels.get(site.runs[drawn.run].finish)
    bed = None if finish is None else finish.bed
    if drawn.later or drawn.valve is None or bed is None or bed.timer is None:
        return 0.0
    return catalog.valves[drawn.valve].watts * min(1.0, bed.timer.on_s * bed.floods_per_s)


def line_of(catalog: Catalog, run: Run, drawn: DrawnRun) -> Line:
    """The run as a line from its start to its finish, without what happens at junctions and at the pump."""
    pipe = catalog.pipes[drawn.pipe]
    fittings = resistances_of(catalog, run, drawn)
    return Line(pipe.bore_m, pipe.roughness_m, drawn.length_m, fittings, standpipe_stretch(catalog, drawn))


def resistances_of(catalog: Catalog, run: Run, drawn: DrawnRun) -> tuple[Resistance, ...]:
    """What stands in the water's way along a run besides its pipe; no length or height has a say in it."""
    pipe = catalog.pipes[drawn.pipe]
    bore = pipe.bore_m
    found: list[Resistance | None] = [turn_resistance(catalog, pipe, turn) for turn in drawn.turns]
    if drawn.open_tee is not None:
        # The open tee of a solids-lifting outlet: everything comes up the run and leaves by the branch.
        narrow = min(bore, catalog.tees[drawn.open_tee].bore_m)
        found.append(Resistance(_tee_k("branch", 1.0, 1.0, narrow, narrow), narrow))
    if drawn.flush:
        narrow = min(bore, catalog.tees[drawn.flush[0]].bore_m)
        found.append(Resistance(_tee_k("run", 1.0, 1.0, narrow, narrow), narrow))
        found.append(passage(bore, narrow, bore))
    joins = sum(len(slot) - 1 for slot in drawn.slots_m)
    if joins:
        found += [passage(bore, smallest_bore(catalog, drawn.coupling), bore)] * joins
    if drawn.valve is not None:
        found.append(valve_resistance(catalog, pipe, drawn.valve))
        found.append(passage(bore, smallest_bore(catalog, drawn.valve_chain), bore))
    if drawn.check is not None:
        found.append(valve_resistance(catalog, pipe, drawn.check))
        found.append(passage(bore, smallest_bore(catalog, drawn.check_chain), bore))
    if run.kind is RunKind.GRAVITY and drawn.start.way is not None:
        found += _inlet(catalog, pipe, drawn)
    if drawn.finish.way is not None:
        way_out = min(bore, penetration_bore(catalog, drawn.finish))
        found.append(passage(bore, way_out, way_out))
        found.append(Resistance(EXIT_K, way_out))
    return tuple(resistance for resistance in found if resistance is not None)


def _inlet(catalog: Catalog, pipe: Pipe, drawn: DrawnRun) -> list[Resistance | None]:
    """How water enters a gravity run at its vessel: bell, screen, lip, wall part."""
    end, entry = drawn.start, inlet_bore(catalog, drawn)
    found: list[Resistance | None] = [Resistance(inlet_k(end), entry), *_bell(catalog, pipe, end)]
    found.append(screen_resistance(catalog, drawn.screen))
    before = pipe.bore_m if end.standpipe is None else entry
    return [*found, passage(before, min(entry, start_bore(catalog, end)), pipe.bore_m)]


def inlet_line(
    catalog: Catalog, pipe: Pipe, end: DrawnEnd, vessel: Vessel, screen: str | None = None
) -> Line:
    """A floor outlet down to its foot: bell, screen, lip, standpipe and wall part, and the jet below it."""
    stood = catalog.pipes[end.standpipe] if end.standpipe is not None else pipe
    top = vessel.water_max_m if end.standpipe_top_m is None else end.standpipe_top_m
    narrow = min(stood.bore_m, start_bore(catalog, end))
    found = [Resistance(inlet_k(end), stood.bore_m), passage(stood.bore_m, narrow, narrow)]
    found += [*_bell(catalog, pipe, end), screen_resistance(catalog, screen)]
    found.append(Resistance(EXIT_K, narrow))
    resistances = tuple(resistance for resistance in found if resistance is not None)
    return Line(stood.bore_m, stood.roughness_m, top - vessel.floor_m, resistances)


def _bell(catalog: Catalog, pipe: Pipe, end: DrawnEnd) -> list[Resistance | None]:
    if end.siphon is None or end.siphon.bell is None:
        return []
    return [bell_resistance(catalog.siphons[end.siphon.bell].inside_m, standpipe_outside(catalog, pipe, end))]


def standpipe_outside(catalog: Catalog, pipe: Pipe, end: DrawnEnd) -> float:
    """Widest outside [m] of a standpipe: its pipe's, or its flare's."""
    widest = (catalog.pipes[end.standpipe] if end.standpipe is not None else pipe).outside_m
    if end.siphon is not None and end.siphon.flare is not None:
        sizes = (
            catalog.systems[mouth.system][mouth.size] for mouth in catalog.adaptors[end.siphon.flare].ends
        )
        widest = max(widest, *(FLARE_WALL * (size.outside_m or 0.0) for size in sizes))
    return widest


def standpipe_stretch(catalog: Catalog, drawn: DrawnRun) -> tuple[Stretch, ...]:
    """A standpipe of other pipe than the run's own as a length of its own."""
    end = drawn.start
    if end.standpipe is None or end.standpipe_top_m is None or end.centre_m is None:
        return ()
    pipe = catalog.pipes[end.standpipe]
    return (Stretch(pipe.bore_m, pipe.roughness_m, end.standpipe_top_m - end.centre_m),)


def passage_loss(before_m: float, narrow_m: float, after_m: float, flow_m3_s: float) -> float:
    """Loss [m] through adaptors of smallest bore `narrow_m` between two bores [m], at a flow [m3/s]."""
    resistance = passage(before_m, narrow_m, after_m)
    return 0.0 if resistance is None else resistance.loss(flow_m3_s)


def tee_loss(tee: Tee, came_m3_s: float, goes_m3_s: float, *, by_branch: bool) -> float:
    """Loss [m] inside a tee from the run that arrives to the run that leaves.

    Args:
        tee: the part.
        came_m3_s, goes_m3_s: flow of the two runs; water divides where less leaves than arrives, else joins.
        by_branch: whether the run that carries less sits on the branch.

    The tee's K is on the velocity head of the whole flow in the tee's smallest bore.
    """
    if max(came_m3_s, goes_m3_s) <= 0.0:
        return 0.0
    port = "branch" if by_branch else "run"
    whole, part = max(came_m3_s, goes_m3_s), min(came_m3_s, goes_m3_s)
    k_of = dividing_tee_k if came_m3_s >= goes_m3_s else joining_tee_k
    k = k_of(port, whole, part, tee.bore_m, tee.bore_m)
    return k * velocity_head(velocity(whole, tee.bore_m))
