"""What a price list lacks though nothing in it is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from autoplan.catalog.joining import Joining
from autoplan.catalog.materials import Material, told_by
from autoplan.catalog.parts import Catalog, End, Part, SundryKind, Way
from autoplan.errors import Mistake
from autoplan.hydraulics.pump import PumpCurve

HOUR_L = 3.6e6
"""Litres an hour in a cubic metre a second."""


def audit(catalog: Catalog) -> tuple[Mistake, ...]:
    """Gaps that keep parts from being used, each with what would close it; none of them stops a design.

    Parts with an end that no other part takes; pipe sizes of one system with no way to the next size; pump
    outlets that no pipe can be brought to; pumps whose curve ends before its head is 0; seals whose pipe has
    no coupling to hold it; holes without a saw, unless the list has no saws at all; parts that are brass by
    their description and plastic by their row.
    """
    return (
        *_lonely(catalog),
        *_unstepped(catalog),
        *_stranded(catalog),
        *_cut_short(catalog),
        *_slipping(catalog),
        *_unsawn(catalog),
        *_mistaken(catalog),
    )


def _note(catalog: Catalog, part: Part, problem: str, remedy: str) -> Mistake:
    file, _, line = part.place.partition(": ")
    return Mistake(str(Path(catalog.folder) / file), line, problem, remedy)


def _lonely(catalog: Catalog) -> Iterator[Mistake]:
    """Parts with an end that mates with no end in the catalogue."""
    parts = [part for group in catalog.groups() for part in group.values()]
    ends = sorted({end for part in parts for end in part.openings})
    joining = Joining(catalog)
    alone = {end for end in ends if not any(joining.mates(end, other) for other in ends)}
    for part in parts:
        for end in dict.fromkeys(part.openings):
            if end in alone:
                problem = f"nothing mates with the {end} of {part.id}"
                yield _note(catalog, part, problem, "add a part that does, or correct the end")


def _unstepped(catalog: Catalog) -> Iterator[Mistake]:
    """Neighbouring pipe sizes of one system that no adaptors join."""
    joining = Joining(catalog)
    by_system: dict[tuple[str, str], dict[End, float]] = {}
    for pipe in catalog.pipes.values():
        width = pipe.outside_m if pipe.end.form == "spigot" else pipe.bore_m
        by_system.setdefault((pipe.end.system, pipe.end.form), {}).setdefault(pipe.end, width)
    first = {pipe.end: pipe for pipe in reversed(list(catalog.pipes.values()))}
    for widths in by_system.values():
        for small, large in pairwise(sorted(widths, key=lambda end: (widths[end], end))):
            if joining.chain(small, large) is None:
                problem = f"no adaptors join {small} to the next size, {large}"
                yield _note(catalog, first[large], problem, "add a reducer")


def _stranded(catalog: Catalog) -> Iterator[Mistake]:
    """Pumps whose outlet no pipe can be brought to."""
    joining = Joining(catalog)
    for pump in catalog.pumps.values():
        if not any(joining.chain(pump.outlet, pipe.end) for pipe in catalog.pipes.values()):
            problem = f"no pipe can be joined to the outlet of {pump.id}, {pump.outlet}"
            yield _note(catalog, pump, problem, "add an adaptor")


def _cut_short(catalog: Catalog) -> Iterator[Mistake]:
    """Pumps whose curve ends with head left: what they give flat out is guessed, as too much."""
    for pump in catalog.pumps.values():
        (flow, head), (most, _) = pump.curve[-1], PumpCurve(pump.curve).carried_on().points[-1]
        if head > 0.0:
            ends, guessed = flow * HOUR_L, most * HOUR_L
            problem = (
                f"the curve of {pump.id} ends at {ends:.0f} L/h with {head:g} m of head left; flat out it "
                f"counts as giving up to {guessed:.0f} L/h, for its duty no more than {ends:.0f}"
            )
            yield _note(catalog, pump, problem, "add the flow at which its head is 0")


def _slipping(catalog: Catalog) -> Iterator[Mistake]:
    """Push-in seals whose pipe could slide out, as no coupling stops it."""
    joining = Joining(catalog)
    for part in catalog.penetrations.values():
        if part.way is Way.SEAL:
            pipes = [pipe.end for pipe in catalog.pipes.values() if joining.mates(part.ends[0], pipe.end)]
            if pipes and not any(joining.chain(end, end, most=1) for end in pipes):
                problem = f"no coupling joins the pipe that {part.id} takes"
                yield _note(catalog, part, problem, "add one: a seal is used with a coupling on either side")


def _unsawn(catalog: Catalog) -> Iterator[Mistake]:
    """Wall parts whose hole no saw of the list drills."""
    if not any(row.kind is SundryKind.SAW for row in catalog.sundries.values()):
        return
    for part in catalog.penetrations.values():
        saws = (row for row in catalog.sundries.values() if row.kind is SundryKind.SAW)
        if not any(abs(saw.least_m - part.hole_m) < 1e-6 for saw in saws):
            problem = f"no hole saw drills the {part.hole_m * 1000:g} mm that {part.id} asks for"
            yield _note(catalog, part, problem, "add one, or correct the hole")


def _mistaken(catalog: Catalog) -> Iterator[Mistake]:
    """Parts whose description tells a metal that poisons fish while their row says nothing, or plastic."""
    for group in catalog.groups():
        for part in group.values():
            told = told_by(re.findall(r"[a-z]+", part.description.lower()))
            if told is not None and part.material is Material.PLASTIC:
                problem = f"the description of {part.id} says {told}, its material is taken as plastic"
                yield _note(catalog, part, problem, f'write "{told}" under material, or mend the description')
