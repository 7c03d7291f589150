"""Valves by themselves: what a measured check valve loses."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.fittings.valve import CheckValveSet, ValveSet, valve_resistance
from tests.lists import with_row


@pytest.mark.parametrize("pipe", ["pn16-25-3m", "pn10-32-3m", "drain-50-3m"])
@pytest.mark.parametrize("kv", [8.0, 60.0])
def test_a_measured_check_valve(catalog: Catalog, pipe: str, kv: float) -> None:
    """In any pipe it loses 1 bar (10.2 m) at its Kv, and in slow water no less than one unmeasured."""
    unmeasured = valve_resistance(catalog, catalog.pipes["drain-50-3m"], "check-32").loss(0.0)
    row = replace(catalog.valves["check-32"], kv_m3_h=kv)
    measured = replace(catalog, valves={**catalog.valves, row.id: row})
    found = valve_resistance(measured, measured.pipes[pipe], "check-32")
    assert found.loss(kv / 3600) == pytest.approx(10.2, rel=2e-3)
    assert found.loss(1e-6) >= unmeasured - 1e-9


def test_the_flap_of_a_check_valve(catalog: Catalog) -> None:
    """Water that stands does not lift it: its head is that of no flow, and a ball valve has none."""
    pipe = catalog.pipes["pn10-32-3m"]
    lifts = CheckValveSet("check-32").flap_head(catalog, pipe)
    assert lifts == valve_resistance(catalog, pipe, "check-32").loss(0.0) > 0.0
    assert valve_resistance(catalog, pipe, "ball-32").loss(0.0) == 0.0


@pytest.mark.parametrize("weak", ["ball-25", "bush-32-25", "pn16-25-metre"])
def test_each_part_of_a_valve_holds_its_own(catalog: Catalog, weak: str) -> None:
    """Valve, adaptors and stub: the least rating is that of whichever is the weakest."""
    chain = ("pn16-25-metre", "bush-32-25", "coupling-32") * 2
    fitting = ValveSet("ball-25", chain)
    assert fitting.parts() == ("ball-25", *chain)
    thin = with_row(catalog, weak, rating_m=1.5)
    assert min(fitting.ratings_m(catalog)) > 1.5
    assert min(fitting.ratings_m(thin)) == 1.5
