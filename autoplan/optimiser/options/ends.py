"""How a run may meet what it starts and finishes at: wall parts with what they need, rims, junctions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from autoplan.catalog.joining import Chain
from autoplan.catalog.parts import End, Penetration, Pipe, SiphonKind, TurnStyle, Way
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.passage import least_rating
from autoplan.fittings.rim import OPEN_TURN, OverRim
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.optimiser.options.fittings import OnPipe
from autoplan.optimiser.options.inlets import guards_for
from autoplan.optimiser.options.making import Making, Offered
from autoplan.optimiser.options.outside import air_tubes, begun
from autoplan.optimiser.options.standpipes import Standing, over, standings
from autoplan.problem.site import Draw, Entry, RunKind
from autoplan.rules.asked import Entering, InWall
from autoplan.rules.base import Given
from autoplan.rules.quantities import LOSS, LOSS_AT_DESIGN

LEAST_SHARE = 0.6
"""A wall part is not narrower than this share of its pipe's bore; common practice, no source."""

Slowed = tuple[Corner | None, str]
"""What slows water inside a wall: a turn on the pipe's end, or the id of a stilling well round it."""

NOTHING: Slowed = (None, "")


@dataclass(frozen=True, slots=True)
class EndOption:
    """One way for an end: drawn but for its heights, its smallest passage, its hole [m], 0 for none."""

    end: LineEnd
    bore_m: float
    hole_m: float

    @property
    def hole(self) -> Pierced:
        """The end, where it is in a hole."""
        assert isinstance(self.end, Pierced)
        return self.end


def starts(making: Making, pipe: Pipe) -> list[EndOption]:
    """Ways for the start."""
    run = making.first
    if run.kind is RunKind.PRESSURE or run.start in making.site.junctions:
        return [EndOption(LineEnd(run.start), pipe.bore_m, 0.0)]
    found = _through(making, pipe, "start", in_floor=run.draw is Draw.STANDPIPE)
    if run.draw is not Draw.OUTSIDE:
        return found
    tubes, air_m = air_tubes(making), making.book.given(Given.AIR_MOUTH)
    walls = [(one, one.end) for one in found if isinstance(one.end, ThroughWall)]
    return [replace(one, end=begun(wall, tube, air_m)) for one, wall in walls for tube in tubes]


def finishes(making: Making, pipe: Pipe) -> list[EndOption]:
    """Ways for the finish."""
    run = making.first
    if run.finish in making.site.junctions:
        return [EndOption(LineEnd(run.finish), pipe.bore_m, 0.0)]
    options: list[EndOption] = []
    if run.kind is RunKind.GRAVITY:
        walls = [] if run.entry is Entry.OVER_RIM else _through(making, pipe, "finish", in_floor=False)
        # Whether a measured line comes down over the rim nobody said.
        if run.plan is None or run.entry is Entry.WALL:
            return walls
        over_rim = [Entering(making.site, one, down=True, over_rim=True) for one in making.members]
        if not making.allows("inlet over the rim", over_rim):
            return walls
        return [*walls, EndOption(OverRim(run.finish, corner=OPEN_TURN), pipe.bore_m, 0.0)]
    if run.entry is not Entry.OVER_RIM:
        walls = _through(making, pipe, "finish", in_floor=False)
        for guard in guards_for(making, pipe, Way.BULKHEAD) if walls else ():
            options += [replace(wall, end=replace(wall.hole, guard=guard)) for wall in walls]
    if run.entry is not Entry.WALL:
        for guard in guards_for(making, pipe, Way.OVER_RIM):
            rim = OverRim(run.finish, guard=guard, corner=OPEN_TURN)
            options.append(EndOption(rim, pipe.bore_m, 0.0))
    return options


def _through(making: Making, pipe: Pipe, side: str, *, in_floor: bool) -> list[EndOption]:
    """Wall parts for one end: of each way and standpipe, those not both dearer and narrower than another."""
    by_way: dict[object, list[tuple[Offered, EndOption]]] = {}
    stood = standings(making, pipe) if in_floor else []
    turned = _turned(making, pipe, side)
    for part in making.shelf.penetrations():
        making.shelf.clock.check()
        refused = making.book.refusing(
            *(InWall(making.site, run, getattr(run, side), in_floor, part) for run in making.members)
        )
        on_it = stood if refused else over(making, part.id, stood)
        for option in _wall_part(making, pipe, part, side, on_it if in_floor else (None,), turned):
            if refused:
                making.note("wall part", refused[0])
                break
            hole = option.hole
            parts = hole.parts()
            rating = least_rating(making.catalog, hole.chain)
            score = (*making.score_parts(parts, -option.bore_m, rating), option.hole_m)
            score += _turning(making, pipe, hole)
            upright = (hole.standpipe, hole.siphon, hole.drain_hole) if isinstance(hole, ThroughFloor) else ()
            by_way.setdefault((part.way, upright), []).append((Offered(parts, score), option))
    kept = []
    for options in by_way.values():
        best = {id(fitting) for fitting in making.pareto([fitting for fitting, _ in options])}
        kept += [option for fitting, option in options if id(fitting) in best]
    return kept


