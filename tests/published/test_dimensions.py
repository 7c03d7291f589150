"""Dimensions in the price lists against published standards."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest
from fluids.piping import nearest_pipe

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog, Way
from autoplan.errors import InputError

ROOT = Path(__file__).parents[2]

# Outside x wall [mm], EN ISO 1452-2 and DIN 8062.
PN10 = {32: 1.6, 40: 1.9, 50: 2.4, 63: 3.0, 75: 3.6}
PN16 = {20: 1.5, 25: 1.9, 32: 2.4, 40: 3.0, 50: 3.7, 63: 4.7, 75: 5.6}

# Major diameter of parallel pipe thread [mm], ISO 228-1.
THREADS = {"1/2": 20.955, "3/4": 26.441, "1": 33.249, "1-1/4": 41.910, "1-1/2": 47.803, "2": 59.614}

# Depth of solvent sockets [mm], ISO 727, from memory.
SOCKETS = {20: 16.0, 25: 18.5, 32: 22.0, 40: 26.0, 50: 31.0, 63: 37.5}

# Outside and bore of Schedule 40 pipe [mm], ASTM D1785, by nominal size in inches.
SCHEDULE_40 = {
    0.5: (21.34, 15.80),
    0.75: (26.67, 20.93),
    1: (33.40, 26.64),
    1.25: (42.16, 35.05),
    1.5: (48.26, 40.89),
    2: (60.32, 52.50),
    2.5: (73.03, 62.71),
    3: (88.90, 77.93),
}

# Least and greatest outside of iron-size PVC pipe named by its bore [mm], BS 3505.
IRON_SIZE = {
    15: (21.2, 21.5),
    20: (26.6, 26.9),
    25: (33.4, 33.7),
    32: (42.1, 42.4),
    40: (48.1, 48.4),
    50: (60.2, 60.5),
    80: (88.7, 89.1),
}


@pytest.fixture(scope="module")
def metric() -> Catalog:
    """The metric price list that comes with the program."""
    return load_catalog(ROOT / "catalogs" / "metric")


@pytest.mark.parametrize(("kind", "walls"), [("pn10", PN10), ("pn16", PN16)])
def test_walls_of_metric_pressure_pipe(kind: str, walls: dict[int, float], metric: Catalog) -> None:
    """Every pressure pipe in the list has the outside and wall of EN ISO 1452-2 for its size."""
    for size, wall in walls.items():
        rows = [pipe for pipe in metric.pipes.values() if pipe.id.startswith(f"{kind}-{size}-")]
        assert rows
        for pipe in rows:
            assert pipe.outside_m * 1000 == pytest.approx(size)
            assert (pipe.outside_m - pipe.bore_m) * 500 == pytest.approx(wall)


@pytest.mark.parametrize(("kind", "ratio"), [("pn10", 21.0), ("pn16", 13.6)])
def test_walls_follow_the_standard_dimension_ratio(kind: str, ratio: float, metric: Catalog) -> None:
    """Wall = outside / SDR rounded up to 0.1 mm (EN ISO 1452-2), but for 40 mm PN 10; to 90 mm."""
    for pipe in metric.pipes.values():
        size = pipe.outside_m * 1000
        if not pipe.id.startswith(kind) or size > 90.5 or pipe.id.startswith("pn10-40-"):
            continue
        wall = (pipe.outside_m - pipe.bore_m) * 500
        assert wall == pytest.approx(math.ceil(size / ratio * 10 - 1e-9) / 10)


def test_threads(metric: Catalog) -> None:
    """The thread sizes of the list have the major diameters of ISO 228-1, and no other size is listed."""
    sizes = metric.systems["G"]
    assert set(sizes) == set(THREADS)
    for name, major in THREADS.items():
        assert sizes[name].thread_major_m == pytest.approx(major / 1000, abs=1e-9)


def test_a_thread_is_wider_than_what_passes_through_it(metric: Catalog) -> None:
    """No threaded part claims a passage as wide as its thread's major diameter (ISO 228-1)."""
    checked = 0
    for part in (*metric.adaptors.values(), *metric.valves.values(), *metric.penetrations.values()):
        for end in part.ends:
            if end.system == "G":
                assert part.bore_m * 1000 < THREADS[end.size]
                checked += 1
    assert checked > 50


