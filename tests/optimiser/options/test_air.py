"""The ways to bring air: what is left out never wins."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

import autoplan
from autoplan.catalog.parts import AirKind, AirPart, Catalog
from autoplan.hydraulics.air import air_line_head
from autoplan.hydraulics.pump import PumpCurve
from autoplan.optimiser.options.air import AirChoice, air_choices
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.brief import AirPoint, AirWish
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules

SITE = autoplan.load_problem("problems/one-tank-one-bed.toml").outline
METRIC = autoplan.load_catalog("metric")

SMALL = AirPoint("tank", 150 / 3.6e6, 0.6, 3.0)
LARGE = AirPoint("sump", 400 / 3.6e6, 0.9, 5.0)


def price(catalog: Catalog, part: str) -> float:
    """Least price of a piece [cents]."""
    return min(offer.price_cents for offer in catalog.part(part).offers)


def cost(catalog: Catalog, choice: AirChoice) -> float:
    """All pieces at their least price [cents]."""
    return sum(count * price(catalog, part) for part, count in choice.pieces.items())


def ways(site: Site, wish: AirWish, catalog: Catalog = METRIC) -> list[AirChoice]:
    """The choices under all rules."""
    return air_choices(Shelf(site, catalog), read_rules(site), wish)


def of_kind(kind: AirKind) -> list[AirPart]:
    """Rows of a kind."""
    return [part for part in METRIC.air.values() if part.kind is kind]


def by_hand(points: tuple[AirPoint, ...], *, valved: bool = False) -> float:
    """Least cost for one or two vessels, tried out plainly, by flow instead of by pressure [cents]."""
    if len(points) == 2:
        return min(by_hand(points[:1]) + by_hand(points[1:]), shared(points, valved=valved))
    return shared(points, valved=valved)


def shared(points: tuple[AirPoint, ...], *, valved: bool) -> float:
    """Least cost with one pump for all, one kind of line and diffuser for each vessel [cents]."""
    best = float("inf")
    flow = sum(point.flow_m3_s for point in points)
    each = list(product(of_kind(AirKind.DIFFUSER), of_kind(AirKind.LINE)))
    dividers = (None, *of_kind(AirKind.TAP), *of_kind(AirKind.MANIFOLD))
    for pump, divider, built in product(of_kind(AirKind.PUMP), dividers, product(each, repeat=len(points))):
        lines, needs, cents = 0, [], price(METRIC, pump.id)
        for point, (diffuser, line) in zip(points, built, strict=True):
            count = next(n for n in range(1, 99) if n * diffuser.flow_m3_s >= point.flow_m3_s * (1 - 1e-9))
            lines += count
            extra = 0.0 if divider is None else divider.head_m
            extra += 0.1 if valved else 0.0
            loss = air_line_head(point.flow_m3_s / count, line.bore_m, point.line_m)
            needs.append(point.depth_m + diffuser.head_m + extra + loss)
            metres = -(-point.line_m // 1)
            cents += count * (price(METRIC, diffuser.id) + metres * price(METRIC, line.id))
            cents += count * price(METRIC, "air-check") * valved
        if divider is None and lines > 1:
            continue
        if divider is not None and divider.kind is AirKind.TAP:
            if not 1 < lines <= pump.outlets:
                continue
            cents += lines * price(METRIC, divider.id)
        elif divider is not None:
            number = max(-(-lines // divider.outlets), -(-flow // divider.flow_m3_s))
            if lines == 1 or number > pump.outlets:
                continue
            cents += number * price(METRIC, divider.id)
        if PumpCurve(pump.curve).flow(max(needs)) >= flow:
            best = min(best, cents)
    return best


@pytest.mark.parametrize("points", [(SMALL,), (LARGE,), (SMALL, LARGE), (SMALL, SMALL)])
def test_cheapest_as_by_hand(points: tuple[AirPoint, ...]) -> None:
    """The least cost among the choices is that of all ways tried out one by one."""
    found = min(cost(METRIC, choice) for choice in ways(SITE, AirWish(points)))
    assert found == pytest.approx(by_hand(points))


def test_check_valves_below_the_water() -> None:
    """A pump below the water costs a check valve on each line, and never one above it."""
    wish = AirWish((SMALL,), above_water=False)
    cheapest = min(ways(SITE, wish), key=lambda choice: cost(METRIC, choice))
    assert all(line.check for pump in cheapest.pumps for line in pump.lines)
    assert cost(METRIC, cheapest) == pytest.approx(by_hand((SMALL,), valved=True))
    free = replace(SITE, rule_settings={"air-back": {"off": True}})
    cheapest = min(ways(free, wish), key=lambda choice: cost(METRIC, choice))
    assert not any(line.check for pump in cheapest.pumps for line in pump.lines)


def test_several_small_or_one_large() -> None:
    """Where large pumps are dear, two vessels get a pump each; where small ones are, they share one."""

    def priced(large: int, small: int) -> Catalog:
        rows = {}
        for name, part in METRIC.air.items():
            if part.kind is AirKind.PUMP:
                cents = large if len(name) > len("air-700") else small
                part = replace(part, offers=(replace(part.offers[0], price_cents=cents),))
            rows[name] = part
        return replace(METRIC, air=rows)

    points = (replace(SMALL, flow_m3_s=300 / 3.6e6), replace(SMALL, vessel="sump", flow_m3_s=300 / 3.6e6))
    for catalog, count in ((priced(90_000, 1_000), 2), (priced(2_000, 9_000), 1)):
        choices = ways(SITE, AirWish(points), catalog)
        assert len(min(choices, key=lambda choice: cost(catalog, choice)).pumps) == count


def test_nothing_in_the_list_gives_it() -> None:
    """Too deep for every pump: the rules that refuse it are named; without them anything goes."""
    deep = AirWish((replace(SMALL, depth_m=4.0),))
    with pytest.raises(NoOptionError) as none:
        ways(SITE, deep)
    assert "air-supply" in none.value.rules
    assert ways(replace(SITE, rule_settings={"air-supply": {"off": True}}), deep)
