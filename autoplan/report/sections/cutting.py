"""How to cut the pipe: which pieces from which stick, and what each piece is for."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from autoplan.catalog.naming import name_of, row_of, times
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Design, Outcome
from autoplan.report.alike import gathered, together
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, numbers
from autoplan.report.units import DUST, Gauge, Units

STANDPIPE = "standpipe"
"""Place of a piece that is listed from the floor to its lip, as if no part stood at its foot."""

REST_M = (0.002, 0.005)
"""What a socket gives at each end of a piece to set it by [m]; common practice, no source."""

ALIKE_M = 2e-4
"""A piece of a line and a piece on a stick are the same if they differ by no more [m]."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece to cut, in steps of a gauge, and the run and place it is for ("" where nobody asks for it)."""

    steps: int
    run: str
    place: str


@dataclass(frozen=True, slots=True)
class ListedStick:
    """A stick and its pieces; number (within its pipe) and length are None for pipe cut from the roll.

    `left_over` is in steps of the gauge, `owned` whether it is the builder's and not bought.
    """

    pipe: str
    number: int | None
    length_m: float | None
    pieces: tuple[Piece, ...]
    left_over: int
    owned: bool = False


@dataclass(frozen=True, slots=True)
class AskedPiece:
    """A piece of pipe [m], and the run and place it is for ("" where nobody asks for it)."""

    pipe: str
    length_m: float
    run: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Pieces:
    """What pieces are for: those of each stick in the order of the drawing, and those cut from the roll."""

    from_sticks: tuple[tuple[AskedPiece, ...], ...]
    from_roll: tuple[AskedPiece, ...]


def asked_pieces(outcome: Outcome, design: Design) -> Pieces:
    """Every piece with what it is for."""
    wanted = _wanted(design)
    from_sticks = tuple(
        tuple(
            _take(outcome.catalog, wanted, cut.pipe, length) or AskedPiece(cut.pipe, length)
            for length in cut.pieces_m
        )
        for cut in design.drawing.cuts
    )
    return Pieces(from_sticks, tuple(wanted))


def sticks(outcome: Outcome, design: Design, gauge: Gauge) -> list[ListedStick]:
    """Every stick with what is cut from it, then what is cut from the roll, run by run."""
    asked = asked_pieces(outcome, design)
    seen: dict[str, int] = {}
    found: list[ListedStick] = []
    for cut, wanted in zip(design.drawing.cuts, asked.from_sticks, strict=True):
        seen[cut.pipe] = seen.get(cut.pipe, 0) + 1
        steps, left = marks(cut.pieces_m, cut.offcut_m, gauge)
        pieces = (Piece(marked, piece.run, piece.place) for marked, piece in zip(steps, wanted, strict=True))
        found.append(ListedStick(cut.pipe, seen[cut.pipe], cut.stick_m, tuple(pieces), left, cut.owned))
    found += [
        ListedStick(piece.pipe, None, None, (Piece(gauge.steps(piece.length_m), piece.run, piece.place),), 0)
        for piece in asked.from_roll
    ]
    return found


def marks(pieces_m: Sequence[float], offcut_m: float, gauge: Gauge) -> tuple[tuple[int, ...], int]:
    """Where to mark a stick: its pieces and what is left over, in steps of the gauge.

    Each piece is rounded to the nearest step. Where pieces rounded up would together not come out of the
    stick any more, those that gained most are rounded down instead; what is left over is rounded down.
    """
    exact = [piece / gauge.si * gauge.per_unit for piece in pieces_m]
    steps = [gauge.steps(piece) for piece in pieces_m]
    room = offcut_m / gauge.si * gauge.per_unit + sum(exact) + DUST
    while sum(steps) > room and any(step > true for step, true in zip(steps, exact, strict=True)):
        gains = [step - true for step, true in zip(steps, exact, strict=True)]
        steps[gains.index(max(gains))] -= 1
    return tuple(steps), math.floor(room - sum(steps))


def _wanted(design: Design) -> list[AskedPiece]:
    """Every piece of every line, in the order of the water."""
    return [
        AskedPiece(item.part, item.length_m, line.run, item.place)
        for line in design.verdict.lines.values()
        for item in (*line.items, *(side.item for side in line.sides))
        if item.length_m is not None
    ]


