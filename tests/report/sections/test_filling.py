"""How much to fill in, and by which level it is seen, as printed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.outcome import Filling, MovingLevel, Outcome
from autoplan.problem.site import BedDrain, BedTimer, BedWater, Vessel, VesselKind
from autoplan.problem.weep import WeepHole
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.filling import filling
from autoplan.report.units import SI, US, Units

EASY = "it stands at the highest or a little under, not over: that is the easiest to read."


def bed(name: str, drain: BedDrain) -> Vessel:
    """A bed of 1 m2 with that drain."""
    timer = BedTimer(1200.0, 0.008, 0.040, 1e-4) if drain is BedDrain.TIMER else None
    weep = WeepHole(0.006, 0.040, 3e-5) if drain is BedDrain.WEEP else None
    water = BedWater(0.25, 0.4, 2 / 3600, 3.0, drain, timer=timer, weep=weep)
    return Vessel(name, VesselKind.BED, 0.5, 0.3, 1.0, 0.006, 0.006, False, 0.75, 0.75, bed=water)


def said(
    outcome: Outcome,
    *drains: BedDrain,
    most: int | None = None,
    units: Units = SI,
    left_m3: float = 0.0,
) -> str:
    """The section for a site with such beds that holds 1.5 m3, of which so much stays in them."""
    site, first = outcome.site, outcome.designs[0]
    beds = {f"bed {number}": bed(f"bed {number}", drain) for number, drain in enumerate(drains, 1)}
    some = next(run for run in site.runs.values() if run.finish == "sump")
    drained = {f"drain of {name}": replace(some, name=f"drain of {name}", start=name) for name in beds}
    wishes = replace(site.wishes, beds_full=most)
    site = replace(site, vessels={**site.vessels, **beds}, runs={**site.runs, **drained}, wishes=wishes)
    facts = Filling(1.5, (MovingLevel("sump", -0.2, 0.1, 0.2, left_m3 / 0.5),), left_m3)
    design = replace(first, verdict=replace(first.verdict, filling=facts))
    return " ".join(plain_text(filling(replace(outcome, site=site), design, units)).split())


def test_siphons_in_turn(outcome: Outcome) -> None:
    """Two bell siphons: by the volume or with the beds still dry, for they are seldom empty at once."""
    text = said(outcome, BedDrain.SIPHON, BedDrain.SIPHON)
    assert "Put in about 1500 L: with the pump running and every bed empty, water then" in text
    assert "It falls to the lowest with every bed full." in text
    assert f"With the pump off, every bed empty and all else run back {EASY}" in text
    assert "go by the volume, or read it before the beds are first flooded." in text


@pytest.mark.parametrize("drains", [(BedDrain.SIPHON,), (BedDrain.TIMER, BedDrain.TIMER)])
def test_one_siphon_or_timers_are_empty_at_times(outcome: Outcome, drains: tuple[BedDrain, ...]) -> None:
    """Where the moment comes nothing is said against waiting for it."""
    text = said(outcome, *drains, most=1)
    assert "Bell siphons seldom" not in text
    assert f"with 1 of {len(drains)} beds full." in text


def test_beds_that_stand_full(outcome: Outcome) -> None:
    """Beds with plain standpipes are filled once, 100 L each, and not by the pumped vessel."""
    text = said(outcome, BedDrain.STANDPIPE)
    assert (
        "with the pump running, water then stands at the running level. Of that 100 L stand in beds" in text
    )
    assert "Fill these first, with a hose" in text
    assert "It falls no lower than the lowest." in text
    assert "the pump off and everything run back it stands" in text
    both = said(outcome, BedDrain.STANDPIPE, BedDrain.SIPHON, BedDrain.SIPHON, left_m3=0.1)
    assert "with the pump running and every bed empty that ever is, water then" in both
    assert "stay in the beds, under siphons' cut-outs, and" in both
    assert "It falls to the lowest with every bed full." in both
    assert both.count("go by the volume,") == 1
    assert "Fill these first" not in said(outcome, BedDrain.SIPHON, BedDrain.WEEP)


def test_beds_with_a_weep_hole(outcome: Outcome) -> None:
    """They fill as the pump starts, with 100 L, by which the water then is below the running level."""
    fall = SI.height.said(0.1 / outcome.site.vessels["sump"].area_m2)
    text = said(outcome, BedDrain.WEEP, left_m3=0.010)
    assert "with the pump running and every bed empty, water then" in text
    assert f"the water then stands under the running level, {fall} in sump." in text
    assert "about 10 L stay in the beds, under drain holes, and both are lower" in text
    both = said(outcome, BedDrain.WEEP, BedDrain.STANDPIPE)
    assert f"stands under the running level, {fall} in sump." in both
    assert "under the running level" not in said(outcome, BedDrain.SIPHON)


def test_without_beds(outcome: Outcome) -> None:
    """No bed is spoken of where there is none."""
    text = said(outcome)
    assert f"With the pump off and everything run back {EASY}" in text
    assert "bed" not in text


def test_gallons(outcome: Outcome) -> None:
    """1.5 m3 are 396.3 gal."""
    text = said(outcome, BedDrain.SIPHON, BedDrain.SIPHON, units=US)
    assert "Put in about 396.3 gal:" in text
    assert "go by the volume, or" in text


@pytest.mark.parametrize(
    ("drains", "under"),
    [
        ((BedDrain.SIPHON,), "siphons' cut-outs"),
        ((BedDrain.TIMER, BedDrain.TIMER), "drain holes"),
        ((BedDrain.SIPHON, BedDrain.TIMER), "siphons' cut-outs and drain holes"),
    ],
)
def test_what_stays_in_beds_is_not_topped_up(
    outcome: Outcome, drains: tuple[BedDrain, ...], under: str
) -> None:
    """10 L in beds are 20 mm of a sump of 0.5 m2, and are told; nothing is where all runs out."""
    text = said(outcome, *drains, left_m3=0.010)
    assert f"about 10 L stay in the beds, under {under}, and both are lower" in text
    assert "with nothing missing: 20.0 mm in sump." in text
    assert "go by the volume, or read it before the beds are first flooded." in text
    assert ("While timed valves are shut" in text) is (BedDrain.TIMER in drains)
    assert "stay in the beds" not in said(outcome, *drains)
