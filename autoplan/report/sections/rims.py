"""Where on the way round the rims of vessels pipes go over them, each held by a bracket there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import SundryKind
from autoplan.fittings.rim import OverRim
from autoplan.line.needs import by_size
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import Vessel
from autoplan.problem.standing import leaves_over_rim
from autoplan.report.alike import SECOND
from autoplan.report.sections.around import around
from autoplan.report.sections.ends import ends_at, in_wall, supply
from autoplan.report.units import Units


@dataclass(frozen=True, slots=True)
class HeldAtRim:
    """A pipe over a rim.

    Attributes:
        vessel: whose rim.
        run: whose pipe.
        bracket: id of the bracket that holds it there, or None if the price list has none of its size.
        bracket_from: "owned", "bought" or "not on the list".
        around: where on the way round.
        apart_m: least distance along the wall to the middle of what it is beside [m], or None.
    """

    vessel: str
    run: str
    bracket: str | None
    bracket_from: str
    around: str
    apart_m: float | None = None


def rims_of(outcome: Outcome, design: Design) -> list[HeldAtRim]:
    """Every pipe over a rim that is built now, by vessel in the order of the site and then by run."""
    found = []
    for vessel in outcome.site.vessels.values():
        over = list(_over(outcome, design, vessel))
        places = around(outcome.site, vessel, list(in_wall(outcome, design, vessel)), over)
        for run, outside in over:
            bracket, bracket_from = supply(outcome, design, by_size(SundryKind.BRACKET, outside))
            there = places[run]
            found.append(HeldAtRim(vessel.name, run, bracket, bracket_from, there.words, there.apart_m))
    return found


def _over(outcome: Outcome, design: Design, vessel: Vessel) -> Iterator[tuple[str, float]]:
    """The run and outside [m] of each pipe over a vessel's rim: into it, or up from its pump."""
    for drawn, end in ends_at(design, vessel):
        leaves = end is drawn.start and leaves_over_rim(outcome.site, outcome.site.runs[drawn.run])
        if leaves or isinstance(end, OverRim):
            yield drawn.run, outcome.catalog.pipes[drawn.pipe].outside_m


def rims_told(outcome: Outcome, design: Design, units: Units) -> Iterator[tuple[tuple[str, str], str]]:
    """By vessel and run where on the rim each pipe that goes over it is held, and by what."""
    for rim in rims_of(outcome, design):
        apart = rim.apart_m
        more = "" if apart is None else f", {units.piece.said(apart)} or more from middle to middle"
        part = "one to be made" if rim.bracket is None else name_of(outcome.catalog, rim.bracket)
        yield (
            (rim.vessel, rim.run),
            f"the bracket for {SECOND} sits on the rim {rim.around}{more}: {part}.",
        )
