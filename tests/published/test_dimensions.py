"""Dimensions in the price lists against published standards."""

from __future__ import annotations

import math
import shutil
from functools import cache
from pathlib import Path

import pytest
from fluids.piping import nearest_pipe

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog, Pipe, Tee, Way
from autoplan.errors import InputError

ROOT = Path(__file__).parents[2]

# Outside x wall [mm], EN ISO 1452-2 and DIN 8062.
PN10 = {32: 1.6, 40: 1.9, 50: 2.4, 63: 3.0, 75: 3.6}
PN16 = {20: 1.5, 25: 1.9, 32: 2.4, 40: 3.0, 50: 3.7, 63: 4.7, 75: 5.6}

# Wall of PE 100 pipe [mm] by outside and SDR, ISO 4427.
PE_100 = {
    32: {17: 2.0, 11: 3.0},
    40: {17: 2.4, 11: 3.7},
    50: {17: 3.0, 11: 4.6},
    63: {17: 3.8, 11: 5.8},
}

# Major diameter of parallel pipe thread [mm], ISO 228-1.
THREADS = {"1/2": 20.955, "3/4": 26.441, "1": 33.249, "1-1/4": 41.910, "1-1/2": 47.803, "2": 59.614}

# Depth of solvent sockets [mm], ISO 727, from memory.
SOCKETS = {20: 16.0, 25: 18.5, 32: 22.0, 40: 26.0, 50: 31.0, 63: 37.5}

# Depth of solvent sockets for Schedule 40 pipe [mm], ASTM D2466, from memory.
SOCKETS_40 = {"1/2": 17.5, "3/4": 18.3, "1": 22.2, "1-1/4": 23.8, "1-1/2": 27.8, "2": 29.4}

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

# Wall of iron-size PVC pipe for 12 bar [mm], BS 3505.
IRON_WALLS_12 = {32: 2.2, 40: 2.5, 50: 3.1, 80: 4.6}

# Hole of a push-in rubber seal for inch-size pipe [mm], from memory.
SEAL_HOLES = {"1/2": 32, "1": 45, "2": 76, "3": 102}

NOMINAL = {"1/2": 0.5, "3/4": 0.75, "1": 1.0, "1-1/4": 1.25, "1-1/2": 1.5, "2": 2.0, "3": 3.0, "4": 4.0}
"""Nominal size in inches of each size of the inch price list."""


@cache
def listed(name: str) -> Catalog:
    """A price list that comes with the program, read once."""
    return load_catalog(ROOT / "catalogs" / name)


def rigid(name: str) -> list[Pipe]:
    """The pipes of a price list that can be solvent-welded."""
    return [pipe for pipe in listed(name).pipes.values() if pipe.end.form == "spigot"]


def wall(pipe: Pipe) -> float:
    """Wall of a pipe [mm]."""
    return (pipe.outside_m - pipe.bore_m) * 500


@pytest.fixture(scope="module")
def metric() -> Catalog:
    """The metric price list that comes with the program."""
    return listed("metric")


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


@pytest.mark.parametrize("size", PE_100)
@pytest.mark.parametrize("ratio", [17, 11])
def test_walls_of_polyethylene_pipe(size: int, ratio: int, metric: Catalog) -> None:
    """PE 100 pipe has its outside for a name and the walls of ISO 4427."""
    rows = [pipe for pipe in metric.pipes.values() if pipe.id.startswith(f"pe-{size}-sdr{ratio}-")]
    assert rows
    for pipe in rows:
        assert pipe.outside_m * 1000 == pytest.approx(size)
        assert wall(pipe) == pytest.approx(PE_100[size][ratio])
        assert pipe.end.form == "plain"


@pytest.mark.parametrize(
    ("name", "system"),
    [("metric", "G"), ("bore-named", "G"), ("bore-named", "R"), ("bore-named", "Rp"), ("bore-named", "Rc")],
)
def test_threads(name: str, system: str) -> None:
    """Major diameters of ISO 228-1 (ISO 7-1 has the same, from memory) for all six sizes and no other."""
    sizes = listed(name).systems[system]
    assert set(sizes) == set(THREADS)
    for name, major in THREADS.items():
        assert sizes[name].thread_major_m == pytest.approx(major / 1000, abs=1e-9)


