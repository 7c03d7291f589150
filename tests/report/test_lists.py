"""The lists as CSV: read back cell by cell, added up in decimals, safe in a spreadsheet, whole on disk."""

from __future__ import annotations

import csv
import os
import re
import stat
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from autoplan.drawing import Purchase
from autoplan.outcome import HoleRoom, Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.files import why_no_folder
from autoplan.report.lists import NAMES, safe, write_lists


def _read(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, strict=True))


def _us(outcome: Outcome) -> Outcome:
    return replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))


def _buying(outcome: Outcome, *more: Purchase) -> Outcome:
    first = outcome.designs[0]
    drawing = replace(first.drawing, purchases=(*first.drawing.purchases, *more))
    return replace(outcome, designs=(replace(first, drawing=drawing), *outcome.designs[1:]))


def test_every_list_is_there(outcome: Outcome, tmp_path: Path) -> None:
    """The four files and nothing else, in a folder made for them; every row has a cell per column."""
    folder = tmp_path / "lists"
    write_lists(outcome, str(folder))
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)
    for name in NAMES:
        rows = _read(folder, name)
        assert rows
        assert all(None not in row and None not in row.values() for row in rows)


def test_purchases_add_up(outcome: Outcome, tmp_path: Path) -> None:
    """By shop lines sum to goods, goods and freight to the order, and orders to what the verdict found."""
    write_lists(outcome, str(tmp_path))
    rows = _read(tmp_path, "purchase.csv")
    lines = [row for row in rows if row["part"]]
    totals = [row for row in rows if not row["part"]]
    for row in lines:
        assert Decimal(row["packs"]) * Decimal(row["unit_price"]) == Decimal(row["line_cost"])
    orders = []
    for shop in ("reed", "brook"):
        goods, charge, order = (Decimal(row["line_cost"]) for row in totals if row["shop"] == shop)
        assert sum(Decimal(row["line_cost"]) for row in lines if row["shop"] == shop) == goods
        assert goods + charge == order
        orders.append(order)
    # 49.30 + 9.90 at Reed Yard and 107.00 at Brook Stores, worked out by hand in the fixture.
    assert orders == [Decimal("59.20"), Decimal("107.00")]
    assert Decimal(totals[-1]["line_cost"]) == sum(orders) == Decimal("166.20")
    assert (totals[-1]["shop"], totals[-1]["description"]) == ("", "total of all orders")
    assert {row["currency"] for row in rows} == {"EUR"}


def test_a_top_up_is_called_one(outcome: Outcome, tmp_path: Path) -> None:
    """An order within one freight of free freight is topped up, and the row says so."""
    shop = replace(outcome.catalog.shops["reed"], free_from_cents=5000)
    topped = replace(outcome, catalog=replace(outcome.catalog, shops={**outcome.catalog.shops, "reed": shop}))
    write_lists(topped, str(tmp_path))
    charge = next(row for row in _read(tmp_path, "purchase.csv") if "spares" in row["description"])
    assert (charge["shop"], charge["line_cost"]) == ("reed", "0.70")


@pytest.mark.parametrize(
    ("us", "part", "quantity", "unit", "sold_as"),
    [
        (False, "drain-50", "2.100", "m", "stick"),
        (True, "drain-50", "6.89", "ft", "stick"),  # 2.1 / 0.3048
        (False, "hose-25", "1.900", "m", "metre"),
        (False, "seal-50", "1", "piece", "pack of 2"),
        (False, "cement-250", "80", "ml", "tin"),
        (True, "cement-250", "2.7", "fl oz", "tin"),  # 80 / 29.5735
        (False, "tape-12", "3.500", "m", "roll"),
        (True, "tape-12", "11.48", "ft", "roll"),
        (True, "saw-63", "1", "piece", "piece"),
    ],
)
def test_quantities_have_their_units(
    outcome: Outcome, tmp_path: Path, us: bool, part: str, quantity: str, unit: str, sold_as: str
) -> None:
    """Pipe and tape are used by length, cement by volume, all else by the piece."""
    bought = _buying(
        outcome,
        Purchase("cement-250", "reed", 80e-6, 1),
        Purchase("tape-12", "reed", 3.5, 1),
        Purchase("saw-63", "reed", 1, 1),
    )
    write_lists(_us(bought) if us else bought, str(tmp_path))
    row = next(row for row in _read(tmp_path, "purchase.csv") if row["part"] == part)
    assert (row["quantity"], row["unit"], row["sold_as"]) == (quantity, unit, sold_as)


