"""Where pumps are what lacks, the lift is told and what the strongest pump gives."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

import autoplan
from autoplan.advice.case import Case
from autoplan.advice.remedies import _strengths, pump_strength
from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.report.units import US
from autoplan.rules.book import read_rules
from autoplan.selection.shelf import Shelf
from autoplan.selection.without import Without
from autoplan.selection.workshop import Workshop

HIGH = """
name = "A tank on a roof"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "12 m"
[beds]
count = 1
area = "1 m2"
floor = "3 m"
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
[distances]
tank_to_sump = "14 m"
sump_to_tank = "16 m"
bed_to_sump = "4 m"
"""


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """A tank whose water is 12.6375 m up at least, over a sump whose water is 0.03 m down at most."""
    path: Path = tmp_path_factory.mktemp("high") / "high.toml"
    path.write_text(HIGH)
    return autoplan.load_problem(path)


def shelf(site: Site, catalog: Catalog) -> Shelf:
    """The parts that may be used."""
    return Workshop(catalog).shelf(site, read_rules(site))


def test_lift_and_strongest_pump(site: Site, catalog: Catalog) -> None:
    """Up from 0.03 m less the 100 L of a flood on 0.6 m2: 12.8342 m; 9 to 8.5 m over 1000 L/h at 950."""
    said = pump_strength(site, shelf(site, catalog), "sump")
    assert "of sump the lift alone is at least 12.83 m, and losses and a margin come on top" in said
    assert "at 950 L/h the strongest pump to be had gives 8.5" in said
    assert "12.83 m (42.09 ft)" in US.also(said)
    assert "950 L/h (251.0 gph)" in US.also(said)


@pytest.mark.parametrize(("owned", "head"), [({}, "6.36 m"), ({"pump-5000-high": 1}, "8.5")])
def test_only_pumps_that_are_to_be_had(
    site: Site, catalog: Catalog, owned: dict[str, int], head: str
) -> None:
    """Without the stronger of two the other gives 6.5 - 0.36 x 950 / 2400 = 6.3575 m, unless it is owned."""
    two = {part: catalog.pumps[part] for part in ("pump-12000", "pump-5000-high")}
    without = replace(site, unavailable=frozenset({"pump-5000-high"}), owned=owned)
    assert f"gives {head}" in pump_strength(without, shelf(without, replace(catalog, pumps=two)), "sump")


def test_no_pump_reaches_the_flow(site: Site, catalog: Catalog) -> None:
    """Past the end of every curve there is no head to tell."""
    weak = replace(catalog, pumps={"pump-1000": catalog.pumps["pump-1000"]})
    flows = {name: replace(flow, design_m3_s=10 * flow.design_m3_s) for name, flow in site.flows.items()}
    more = replace(site, flows=flows)
    said = pump_strength(more, shelf(more, weak), "sump")
    assert said.endswith("at 9500 L/h no pump to be had gives any.")


def test_only_where_pumps_are_what_lacks(site: Site, catalog: Catalog) -> None:
    """A sentence for each pumped vessel beside pump-duty, none beside another rule."""
    nothing_searched = (cast(Any, None), cast(Without, None))
    case = Case(site, catalog, read_rules(site), *nothing_searched, shelf(site, catalog), None)
    assert len(_strengths(case, "pump-duty")) == 1
    assert _strengths(case, "drain-fall") == []
