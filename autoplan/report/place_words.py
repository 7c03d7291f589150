"""Where a finding was made, in words."""

from __future__ import annotations

from autoplan.places import AtEnd, InVessel, OfAll, OfPart, OfWant, OnPath, OnRun, Where
from autoplan.report.units import Units


def place_words(place: Where, units: Units) -> str:
    """A place in words, its size in the units asked for."""
    match place:
        case InVessel(name, what, more) | OnRun(name, what, more):
            return name + f": {what}" * bool(what) + f", {more}" * bool(more)
        case AtEnd(run, vessel):
            return f"{run} at {vessel}"
        case OnPath(runs):
            return " + ".join(runs)
        case OfPart(part, shop):
            return f"{part} at {shop}" if shop else part
        case OfWant(want):
            return units.told(want.said)
        case OfAll(what):
            return what
