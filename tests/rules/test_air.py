"""Both rules on air, on either side of their limits, and the whole way from problem to order."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.fittings.air import DrawnAirLine, DrawnAirPump, air_pieces
from autoplan.hydraulics.air import air_line_head
from autoplan.outcome import Outcome, Status
from autoplan.problem.brief import AirPoint, AirWish
from autoplan.report.contract import outcome_json
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from tests.short_list import from_short_list, from_shortest_list
from tests.stored import read, stored

LITRE_H = 1 / 3.6e6


def with_air(plan: Any, wish: AirWish, *pumps: DrawnAirPump) -> Any:
    """The plan with air wished and drawn."""
    return replace(plan, site=replace(plan.site, air=wish), drawing=replace(plan.drawing, air=pumps))


LINE = DrawnAirLine("tank", "air-line-6", 3.0, "diffuser-500")
TAPPED = replace(LINE, tap="air-tap")


def depth_at(plan: Any, flow_l_h: float) -> float:
    """Depth to which air-700 just brings a flow through one line of `LINE` [m]: off its curve by hand."""
    points = plan.catalog.air["air-700"].curve
    before, after = next((a, b) for a, b in pairwise(points) if b[0] / LITRE_H >= flow_l_h)
    share = (flow_l_h * LITRE_H - before[0]) / (after[0] - before[0])
    pressure = before[1] + share * (after[1] - before[1])
    return pressure - plan.catalog.air["diffuser-500"].head_m - air_line_head(flow_l_h * LITRE_H, 0.006, 3.0)


@pytest.mark.parametrize(("deeper_mm", "ok"), [(-1.0, True), (-0.0001, True), (0.1, False), (300.0, False)])
def test_air_supply_at_depth(plan: Any, deeper_mm: float, ok: bool) -> None:
    """The pump's curve at the depth, the diffuser's and the line's pressure decides."""
    depth = depth_at(plan, 300.0) + deeper_mm / 1000
    wish = AirWish((AirPoint("tank", 300 * LITRE_H, depth, 3.0),))
    found = with_air(plan, wish, DrawnAirPump("air-700", (), (LINE,))).findings("air-supply")["tank"]
    assert found.ok is ok
    assert found.limit == pytest.approx(300.0)


def test_air_supply_counts_what_hangs_there(plan: Any) -> None:
    """No line, a diffuser that is too small, lines without taps, too many for the outlets: each is short."""
    wish = AirWish((AirPoint("tank", 400 * LITRE_H, 0.5, 3.0),))

    def value(*pumps: DrawnAirPump) -> float:
        return with_air(plan, wish, *pumps).findings("air-supply")["tank"].value

    assert value() == 0.0
    assert value(DrawnAirPump("air-1500", (), (replace(LINE, diffuser="diffuser-200"),))) == pytest.approx(
        200
    )
    assert value(DrawnAirPump("air-1500", (), (TAPPED, TAPPED))) >= 400
    assert value(DrawnAirPump("air-1500", (), (LINE, LINE))) == 0.0
    assert value(DrawnAirPump("air-1500", (), (TAPPED,) * 5)) == 0.0
    assert value(DrawnAirPump("air-1500", ("manifold-4",), (LINE,) * 4)) >= 400
    assert value(DrawnAirPump("air-1500", ("manifold-4",), (LINE,) * 5)) == 0.0


def test_air_supply_in_a_power_cut(plan: Any) -> None:
    """Mains pumps count for nothing in a power cut, and battery pumps for nothing else."""
    wish = AirWish((AirPoint("tank", 400 * LITRE_H, 0.5, 3.0),), reserve=0.5)
    mains = DrawnAirPump("air-1500", (), (LINE,))
    found = with_air(plan, wish, mains).findings("air-supply")
    assert (found["tank"].ok, found["tank, power cut"].ok) == (True, False)
    both = with_air(plan, wish, mains, DrawnAirPump("air-battery-1000", (), (LINE,), battery=True))
    found = both.findings("air-supply")
    assert found["tank, power cut"].ok
    assert found["tank, power cut"].limit == pytest.approx(200)


def test_air_back(plan: Any) -> None:
    """Above the water no valve is needed; below it every line has one."""
    wish = AirWish((AirPoint("tank", 100 * LITRE_H, 0.5, 3.0),))
    bare = DrawnAirPump("air-1500", (), (TAPPED, replace(TAPPED, check="air-check")))
    assert with_air(plan, wish, bare).findings("air-back")["air-1500"].ok
    low = replace(wish, above_water=False)
    found = with_air(plan, low, bare).findings("air-back")["air-1500"]
    assert (found.ok, found.value) == (False, 1.0)
    safe = DrawnAirPump("air-1500", (), (replace(TAPPED, check="air-check"),) * 2)
    assert with_air(plan, low, safe).findings("air-back")["air-1500"].ok


def test_no_wish_no_findings(plan: Any) -> None:
    """A site without air is not judged."""
    assert not plan.findings("air-supply")
    assert not plan.findings("air-back")


@pytest.fixture(scope="module")
def aired() -> Outcome:
    """The smallest shipped problem with air and a battery pump, built from the short list, proven."""
    text = from_short_list(Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8"))
    return stored("air-and-battery", f'{text}\n[air]\nvessels = ["tank", "sump"]\nbattery = true\n')


def test_air_is_on_the_order_and_in_the_running_cost(aired: Outcome) -> None:
    """Every piece is bought; mains air pumps run all year, the battery pump does not."""
    (design,) = aired.designs
    bought = Counter({line.part: int(line.quantity) for line in design.drawing.purchases})
    wanted = air_pieces(design.drawing.air)
    assert wanted == Counter({part: bought[part] for part in wanted})
    assert any(pump.battery for pump in design.drawing.air)
    watts = sum(pump.watts for pump in design.verdict.pumps.values())
    watts += sum(aired.catalog.air[p.part].watts for p in design.drawing.air if not p.battery)
    price = aired.site.wishes.power_price_per_kwh
    assert design.verdict.cost.running_per_year == pytest.approx(watts * 8.76 * price)


def test_air_is_told(aired: Outcome) -> None:
    """The printed plan and the JSON name pump, lines, diffusers and how to keep the water out."""
    text = " ".join(plain_text(report(aired)).split())
    assert "Stand or hang each air pump above the highest water" in text
    pumps = aired.designs[0].drawing.air
    assert all(pump.part in text and line.diffuser in text for pump in pumps for line in pump.lines)
    (design,) = outcome_json(aired)["designs"]  # type: ignore[misc, union-attr]
    told = design["air"]  # type: ignore[index, call-overload]
    assert [pump["part"] for pump in told] == [pump.part for pump in pumps]  # type: ignore[index, union-attr]


def test_more_air_than_any_pump_gives() -> None:
    """There is no design, and the answer says that the air is what stands in the way."""
    text = from_shortest_list(Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8"))
    site, catalog = read(f'{text}\n[air]\nflow = "9000 L/h"\n')
    found = autoplan.design(site, catalog, top=1)
    assert found.status is Status.NONE
    assert found.clash is not None
    assert found.clash.rules == ("air-supply",)
