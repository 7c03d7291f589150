"""Where holes sit round their walls, how far they may be off, and which must be exact."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.outcome import HoleRoom, Outcome
from autoplan.problem.plan import outline_of, way_between
from autoplan.problem.site import OnPlan, Site, Spot, VesselKind
from autoplan.problem.standing import OFF_CORNER_M
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.around import around
from autoplan.report.sections.drilling import holes, holes_of
from autoplan.report.sections.ways import on_plan
from autoplan.report.units import SI, US
from autoplan.rules.walls.hole_place import HolePlace
from autoplan.units import Dimension, read


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (VesselKind.SETTLER, "opposite the inlet of tank drain"),
        (VesselKind.BIOFILTER, "opposite the inlet of tank drain"),
        (VesselKind.SUMP, "towards fish tank"),
    ],
)
def test_water_crosses_a_settler(outcome: Outcome, kind: VesselKind, said: str) -> None:
    """What leaves a settler or filter does so opposite its inlet; anything else towards where it goes."""
    sump = replace(outcome.site.vessels["sump"], kind=kind)
    back = replace(outcome.site.runs["tank drain"], name="back", start="sump", finish="fish tank")
    site = replace(outcome.site, runs={**outcome.site.runs, "back": back})
    found = around(site, sump, [("tank drain", 0.064), ("back", 0.064)])
    assert found["tank drain"].words == "towards fish tank"
    assert found["back"].words.startswith(said)


def test_holes_side_by_side_keep_apart(outcome: Outcome) -> None:
    """Two holes towards one vessel leave the width of the wider between their edges: 60 and 40 mm, 110."""
    sump = outcome.site.vessels["sump"]
    second = replace(outcome.site.runs["tank drain"], name="second drain")
    site = replace(outcome.site, runs={**outcome.site.runs, "second drain": second})
    found = around(site, sump, [("tank drain", 0.060), ("second drain", 0.040)])
    assert found["tank drain"].apart_m is None
    assert found["second drain"].words == "towards fish tank, beside that of tank drain"
    assert found["second drain"].apart_m == pytest.approx(0.110)
    # Edges: 110 less half of either.
    assert found["second drain"].apart_m - 0.030 - 0.020 == pytest.approx(0.060)


def by_a_corner(outcome: Outcome, sump_at: Spot, tank_at: Spot, area_m2: float = 1.0) -> Site:
    """Two drains of a tank lead to a square sump, each with a wall of 10 mm."""
    sump, tank = (
        replace(outcome.site.vessels[name], curved=False, area_m2=area_m2, wall_m=0.010, spot=spot)
        for name, spot in (("sump", sump_at), ("fish tank", tank_at))
    )
    ends = outline_of(tank), outline_of(sump)
    assert ends[0] is not None
    assert ends[1] is not None
    way = way_between(*ends)
    assert way is not None
    drain = replace(outcome.site.runs["tank drain"], plan=OnPlan(way.level_m, way.corners))
    runs = {drain.name: drain, "second drain": replace(drain, name="second drain")}
    return replace(outcome.site, vessels={"sump": sump, "fish tank": tank}, runs=runs)


@pytest.mark.parametrize(
    ("across", "hand", "facing"), [(3.0, "left", 45.0), (-3.0, "left", 45.0), (3.0, "", 30.0)]
)
def test_a_hole_keeps_off_the_corner(outcome: Outcome, across: float, hand: str, facing: float) -> None:
    """A sump turned by 45 degrees is met square, on the wall that faces the tank, 100 mm beside its corner.

    The wall's corner is straight across from the middle for the tank on the one hand, along for the other:
    to the right of the hole either way for who stands at the tank. A sump turned by 30 degrees has room on
    its wall further from the corners.
    """
    site = by_a_corner(outcome, Spot(0.0, 0.0, facing), Spot(3.0, across))
    found = around(site, site.vessels["sump"], [("tank drain", 0.060), ("second drain", 0.040)])
    corner = f", a hand's width to the {hand} of the corner as seen from outside" if hand else ""
    assert found["tank drain"].words == f"towards fish tank{corner}"
    assert found["second drain"].words == f"towards fish tank{corner}, beside that of tank drain"
    assert found["second drain"].apart_m == pytest.approx(0.110)
    if hand:
        at = on_plan(site, site.runs["tank drain"])[-1]
        far, aside = 0.51 * math.sqrt(2), 0.110 * math.sqrt(0.5)
        assert at == pytest.approx(
            complex(aside, far - aside) if across > 0 else complex(far - aside, -aside)
        )


def test_a_hole_without_room_is_said_to_be_close(outcome: Outcome) -> None:
    """Two 0.4 m wide outside, half of that and 50 mm aside: off the one's corner is on the other's."""
    site = by_a_corner(outcome, Spot(1.0, 0.25), Spot(0.0, 0.0), 0.38**2)
    assert on_plan(site, site.runs["tank drain"]) == pytest.approx((0.2 + 0.125j, 0.8 + 0.125j))
    for vessel, other in (("fish tank", "sump"), ("sump", "fish tank")):
        found = around(site, site.vessels[vessel], [("tank drain", 0.060)])["tank drain"].words
        assert found == f"towards {other}, close to the left of the corner as seen from outside"


def test_two_by_one_corner_keep_apart(outcome: Outcome) -> None:
    """Whatever they lead to: where two lines come to one place, the second hole is beside the first."""
    site = by_a_corner(outcome, Spot(0.0, 0.0, 45.0), Spot(3.0, 3.0))
    tank, second = site.vessels["fish tank"], site.runs["second drain"]
    assert tank.spot is not None
    assert second.plan is not None
    further = replace(tank, name="other tank", spot=replace(tank.spot, x_m=4.0, y_m=4.0))
    ends = outline_of(further), outline_of(site.vessels["sump"])
    assert ends[0] is not None
    assert ends[1] is not None
    way = way_between(*ends)
    assert way is not None
    second = replace(second, start="other tank", plan=OnPlan(way.level_m, way.corners))
    site = replace(
        site,
        vessels={**site.vessels, "other tank": further},
        runs={**site.runs, "second drain": second},
    )
    found = around(site, site.vessels["sump"], [("tank drain", 0.060), ("second drain", 0.040)])
    corner = "a hand's width to the left of the corner as seen from outside"
    assert found["second drain"].words == f"towards other tank, {corner}, beside that of tank drain"
    assert found["second drain"].apart_m == pytest.approx(0.110)


@pytest.mark.parametrize(("beyond_mm", "beside"), [(-1, True), (1, False)])
def test_holes_towards_two_vessels_keep_apart(outcome: Outcome, beyond_mm: int, beside: bool) -> None:
    """Two tanks lead straight to one wall, one a little askew: by 110 mm at that wall, or a mm more or less.

    Its wall is 1.01 m from the sump's middle, and the tank 3 m.
    Holes of 60 and 40 mm keep 60 mm between their edges, so 110 mm from centre to centre, whatever each
    leads to and wherever on the wall it is.
    """
    site = by_a_corner(outcome, Spot(0.0, 0.0), Spot(3.0, 0.0), 4.0)
    tank, second = site.vessels["fish tank"], site.runs["second drain"]
    further = replace(tank, name="other tank", spot=Spot(-3.0, (0.110 + beyond_mm / 1000) * 3 / 1.01))
    far = replace(tank, spot=Spot(-9.0, 0.0))
    runs = {}
    for start, run in ((far, site.runs["tank drain"]), (further, second)):
        ends = outline_of(start), outline_of(site.vessels["sump"])
        assert ends[0] is not None
        assert ends[1] is not None
        way = way_between(*ends)
        assert way is not None
        plan = OnPlan(way.level_m, way.corners)
        runs[run.name] = replace(run, start=start.name, plan=plan)
    vessels = {"sump": site.vessels["sump"], "fish tank": far, "other tank": further}
    site = replace(site, vessels=vessels, runs=runs)
    spots = [on_plan(site, run)[-1] for run in site.runs.values()]
    found = around(site, site.vessels["sump"], [("tank drain", 0.060), ("second drain", 0.040)])
    assert found["tank drain"].words == "towards fish tank"
    assert (abs(spots[1] - spots[0]) < 0.110) is beside
    assert found["second drain"].words == "towards other tank" + ", beside that of tank drain" * beside
    assert found["second drain"].apart_m == (pytest.approx(0.110) if beside else None)


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_a_corner_has_room_for_the_widest_hole(name: str) -> None:
    """Half of it and the strip that holes keep to floor and rim are no more than pipes keep from corners."""
    strip = read(HolePlace.settings[0].default, Dimension.LENGTH)
    widest = max(part.hole_m for part in load_catalog(Path("catalogs") / name).penetrations.values())
    assert widest / 2 + strip <= OFF_CORNER_M


def with_room(outcome: Outcome, higher_m: float, lower_m: float, above: str = "Too high.") -> Outcome:
    """The outcome with how far the tank's hole may be off."""
    first = outcome.designs[0]
    room = HoleRoom(higher_m, above, lower_m, "Too low.")
    verdict = replace(first.verdict, hole_rooms={("tank drain", "fish tank"): room})
    return replace(outcome, designs=(replace(first, verdict=verdict),))


