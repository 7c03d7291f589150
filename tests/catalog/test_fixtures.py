"""Rows of `fixtures.csv`."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import FixtureKind
from autoplan.errors import InputError

DATA = Path(__file__).parents[1] / "data"
COMMON = "id,description,shop,price,pack,stock,source"
HEAD = f"{COMMON},kind,end,from_mm,to_mm,open_area_cm2,slot_mm,lift_m,reach_m\n"


def folder(tmp_path: Path, rows: str) -> Path:
    """The small price list with a file of fixtures."""
    copy = tmp_path / "small"
    shutil.copytree(DATA / "catalog-small", copy)
    shop = next(iter(load_catalog(copy).shops))
    (copy / "fixtures.csv").write_text(HEAD + rows.replace("SHOP", shop), encoding="utf-8")
    return copy


def test_rows_in_si_units(tmp_path: Path) -> None:
    """A screen, a cap, a hand pump; the file may be absent."""
    rows = (
        "s,screen,SHOP,3,1,,made up,screen,,49.4,50.6,20,2.5,,\n"
        "c,cap,SHOP,1,1,,made up,end cap,socket metric 50,,,,,,\n"
        "h,pump,SHOP,20,1,,made up,hand pump,,,,,,2,6\n"
    )
    found = load_catalog(folder(tmp_path, rows)).fixtures
    screen = found["s"]
    assert (screen.kind, screen.end) == (FixtureKind.SCREEN, None)
    assert (screen.least_m, screen.most_m) == pytest.approx((0.0494, 0.0506))
    assert (screen.open_m2, screen.slot_m) == pytest.approx((0.002, 0.0025))
    assert str(found["c"].end) == "socket metric 50"
    assert math.isinf(found["c"].most_m)
    assert (found["h"].lift_m, found["h"].reach_m) == (2.0, 6.0)
    assert not load_catalog(DATA / "catalog-small").fixtures


def test_what_a_kind_asks_for(tmp_path: Path) -> None:
    """What is missing, has no business in a row or is the wrong way round is named, all at once."""
    rows = (
        "s,screen,SHOP,3,1,,made up,screen,socket metric 50,51,50,20,,,\n"
        "c,cap,SHOP,1,1,,made up,end cap,,,,,,,\n"
        "h,pump,SHOP,20,1,,made up,bilge pump,,,,,,2,6\n"
    )
    with pytest.raises(InputError) as wrong:
        load_catalog(folder(tmp_path, rows))
    said = [(mistake.place, mistake.problem) for mistake in wrong.value.mistakes]
    assert ("line 2", "end is given for screen") in said
    assert ("line 2", "slot_mm is empty") in said
    assert ("line 2", "from_mm 51 is more than to_mm 50") in said
    assert ("line 3", "end is empty") in said
    assert any(place == "line 4" and "bilge pump" in problem for place, problem in said)
