"""How the beds of a short form let their water out."""

from __future__ import annotations

from autoplan.problem.site import BedDrain, Draw
from autoplan.problem.tables.schema import ShortBeds


def outlet_of(beds: ShortBeds) -> tuple[Draw, bool]:
    """From where a bed's drain takes its water, and whether a screen is on its inlet.

    A siphon pipe outside draws through the gravel, and has one always.
    """
    outside = beds.drain is BedDrain.OUTSIDE
    return Draw.OUTSIDE if outside else Draw.STANDPIPE, outside or bool(beds.screen)