def test_pieces_in_both_units(outcome: Outcome, tmp_path: Path) -> None:
    """Whole millimetres, or sixteenths of an inch as decimals; hose has no stick."""
    write_lists(outcome, str(tmp_path))
    rows = _read(tmp_path, "cutting.csv")
    assert list(rows[0].values()) == ["drain-50", "1", "bought", "3000", "1200", "tank drain", "leg 1", "894"]
    assert list(rows[-1].values()) == ["hose-25", "", "bought", "", "1900", "tank feed", "legs 1 to 2", ""]
    write_lists(_us(outcome), str(tmp_path))
    row = _read(tmp_path, "cutting.csv")[0]
    # 1200 mm is 47.244 in, nearest 47 1/4; 894 mm is 35.197 in, down to 35 1/8 as the piece gained.
    assert (row["stick_in"], row["piece_in"], row["left_over_in"]) == ("118.1250", "47.2500", "35.1250")


def test_sticks_of_ones_own_are_told(outcome: Outcome, tmp_path: Path) -> None:
    """A stick that the builder has is told from one bought in every line of its pieces."""
    first = outcome.designs[0]
    drain, press = first.drawing.cuts
    drawing = replace(first.drawing, cuts=(replace(drain, owned=True), press))
    write_lists(replace(outcome, designs=(replace(first, drawing=drawing),)), str(tmp_path))
    origins = {(row["pipe"], row["stick_from"]) for row in _read(tmp_path, "cutting.csv")}
    assert origins == {("drain-50", "owned"), ("press-32", "bought"), ("hose-25", "bought")}


def test_holes_in_both_units(outcome: Outcome, tmp_path: Path) -> None:
    """734.5 mm above the floor and 63.5 mm wide are 28 15/16 in and 2 1/2 in."""
    write_lists(outcome, str(tmp_path))
    row = _read(tmp_path, "drilling.csv")[0]
    assert (row["vessel"], row["run"], row["place"], row["part"]) == (
        "fish tank",
        "tank drain",
        "wall",
        "seal-50",
    )
    assert (row["centre_above_floor_mm"], row["hole_mm"]) == ("735", "63.5")
    assert (row["saw"], row["saw_from"], row["stand"]) == ("saw-63", "not on the list", "")
    write_lists(_us(outcome), str(tmp_path))
    row = _read(tmp_path, "drilling.csv")[0]
    assert (row["centre_above_floor_in"], row["hole_in"]) == ("28.9375", "2.5000")


def test_how_far_a_hole_may_be_off_is_never_overstated(outcome: Outcome, tmp_path: Path) -> None:
    """4 mm are 2.52 sixteenths of an inch and 2 are told; 50 mm are 31.5 and 31 are told."""
    first = outcome.designs[0]
    room = HoleRoom(0.05, "", 0.004, "a rule")
    verdict = replace(first.verdict, hole_rooms={("tank drain", "fish tank"): room})
    told = replace(outcome, designs=(replace(first, verdict=verdict),))
    write_lists(told, str(tmp_path))
    row = _read(tmp_path, "drilling.csv")[0]
    assert (row["may_be_higher_mm"], row["may_be_lower_mm"]) == ("50", "4")
    write_lists(_us(told), str(tmp_path))
    row = _read(tmp_path, "drilling.csv")[0]
    assert (row["may_be_higher_in"], row["may_be_lower_in"]) == ("1.9375", "0.1250")


def test_joints_in_order(outcome: Outcome, tmp_path: Path) -> None:
    """Each joint of each run is numbered, with the ends that meet."""
    write_lists(outcome, str(tmp_path))
    rows = _read(tmp_path, "joints.csv")
    assert [(row["run"], row["joint"]) for row in rows] == [
        ("tank drain", "1"),
        ("tank drain", "2"),
        ("tank drain", "3"),
        ("pump main", "1"),
        ("tank feed", "1"),
    ]
    assert list(rows[2].values())[2:] == [
        "solvent-welded",
        "sweep-50",
        "socket metric 50",
        "drain-50",
        "spigot metric 50",
    ]


