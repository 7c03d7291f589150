"""Beds with a siphon pipe outside: the cheapest is the cheapest of every way, tried one by one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.fittings.outside import OutsideSiphon
from autoplan.line.route import Toward
from autoplan.problem.site import BedDrain, BedWater, Draw, Entry, Junction, OnPlan, Site
from tests.optimiser.everything import checked

CUT, SITE = Callable[[str], Catalog], Callable[..., Site]

SHELF = """
    drain-50-2m drain-50-3m drain-sweep-50-90 seal-50 drain-coupling-50 pn10-32-3m pn10-32-metre pn16-25-3m
    elbow-32-90 elbow-25-90 elbow-25-45 sweep-25-90 seal-25 bulkhead-25 coupling-25 union-female-32-1 tee-32
    tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200 pump-3000 snorkel-4 snorkel-6
"""

UP, DOWN, OVER, ALONG = Toward.UP, Toward.DOWN, Toward.OVER, Toward.ALONG


def siphoned(site: Site, drain: OnPlan) -> Site:
    """The site of a bed on the plan, its drain so: 1.5 m2, two fifths water, 375 L/h, flooded 250 mm."""
    plans = {
        "drain": OnPlan((1.5,)),
        "main 1": OnPlan((0.8,), (), 0.500),
        "tank feed": OnPlan((0.9,), (), 0.500),
        "bed 1 feed": OnPlan((0.6,), (), 0.500),
        "bed 1 drain": drain,
    }
    runs = {
        name: replace(run, plan=plans[name], legs_m=(), turns=())
        if run.finish not in site.vessels
        else replace(run, plan=plans[name], legs_m=(), turns=(), entry=Entry.OVER_RIM)
        for name, run in site.runs.items()
    }
    runs["bed 1 drain"] = replace(runs["bed 1 drain"], draw=Draw.OUTSIDE, entry=Entry.ANY)
    bed = replace(
        site.vessels["bed 1"], area_m2=1.5, bed=BedWater(0.25, 0.4, 2.5 / 3600, 2.0, BedDrain.OUTSIDE)
    )
    return replace(
        site,
        vessels={**site.vessels, "bed 1": bed},
        runs=runs,
        junctions={"tee 1": Junction("tee 1", height_m=0.500)},
        # One pump is all that there is, and it is far too strong.
        rule_settings={"valve-head": {"most": "80 %"}},
    )


@pytest.mark.parametrize(
    ("drain", "ways"),
    [
        pytest.param(OnPlan((1.2,)), [ALONG, UP, OVER, DOWN, ALONG], marks=pytest.mark.long),
        (OnPlan((1.3,), (), 0.450), [ALONG, UP, OVER, DOWN, ALONG]),
    ],
    ids=str,
)
def test_the_cheapest_siphon_pipe(site_of: SITE, shelf_of: CUT, drain: OnPlan, ways: list[Toward]) -> None:
    """Seal or bulkhead, swept bends or two 45s, the tube that may be: none is cheaper, to the cent."""
    site = siphoned(site_of(beds=1, bed_flow_l_h=375.0, entry=Entry.OVER_RIM), drain)
    outcome, drawing, refused = checked(site, shelf_of(SHELF))
    for found in (outcome.designs[0].drawing, drawing):
        line = found.runs["bed 1 drain"]
        assert isinstance(line.start, OutsideSiphon)
        assert line.start.air_tube == "snorkel-6"
        assert [leg.toward for leg in line.legs][: len(ways)] == ways
    assert refused > 0
