"""Rows of `air.csv`."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import AirKind
from autoplan.errors import InputError

DATA = Path(__file__).parents[1] / "data"
HEAD = "id,description,shop,price,pack,stock,source,kind,curve_l_h_m,watts,outlets,bore_mm,flow_l_h,head_m\n"


def folder(tmp_path: Path, rows: str) -> Path:
    """The small price list with an air file."""
    copy = tmp_path / "small"
    shutil.copytree(DATA / "catalog-small", copy)
    (copy / "air.csv").write_text(HEAD + rows, encoding="utf-8")
    return copy


def shop() -> str:
    """A shop of the small price list."""
    return next(iter(load_catalog(DATA / "catalog-small").shops))


def test_rows_in_si_units(tmp_path: Path) -> None:
    """A pump, a line, a diffuser; the file may be absent."""
    rows = (
        f"p,pump,{shop()},20,1,,made up,air pump,0:1.5 180:1 360:0,5,2,,,\n"
        f"l,line,{shop()},0.4,1,,made up,air line,,,,4,,\n"
        f"d,stone,{shop()},3,1,,made up,diffuser,,,,,200,0.1\n"
    )
    air = load_catalog(folder(tmp_path, rows)).air
    assert air["p"].curve[1] == pytest.approx((180 / 3.6e6, 1.0))
    assert (air["p"].watts, air["p"].outlets) == (5.0, 2)
    assert air["l"].bore_m == pytest.approx(0.004)
    assert air["d"].flow_m3_s == pytest.approx(200 / 3.6e6)
    assert (air["d"].kind, air["d"].head_m) == (AirKind.DIFFUSER, 0.1)
    assert not load_catalog(DATA / "catalog-small").air


def test_what_a_kind_asks_for(tmp_path: Path) -> None:
    """What is missing and what has no business in a row is named, all at once."""
    rows = (
        f"p,pump,{shop()},20,1,,made up,air pump,0:1.5 180:1 360:0,,2,,,\n"
        f"l,line,{shop()},0.4,1,,made up,air line,,,3,4,,\n"
        f"d,stone,{shop()},3,1,,made up,bubbler,,,,,200,0.1\n"
    )
    with pytest.raises(InputError) as wrong:
        load_catalog(folder(tmp_path, rows))
    said = [(mistake.place, mistake.problem) for mistake in wrong.value.mistakes]
    assert ("line 2", "watts is empty") in said
    assert ("line 3", "outlets is given for air line") in said
    assert any(place == "line 4" and "bubbler" in problem for place, problem in said)
