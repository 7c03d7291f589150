"""The handmade outcome with a drilled standpipe on the tank's drain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from autoplan.catalog.parts import SiphonKind, SiphonPart, Way
from autoplan.fittings.floor import SideHole, ThroughFloor
from autoplan.line.row import Line
from autoplan.outcome import Design

GUARD = SiphonPart("guard-110", "slotted guard 110 mm", (), "invented", "", SiphonKind.GUARD, 0.1, 0.11, 1.0)


def runs_with_a_hole(design: Design, wide_m: float) -> Mapping[str, Line]:
    """Its runs, the tank's standpipe with its lip 250 mm up and so wide a hole [m] under a guard."""
    drain = design.drawing.runs["tank drain"]
    foot = ThroughFloor("fish tank", way=Way.SEAL, penetration="seal-50", centre_m=0.5, standpipe_top_m=0.75)
    start = replace(foot, drain_hole=SideHole(wide_m, 0.040, GUARD.id))
    return {**design.drawing.runs, "tank drain": drain.with_ends(start, drain.finish)}
