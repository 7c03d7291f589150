"""More inflow as a remedy for a siphon that does not start: the numbers, and what is told works."""

from __future__ import annotations

import math
import re
from pathlib import Path

import autoplan
from autoplan.advice.inflow import fed
from autoplan.outcome import Status
from tests.advice.impossible import solved
from tests.short_list import from_shortest_list
from tests.words import why_none

BED = """
name = "Too little for its siphon"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "150 mm"
wall = "6 mm"
[beds]
count = 1
area = "1 m2"
flood = "250 mm"
floor = "550 mm"
floods = "{floods}/hour"
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
"""
"""A flood takes 100 L."""

G = 9.80665


def problem(floods: float | str) -> str:
    """The bed flooded so many times an hour, from the short list."""
    return from_shortest_list(BED.format(floods=floods))


def test_the_least_more(tmp_path: Path) -> None:
    """What it gets, what 17 mm start from, and the least that leaves a design; a litre less leaves none.

    1.1 x 0.51 A sqrt(g D) in 17 mm of bore; with a flared top seven tenths of it.
    """
    path = tmp_path / "bed.toml"
    path.write_text(problem(1))
    site = autoplan.load_problem(path)
    catalog = autoplan.load_catalog("metric")
    outcome = autoplan.design(site, catalog, top=1)
    assert outcome.status is Status.NONE
    said = " ".join(why_none(outcome))
    plain = 1.1 * 0.51 * math.sqrt(G * 0.017) * math.pi / 4 * 0.017**2 * 3.6e6
    starts = r"bed 1 gets (\d+) L/h; .*, 17\.0 mm bore, starts from (\d+) L/h, or from (\d+) L/h"
    numbers = re.search(starts, said)
    assert numbers is not None, said
    for number, expected in zip(numbers.groups(), (100.0, plain, 0.7 * plain), strict=True):
        assert abs(int(number) - expected) <= 1.0
    found = re.search(r'(\d+) L/h more to bed 1, (\d+) L/h in all \(floods = "([\d.]+)/hour"\)', said)
    assert found is not None, said
    more, whole = int(found[1]), int(found[2])
    assert more + 100 == whole
    assert solved(tmp_path, catalog, problem(found[3]))
    assert not solved(tmp_path, catalog, problem((whole - 1) / 100))


def test_more_inflow_goes_through_every_run(tmp_path: Path) -> None:
    """A bed flooded half as often again takes half as much again in both, but for the last digit."""
    path = tmp_path / "bed.toml"
    path.write_text(problem(2))
    site = autoplan.load_problem(path).outline
    more = fed(site, ["bed 1"], 1.5)
    for name in ("bed feed 1", "bed drain 1"):
        before, after = site.flows[name].design_m3_s, more.flows[name].design_m3_s
        assert abs(after / before - 1.5) < 1e-4
    assert more.flows["tank feed"] == site.flows["tank feed"]