def test_npt_has_the_outside_of_its_pipe() -> None:
    """The size of an NPT thread is that of the pipe that it is cut on (ASME B1.20.1; outside ASTM D1785)."""
    for name, size in listed("inch").systems["NPT"].items():
        assert size.thread_major_m is not None
        assert size.thread_major_m * 1000 == pytest.approx(SCHEDULE_40[NOMINAL[name]][0], abs=0.01)


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_a_thread_is_wider_than_what_passes_through_it(name: str) -> None:
    """No threaded part claims a passage as wide as its thread's major diameter."""
    catalog, checked = listed(name), 0
    for part in (*catalog.turns.values(), *catalog.tees.values(), *catalog.adaptors.values()):
        for place, end in enumerate(part.ends):
            if end.form in ("male", "female"):
                major = catalog.systems[end.system][end.size].thread_major_m
                assert major is not None
                assert (part.bore_at(place) if isinstance(part, Tee) else part.bore_m) < major
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


def test_every_inch_pipe_has_the_outside_of_the_reference_library() -> None:
    """Outside within 0.01 mm of the library's ASTM D1785 table, which is in inches; drain pipe too."""
    rows = rigid("inch")
    assert len(rows) >= 35
    for pipe in rows:
        _, _, outside, _ = nearest_pipe(NPS=NOMINAL[pipe.end.size], schedule="40D1785")
        assert pipe.outside_m == pytest.approx(outside, abs=1.01e-5), pipe.id


@pytest.mark.parametrize(("schedule", "least_rows"), [(40, 20), (80, 5)])
def test_bores_of_schedule_pipe(schedule: int, least_rows: int) -> None:
    """Bore within 0.05 mm of the library's ASTM D1785 tables, and in Schedule 40 of the published figures."""
    rows = [pipe for pipe in rigid("inch") if pipe.id.startswith(f"sch{schedule}-")]
    assert len(rows) >= least_rows
    for pipe in rows:
        nominal = NOMINAL[pipe.end.size]
        _, bore, _, _ = nearest_pipe(NPS=nominal, schedule=f"{schedule}D1785")
        assert pipe.bore_m == pytest.approx(bore, abs=5e-5), pipe.id
        if schedule == 40 and nominal in SCHEDULE_40:
            published = pytest.approx(SCHEDULE_40[nominal], abs=0.011)
            assert (pipe.outside_m * 1000, pipe.bore_m * 1000) == published


def test_sockets_for_schedule_40() -> None:
    """Socket depths of ASTM D2466 (from memory), and mouths that pipe at either limit enters."""
    for name, size in listed("inch").systems["inch"].items():
        if name in SOCKETS_40:
            assert size.socket_m == pytest.approx(SOCKETS_40[name] / 1000)
        assert size.outside_max_m is not None
        assert size.mouth_min_m is not None
        assert size.mouth_min_m >= size.outside_max_m - 1e-5


@pytest.mark.parametrize("size", IRON_SIZE)
def test_outsides_of_iron_size_pipe(size: int) -> None:
    """Pipe named by its bore has an outside within the limits of BS 3505, which are those of the list."""
    low, high = IRON_SIZE[size]
    limits = listed("bore-named").systems["iron-pipe"][str(size)]
    assert (limits.outside_min_m, limits.outside_max_m) == pytest.approx((low / 1000, high / 1000))
    rows = [pipe for pipe in rigid("bore-named") if pipe.end.size == str(size)]
    assert rows
    for pipe in rows:
        assert low <= pipe.outside_m * 1000 <= high


@pytest.mark.parametrize("size", IRON_WALLS_12)
def test_walls_of_iron_size_pipe(size: int) -> None:
    """Walls of pipe for 12 bar, BS 3505, to the 0.05 mm that the middle of the outside is rounded to."""
    rows = [pipe for pipe in rigid("bore-named") if pipe.id.startswith(f"class12-{size}-")]
    assert rows
    for pipe in rows:
        assert wall(pipe) == pytest.approx(IRON_WALLS_12[size], abs=0.051)


