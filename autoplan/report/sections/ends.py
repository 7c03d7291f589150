"""Which lines begin and end at a vessel, in which of its walls, and where what they take comes from."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.wall import Pierced
from autoplan.line.needs import Want, rows_for
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import Vessel
from autoplan.report.sections.around import in_tip


def ends_at(design: Design, vessel: Vessel) -> Iterator[tuple[Line, LineEnd]]:
    """Each line that begins or ends at a vessel and is built now, with that end."""
    for drawn in design.drawing.runs.values():
        for end in () if drawn.later else drawn.ends:
            if end.at == vessel.name:
                yield drawn, end


def in_wall(outcome: Outcome, design: Design, vessel: Vessel) -> Iterator[tuple[str, float]]:
    """The run and diameter of each hole in a vessel's wall."""
    for drawn, end in ends_at(design, vessel):
        walled = isinstance(end, Pierced) and not isinstance(end, ThroughFloor)
        walled = walled and not in_tip(vessel, outcome.site.runs[drawn.run])
        if isinstance(end, Pierced) and walled and end.centre_m is not None:
            yield drawn.run, outcome.catalog.penetrations[end.penetration].hole_m


def supply(outcome: Outcome, design: Design, want: Want) -> tuple[str | None, str]:
    """A row of the price list that meets a want, and where it comes from: owned before bought."""
    fitting = [row.id for row in rows_for(outcome.catalog, want)]
    bought = {line.part for line in design.drawing.purchases if line.packs}
    owned = next((row for row in fitting if outcome.site.owned.get(row)), None)
    ordered = next((row for row in fitting if row in bought), None)
    if owned is not None:
        return owned, "owned"
    return (ordered, "bought") if ordered is not None else (next(iter(fitting), None), "not on the list")
