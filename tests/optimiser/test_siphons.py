"""Beds with bell siphons by trying everything: no siphon that the rules allow makes a cheaper design.

As in `test_enumeration`; standpipes, bells, guards, air tubes and flares are read from the price list by
`bells`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.floor import BellSiphon
from autoplan.outcome import Status
from autoplan.problem.site import BedDrain, BedWater, Entry, Site
from tests.optimiser.everything import Everything, checked
from tests.optimiser.ways import NothingHoldsError

CUT = Callable[..., Catalog]
SITE = Callable[..., Site]

SHELF = """
    drain-50-3m pn16-25-3m drain-sweep-50-90 elbow-25-45 seal-50 drain-coupling-50 coupling-25
    union-female-25-34 tee-25 ball-25 pump-1600 pump-2200 bulkhead-25
"""
"""A tank's drain, one pressure pipe that drains beds too, two pumps."""

WIDER = """
    drain-32-3m drain-40-3m elbow-32-45 drain-bend-40-45 bulkhead-40 bulkhead-32 bush-40-32 bush-40-25
    bush-50-32 bush-32-25 bush-25-20 bell-63 bell-75 bell-90 guard-100 guard-110 guard-125 snorkel-6
"""
"""Wider drains for a bed, and what stands round a standpipe."""

PER_FLOOD_M3 = 0.1
"""A bed of 1 m2 flooded by 0.25 m, two fifths of it water."""


def with_siphon(site: Site, per_hour: float, area_m2: float = 1.0, floor_m: float = 0.8) -> Site:
    """The site's beds with siphons, its flows left as they are.

    They count as starting from the self-venting limit on: a shelf of so few parts has narrow standpipes only
    for little water, and what is tried here is not when one starts.
    """
    flooded = {
        name: replace(
            vessel,
            area_m2=area_m2,
            floor_m=floor_m,
            water_min_m=floor_m + 0.25,
            water_max_m=floor_m + 0.25,
            bed=BedWater(0.25, 0.4, per_hour / 3600, 2.0, BedDrain.SIPHON),
        )
        for name, vessel in site.vessels.items()
        if vessel.bed is not None
    }
    early = {"siphon-start": {"froude": 0.3, "margin": "25 %", "flare": "80 %"}}
    return replace(site, vessels={**site.vessels, **flooded}, rule_settings=early)


@pytest.fixture(scope="session")
def flooded(site_of: SITE) -> SITE:
    """Builds a tank, a sump and beds that siphons empty, by the inflow of each bed [L/h]."""

    def build(
        inflow_l_h: float, *, beds: int = 1, area_m2: float = 1.0, floor_m: float = 0.8, **given: object
    ) -> Site:
        given = {"sump_water_m": (0.15, 0.15), "entry": Entry.OVER_RIM, **given}
        site = site_of(beds, inflow_l_h, **given)
        return with_siphon(site, inflow_l_h / 1000 / (PER_FLOOD_M3 * area_m2), area_m2, floor_m)

    return build


def siphon_of(drawn: Drawing) -> BellSiphon:
    """What stands on the first bed's drain."""
    floor = drawn.runs["bed 1 drain"].floor
    assert floor is not None
    assert floor.siphon is not None
    return floor.siphon


@pytest.mark.parametrize("inflow", [250.0, 330.0, 390.0])
def test_the_cheapest_siphon(flooded: SITE, shelf_of: CUT, inflow: float) -> None:
    """Four pipes to stand in three drains, three bells and three guards: nothing that holds is cheaper."""
    outcome, drawing, refused = checked(flooded(inflow), shelf_of(SHELF + WIDER + "pn16-20-3m"))
    bells = [siphon_of(drawn).bell for drawn in (outcome.designs[0].drawing, drawing)]
    assert bells[0] == bells[1]
    assert refused > 0


def test_a_wide_standpipe_needs_its_flare(flooded: SITE, shelf_of: CUT) -> None:
    """330 L/h do not start a 26 mm bore, a flare of 50 mm does; a narrower pipe on the shelf saves it."""
    wide = WIDER.replace("bush-32-25", "").replace("bush-40-25", "") + "reducer-50-32"
    shelf = shelf_of(SHELF.replace("bulkhead-25", "") + wide)
    flares = []
    for catalog in (shelf, shelf_of(SHELF + WIDER + "reducer-50-32")):
        outcome, drawing, _ = checked(flooded(330.0), catalog)
        flares += [siphon_of(drawn).flare for drawn in (outcome.designs[0].drawing, drawing)]
    assert flares == ["reducer-50-32", "reducer-50-32", None, None]


def test_little_fall_asks_for_a_wider_drain(flooded: SITE, shelf_of: CUT) -> None:
    """With 60 mm from the cut-outs to the sump's water a siphon out-runs its inflow in a wider pipe only."""
    shelf = shelf_of(SHELF + WIDER)
    bores, costs = [], []
    for floor in (0.8, 0.185):
        outcome, drawing, _ = checked(flooded(250.0, floor_m=floor), shelf)
        bores.append(shelf.pipes[outcome.designs[0].drawing.runs["bed 1 drain"].pipe].bore_m)
        assert bores[-1] == shelf.pipes[drawing.runs["bed 1 drain"].pipe].bore_m
        costs.append(outcome.designs[0].objective)
    assert bores[0] < bores[1]
    assert costs[0] < costs[1]


