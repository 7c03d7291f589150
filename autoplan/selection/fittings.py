"""Turns and balancing valves worth considering on one pipe."""

from __future__ import annotations

import math
from itertools import product

from autoplan.catalog.parts import Fixture, FixtureKind, Pipe, TurnStyle
from autoplan.drawing import DrawnTurn
from autoplan.rules.circuit import turn_resistance, valve_resistance
from autoplan.selection.making import Fitting, Making


def turns(making: Making, pipe: Pipe, angle: int) -> list[Fitting]:
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
        refused = [
            rule.id
            for rule in making.book.rules
            for run in making.members
            if not rule.admits_turn(run, angle, style)
        ]
        if refused:
            making.note("turn", refused[0])
            continue
        resistance = turn_resistance(making.catalog, pipe, DrawnTurn(angle, style, parts))
        rating = min((making.catalog.turns[part].rating_m for part in parts), default=math.inf)
        score = making.score_parts(parts, resistance.k / resistance.bore_m**4, rating)
        options.append(Fitting(parts, score, style))
    return making.pareto(options)


def valves(making: Making, pipe: Pipe) -> list[Fitting]:
    """Balancing valves with their adaptors; first the valve, then the chain of each side."""
    options = []
    for valve in making.shelf.balancing_valves():
        sides = [making.chains(end, pipe.end) for end in valve.ends]
        for before, after in product(*sides):
            if len(before.parts) != len(after.parts):
                continue
            resistance = valve_resistance(making.catalog, pipe, valve.id)
            parts = (valve.id, *before.parts, *after.parts)
            narrow = min(before.bore_m, after.bore_m, pipe.bore_m)
            loss = resistance.k / resistance.bore_m**4 + (pipe.bore_m / narrow) ** 4 - 1
            rating = min(valve.rating_m, before.rating_m, after.rating_m)
            options.append(Fitting(parts, making.score_parts(parts, loss, rating)))
    return making.pareto(options)


def screens(making: Making, pipe: Pipe) -> list[str | None]:
    """Screens that may sit on a drain's inlet, or none where none is asked for."""
    fits = [
        part.id
        for part in making.catalog.fixtures.values()
        if part.kind is FixtureKind.SCREEN
        and part.id not in making.shelf.gone
        and part.least_m - 1e-9 <= pipe.outside_m <= part.most_m + 1e-9
    ]
    found: list[str | None] = []
    for screen in (None, *(fits if any(run.screen for run in making.members) else ())):
        refused = [
            rule.id
            for rule in making.book.rules
            for run in making.members
            if not rule.admits_screen(making.site, run, pipe, _fixture(making, screen))
        ]
        if refused:
            making.note("screen", refused[0])
        else:
            found.append(screen)
    return found


def _fixture(making: Making, part: str | None) -> Fixture | None:
    return None if part is None else making.catalog.fixtures[part]