@pytest.mark.parametrize(
    ("higher", "lower", "exact"),
    [(0.005, 0.03, True), (0.006, 0.03, False), (0.03, 0.005, True), (0.05, 0.05, False)],
)
def test_a_hole_must_be_exact(outcome: Outcome, higher: float, lower: float, exact: bool) -> None:
    """Where it may be off by 5 mm or less, up or down, it must; by a millimetre more it need not."""
    changed = with_room(outcome, higher, lower)
    text = " ".join(plain_text(holes(changed, changed.designs[0], SI)).split())
    assert ("Exact within 5.0 mm, one way or the other: tank drain at fish tank." in text) is exact
    assert ("None must be exact." in text) is not exact
    assert [hole.exact for hole in holes_of(changed, changed.designs[0])] == [exact, False]


def test_drains_that_share_their_water_by_height_are_exact(outcome: Outcome) -> None:
    """Two drains of one tank share its water by their heights: however far no rule breaks, both are exact."""
    changed = with_room(outcome, 0.05, 0.05)
    assert not holes_of(changed, changed.designs[0])[0].exact
    second = replace(outcome.site.runs["tank drain"], name="second drain")
    site = replace(changed.site, runs={**changed.site.runs, "second drain": second})
    assert holes_of(replace(changed, site=site), changed.designs[0])[0].exact