@pytest.mark.parametrize(
    ("cell", "made"),
    [
        ("=SUM(A1)", "'=SUM(A1)"),
        ("+49 1", "'+49 1"),
        ("@x", "'@x"),
        ("-1+1", "'-1+1"),
        (" =A1", "' =A1"),
        ("\t=A1", "' =A1"),
        ("\uff1dA1", "'\uff1dA1"),
        ("-12.5", "-12.5"),
        ("3/4 in elbow", "3/4 in elbow"),
        ("a=b", "a=b"),
        ("line\nbreak", "line break"),
        ("", ""),
    ],
)
def test_no_cell_is_a_formula(cell: str, made: str) -> None:
    """What a spreadsheet would work out is marked as text; numbers and other texts stay as they are."""
    assert safe(cell) == made


def test_odd_names_read_back(outcome: Outcome, tmp_path: Path) -> None:
    """Commas, quotes, accents and formulas in a shop's texts come back, the last as text."""
    odd = 'coude 90\N{DEGREE SIGN}, dit "\xe9troit"; 50 mm'
    turns = {
        **outcome.catalog.turns,
        "sweep-50": replace(outcome.catalog.turns["sweep-50"], description=odd),
        "bend-32-45": replace(outcome.catalog.turns["bend-32-45"], description="=1+1"),
    }
    write_lists(replace(outcome, catalog=replace(outcome.catalog, turns=turns)), str(tmp_path))
    rows = {row["part"]: row["description"] for row in _read(tmp_path, "purchase.csv")}
    assert rows["sweep-50"] == odd
    assert rows["bend-32-45"] == "'=1+1"


def test_lines_end_as_the_standard_says(outcome: Outcome, tmp_path: Path) -> None:
    """RFC 4180: every line ends in CR LF; and no byte-order mark gets into the first title."""
    write_lists(outcome, str(tmp_path))
    for name in NAMES:
        raw = (tmp_path / name).read_bytes()
        assert raw.endswith(b"\r\n")
        assert not re.search(rb"(?<!\r)\n", raw)
        assert raw[:1].isalpha()


def test_old_lists_are_replaced_whole(outcome: Outcome, tmp_path: Path) -> None:
    """A longer file of the same name is replaced, keeps its permissions, and nothing else is touched."""
    old, mine = tmp_path / "joints.csv", tmp_path / "notes.txt"
    old.write_text("old\n" * 10_000)
    old.chmod(0o640)
    mine.write_text("mine")
    write_lists(outcome, str(tmp_path))
    assert "old" not in old.read_text()
    assert stat.S_IMODE(old.stat().st_mode) == 0o640
    assert mine.read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted((*NAMES, "notes.txt"))


@pytest.mark.parametrize("failing", NAMES)
def test_a_full_disk_leaves_the_old_lists(
    outcome: Outcome, tmp_path: Path, monkeypatch, failing: str
) -> None:
    """If one list cannot be written, none is replaced and nothing lies beside them."""
    for name in NAMES:
        (tmp_path / name).write_text(f"old {name}")
    write_bytes = Path.write_bytes

    def refuse(self: Path, data: bytes) -> int:
        if failing in self.name:
            write_bytes(self, b"half")
            raise OSError(28, "No space left on device")
        return write_bytes(self, data)

    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(OSError, match="No space"):
        write_lists(outcome, str(tmp_path))
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {
        name: f"old {name}" for name in NAMES
    }


def test_a_folder_made_in_vain_is_taken_away(outcome: Outcome, tmp_path: Path, monkeypatch) -> None:
    """A folder that was made for lists that could not be written is not left behind."""

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space"):
        write_lists(outcome, str(tmp_path / "lists"))
    assert not list(tmp_path.iterdir())


def test_folders_that_cannot_take_them_are_told(tmp_path: Path) -> None:
    """A file, a folder in no folder, and a folder where a list should be are no good; others are."""
    (tmp_path / "file").write_text("x")
    assert why_no_folder(str(tmp_path / "file"), NAMES) == "it is a file"
    assert why_no_folder(str(tmp_path / "no" / "lists"), NAMES) == "no such file or directory"
    assert why_no_folder(str(tmp_path / "lists"), NAMES) is None
    assert why_no_folder(str(tmp_path), NAMES) is None
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
    (tmp_path / "purchase.csv").mkdir()
    assert why_no_folder(str(tmp_path), NAMES) == "purchase.csv in it: it is a folder"
