"""Price lists: what a good one yields, and where it is looked for."""

from __future__ import annotations

import math
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from autoplan.catalog.ends import SHORT
from autoplan.catalog.load import find_catalog, load_catalog
from autoplan.catalog.parts import Catalog, End, Offer, Shop, SiphonKind, SundryKind, TurnStyle, Way
from autoplan.errors import InputError

DATA = Path(__file__).parents[1] / "data"
Overlay = Callable[[str], Path]
Edit = Callable[[str, str, str], Path]


def test_a_pipe_in_si_units(small: Catalog) -> None:
    """Millimetres become metres, bars metres of water (1e5/9806.65 each), money cents."""
    pipe = small.pipes["pipe-50"]
    assert pipe.end == End("spigot", "metric", "50")
    assert (pipe.outside_m, pipe.bore_m) == pytest.approx((0.050, 0.0452))
    assert pipe.rating_m == pytest.approx(101.97, abs=0.01)
    assert pipe.roughness_m == pytest.approx(1.5e-6)
    assert (pipe.stick_m, pipe.bend_radius_m) == (3.0, 0.0)
    assert pipe.offers == (Offer("mill", 740, 1, 12),)
    assert pipe.place == "pipes.csv: line 3"


def test_an_empty_stick_is_by_the_metre(small: Catalog) -> None:
    """Pipe without a stick length is sold by the metre; a bend radius makes it flexible."""
    line = small.pipes["line-25"]
    assert (line.stick_m, line.bend_radius_m) == (0.0, 0.3)


def with_longest(folder: Path, **cells: str) -> Path:
    """The small price list with a column for the longest piece, filled in for some rows (with _ for -)."""
    small = DATA / "catalog-small"
    shutil.copytree(small, folder, dirs_exist_ok=True)
    head, *rows = (small / "pipes.csv").read_text(encoding="utf-8").splitlines()
    told = {name.replace("_", "-"): cell for name, cell in cells.items()}
    lines = [f"{head},longest_piece_m", *(f"{row},{told.get(row.split(',')[0], '')}" for row in rows)]
    (folder / "pipes.csv").write_text("\n".join(lines), encoding="utf-8")
    return folder


def test_the_longest_piece(tmp_path: Path, small: Catalog) -> None:
    """A stick's length, what the list says of metres, or 6 m of rigid pipe; poly line has no longest."""
    usual = {"pipe-32": 3, "pipe-50": 3, "pipe-50-metre": 6, "line-25": math.inf, "hose-25": math.inf}
    for catalog in (small, load_catalog(with_longest(tmp_path / "empty"))):
        assert {name: row.longest_m for name, row in catalog.pipes.items()} == usual
    told = load_catalog(with_longest(tmp_path / "told", pipe_50_metre="4.5", line_25="25"))
    assert {name: row.longest_m for name, row in told.pipes.items()} == {
        **usual,
        "pipe-50-metre": 4.5,
        "line-25": 25,
    }


def test_a_longest_piece_that_cannot_be(tmp_path: Path) -> None:
    """A stick has no longest piece but itself, and no piece is of nothing."""
    with pytest.raises(InputError) as caught:
        load_catalog(with_longest(tmp_path / "wrong", pipe_50="3", pipe_50_metre="0"))
    stick, metre = caught.value.mistakes
    assert (stick.place, stick.problem) == ("line 3", "longest_piece_m is 3 where stick_m is given")
    assert "by the metre" in stick.remedy
    assert metre.problem == "longest_piece_m is 0"


def test_every_kind_of_part_is_read(small: Catalog) -> None:
    """Turns, tees, adaptors, valves, penetrations and pumps carry what their rows say."""
    assert small.turns["sweep-50"].style is TurnStyle.SWEPT
    assert small.tees["tee-50-32"].ends[2] == End("socket", "metric", "32")
    assert small.adaptors["bush-50-32"].ends == (End(SHORT, "metric", "50"), End("socket", "metric", "32"))
    assert small.valves["check-32"].kv_m3_h == 12.5
    assert small.valves["ball-50"].kv_m3_h is None
    seal = small.penetrations["seal-50"]
    assert (seal.way, seal.bore_m, seal.curved_ok, seal.thin_flexing_ok) == (Way.SEAL, 0.0, True, False)
    pump = small.pumps["pump-3000"]
    assert pump.curve[0] == (0.0, 2.8)
    assert pump.curve[-1] == pytest.approx((3000 / 3.6e6, 0.0))


def test_shops_and_further_offers(small: Catalog) -> None:
    """A second shop's offer follows the row's own; empty free_from means freight is never free."""
    assert small.shops["pond"] == Shop("pond", "Pond End Pumps (invented)", 1200, None)
    assert small.shops["mill"].free_from_cents == 20000
    assert small.adaptors["tail-1-25"].offers == (Offer("mill", 95, 5), Offer("pond", 30, 1, 40))


def test_sizes_are_kept(small: Catalog) -> None:
    """The systems' dimensions come along, in metres."""
    assert small.systems["metric"]["50"].socket_m == pytest.approx(0.031)
    assert small.systems["G"]["1"].outside_m is None


def test_limits_of_a_size(overlay: Overlay) -> None:
    """Limits of outside and mouth come along in metres; where there are none the outside is its own limit."""
    size = load_catalog(overlay("pipe-at-its-limits")).systems["metric"]["50"]
    assert (size.outside_min_m, size.outside_max_m) == pytest.approx((0.050, 0.0502))
    assert (size.mouth_min_m, size.mouth_max_m) == pytest.approx((0.0501, 0.0503))
    plain = load_catalog(DATA / "catalog-small").systems
    assert (plain["metric"]["50"].outside_min_m, plain["metric"]["50"].outside_max_m) == (0.05, 0.05)
    assert plain["G"]["1"].outside_min_m is None
    assert plain["metric"]["50"].mouth_min_m is None


