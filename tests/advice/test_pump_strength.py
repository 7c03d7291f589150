"""What is told of pumps: the duty, the strongest that may be used, and no blame that its numbers clear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

import autoplan
from autoplan.advice.case import Case
from autoplan.advice.pumps import PumpNeed, duty
from autoplan.advice.remedies import _blamed
from autoplan.catalog.parts import Catalog
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.without import Without
from autoplan.problem.site import Site
from autoplan.report.units import SI, US
from autoplan.rules.book import read_rules

HIGH = """
name = "A tank on a roof"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "{floor}"
[beds]
count = 1
area = "1 m2"
floor = "550 mm"
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
    return high(tmp_path_factory.mktemp("high"), "12 m")


def high(folder: Path, floor: str) -> Site:
    """A tank that stands so high over its sump."""
    path = folder / "high.toml"
    path.write_text(HIGH.format(floor=floor))
    return autoplan.load_problem(path).outline


class Undrafted:
    """Shows nothing."""

    plain = None


def told(site: Site, catalog: Catalog) -> PumpNeed:
    """What is told of the sump's pump where nothing is drafted."""
    return duty(case(site, catalog), "sump")


def case(site: Site, catalog: Catalog) -> Case:
    """A case in which nothing is drafted or searched."""
    vain = cast(Without, Undrafted())
    return Case(site, catalog, read_rules(site), cast(Any, None), vain, Workshop(catalog))


def test_lift_and_strongest_pump(site: Site, catalog: Catalog) -> None:
    """Up from 0.03 m less the 100 L of a flood on 0.6 m2: 12.8342 m; 9 to 8.5 m over 1000 L/h at 950."""
    found = told(site, catalog)
    assert found.lacking
    assert "of sump the lift is at least 12.83 m; at 950 L/h" in SI.told(found.sentence)
    assert "at 950 L/h the strongest pump to be had, pump-5000-high, gives 8.52 m" in SI.told(found.sentence)
    assert "12.83 m (42.09 ft)" in US.told(found.sentence)
    assert "950 L/h (251.0 gph)" in US.told(found.sentence)


@pytest.mark.parametrize(
    ("owned", "head"),
    [({}, "pump-12000, gives 6.36 m"), ({"pump-5000-high": 1}, "pump-5000-high, gives 8.52")],
)
def test_only_pumps_that_are_to_be_had(
    site: Site, catalog: Catalog, owned: Mapping[str, int], head: str
) -> None:
    """Without the stronger of two the other gives 6.5 - 0.36 x 950 / 2400 = 6.3575 m, unless it is owned."""
    two = {part: catalog.pumps[part] for part in ("pump-12000", "pump-5000-high")}
    without = replace(site, unavailable=frozenset({"pump-5000-high"}), owned=owned)
    assert head in SI.told(told(without, replace(catalog, pumps=two)).sentence)


def test_no_pump_reaches_the_flow(site: Site, catalog: Catalog) -> None:
    """Past the end of every curve there is no head to tell."""
    weak = replace(catalog, pumps={"pump-1000": catalog.pumps["pump-1000"]})
    flows = {name: replace(flow, design_m3_s=10 * flow.design_m3_s) for name, flow in site.flows.items()}
    found = told(replace(site, flows=flows), weak)
    assert found.lacking
    assert SI.told(found.sentence).endswith("at 9500 L/h no pump to be had gives any.")


def test_no_blame_where_the_numbers_clear(site: Site, catalog: Catalog, tmp_path: Path) -> None:
    """With 1.3 m to lift and 8.5 m to be had another rule is to blame where one is; with 12.8 m pumps are."""
    blame = "pump-duty stands in the way: ..."
    low = case(high(tmp_path, "500 mm"), catalog)
    assert not duty(low, "sump").lacking
    other = "sump-low", "sump-low stands in the way"
    mends, said = _blamed(low, ["pump-duty", "sump-low"], [("pump-duty", blame), other])
    assert mends == ["sump-low"]
    assert blame not in said
    assert said[0] == other[1]
    mends, said = _blamed(case(site, catalog), ["pump-duty", "sump-low"], [("pump-duty", blame)])
    assert mends == ["pump-duty", "sump-low"]
    assert said[0] == blame
    assert "the lift is at least 12.83 m" in SI.told(said[1])