def test_socket_depths(metric: Catalog) -> None:
    """Socket depth 0.5 d + 6 mm, ISO 727, from memory."""
    sizes = metric.systems["metric"]
    for size, depth in SOCKETS.items():
        assert sizes[str(size)].socket_m == pytest.approx(depth / 1000)
    for name, size in sizes.items():
        assert size.socket_m == pytest.approx((0.5 * float(name) + 6) / 1000)


def test_irrigation_line_is_named_by_its_bore(metric: Catalog) -> None:
    """Low-density poly irrigation line comes in bores of 13, 19 and 25 mm, from memory."""
    bores = {pipe.bore_m * 1000 for pipe in metric.pipes.values() if pipe.end.system == "poly"}
    assert {13.0, 19.0, 25.0} <= {round(bore, 6) for bore in bores}


def relabelled(outside: float, wall: float, tmp_path: Path) -> Path:
    """The metric list with one pipe of that outside sold under the nearest metric size."""
    folder = tmp_path / "metric"
    shutil.copytree(ROOT / "catalogs" / "metric", folder)
    size = min((20, 25, 32, 40, 50, 63, 75, 90, 110), key=lambda size: abs(size - outside))
    dimensions = f"{outside},,{outside - 2 * wall},10,0.0015,3,"
    row = f"odd,odd pipe,weir,5,1,,as measured,spigot metric {size},{dimensions}\n"
    file = folder / "pipes.csv"
    file.write_text(file.read_text(encoding="utf-8") + row, encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    "outside", [*(o for o, _ in SCHEDULE_40.values()), *(o for pair in IRON_SIZE.values() for o in pair)]
)
def test_inch_and_iron_sizes_are_no_metric_pipe(outside: float, tmp_path: Path) -> None:
    """A row that sells ASTM D1785 or BS 3505 pipe as the nearest metric size is refused."""
    with pytest.raises(InputError, match="is not that of metric"):
        load_catalog(relabelled(outside, 3.0, tmp_path))


@pytest.mark.parametrize("outside", [32.3, 50.0, 62.9, 110.4])
def test_a_metric_pipe_may_be_a_little_off(outside: float, tmp_path: Path) -> None:
    """Mean outsides lie up to about 0.4 mm over the name (EN ISO 1452-2 tolerances, from memory)."""
    assert "odd" in load_catalog(relabelled(outside, 3.0, tmp_path)).pipes


@pytest.mark.parametrize("size", SCHEDULE_40)
def test_reference_library_agrees_on_schedule_40(size: float) -> None:
    """The library's ASTM D1785 table, which inch price lists are checked with, has the published figures."""
    _, bore, outside, _ = nearest_pipe(NPS=size, schedule="40D1785")
    assert (outside * 1000, bore * 1000) == pytest.approx(SCHEDULE_40[size], abs=0.011)


def test_holes_of_seals(metric: Catalog) -> None:
    """Holes exceed the pipe by as much as those for 1/2, 1, 2, 3 in: 32, 45, 76, 102 mm (from memory)."""
    inch = [hole - SCHEDULE_40[size][0] for size, hole in ((0.5, 32), (1, 45), (2, 76), (3, 102))]
    for part in metric.penetrations.values():
        if part.way is Way.SEAL:
            over = part.hole_m * 1000 - float(part.ends[0].size)
            assert min(inch) <= over <= max(inch)


def test_holes_of_bulkheads(metric: Catalog) -> None:
    """A 1 in bulkhead takes a hole of 44 to 51 mm (from memory); those for 32 mm and G 1 lie there too."""
    for part in ("bulkhead-32", "bulkhead-thread-1"):
        assert 44 <= round(metric.penetrations[part].hole_m * 1000, 6) <= 51
