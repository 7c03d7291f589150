"""Throttled or slowed: what power costs over the years decides, against each pump and speed by itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.optimiser.conftest import CORNER_SHELF

HOURS, YEARS = 8760, 3.0


@pytest.fixture(scope="module")
def shelf(metric: Catalog, shelf_of: Callable[[str], Catalog]) -> Catalog:
    """The corner shelf with pumps that can and cannot be slowed."""
    slow = [pump.id for pump in metric.pumps.values() if pump.slowable]
    return shelf_of(f"{CORNER_SHELF} {slow[0]}")


def owned(site: Site, catalog: Catalog, price: float) -> tuple[float, str, float, float]:
    """Cost of ownership by hand, mode, speed and watts of the best design when that is what ranks."""
    site = replace(site, wishes=replace(site.wishes, power_price_per_kwh=price))
    outcome = autoplan.design(site, catalog, top=1, rank_by="ownership")
    if outcome.status is not Status.PROVEN:
        return float("inf"), "", 0.0, 0.0
    (design,) = outcome.designs
    drawn, facts = design.drawing.pumps["sump"], design.verdict.pumps["sump"]
    cost = design.verdict.cost
    # The affinity laws: power goes with the cube of the speed (Crane TP-410, Ex. 7-33).
    watts = catalog.pumps[drawn.part].watts * drawn.speed**3
    assert facts.watts == pytest.approx(watts)
    assert cost.running_per_year == pytest.approx(watts / 1000 * HOURS * price, rel=1e-6)
    whole = cost.purchase + cost.freight + YEARS * watts / 1000 * HOURS * price
    assert design.objective == pytest.approx(whole, abs=0.02)
    return whole, drawn.mode, drawn.speed, watts


@pytest.mark.parametrize(("price", "mode"), [(0.0, "throttled"), (0.9, "slowed")])
def test_dear_power_slows_the_pump(
    site_of: Callable[..., Site], shelf: Catalog, price: float, mode: str
) -> None:
    """With power for nothing the cheapest pump is throttled; at 0.90 a kWh a dearer one is slowed.

    Each pump is tried by itself too: none of them comes to less.
    """
    site = site_of(flow_l_h=900.0)
    best = owned(site, shelf, price)
    assert best[1] == mode
    alone = []
    for pump in shelf.pumps:
        only = replace(shelf, pumps={pump: shelf.pumps[pump]})
        alone.append(owned(site, only, price)[0])
    assert best[0] == pytest.approx(min(alone), abs=0.011)


def test_slowed_only_as_far_as_the_duty_allows(site_of: Callable[..., Site], shelf: Catalog) -> None:
    """The chosen speed gives the head with its margin; the next step down, a twentieth less, does not."""
    site = site_of(flow_l_h=900.0)
    site = replace(site, wishes=replace(site.wishes, power_price_per_kwh=0.9))
    (design,) = autoplan.design(site, shelf, top=1, rank_by="ownership").designs
    drawn = design.drawing.pumps["sump"]
    assert 0.5 < drawn.speed < 1.0

    def holds(speed: float) -> bool:
        pumps = {"sump": replace(drawn, speed=speed)}
        survey = Survey(site, shelf, replace(design.drawing, pumps=pumps))
        rules = [rule for rule in read_rules(site).rules if rule.id == "pump-duty"]
        return all(found.ok for rule in rules for found in rule.check(survey))

    assert holds(drawn.speed)
    assert not holds(drawn.speed - 0.05)