def test_limits_of_metric_outsides(metric: Catalog) -> None:
    """Up to 0.2 mm over the name to 50 mm, 0.3 to 90, 0.4 at 110 (EN ISO 1452-2, from memory)."""
    for name, size in metric.systems["metric"].items():
        over = 0.2 if float(name) <= 50 else 0.3 if float(name) <= 90 else 0.4
        assert size.outside_min_m == pytest.approx(float(name) / 1000)
        assert size.outside_max_m == pytest.approx((float(name) + over) / 1000)


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


@pytest.mark.parametrize("outside", [32.0, 32.2, 50.2, 63.3, 90.3, 110.4])
def test_a_metric_pipe_may_be_a_little_over(outside: float, tmp_path: Path) -> None:
    """Pipe at a limit of the mean outside is taken (EN ISO 1452-2, from memory)."""
    assert "odd" in load_catalog(relabelled(outside, 3.0, tmp_path)).pipes


@pytest.mark.parametrize("outside", [31.9, 32.3, 50.3, 62.9, 63.4, 110.5])
def test_a_metric_pipe_may_be_no_more_than_that(outside: float, tmp_path: Path) -> None:
    """Pipe 0.1 mm beyond a limit is refused (EN ISO 1452-2, from memory)."""
    with pytest.raises(InputError, match="is not that of metric"):
        load_catalog(relabelled(outside, 3.0, tmp_path))


@pytest.mark.parametrize("size", SCHEDULE_40)
def test_reference_library_agrees_on_schedule_40(size: float) -> None:
    """The library's ASTM D1785 table, which inch price lists are checked with, has the published figures."""
    _, bore, outside, _ = nearest_pipe(NPS=size, schedule="40D1785")
    assert (outside * 1000, bore * 1000) == pytest.approx(SCHEDULE_40[size], abs=0.011)


@pytest.mark.parametrize("size", SEAL_HOLES)
def test_holes_of_seals_for_inch_pipe(size: str) -> None:
    """A push-in seal for pipe of 1/2, 1, 2, 3 in asks for a hole of 32, 45, 76, 102 mm (from memory)."""
    walls = listed("inch").penetrations.values()
    holes = {part.hole_m for part in walls if part.way is Way.SEAL and part.ends[0].size == size}
    assert holes == {SEAL_HOLES[size] / 1000}


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_holes_of_other_seals(name: str) -> None:
    """Other holes exceed the pipe by as much as those for 1/2 to 3 in do."""
    inch = [hole - SCHEDULE_40[NOMINAL[size]][0] for size, hole in SEAL_HOLES.items()]
    catalog = listed(name)
    for part in catalog.penetrations.values():
        if part.way is Way.SEAL:
            end = part.openings[0]
            outside = catalog.systems[end.system][end.size].outside_m
            assert outside is not None
            assert min(inch) - 0.1 <= (part.hole_m - outside) * 1000 <= max(inch) + 0.1


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("metric", ("bulkhead-32", "bulkhead-thread-1")),
        ("inch", ("bulkhead-1", "bulkhead-thread-1")),
        ("bore-named", ("bulkhead-25", "bulkhead-thread-1")),
    ],
)
def test_holes_of_bulkheads(name: str, parts: tuple[str, ...]) -> None:
    """A 1 in bulkhead takes a hole of 44 to 51 mm (from memory); those of near sizes lie there too."""
    for part in parts:
        assert 44 <= round(listed(name).penetrations[part].hole_m * 1000, 6) <= 51


@pytest.mark.parametrize(("name", "part"), [("inch", "bulkhead-2"), ("bore-named", "bulkhead-50")])
def test_holes_of_wide_bulkheads(name: str, part: str) -> None:
    """A 2 in bulkhead takes a hole of about 76 mm (from memory)."""
    assert listed(name).penetrations[part].hole_m == pytest.approx(0.076, abs=0.003)