def _turned(making: Making, pipe: Pipe, side: str) -> Sequence[Slowed]:
    """What slows the water inside a wall: nothing where rules allow that, else a turn or a stilling well.

    Of a drain that enters a settler: the shortest turn that there is, for it stands off the wall, and each
    stilling well that the rules allow.
    """
    if side == "start" or making.pressed:
        return (NOTHING,)
    site, runs = making.site, making.members
    if making.allows("inlet turned down", [Entering(site, run, down=False) for run in runs]):
        return (NOTHING,)
    found: list[Slowed] = []
    if making.allows("inlet turned down", [Entering(site, run, down=True) for run in runs]):
        ways = [way for way in Corner.ways(OnPipe(making, pipe), 90) if len(way.pieces) == 1]
        style = min((way.style for way in ways), key=list(TurnStyle).index, default=None)
        found += [(way, "") for way in ways if way.style is style]
    rows = [row for row in making.catalog.siphons.values() if row.kind is SiphonKind.WELL]
    for well in (row for row in rows if row.id not in making.shelf.gone):
        asked = [Entering(site, run, down=False, well=well, outside_m=pipe.outside_m) for run in runs]
        if making.allows("stilling well", asked):
            found.append((None, well.id))
    return found


def _turning(making: Making, pipe: Pipe, hole: Pierced) -> tuple[float, ...]:
    """What the turn inside takes, where there is one; nothing in a stilling well in its place."""
    if isinstance(hole, ThroughWall) and hole.well:
        return making.score(0.0, LOSS, LOSS_AT_DESIGN)
    if not isinstance(hole, ThroughWall) or hole.down is None:
        return ()
    turn = hole.down.resistance(making.catalog, pipe)
    return making.score(turn.k / turn.bore_m**4, LOSS, LOSS_AT_DESIGN)


def _wall_part(
    making: Making,
    pipe: Pipe,
    part: Penetration,
    side: str,
    stood: Sequence[Standing | None],
    turned: Sequence[Slowed],
) -> Iterator[EndOption]:
    """A wall part with each set of adaptors that it may have on this pipe; none if it cannot take it."""
    need = making.asked(side)
    at = getattr(making.first, side)
    if part.way is Way.SEAL and (
        pipe.bend_radius_m > 0 or not making.shelf.joining.mates(part.ends[1], pipe.end)
    ):
        return
    outside = making.chains(pipe.end if part.way is Way.SEAL else part.ends[1], pipe.end, need)
    own = part.bore_m or pipe.bore_m
    for standing, (down, well) in product(stood, turned):
        for out, within in product(outside, _inside(making, pipe, part, side, standing, down)):
            inner = math.inf if part.way is Way.SEAL else within.bore_m
            stood_bore = pipe.bore_m if standing is None else min(pipe.bore_m, standing.pipe.bore_m)
            if min(out.bore_m, own) < LEAST_SHARE * pipe.bore_m or inner < LEAST_SHARE * stood_bore:
                continue
            wall = ThroughWall(
                at,
                out.parts,
                way=part.way,
                penetration=part.id,
                inner_chain=within.parts,
                down=down,
                well=well,
            )
            end = wall if standing is None else standing.on(wall, pipe)
            bore = min(pipe.bore_m, own, out.bore_m, inner, wall.bore_m(making.catalog))
            yield EndOption(end, bore, part.hole_m)


def _inside(
    making: Making,
    pipe: Pipe,
    part: Penetration,
    side: str,
    standing: Standing | None,
    down: Corner | None,
) -> tuple[Chain, ...]:
    """Adaptors inside a vessel: to a standpipe, an open tee or a turn, or what stops a piece in its seal."""
    behind = _behind(making, pipe, standing) if side == "start" else None
    if down is not None:
        if part.way is Way.SEAL:
            return (Chain(),)
        return making.chains(part.ends[0], making.catalog.turns[down.pieces[0]].ends[0])
    if part.way is Way.SEAL:
        return _stops(making, pipe, behind)
    return (Chain(),) if behind is None else making.chains(part.ends[0], behind)


def _stops(making: Making, pipe: Pipe, behind: End | None) -> tuple[Chain, ...]:
    """What keeps the piece in a seal from sliding out: a coupling, unless a tee sits on it anyway.

    In a floor what joins the standpipe, which may be of another pipe.
    """
    if behind is not None and making.first.draw is Draw.SOLIDS_LIFTING:
        return (Chain(),)
    return making.chains(pipe.end, behind or pipe.end)


def _behind(making: Making, pipe: Pipe, standing: Standing | None) -> End | None:
    """What a wall part carries on the inside of a drain's start: tee, standpipe, or nothing."""
    if making.first.draw is Draw.SOLIDS_LIFTING:
        tee = making.shelf.plain_tee(pipe.end)
        return tee.ends[2] if tee is not None else None
    return None if standing is None else standing.pipe.end
