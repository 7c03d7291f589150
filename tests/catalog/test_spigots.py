"""Only pipe goes into compression ends and seals, and a fitting's spigot that is known to be long enough."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest

from autoplan.catalog.ends import SHORT
from autoplan.catalog.joining import Joining
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog, End, Pipe
from autoplan.errors import InputError

DATA = Path(__file__).parents[1] / "data"
LISTS = Path(__file__).parents[2] / "catalogs"


def with_column(folder: Path, file: str, column: str, cells: dict[str, str]) -> Path:
    """The small price list with a column more in one file, filled in for some rows by id, or by size."""
    if not folder.exists():
        shutil.copytree(DATA / "catalog-small", folder)
    with (folder / file).open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    for row in rows:
        row[column] = cells.get(row.get("id") or f"{row.get('system')} {row.get('size')}", "")
    with (folder / file).open("w", encoding="utf-8", newline="") as text:
        writer = csv.DictWriter(text, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    return folder


@pytest.mark.parametrize(
    ("spigot", "grip", "long"),
    [("", "", False), ("90", "", True), ("89.9", "", False), ("60", "60", True), ("60", "60.1", False)],
)
def test_how_long_a_spigot_must_be(tmp_path: Path, spigot: str, grip: str, long: bool) -> None:
    """1.4 outsides and 20 mm, 90 mm at 50 mm, or what the size's row says; unknown is not long enough."""
    folder = with_column(tmp_path / "list", "joints.csv", "spigot_mm", {"bush-50-32": spigot})
    catalog = load_catalog(with_column(folder, "systems.csv", "grip_mm", {"metric 50": grip}))
    bush, socket = catalog.adaptors["bush-50-32"].ends
    assert bush == End("spigot" if long else SHORT, "metric", "50")
    assert socket == End("socket", "metric", "32")
    joining = Joining(catalog)
    for form in ("compression", "seal"):
        assert joining.mates(bush, End(form, "metric", "50")) is long
        assert joining.mates(catalog.pipes["pipe-50"].end, End(form, "metric", "50"))
    assert joining.mates(bush, End("socket", "metric", "50"))
    assert str(bush) == "spigot metric 50"


def test_a_grip_as_makers_state_it(metric: Catalog) -> None:
    """What compression ends of 20 to 63 mm take: about 48, 55, 65, 76, 90 and 108 mm, from memory."""
    takes = {size: metric.systems["metric"][size].grips_m for size in ("20", "25", "32", "40", "50", "63")}
    assert list(takes.values()) == pytest.approx([0.048, 0.055, 0.065, 0.076, 0.090, 0.108], abs=0.002)


def test_a_length_without_a_spigot(tmp_path: Path) -> None:
    """A coupling has no spigot to be long."""
    folder = with_column(tmp_path / "list", "joints.csv", "spigot_mm", {"coupling-50": "60"})
    with pytest.raises(InputError) as caught:
        load_catalog(folder)
    (mistake,) = caught.value.mistakes
    assert mistake.problem == "spigot_mm is 60 where no end is a spigot"


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_what_glued_spigots_of_the_lists_are(name: str) -> None:
    """Made for a socket they are as deep as that, and none is long enough to be gripped."""
    catalog = load_catalog(LISTS / name)
    short = [part for part in catalog.adaptors.values() if any(end.form == SHORT for end in part.ends)]
    assert len(short) > 30
    for part in short:
        depths = [catalog.systems[end.system][end.size].socket_m for end in part.ends if end.form == SHORT]
        assert part.spigot_m == pytest.approx(min(depth for depth in depths if depth is not None))


def test_a_bush_before_a_compression_end(metric: Catalog) -> None:
    """From a 40 mm compression end to 25 mm pipe a stub of pipe comes before the reducer."""
    joining = Joining(metric)
    ways = joining.chains(End("compression", "metric", "40"), metric.pipes["pn16-25-3m"].end)
    assert ways
    assert all(isinstance(metric.part(way.parts[0]), Pipe) for way in ways)
    glued = joining.chain(End("socket", "metric", "40"), metric.pipes["pn16-25-3m"].end)
    assert glued is not None
    assert glued.parts == ("bush-40-25",)