def test_how_far_off_and_what_breaks(outcome: Outcome) -> None:
    """Both ways with the rule beyond; where nothing broke as far as was tried there is a plus."""
    changed = with_room(outcome, 0.012, 0.05)
    text = plain_text(holes(changed, changed.designs[0], SI))
    assert re.search(r"fish tank +tank drain +12\.0 +50\.0 +higher: Too high\. lower: Too low\.", text)
    changed = with_room(outcome, 0.05, 0.012, above="")
    text = plain_text(holes(changed, changed.designs[0], SI))
    assert re.search(r"fish tank +tank drain +50\.0 \+ +12\.0 +lower: Too low\.", text)
    assert "How much higher or lower" not in plain_text(holes(outcome, outcome.designs[0], SI))


def test_never_more_in_inches_than_it_is(outcome: Outcome) -> None:
    """12 mm are 7.56 sixteenths of an inch, of which 7 are told."""
    changed = with_room(outcome, 0.012, 0.05)
    text = plain_text(holes(changed, changed.designs[0], US))
    assert re.search(r"fish tank +tank drain +7/16 +1-15/16 ", text)


def test_json_tells_place_and_room(outcome: Outcome) -> None:
    """In millimetres, with what breaks beyond; null where it was not asked."""
    told = json.loads(json_text(with_room(outcome, 0.012, 0.05)))["designs"][0]["holes"]
    tank, sump = told
    assert (tank["around"], sump["around"]) == ("towards sump", "towards fish tank")
    assert (tank["higher_mm"], tank["higher_breaks"]) == (12.0, "Too high.")
    assert (tank["lower_mm"], tank["lower_breaks"], tank["exact"]) == (50.0, "Too low.", False)
    assert (sump["higher_mm"], sump["lower_mm"], sump["apart_mm"]) == (None, None, None)
