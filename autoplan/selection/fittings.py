"""Turns and valves worth considering on one pipe."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

from autoplan.catalog.parts import Catalog, Fixture, FixtureKind, Pipe, TurnStyle
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.valve import valve_resistance
from autoplan.problem.site import Draw
from autoplan.rules.asked import Flushed, Screened, Turned, Valved
from autoplan.rules.quantities import FLAP, LOSS
from autoplan.selection.making import Making, Offered


def turns(making: Making, pipe: Pipe, angle: int) -> list[Offered]:
    """Turn styles for one angle on one pipe."""
    made: list[tuple[TurnStyle, tuple[str, ...]]] = []
    if pipe.bend_radius_m > 0:
        made.append((TurnStyle.BEND, ()))
    for turn in making.shelf.turns_on(pipe.end):
        if turn.angle == angle:
            made.append((turn.style, (turn.id,)))
        if angle == 90 and turn.angle == 45 and turn.style is TurnStyle.TIGHT:
            made.append((TurnStyle.PAIRED, (turn.id, turn.id)))
    options = []
    for style, parts in made:
        if not making.allows("turn", [Turned(run, angle, style) for run in making.members]):
            continue
        resistance = Corner(angle, style, parts).resistance(making.catalog, pipe)
        rating = min((making.catalog.turns[part].rating_m for part in parts), default=math.inf)
        score = making.score_parts(parts, resistance.k / resistance.bore_m**4, rating)
        options.append(Offered(parts, score, style))
    # Pipe that bends by itself takes room that an elbow does not.
    bends = [option for option in options if option.style is TurnStyle.BEND]
    return bends + making.pareto([option for option in options if option.style is not TurnStyle.BEND])


def valves(making: Making, pipe: Pipe) -> list[Offered]:
    """Balancing valves with their adaptors; first the valve, then the chain of each side.

    The feeds of timed beds get timed ones, whose power counts as well.
    """
    timed = making.first.finish in making.site.timed_beds()
    return valves_of(making, pipe, "timed" if timed else "ball")


def valves_of(making: Making, pipe: Pipe, style: str) -> list[Offered]:
    """Valves of a style with their adaptors; first the valve, then the chain of each side."""
    options = []
    for valve in making.shelf.valves(style):
        if not making.allows("valve", [Valved(run, valve) for run in making.members]):
            continue
        sides = [making.chains(end, pipe.end) for end in valve.ends]
        for before, after in product(*sides):
            if len(before.parts) != len(after.parts):
                continue
            resistance = valve_resistance(making.catalog, pipe, valve.id)
            parts = (valve.id, *before.parts, *after.parts)
            narrow = min(before.bore_m, after.bore_m, pipe.bore_m)
            loss = resistance.k / resistance.bore_m**4 + (pipe.bore_m / narrow) ** 4 - 1
            rating = min(valve.rating_m, before.rating_m, after.rating_m)
            score = (*making.score_parts(parts, loss, rating), valve.watts)
            options.append(Offered(parts, (*score, *making.score(resistance.loss(0.0), FLAP, LOSS))))
    return making.pareto(options)


@dataclass(frozen=True, slots=True)
class Added:
    """What a drain may have besides pipe and turns: a screen on its inlet, tee and plug to flush it by."""

    screen: InletScreen | None = None
    flush: FlushTee | None = None


def added_on(making: Making, pipe: Pipe) -> list[Added]:
    """Every screen with every flushing point that the rules allow on this pipe, none among them."""
    screens, flushes = _screens(making, pipe), _flushes(making, pipe)
    return [Added(screen, flush) for screen, flush in product(screens, flushes)]


def _fixtures(making: Making, kind: FixtureKind) -> list[Fixture]:
    rows = making.catalog.fixtures.values()
    return [part for part in rows if part.kind is kind and part.id not in making.shelf.gone]


def _screens(making: Making, pipe: Pipe) -> list[InletScreen | None]:
    """Screens that may sit on a drain's inlet, or none where none is asked for.

    On a standpipe of other pipe than the drain's a screen fits or not with that: see `goes_on`.
    """
    wished = any(run.screen for run in making.members)
    upright = making.first.draw is Draw.STANDPIPE
    fits = [
        part
        for part in (_fixtures(making, FixtureKind.SCREEN) if wished else [])
        if upright or _wide_enough(part, pipe)
    ]
    found: list[InletScreen | None] = []
    for screen in (None, *fits):
        asked = [Screened(making.site, run, pipe, screen) for run in making.members]
        if making.allows("screen or flushing point", asked):
            found.append(None if screen is None else InletScreen(screen.id))
    return found


def _wide_enough(screen: Fixture, pipe: Pipe) -> bool:
    return screen.least_m - 1e-9 <= pipe.outside_m <= screen.most_m + 1e-9


def goes_on(catalog: Catalog, screen: InletScreen, pipe: Pipe, start: LineEnd) -> bool:
    """Whether a screen can be pushed on a drain's inlet: its pipe's, or its standpipe's without a flare."""
    stood = pipe
    if isinstance(start, ThroughFloor):
        if start.siphon is not None and start.siphon.flare is not None:
            return False
        stood = start.stood(catalog, pipe)
    return _wide_enough(catalog.fixtures[screen.part], stood)


def _flushes(making: Making, pipe: Pipe) -> list[FlushTee | None]:
    """Nothing where the rules allow that; else tees on this pipe with the plugs for their third end."""
    plain = [Flushed(making.site, run, pipe, flush=False) for run in making.members]
    if making.allows("screen or flushing point", plain):
        return [None]
    mates, options = making.shelf.joining.mates, []
    for tee in making.shelf.tees():
        if not all(mates(end, pipe.end) for end in tee.ends[:2]):
            continue
        for plug in _fixtures(making, FixtureKind.PLUG):
            if plug.end is not None and mates(tee.ends[2], plug.end):
                parts = (tee.id, plug.id)
                options.append(Offered(parts, making.score_parts(parts, -tee.bore_m, tee.rating_m)))
    return [FlushTee(*option.parts) for option in making.pareto(options)]
