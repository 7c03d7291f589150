"""How much water to fill in, and how the pumped vessels' water moves."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Design, MovingLevel, Outcome
from autoplan.report.blocks import Block, Column, Grid, Heading, Para, numbers
from autoplan.report.units import Units


def filling(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The volume to fill, then lowest, running and highest level of each pumped vessel."""
    facts = design.verdict.filling
    if facts is None:
        return
    site = design.site or outcome.site
    beds = sum(vessel.bed is not None for vessel in site.vessels.values())
    most = site.wishes.beds_full
    full = "every bed" if most is None else f"{min(most, beds)} of {beds} beds"
    yield Heading("Filling")
    yield Para(
        f"The system holds about {units.volume.said(facts.total_m3)}. Fill it with the pump running until "
        f"the water stands at the running level with every bed empty. It falls to the lowest with {full} "
        f"full, and rises to the highest when the power fails. {units.lengths} above the vessel's own floor "
        f"inside, in brackets the water in it."
    )
    yield Grid(
        (
            Column("vessel", 14),
            *(numbers(title, 20) for title in ("lowest", "running", "highest", "rim")),
        ),
        tuple(_row(outcome, design, moving, units) for moving in facts.moving),
    )


def _row(outcome: Outcome, design: Design, moving: MovingLevel, units: Units) -> tuple[str, ...]:
    vessel = (design.site or outcome.site).vessels[moving.vessel]
    levels = (moving.low_m, moving.running_m, moving.high_m, vessel.rim_m)
    return (
        moving.vessel,
        *(
            f"{units.height.text(level - vessel.floor_m)} "
            f"({units.volume.said((level - vessel.floor_m) * vessel.area_m2)})"
            for level in levels
        ),
    )
