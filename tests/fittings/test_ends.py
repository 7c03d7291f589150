"""Ends by themselves: walls, floors and rims, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog, TurnStyle, Way
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import BellSiphon, SideHole, ThroughFloor
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.rim import OverRim
from autoplan.fittings.wall import ThroughWall

RIM = OverRim(at="tank", centre_m=0.800, mouth_m=0.650, corner=Corner(90, TurnStyle.TIGHT, ("elbow-25-90",)))
FLOOR = ThroughFloor(
    at="bed", way=Way.BULKHEAD, penetration="bulkhead-25", centre_m=0.0, inner_chain=("bush-25-20",)
)
SEAL = ThroughWall(at="tank", way=Way.SEAL, penetration="seal-50", centre_m=0.6, chain=("drain-coupling-50",))


def test_an_end_at_a_tee_is_its_adaptors(catalog: Catalog) -> None:
    """A coupling takes 3 mm by its row and narrows to its bore; without adaptors nothing is in the way."""
    lengths = Lengths(catalog, catalog.pipes["pn10-50-3m"])
    end = LineEnd("split", ("drain-coupling-50",))
    assert (end.takes_m(lengths), LineEnd("split").takes_m(lengths)) == (pytest.approx(0.003), 0.0)
    assert (end.bore_m(catalog), LineEnd("split").bore_m(catalog)) == (0.044, math.inf)


def test_a_seal_leaves_the_pipes_own_bore(catalog: Catalog) -> None:
    """The piece that passes is as wide as its pipe; the coupling outside narrows it, the stop inside not."""
    pipe, bare = catalog.pipes["pn10-50-3m"], replace(SEAL, chain=())
    assert bare.inlet_bore_m(catalog, pipe) == pytest.approx(0.0452)
    assert SEAL.inlet_bore_m(catalog, pipe) == 0.044
    assert replace(bare, inner_chain=("drain-coupling-50",)).start_bore_m(catalog) == math.inf
    lengths = Lengths(catalog, pipe)
    # A socket of 31 mm and 20 mm that show stand out of the wall, and the coupling takes 3 mm.
    assert SEAL.takes_m(lengths) == pytest.approx(0.031 + 0.020 + 0.003)


def test_a_bulkheads_inside_narrows_a_drain(catalog: Catalog) -> None:
    """Behind a fitting in the floor the bush that holds the standpipe is the narrowest."""
    assert FLOOR.bore_m(catalog) == 0.0212
    assert FLOOR.start_bore_m(catalog) == 0.017


@pytest.mark.parametrize(("end", "k"), [(SEAL, 1.0), (replace(SEAL, way=Way.BULKHEAD), 0.5), (FLOOR, 1.0)])
def test_how_water_enters(end: ThroughWall | ThroughFloor, k: float) -> None:
    """A pipe that stands free is re-entrant, K 1.0, a fitting flush, K 0.5 (White, after Idelchik)."""
    assert end.inlet_k == pytest.approx(k)


@pytest.mark.parametrize(("flare", "outside_mm"), [(None, 20.0), ("reducer-50-32", 57.5)])
def test_the_widest_of_a_standpipe(catalog: Catalog, flare: str | None, outside_mm: float) -> None:
    """Its pipe's outside, or with a flare 1.15 times the 50 mm that its socket takes."""
    siphon = BellSiphon("bell-75", "guard-110", "snorkel-6", flare, 0.025)
    end = replace(FLOOR, standpipe="pn16-20-metre", siphon=siphon)
    assert end.outside_m(catalog, catalog.pipes["pn16-25-3m"]) * 1000 == pytest.approx(outside_mm)


def test_what_stands_on_a_floor_is_bought_with_it() -> None:
    """Flare, bell, guard and air tube of a siphon; of a drain hole its guard; of a plain one nothing."""
    siphon = BellSiphon("bell-75", None, "snorkel-6", "reducer-50-32", 0.025)
    assert FLOOR.parts() == ("bulkhead-25", "bush-25-20")
    assert replace(FLOOR, siphon=siphon).parts()[2:] == ("reducer-50-32", "bell-75", "snorkel-6")
    assert replace(FLOOR, drain_hole=SideHole(0.011, 0.04, "guard-100")).parts()[2:] == ("guard-100",)
    assert replace(FLOOR, drain_hole=SideHole(0.011, 0.04, None)).parts()[2:] == ()


def test_how_far_an_inlet_hangs() -> None:
    """From crest to mouth; while either is open there is no drop, and no hole has no upper edge."""
    assert RIM.drop_m == pytest.approx(0.150)
    assert replace(RIM, mouth_m=None).drop_m == replace(RIM, centre_m=None).drop_m == 0.0
    assert RIM.hole_top_m is None
    assert replace(RIM, air_hole_m=0.52, air_hole_width_m=0.006).hole_top_m == pytest.approx(0.523)


@pytest.mark.parametrize(("more_mm", "drops"), [(-0.01, False), (0.01, True)])
def test_a_turn_that_reaches_its_mouth_has_no_pipe_below(
    catalog: Catalog, more_mm: float, drops: bool
) -> None:
    """An elbow of 25 mm reaches 0.6 x 21.2 and its socket of 18.5 mm down (ISO 727, from memory)."""
    reach = 0.6 * 0.0212 + 0.0185
    lengths = Lengths(catalog, catalog.pipes["pn16-25-3m"])
    assert RIM.corner.reach_m(lengths) == pytest.approx(reach)
    hung = replace(RIM, mouth_m=RIM.centre_m - reach - more_mm / 1000)
    assert hung.has_drop(lengths) is drops
