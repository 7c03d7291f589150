"""A drain that hangs into water and comes apart where it lies lower: what siphons back out of that vessel."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.fittings.ends import AtVessel
from autoplan.hydraulics.basins import Channel, walk
from autoplan.line.route import Leg, Toward, upright
from autoplan.verdict.faults.scenarios import NIGHT_S
from autoplan.verdict.hours.waterworks import Waterworks
from tests.lines import redrawn
from tests.rules.conftest import Plan

RUN = "tank drain"


def dipping(plan: Plan, lowest_m: float, mouth_m: float) -> Plan:
    """The tank's drain down to a height, along, up to the sump's rim and down inside to its mouth."""
    hung = plan.end(RUN, "finish", mouth_m=mouth_m)
    line = hung.drawing.runs[RUN]
    start, rim = line.start, line.rim
    assert isinstance(start, AtVessel)
    assert start.centre_m is not None
    assert rim is not None
    assert rim.centre_m is not None
    down, up = upright(lowest_m - start.centre_m), upright(rim.centre_m - lowest_m)
    legs = (Leg(0.2, Toward.ALONG), down, Leg(1.0, Toward.ALONG), up, Leg(0.2, Toward.OVER))
    return replace(hung, drawing=redrawn(hung.drawing, replace(line, legs=legs)))


def backwards(plan: Plan) -> list[Channel]:
    """What runs out of the sump by the drain once that is apart; nothing while it is whole."""
    works = Waterworks(plan.survey, {})
    assert not [link for link in works.drains() if link.name.startswith("back out")]
    return [link for link in works.drains(apart=(RUN,)) if link.name.startswith("back out")]


@pytest.mark.parametrize(
    ("lowest", "mouth"), [(-0.10, -0.30), (-0.30, -0.10), (-0.20, -0.20)], ids=["way", "mouth", "both"]
)
def test_down_to_the_mouth_or_the_lowest_place(plan: Plan, lowest: float, mouth: float) -> None:
    """Under the most water that the sump may hold: it falls to the higher of the two, and no further."""
    most = plan.site.vessels["sump"].water_max_m
    changed = dipping(plan, most + lowest, most + mouth)
    (out,) = backwards(changed)
    assert (out.source, out.target) == ("sump", None)
    works = Waterworks(changed.survey, {})
    (sump,) = [basin for basin in works.basins if basin.name == "sump"]
    volumes = {**works.at_design().volumes_m3, "sump": sump.volume(most)}
    night = walk(works.basins, [out], replace(works.at_design(), volumes_m3=volumes), NIGHT_S)
    assert sump.level(night.waters.volumes_m3["sump"]) == pytest.approx(most + max(lowest, mouth), abs=2e-3)


@pytest.mark.parametrize(
    ("lowest", "mouth"), [(0.001, -0.30), (-0.30, 0.001)], ids=["lies over the water", "hangs free of it"]
)
def test_nothing_runs_back(plan: Plan, lowest: float, mouth: float) -> None:
    """Over the most that the sump may hold there is no water to run back, in the way or at the mouth."""
    most = plan.site.vessels["sump"].water_max_m
    assert backwards(dipping(plan, most + lowest, most + mouth)) == []
