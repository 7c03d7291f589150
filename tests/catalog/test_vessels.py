"""Vessels of a price list: what a row says, and what is wrong with one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "tests" / "data" / "catalog-small"
HEAD = "id,description,shop,price,pack,stock,source,volume_l,depth_mm,area_m2,wall_mm,base_mm,shape\n"
SHOP = next(iter(load_catalog(SMALL).shops))


def with_vessels(folder: Path, rows: str) -> Catalog:
    """The small price list with these vessels."""
    made = folder / "list"
    shutil.copytree(SMALL, made)
    (made / "vessels.csv").write_text(HEAD + rows, encoding="utf-8")
    return load_catalog(made)


def test_a_row(tmp_path: Path) -> None:
    """Litres and millimetres become SI; without a surface it is the volume over the depth."""
    catalog = with_vessels(
        tmp_path,
        f"box,a box,{SHOP},80,1,2,measured,600,500,1.3,6,7,square\n"
        f"drum,a drum,{SHOP},50,,,measured,200,800,,3,3,round\n",
    )
    box, drum = catalog.vessels["box"], catalog.vessels["drum"]
    assert (box.volume_m3, box.depth_m, box.area_m2) == pytest.approx((0.6, 0.5, 1.3))
    assert (box.wall_m, box.base_m, box.curved) == (0.006, 0.007, False)
    assert box.offers[0].stock == 2
    assert drum.area_m2 == pytest.approx(0.25)
    assert drum.curved
    assert catalog.part("drum") is drum


def test_what_is_wrong_with_a_row(tmp_path: Path) -> None:
    """Every mistake of a row at once: a volume that does not fit, no wall, an unknown shape."""
    with pytest.raises(InputError) as caught:
        with_vessels(tmp_path, f"box,a box,{SHOP},80,1,,measured,700,500,1.3,0,7,oval\n")
    told = [mistake.problem for mistake in caught.value.mistakes]
    assert "volume_l 700 does not fit: area_m2 times depth_mm is 650" in told
    assert "wall_mm is 0" in told
    assert any(text.startswith('shape "oval"') for text in told)


def test_a_list_without_vessels() -> None:
    """The file may be absent."""
    assert not load_catalog(SMALL).vessels


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_the_shipped_vessels(name: str) -> None:
    """Each shipped list has some, of the sizes that their descriptions give, to 2 % of the litres."""
    vessels = load_catalog(ROOT / "catalogs" / name).vessels
    assert len(vessels) >= 5
    for tub in vessels.values():
        number, unit = tub.description.replace("round ", "").replace(",", "").split()[1:3]
        litres = float(number) * {"L": 1.0, "gal": 3.785411784}[unit]
        assert tub.volume_m3 * 1000 == pytest.approx(litres, rel=0.02)
        assert tub.area_m2 * tub.depth_m == pytest.approx(tub.volume_m3)