def _take(catalog: Catalog, wanted: list[AskedPiece], pipe: str, length_m: float) -> AskedPiece | None:
    """Take the first piece of that pipe and length out of those wanted, if there is one."""
    family = catalog.pipes[pipe].family
    for place, piece in enumerate(wanted):
        if abs(piece.length_m - length_m) <= ALIKE_M and catalog.pipes[piece.pipe].family == family:
            return wanted.pop(place)
    return None


def cuts(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Which pieces to cut, alike ones together; from which stick; what is left; then pipe from the roll."""
    gauge = units.piece
    listed = sticks(outcome, design, gauge)
    if not listed:
        return
    yield Heading("Cutting list")
    yield Para(f"Pieces in {units.marked}; the saw cut is allowed for. Write on each piece what it is for.")
    yield Para(
        f"{_rest(units)} {' '.join([*_legs(listed), *_even(outcome, listed), *_long(listed)])}".strip()
    )
    yield Grid(
        (GridColumn("pipe", 30), numbers(gauge.title("pieces"), 14), GridColumn("for", 52)),
        tuple(_all_pieces(outcome.catalog, listed, gauge)),
    )
    if any(stick.owned for stick in listed):
        yield Para('A stick called "own" is one of those you have.')
    yield Grid(
        (
            GridColumn("pipe", 20),
            GridColumn("stick", 8),
            numbers(gauge.title("stick"), 8),
            numbers(gauge.title("piece"), 13),
            GridColumn("for", 31),
            numbers(gauge.title("left over"), 10),
        ),
        tuple(row for stick in listed for row in _rows(outcome.catalog, stick, gauge)),
    )
    spare = _spare(outcome.catalog, listed, gauge)
    yield Points((*spare, *_coupled(outcome, design), *_unmeasured(outcome, design)))


def _rest(units: Units) -> str:
    """The rest that there is for putting a run together dry."""
    few, many = units.piece.figure(units.piece.steps(REST_M[0])), units.piece.said(REST_M[1])
    return (
        f"Put each run together dry before a joint is made: sockets give {few} to {many} at each end of a "
        "piece, which is all there is to set it by."
    )


def _all_pieces(catalog: Catalog, listed: list[ListedStick], gauge: Gauge) -> Iterator[tuple[str, ...]]:
    """A row for each pipe, length and place, with all the runs that have such a piece."""
    alike: dict[tuple[str, int, str], list[str]] = {}
    for stick in listed:
        for piece in stick.pieces:
            alike.setdefault((name_of(catalog, stick.pipe), piece.steps, piece.place), []).append(piece.run)
    by_pipe: dict[str, list[tuple[str, str]]] = {}
    for (pipe, steps, place), runs in sorted(alike.items(), key=lambda row: (row[0][0], -row[0][1])):
        row = times(len(runs), gauge.figure(steps)), asked_words(runs, place)
        by_pipe.setdefault(pipe, []).append(row)
    for pipe in dict.fromkeys(name_of(catalog, stick.pipe) for stick in listed):
        for number, cells in enumerate(by_pipe[pipe]):
            yield ("" if number else pipe, *cells)


def asked_words(runs: Sequence[str], place: str) -> str:
    """What pieces are for: the runs in their order, and the place in them."""
    named = list(dict.fromkeys(run for run in runs if run))
    if not named:
        return "a spare" if len(runs) == 1 else "spares"
    return f"{together(sorted(named, key=_in_row))}: {place}"


def _in_row(name: str) -> tuple[str, int]:
    """By its words, then by the number at its end."""
    stem, number = re.fullmatch(r"(.*?)(\d{0,9})", name, re.DOTALL).groups()  # type: ignore[union-attr]
    return stem, int(number or 0)


def _spare(catalog: Catalog, listed: list[ListedStick], gauge: Gauge) -> Iterator[str]:
    """What is left over of each size of pipe; a piece cut wrong comes out of that."""
    rests: dict[str, list[int]] = {}
    for stick in listed:
        if stick.number is not None:
            rests.setdefault(name_of(catalog, stick.pipe), []).append(stick.left_over)
    for pipe, left in rests.items():
        left = [rest for rest in left if rest > 0]
        if not left:
            yield f"{pipe}: nothing is left over; a piece cut wrong has to be bought again."
        else:
            most = f"{gauge.figure(max(left))} {gauge.unit}"
            total = f"{gauge.figure(sum(left))} {gauge.unit}"
            several = f"{len(left)} rests, {total} together, the longest {most}"
            said = f"the rest is {most}" if len(left) == 1 else several
            yield f"{pipe}: {said}; a longer piece cut wrong has to be bought again."


def _coupled(outcome: Outcome, design: Design) -> Iterator[str]:
    """Which runs have couplings where a leg is longer than a stick."""
    joined = [
        ((run.run,), f"{times(len(run.couplings), 'coupling')} where a leg is longer than a stick ({parts}).")
        for run in design.drawing.runs.values()
        if run.couplings and not run.later
        for parts in [row_of(outcome.catalog, run.coupling)]
    ]
    yield from gathered(joined)


def _unmeasured(outcome: Outcome, design: Design) -> Iterator[str]:
    """At which rigid pipes parts sit whose length between the pipes nobody states: it counts as the least."""
    catalog = outcome.catalog
    found: dict[str, list[str]] = {}
    for run in design.drawing.runs.values():
        if run.later or catalog.pipes[run.pipe].bend_radius_m:
            continue
        for part in dict.fromkeys(run.parts()):
            row = catalog.adaptors.get(part)
            if row is not None and row.body_m is None:
                found.setdefault(name_of(catalog, part), []).append(run.run)
    for part, runs in found.items():
        yield (
            f"{together(runs)}: the price list does not say how much of its leg {part} takes, and the least "
            "is reckoned: lay it beside the pipe and cut off what it takes more."
        )


def _legs(listed: list[ListedStick]) -> Iterator[str]:
    """What a leg is, where a piece is named after one."""
    places = [piece.place for stick in listed for piece in stick.pieces]
    if any(re.match(r"legs? \d", place) for place in places):
        yield (
            "A leg is what lies between two turns of a run, counted in the direction of the water; pipe that "
            "bends by itself takes several legs in one piece."
        )


def _even(outcome: Outcome, listed: list[ListedStick]) -> Iterator[str]:
    """What to say where a run that is cut has turns between equal legs, which seldom is how a site is."""
    cut = {piece.run for stick in listed for piece in stick.pieces}
    legs = [run.legs_m for run in outcome.site.runs.values() if run.name in cut]
    if any(len(run) > 1 and max(run) - min(run) <= ALIKE_M for run in legs):
        yield (
            "Where the problem gives no legs, those between the turns of a run are taken as equal: measure "
            "on site before you cut."
        )


def _long(listed: list[ListedStick]) -> Iterator[str]:
    """How a standpipe is cut, whose foot stands in a part that nobody knows the height of."""
    if any(piece.place == STANDPIPE for stick in listed for piece in stick.pieces):
        yield (
            "A standpipe is listed from the floor to its lip: set it in the part at its foot, then cut off "
            "its top at the height told under Holes to drill."
        )


def _rows(catalog: Catalog, stick: ListedStick, gauge: Gauge) -> Iterator[tuple[str, ...]]:
    """A row for each piece, alike ones together; the stick is told in its first row."""
    pipe = name_of(catalog, stick.pipe)
    head = (pipe, "roll", "-")
    if stick.number is not None and stick.length_m is not None:
        head = (pipe, f"{'own' if stick.owned else 'no.'} {stick.number}", gauge.text(stick.length_m))
    left = "-" if stick.number is None else gauge.figure(stick.left_over)
    alike: dict[tuple[int, str], list[str]] = {}
    for piece in stick.pieces:
        alike.setdefault((piece.steps, piece.place), []).append(piece.run)
    for number, ((steps, place), runs) in enumerate(alike.items()):
        cells = (times(len(runs), gauge.figure(steps)), asked_words(runs, place))
        yield (*head, *cells, left) if number == 0 else ("", "", "", *cells, "")
