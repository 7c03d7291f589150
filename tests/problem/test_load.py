"""What loading a sound problem file gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan.problem.problem import problem_of
from autoplan.problem.site import Draw, Entry, VesselKind
from autoplan.problem.toml.load import WrongProblemError, load_problem

PROBLEMS = Path(__file__).parents[2] / "problems"


def test_the_long_form_keeps_what_it_says() -> None:
    """Names, shares, classes and joined drains of the shipped long form."""
    site = load_problem(PROBLEMS / "two-lines.toml").outline
    assert site.vessels["fish tank"].kind is VesselKind.TANK
    assert site.runs["dirty drain"].legs_m == (1.2, 0.8)
    assert site.runs["dirty drain"].draw is Draw.SOLIDS_LIFTING
    assert site.runs["clear drain"].draw is Draw.WALL
    assert site.runs["north drain"].draw is Draw.STANDPIPE
    assert site.runs["tank feed"].entry is Entry.ANY
    assert [run.name for run in site.classes()["bed feed"]] == ["north feed", "south feed"]
    # 1200 L x 1.5/h = 1800 L/h, of which 70 % by the dirty drain; beds 0.40 x 1.5 m2 x 250 mm and
    # 0.40 x 0.9 m2 x 220 mm, twice an hour
    flow = {name: found.design_m3_s * 3.6e6 for name, found in site.flows.items()}
    assert flow["dirty drain"] == pytest.approx(1260)
    assert flow["clear drain"] == pytest.approx(540)
    assert flow["beds to sump"] == pytest.approx(300 + 158.4)
    assert flow["main"] == pytest.approx(1800 + 458.4)


def test_us_units_give_the_metric_sizes() -> None:
    """A US gallon is 231 cubic inches and an inch 25.4 mm, both exact."""
    site = load_problem(PROBLEMS / "us-units.toml").outline
    tank = site.vessels["tank"]
    assert tank.turnover_volume_m3 == pytest.approx(275 * 231 * 0.0254**3, rel=1e-11)
    assert tank.depth_m == pytest.approx(36 * 0.0254)
    assert tank.wall_m == pytest.approx(0.00635)
    assert site.wishes.water_celsius == pytest.approx((72 - 32) / 1.8)


def test_the_unanswerable_problem_loads() -> None:
    """Two millimetres of fall are no mistake of the file; that no drain fits is for the search to prove."""
    site = load_problem(PROBLEMS / "wall-too-low.toml").outline
    assert site.vessels["tank"].water_max_m - site.vessels["settler"].water_min_m == pytest.approx(0.002)


def test_what_rules_and_shopping_need_is_kept_as_written(tmp_path: Path) -> None:
    """Rule settings stay text; owned and unavailable parts, budget and price list are kept."""
    path = tmp_path / "garden.toml"
    path.write_text(
        'catalog = "shops/mine"\nunavailable = ["seal-50", "seal-50"]\n'
        '[tank]\nvolume = "1000 L"\n[sump]\nvolume = "800 L"\n[wishes]\nbudget = 350\nyears = "5 years"\n'
        '[owned]\nball-32 = 2\n[rules.drain-bore]\nleast = "50 mm"\noff = true\n'
    )
    site = load_problem(str(path)).outline
    assert site.name == "garden"
    assert site.file == str(path)
    assert site.catalog == "shops/mine"
    assert site.unavailable == frozenset({"seal-50"})
    assert site.owned == {"ball-32": 2}
    assert site.rule_settings == {"drain-bore": {"least": "50 mm", "off": True}}
    assert (site.wishes.budget, site.wishes.ownership_years) == (350.0, 5.0)


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path: Path) -> None:
    """Files saved by a spreadsheet-minded editor load like any other."""
    path = tmp_path / "x.toml"
    path.write_bytes(b'\xef\xbb\xbf[tank]\r\nvolume = "1000 L"\r\n[sump]\r\nvolume = "800 L"\r\n')
    assert list(load_problem(path).outline.vessels) == ["tank", "sump"]


def test_no_sump_is_a_pump_in_the_fish_tank(tmp_path: Path) -> None:
    """The long form takes a tank that feeds a bed which falls back into it, as fast as the fish need it."""
    path = tmp_path / "x.toml"
    path.write_text(
        '[[vessel]]\nname = "tank"\nkind = "tank"\nvolume = "800 L"\nfloor = "0 m"\ndepth = "700 mm"\n'
        '[[vessel]]\nname = "bed"\nkind = "bed"\narea = "1 m2"\nfloor = "800 mm"\n'
        '[[run]]\nname = "feed"\nkind = "pressure"\nfrom = "tank"\nto = "bed"\nlegs = ["2 m"]\n'
        '[[run]]\nname = "drain"\nkind = "gravity"\nfrom = "bed"\nto = "tank"\nlegs = ["1 m"]\n'
    )
    site = load_problem(path).outline
    assert site.pumped_vessels() == ("tank",)
    # 800 L at 1.5 an hour; the bed alone would ask for 100 L twice an hour
    assert site.flows["feed"].design_m3_s * 3.6e6 == pytest.approx(1200)


def test_a_site_is_a_problem_that_leaves_nothing_open() -> None:
    """There and back it is the same site, assumptions included."""
    site = load_problem(PROBLEMS / "two-lines.toml").outline
    problem = problem_of(site)
    assert problem.outline == site
    assert [layout.choices for layout in problem.layouts] == [{}]
    assert problem_of(problem) is problem


@pytest.mark.parametrize(("catalog", "told"), [('"inch"', "inch"), ("3", None)])
def test_a_wrong_problem_still_asks(tmp_path: Path, catalog: str, told: str | None) -> None:
    """Without a sump there is no layout, but what is owned and the price list are known, if it is named."""
    path = tmp_path / "wrong.toml"
    path.write_text(f'catalog = {catalog}\n[tank]\nvolume = "900 L"\n[owned]\nball-32 = 2\n')
    with pytest.raises(WrongProblemError) as caught:
        load_problem(path)
    asking = caught.value.asking
    assert any(mistake.place == "sump" for mistake in caught.value.mistakes)
    if told is None:
        assert asking is None
    else:
        assert asking is not None
        assert (asking.catalog, asking.owned, asking.layouts) == (told, {"ball-32": 2}, ())
