"""The inch price list: what is special about it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from autoplan.catalog.joining import Joining
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog, End

FOOT = 0.3048
"""Metres in a foot, exact by definition."""

GALLON = 3.785411784
"""Litres in a US gallon, exact by definition (231 cubic inches)."""

SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "3", "4")


@pytest.fixture(scope="module")
def inch() -> Catalog:
    """The inch price list that comes with the program."""
    return load_catalog(Path(__file__).parents[2] / "catalogs" / "inch")


def test_shops(inch: Catalog) -> None:
    """Prices in US dollars; two shops ask for freight and one does not."""
    assert inch.currency == "USD"
    free = [shop.freight_cents == 0 for shop in inch.shops.values()]
    assert (free.count(False), free.count(True)) == (2, 1)


def test_sizes(inch: Catalog) -> None:
    """Pipe of every usual size from 1/2 to 4 in, with NPT threads to 2 in and no other thread."""
    assert tuple(inch.systems["inch"]) == SIZES
    assert {pipe.end.size for pipe in inch.pipes.values() if pipe.end.form == "spigot"} == set(SIZES)
    assert tuple(inch.systems["NPT"]) == SIZES[:6]
    threaded = [name for name, sizes in inch.systems.items() if any(s.thread_major_m for s in sizes.values())]
    assert threaded == ["NPT"]


def test_sticks_are_whole_feet(inch: Catalog) -> None:
    """Sticks of 5, 10 and 20 ft and coils of 100 ft, as their descriptions say."""
    seen = set()
    for pipe in inch.pipes.values():
        found = re.search(r"(?:stick|coil) of (\d+) ft", pipe.description)
        assert (found is None) == (pipe.stick_m == 0.0)
        if found is not None:
            assert pipe.stick_m == pytest.approx(float(found.group(1)) * FOOT)
            seen.add(found.group(1))
    assert seen == {"5", "10", "20", "100"}


def test_descriptions_of_pumps(inch: Catalog) -> None:
    """US gallons an hour and feet in the description are the ends of the curve, rounded."""
    for pump in inch.pumps.values():
        found = re.search(r"(\d+) gal/h, ([\d.]+) ft", pump.description)
        assert found is not None
        assert pump.curve[-1][0] * 3.6e6 == pytest.approx(float(found.group(1)) * GALLON, abs=5.0)
        assert pump.curve[0][1] == pytest.approx(float(found.group(2)) * FOOT, abs=0.01)
        assert pump.outlet.system == "NPT"


def test_npt_takes_nothing_but_npt(inch: Catalog) -> None:
    """NPT and ISO threads share a width, and in 1/2 and 3/4 a pitch, but do not seal (ASME B1.20.1)."""
    joining = Joining(inch)
    for size in inch.systems["NPT"]:
        male = End("male", "NPT", size)
        assert joining.mates(male, End("female", "NPT", size))
        assert not any(joining.mates(male, End("female", system, size)) for system in ("G", "Rp", "Rc"))


def test_poly_line_and_hose_are_different_bores(inch: Catalog) -> None:
    """A tail for hose of 1 in (25.4 mm) does not hold in poly line of 1 in (26.64 mm, ASTM D2239)."""
    joining = Joining(inch)
    tail = End("barb", "hose-inch", "1")
    assert joining.mates(tail, End("bore", "hose-inch", "1"))
    assert not joining.mates(tail, End("bore", "poly-inch", "1"))


def test_unions_of_all_three_kinds(inch: Catalog) -> None:
    """Socket to socket, to female NPT and to male NPT, in each size to 2 in."""
    unions = [part.ends for part in inch.adaptors.values() if part.id.startswith("union-")]
    for size in SIZES[:6]:
        socket = End("socket", "inch", size)
        for far in (socket, End("female", "NPT", size), End("male", "NPT", size)):
            assert (socket, far) in unions


def test_drain_fittings_cost_less_and_hold_nothing(inch: Catalog) -> None:
    """Drain pipe and fittings have the outside of pressure pipe (ASTM D2665, from memory), and no rating."""
    for size in ("112", "2", "3", "4"):
        rows = [
            (inch.pipes[f"drain-{size}-10ft"], inch.pipes[f"sch40-{size}-10ft"]),
            (inch.adaptors[f"drain-coupling-{size}"], inch.adaptors[f"coupling-{size}"]),
            (inch.tees[f"drain-tee-{size}"], inch.tees[f"tee-{size}"]),
            (inch.turns[f"drain-sweep-{size}-90"], inch.turns[f"sweep-{size}-90"]),
        ]
        for drain, pressure in rows:
            assert drain.rating_m == 0 < pressure.rating_m
            assert drain.offers[0].price_cents < pressure.offers[0].price_cents
        assert {tee.angle for tee in inch.tees.values() if tee.id.startswith(f"drain-wye-{size}")} == {45}
