"""The siphons of a drawing, under a bell or outside their beds."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.outside import OutsideSiphon
from autoplan.rules.survey import Survey


def outside_siphons(survey: Survey) -> Iterator[tuple[str, OutsideSiphon]]:
    """Every drain that is a siphon pipe outside its bed: its name, its start."""
    for name, drawn in survey.drawing.runs.items():
        if drawn.outside is not None:
            yield name, drawn.outside


def breaking(survey: Survey) -> Iterator[tuple[str, str, float]]:
    """Every drain with a siphon: its name, its bed, and the depth of water over the floor at which air
    comes in and it breaks [m]: at a bell's cut-outs, or at the mouth of an air tube.
    """
    for name, end, siphon in survey.siphons():
        yield name, end.at, siphon.cut_out_m
    for name, start in outside_siphons(survey):
        yield name, start.at, start.air_m
