"""How much water to fill in, and how the pumped vessels' water moves."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Design, Filling, Outcome
from autoplan.problem.flows import drained_to, floods_in_turn
from autoplan.problem.siphons import siphoned_outside, under_bells
from autoplan.problem.site import Site
from autoplan.report.blocks import Block, GridColumn, Heading, Para, grid_of, numbers
from autoplan.report.units import Units


def filling(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The volume to fill, then lowest, running and highest level of each pumped vessel."""
    facts = design.verdict.filling
    if facts is None:
        return
    site = design.site or outcome.site
    yield Heading("Filling")
    yield Para(
        f"{' '.join(how_to_fill(site, facts, units))} {units.lengths} above the vessel's own "
        f"floor inside, in brackets the water in it."
    )

    def depth(vessel: str, level_m: float) -> str:
        """A height above a vessel's floor, in brackets the water under it."""
        stands = site.vessels[vessel]
        deep = level_m - stands.floor_m
        return f"{units.height.text(deep)} ({units.volume.said(deep * stands.area_m2)})"

    yield grid_of(
        facts.moving,
        (GridColumn("vessel", 14), lambda moving: moving.vessel),
        (numbers("lowest", 19), lambda moving: depth(moving.vessel, moving.low_m)),
        (numbers("running", 19), lambda moving: depth(moving.vessel, moving.running_m)),
        (numbers("highest", 19), lambda moving: depth(moving.vessel, moving.high_m)),
        (numbers("rim", 19), lambda moving: depth(moving.vessel, site.vessels[moving.vessel].rim_m)),
    )


def how_to_fill(site: Site, facts: Filling, units: Units) -> Iterator[str]:
    """How much to put in, and by which level to see that it is right, a sentence each.

    The levels are those of `verdict.filling`, beds empty that ever are.
    """
    beds = [vessel.bed for vessel in site.vessels.values() if vessel.bed is not None]
    turning = [bed for bed in beds if bed.by_turns]
    state = "every bed empty" if turning else ""
    if len(turning) < len(beds):
        state = state and "every bed empty that ever is"
    running = f" and {state}" if state else ""
    volume = units.volume.said(facts.total_m3)
    yield f"Put in about {volume}: with the pump running{running}, water then stands at the running level."
    yield from _standing_full(site, units)
    most, in_turn = site.wishes.beds_full, sum(map(floods_in_turn, beds))
    full = "every bed"
    if most is not None and in_turn:
        full = f"{min(most, in_turn)} of {in_turn} beds"
        full += " that flood in turn" if in_turn < len(beds) else ""
    yield f"It falls to the lowest with {full} full." if turning else "It falls no lower than the lowest."
    off = f", {state} and all else" if state else " and everything"
    yield (
        f"With the pump off{off} run back it stands at the highest or a little under, not over: that is the "
        "easiest to read."
    )
    yield from _while_weeping(site, facts, units)
    if facts.left_m3 > 0:
        yield from _once_flooded(site, facts, units)
    if sum(bed.siphon for bed in beds) > 1:
        siphons = "Bell siphons" if under_bells(site) else "Siphons"
        yield (
            f"{siphons} seldom leave every bed empty at once, and a bed keeps its water when the pump stops."
        )
    if facts.left_m3 > 0 or sum(bed.siphon for bed in beds) > 1:
        yield "So go by the volume, or read it before the beds are first flooded."


def _standing_full(site: Site, units: Units) -> Iterator[str]:
    """What beds take once that never run empty, for which no pumped vessel has water to spare."""
    held = sum(
        bed.flood_m3
        for bed in site.vessels.values()
        if bed.bed is not None and not bed.bed.by_turns and not bed.spare
    )
    if held > 0:
        yield (
            f"Of that {units.volume.said(held)} stand in beds with plain standpipes for good, also with the "
            "power off. Fill these first, with a hose: the pumped water is not meant to fill them, and the "
            "pump would draw air."
        )


def _while_weeping(site: Site, facts: Filling, units: Units) -> Iterator[str]:
    """How much lower the water stands while beds with a weep hole are fed, which is always."""
    lower = {
        moving.vessel: sum(
            site.vessels[bed].flood_m3 for bed in site.weep_beds() if moving.vessel in drained_to(site, bed)
        )
        / site.vessels[moving.vessel].area_m2
        for moving in facts.moving
    }
    told = ", ".join(f"{units.height.said(fall)} in {name}" for name, fall in lower.items() if fall > 0)
    if told:
        yield (
            "Beds with a weep hole fill as the pump starts and stay full while it runs: the water then "
            f"stands under the running level, {told}."
        )


def _once_flooded(site: Site, facts: Filling, units: Units) -> Iterator[str]:
    """How much lower the water stands once the beds were flooded, with nothing missing."""
    under = {
        "siphons' cut-outs": under_bells(site),
        "mouths of the siphons' air tubes": siphoned_outside(site),
        "drain holes": site.drilled_beds(),
    }
    lower = ", ".join(
        f"{units.height.said(moving.left_m)} in {moving.vessel}"
        for moving in facts.moving
        if moving.left_m > 0
    )
    yield (
        "Running and highest level are those before the beds are first flooded: from then on about "
        f"{units.volume.said(facts.left_m3)} stay in the beds, under "
        f"{' and '.join(what for what, there in under.items() if there)}, and both are lower with nothing "
        f"missing: {lower}."
    )
    if site.timed_beds():
        yield "While timed valves are shut, what they do not feed gets more and holds a little more as well."
