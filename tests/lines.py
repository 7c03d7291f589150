"""Lines built by hand, and altered by hand: a fitting put on, changed or taken off by its kind."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

from autoplan.drawing import Drawing
from autoplan.fittings.base import Fitting
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.drain_down import DrainDown
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.strainer import Strainer
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.vent import Vent
from autoplan.line.row import Line

F = TypeVar("F", bound=Fitting)

BEFORE = (InletScreen, Riser, Trim)
"""What the water meets before a line's start, in its order."""

BEHIND = (EndCap, ValveSet, CheckValveSet, FlushTee, DrainDown, Strainer, Vent, TrimValve, Corner)
"""What it meets between the ends, in its order."""


def line(run: str, pipe: str, start: LineEnd, finish: LineEnd, *fittings: Fitting, **rest: Any) -> Line:
    """A line of a pipe between two ends, its other fittings in their order whichever way they are named."""
    return put(Line(run, pipe, (start, finish), **rest), *fittings)


def put(line: Line, *fittings: Fitting) -> Line:
    """The line with these fittings in place of all that it has of their kinds."""
    bare = without(line, *{type(one) for one in fittings})
    others = [*(one for one in bare.fittings if not isinstance(one, LineEnd)), *fittings]
    before = [one for kind in BEFORE for one in others if type(one) is kind]
    behind = [one for kind in BEHIND for one in others if type(one) is kind]
    assert len(before) + len(behind) == len(others)
    return replace(bare, fittings=(*before, bare.start, *behind, bare.finish))


def without(line: Line, *kinds: type[Fitting]) -> Line:
    """The line without what it has of just these kinds."""
    return replace(line, fittings=tuple(one for one in line.fittings if type(one) not in kinds))


def the(line: Line, kind: type[F]) -> F:
    """The one fitting of just this kind on a line."""
    (found,) = (one for one in line.fittings if type(one) is kind)
    return found


def changed(line: Line, kind: type[Fitting], **changes: Any) -> Line:
    """The line with the fields of its one fitting of a kind changed."""
    return put(line, replace(the(line, kind), **changes))


def ended(line: Line, side: str, **changes: Any) -> Line:
    """The line with fields of one of its ends changed, or the other end given as `end` in its place."""
    end = changes.pop("end", getattr(line, side))
    other = {"start": line.start, "finish": line.finish, side: replace(end, **changes)}
    return line.with_ends(other["start"], other["finish"])


def redrawn(drawing: Drawing, *lines: Line) -> Drawing:
    """The drawing with these lines in place of those of the same runs."""
    return replace(drawing, runs={**drawing.runs, **{line.run: line for line in lines}})