def test_the_fewest_floods_are_of_what_is_moved(flooded: SITE, shelf_of: CUT) -> None:
    """A bed filled 1.3 times an hour floods once an hour where its siphon takes 3.3 times the inflow.

    What stays under the cut-outs need not be filled again: 1.3 x 250 / 225 fills an hour.
    """
    shelf = shelf_of(SHELF + WIDER + "pn16-20-3m bush-40-20 bush-32-20")
    checked(flooded(130.0, floor_m=0.19), shelf)


def test_without_bells_on_the_list(flooded: SITE, shelf_of: CUT) -> None:
    """Where the list has no bells at all, standpipes are still chosen by what starts and breaks."""
    outcome, drawing, _ = checked(
        flooded(175.0), shelf_of(SHELF + "pn16-20-3m bush-25-20 bulkhead-thread-34 thread-male-25-34")
    )
    for drawn in (outcome.designs[0].drawing, drawing):
        floor = drawn.runs["bed 1 drain"].floor
        assert floor is not None
        assert floor.standpipe == "pn16-20-3m"
        assert siphon_of(drawn).parts == ()


NARROW = "pn16-20-3m bush-25-20"


def in_a_range(site: Site) -> Site:
    """One to four floods an hour left to the program."""
    bed = site.vessels["bed 1"]
    assert bed.bed is not None
    water = replace(bed.bed, floods_range=(1 / 3600, 4 / 3600))
    return replace(site, vessels={**site.vessels, "bed 1": replace(bed, bed=water)})


def cheapest_of_floods(flooded: SITE, catalog: Catalog) -> tuple[int, float, Drawing]:
    """The cheapest by trying everything at each of five even steps: cents, floods an hour, design."""
    found: list[tuple[int, float, Drawing]] = []
    for per_hour in (1.0, 1.75, 2.5, 3.25, 4.0):
        site = flooded(per_hour * PER_FLOOD_M3 * 1000, flow_l_h=620.0)
        try:
            cents, drawing, _ = Everything(site, catalog).cheapest()
        except NothingHoldsError:
            continue
        found.append((cents, per_hour, drawing))
    return min(found, key=lambda item: item[:2])


@pytest.mark.parametrize(
    ("more", "floods", "pump"), [("", "2.5/hour", "pump-2200"), (NARROW, "1.75/hour", "pump-1600")]
)
def test_the_window_of_the_siphon_forces_a_dearer_pump(
    flooded: SITE, shelf_of: CUT, more: str, floods: str, pump: str
) -> None:
    """A 21 mm bore starts at 217 L/h: the bed must take 250, and pump-1600 gives no more than 175 besides.

    With a 17 mm bore to be had, which starts at 125 L/h, the bed takes 175 and the pump stays small. All
    floods are tried by `autoplan.design`, and by trying everything at each of them.
    """
    catalog = shelf_of(SHELF + "bell-75 guard-110 snorkel-6 " + more)
    outcome = autoplan.design(in_a_range(flooded(250.0, flow_l_h=620.0)), catalog, top=1)
    cents, per_hour, drawing = cheapest_of_floods(flooded, catalog)
    (best,) = outcome.designs
    assert outcome.status is Status.PROVEN
    assert round(best.objective * 100) == cents
    assert best.traits["floods"] == floods == f"{per_hour:g}/hour"
    assert best.drawing.pumps["sump"].part == drawing.pumps["sump"].part == pump


def test_the_sump_forces_fewer_beds_full_at_once(flooded: SITE, shelf_of: CUT) -> None:
    """Two beds take 222 mm of a sump with 250 mm over its floor, and every pump asks for 40: only one may."""
    catalog = shelf_of(SHELF + "bell-75 guard-110 snorkel-6")
    site = flooded(250.0, beds=2, flow_l_h=400.0, sump_water_m=(-0.05, -0.05))
    everything = [Everything(with_full(site, full), catalog) for full in (1, 2)]
    assert not any(everything[1].holds(drawing) for _, drawing in everything[1].by_cost())
    cents, drawing, _ = everything[0].cheapest()
    open_ = replace(site, wishes=replace(site.wishes, most_full=True))
    outcome = autoplan.design(open_, catalog, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.site.wishes.beds_full == 1
    assert "1 of 2 beds may be full at once: the most that leave a design." in outcome.notes
    assert round(outcome.designs[0].objective * 100) == cents
    assert outcome.designs[0].drawing.pumps["sump"].part == drawing.pumps["sump"].part


def with_full(site: Site, beds: int) -> Site:
    """The site where so many beds may be full at once."""
    return replace(site, wishes=replace(site.wishes, beds_full=beds))
