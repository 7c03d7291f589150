"""The price list of iron-size pipe named by its bore: what is special about it."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan.catalog.joining import Joining
from autoplan.catalog.load import load_catalog
from autoplan.catalog.mating import JointKind, joint_kind
from autoplan.catalog.parts import Catalog, End

SIZES = ("15", "20", "25", "32", "40", "50", "80")


@pytest.fixture(scope="module")
def bore_named() -> Catalog:
    """The price list of iron-size pipe that comes with the program."""
    return load_catalog(Path(__file__).parents[2] / "catalogs" / "bore-named")


def test_sizes(bore_named: Catalog) -> None:
    """Pipe of seven sizes, with four thread systems of the same six sizes."""
    assert tuple(bore_named.systems["iron-pipe"]) == SIZES
    pipes = [pipe for pipe in bore_named.pipes.values() if pipe.end.form == "spigot"]
    assert {pipe.end.size for pipe in pipes} == set(SIZES)
    threads = [tuple(bore_named.systems[system]) for system in ("G", "R", "Rp", "Rc")]
    assert threads == [("1/2", "3/4", "1", "1-1/4", "1-1/2", "2")] * 4


def test_a_name_is_near_the_bore(bore_named: Catalog) -> None:
    """The name lies within 20 % of the bore of each pipe (no source), and far from its outside."""
    for pipe in bore_named.pipes.values():
        if pipe.end.form == "spigot":
            name = float(pipe.end.size) / 1000
            assert pipe.bore_m == pytest.approx(name, rel=0.20)
            assert pipe.outside_m > name * 1.1


@pytest.mark.parametrize("size", ["20", "25", "32", "40", "50"])
def test_it_is_not_metric_pipe(size: str, bore_named: Catalog, metric: Catalog) -> None:
    """Pipe that is 50 mm by its outside (EN ISO 1452-2) does not come near DN 50 (BS 3505), nor do others."""
    iron, outside = bore_named.systems["iron-pipe"][size], metric.systems["metric"][size]
    assert iron.outside_min_m is not None
    assert outside.outside_max_m is not None
    assert iron.outside_min_m - outside.outside_max_m > 0.006
    assert not Joining(metric).mates(End("spigot", "iron-pipe", size), End("socket", "metric", size))


def test_stronger_pipe_is_narrower_and_dearer(bore_named: Catalog) -> None:
    """9, 12 and 15 bar in DN 50: the same outside, ever thicker walls."""
    light, middle, heavy = (bore_named.pipes[f"class{bar}-50-6m"] for bar in (9, 12, 15))
    assert light.outside_m == middle.outside_m == heavy.outside_m
    assert light.bore_m > middle.bore_m > heavy.bore_m
    assert light.rating_m < middle.rating_m < heavy.rating_m
    assert light.offers[0].price_cents < middle.offers[0].price_cents < heavy.offers[0].price_cents


def test_each_thread_has_its_use(bore_named: Catalog) -> None:
    """Taper males R in adaptors, Rp in valves, some Rc (ISO 7-1); G on pumps and unions (ISO 228-1)."""
    used = {
        kind: {end.system for part in rows for end in part.ends if end.form in ("male", "female")}
        for kind, rows in (
            ("adaptor", [p for p in bore_named.adaptors.values() if p.id.startswith("thread-male-")]),
            ("union", [p for p in bore_named.adaptors.values() if p.id.startswith("union-female-")]),
            ("valve", list(bore_named.valves.values())),
        )
    }
    assert used == {"adaptor": {"R"}, "union": {"G"}, "valve": {"Rp", "Rc"}}
    assert {pump.outlet.system for pump in bore_named.pumps.values()} == {"G"}


@pytest.mark.parametrize(
    ("male", "female", "kind"),
    [
        ("R", "Rp", JointKind.TAPE),
        ("R", "Rc", JointKind.TAPE),
        ("R", "G", JointKind.TAPE),
        ("G", "G", JointKind.WASHER),
        ("G", "Rp", JointKind.WASHER),
        ("G", "Rc", None),
    ],
)
def test_threads_of_the_list(male: str, female: str, kind: JointKind | None, bore_named: Catalog) -> None:
    """Taper males seal in every ISO female; a parallel male in a parallel one, on a washer (ISO 7-1)."""
    joining = Joining(bore_named)
    for size in bore_named.systems["G"]:
        pair = End("male", male, size), End("female", female, size)
        assert joining.mates(*pair) == (kind is not None)
        if kind is not None:
            assert joint_kind(*pair) is kind