def test_sundries_in_si_units(small: Catalog) -> None:
    """Millilitres become cubic metres, tape is in metres, ranges in metres; a screw is a screw."""
    rows = small.sundries
    assert (rows["cement-125"].kind, rows["cement-125"].content) == (SundryKind.CEMENT, pytest.approx(125e-6))
    assert (rows["tape-12"].kind, rows["tape-12"].content) == (SundryKind.TAPE, 12.0)
    assert (rows["screws-20"].content, rows["screws-20"].offers[0].pack) == (1.0, 20)
    assert rows["washer-1"].thread == ("G", "1")
    assert rows["washer-1"].least_m == 0.0
    assert math.isinf(rows["washer-1"].most_m)
    assert (rows["clamp-25-40"].least_m, rows["clamp-25-40"].most_m) == pytest.approx((0.025, 0.040))
    assert rows["saw-64"].least_m == rows["saw-64"].most_m == pytest.approx(0.064)
    assert rows["saw-64"].thread is None


def test_siphons_in_si_units(small: Catalog, overlay: Overlay) -> None:
    """Diameters and heights in metres, offers as of any part; a list without the file has none."""
    rows = load_catalog(overlay("siphons")).siphons
    assert [row.kind for row in rows.values()] == [SiphonKind.BELL, SiphonKind.GUARD, SiphonKind.SNORKEL]
    bell = rows["bell-75"]
    assert (bell.inside_m, bell.outside_m, bell.tallest_m) == pytest.approx((0.0678, 0.075, 0.4))
    assert bell.offers == (Offer("mill", 620, 1, 4),)
    assert rows["guard-110"].offers == (Offer("mill", 570, 2),)
    assert not small.siphons


def test_what_comes_apart_and_what_is_flexible(small: Catalog, overlay: Overlay) -> None:
    """A union comes apart, a rubber coupling gives too; a body is in metres, or unknown."""
    joints = small.adaptors
    apart = {part for part, row in joints.items() if row.apart}
    assert apart == {"union-32", "compression-32", "rubber-50"}
    assert {part for part, row in joints.items() if row.flexible} == {"rubber-50"}
    assert joints["union-32"].body_m is None
    told = load_catalog(overlay("bodies"))
    assert told.adaptors["union-32"].body_m == pytest.approx(0.019)
    assert told.adaptors["coupling-50"].body_m == 0.0
    assert told.adaptors["bush-50-32"].body_m is None
    assert (told.valves["ball-50"].body_m, told.valves["ball-50"].apart) == (pytest.approx(0.075), True)
    assert (told.valves["check-32"].body_m, told.valves["check-32"].apart) == (None, False)


@pytest.mark.parametrize("name", ["spreadsheet-habits", "semicolons"])
def test_spreadsheets_differ(name: str, overlay: Overlay, small: Catalog) -> None:
    """Byte-order mark, CRLF, blank lines and columns, or semicolons with decimal commas: the same parts."""
    other = load_catalog(overlay(name))
    for here, there in zip(other.groups(), small.groups(), strict=True):
        assert list(here) == list(there)
        assert [part.offers for part in here.values()] == [part.offers for part in there.values()]
    assert other.pipes["pipe-50"].bore_m == small.pipes["pipe-50"].bore_m
    assert other.pumps["pump-3000"].curve == small.pumps["pump-3000"].curve


def test_a_timed_valve_takes_power(overlay: Overlay) -> None:
    """A valve with a clock has its watts; others have none, whether the column is there or not."""
    valves = load_catalog(overlay("timed")).valves
    assert {name: (row.style, row.watts) for name, row in valves.items()} == {
        "ball-50": ("ball", 0.0),
        "check-32": ("check", 0.0),
        "timed-32": ("timed", 6.5),
    }


def test_sundries_may_be_absent(edited: Edit) -> None:
    """A shop that lists no cement, clamps and saws leaves them to the builder; all else is as before."""
    folder = edited("offers.csv", "part", "part")
    (folder / "sundries.csv").unlink()
    bare = load_catalog(folder)
    assert bare.sundries == {}
    assert len(bare.adaptors) == len(load_catalog(DATA / "catalog-small").adaptors)


def test_offers_may_be_absent(edited: Edit) -> None:
    """A shop without rivals has no offers.csv."""
    folder = edited("offers.csv", "part", "part")
    (folder / "offers.csv").unlink()
    assert load_catalog(folder).adaptors["tail-1-25"].offers == (Offer("mill", 95, 5),)


def test_find_by_path_and_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder is taken as given, beside the problem, from ./catalogs, or from the program's own."""
    monkeypatch.chdir(tmp_path)
    assert find_catalog("metric").is_dir()
    for place in ("mine", "beside/theirs", "catalogs/ours"):
        (tmp_path / place).mkdir(parents=True)
        (tmp_path / place / "catalog.toml").touch()
    assert find_catalog("mine") == Path("mine")
    assert find_catalog(str(tmp_path / "mine")) == tmp_path / "mine"
    assert find_catalog("theirs", beside=tmp_path / "beside") == tmp_path / "beside" / "theirs"
    assert find_catalog("ours") == Path("catalogs/ours")


def test_an_unrelated_folder_hides_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder called metric without a price list does not stand for the price list metric."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "metric").mkdir()
    assert (find_catalog("metric") / "catalog.toml").is_file()


@pytest.mark.parametrize("name", ["", "metrik", "no/such", "a\0b", "x" * 5000])
def test_find_lists_what_there_is(name: str) -> None:
    """A name that is not there is a mistake that names those that are."""
    with pytest.raises(InputError, match="metric"):
        find_catalog(name)
