"""Lines on the plan by trying everything: over the rim or through the wall, tilted, by two 45s, by a drop leg.

Every way is drawn by `tests/optimiser/routes.py` from heights and the plan alone, priced with all else as in
`tests/optimiser/test_enumeration.py`, and judged by the rules' checks; no choice is cheaper than the design.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.rim import OverRim
from autoplan.line.route import Toward
from autoplan.line.row import Line
from autoplan.outcome import Status
from autoplan.problem.site import Entry, Guard, Junction, OnPlan, Site
from tests.optimiser.everything import Everything
from tests.optimiser.test_enumeration import checked

CUT, SITE = Callable[[str], Catalog], Callable[..., Site]

SHELF = """
    drain-50-2m drain-50-3m drain-sweep-50-90 drain-bend-50-45 seal-50 bulkhead-50 drain-coupling-50
    pn10-32-3m pn10-32-metre elbow-32-90 union-female-32-1 pump-1600 pump-2200 pump-3000
"""

HIGH = OnPlan((1.2,), (), 0.900)
"""A main of the pump in the sump that is high enough for both rims."""


def planned(site: Site, drain: OnPlan, main: OnPlan = HIGH, entry: Entry = Entry.ANY) -> Site:
    """The site of tank and sump with its drain and main on the plan, the drain's end as asked."""
    runs = {
        "drain": replace(site.runs["drain"], plan=drain, legs_m=(), turns=(), entry=entry),
        "main": replace(site.runs["main"], plan=main, legs_m=(), turns=(), entry=Entry.OVER_RIM),
    }
    return replace(site, runs={**site.runs, **runs})


def shape(drawn: Line) -> str:
    """How a drain from a hole comes down."""
    ways = [leg.toward for leg in drawn.legs]
    if Toward.DOWN not in ways:
        return "tilt"
    return "offset" if any(turn.angle == 45 for turn in drawn.corners[:2]) else "drop"


def by_both(site: Site, shelf: Catalog) -> tuple[Line, Line]:
    """The drain as designed and as found by trying everything, alike in cost, way and legs."""
    outcome, drawing, _ = checked(site, shelf)
    assert outcome.solver.rejected == 0
    designed, found = outcome.designs[0].drawing.runs["drain"], drawing.runs["drain"]
    assert shape(designed) == shape(found)
    assert type(designed.finish) is type(found.finish)
    assert [leg.length_m for leg in designed.legs] == pytest.approx(
        [leg.length_m for leg in found.legs], abs=2e-4
    )
    return designed, found


@pytest.mark.parametrize(
    ("water_m", "given", "how"),
    [
        # Over the sump's rim at 300 a sweep's mouth, 30 over it, has its axis 95 over that: at 425.
        (0.65, {}, "drop"),
        (0.60, {}, "offset"),
        (0.48, {}, "tilt"),
        (0.65, {"entry": Entry.WALL}, "drop"),
        (0.40, {"entry": Entry.WALL}, "offset"),
        (0.65, {"entry": Entry.OVER_RIM}, "drop"),
        (0.55, {"entry": Entry.OVER_RIM}, "offset"),
        (0.48, {"entry": Entry.OVER_RIM}, "tilt"),
    ],
    ids=str,
)
def test_down_from_the_tank(
    site_of: SITE, shelf_of: CUT, water_m: float, given: Mapping[str, Entry], how: str
) -> None:
    """As the tank's water comes nearer to the sump's rim a drop leg gives way to two 45s and these to a tilt."""
    site = planned(site_of(tank_water_m=(water_m, water_m)), OnPlan((1.5,)), **given)
    drain, _ = by_both(site, shelf_of(SHELF))
    if given:
        assert shape(drain) == how
