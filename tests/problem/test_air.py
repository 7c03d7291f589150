"""The table `[air]` of both forms."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.errors import InputError
from autoplan.problem.site import Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml

BASE = """
[tank]
volume = "1000 L"
depth = "1 m"
freeboard = "100 mm"
floor = "200 mm"
[beds]
count = 1
area = "1 m2"
[sump]
volume = "600 L"
"""


def load(folder: Path, air: str) -> Site:
    """The site of the base with an `[air]`."""
    path = folder / "problem.toml"
    path.write_text(BASE + air, encoding="utf-8")
    return load_problem(path).outline


def test_no_table_no_air(tmp_path: Path) -> None:
    """Air is only planned where the problem asks for it."""
    assert load(tmp_path, "").air is None


def test_empty_table_is_all_assumed(tmp_path: Path) -> None:
    """Every tank, half its water in air an hour, diffusers on the floor; each gap is written down."""
    site = load(tmp_path, "[air]\n")
    assert site.air is not None
    (point,) = site.air.points
    assert point.vessel == "tank"
    assert point.flow_m3_s == pytest.approx(0.9 * 0.5 / 3600)
    assert point.depth_m == pytest.approx(0.9)
    assert (site.air.above_water, site.air.reserve) == (True, 0.0)
    assumed = {item.place: item.mark for item in site.assumptions if item.place.startswith("air.")}
    assert set(assumed) == {
        *("air.vessels", "air.rate", "air.depth.tank"),
        *("air.line", "air.above_water", "air.battery"),
    }
    assert assumed["air.rate"] == "from memory"


def test_given_for_each_vessel(tmp_path: Path) -> None:
    """A quantity for all, or one each in a table; a battery pump takes its share for tanks only."""
    site = load(
        tmp_path,
        '[air]\nvessels = ["tank", "bed 1"]\ndepth = "200 mm"\nbattery = true\nreserve = "40 %"\n'
        '[air.flow]\ntank = "500 L/h"\n"bed 1" = "60 L/h"\n',
    )
    assert site.air is not None
    assert [round(point.flow_m3_s * 3.6e6) for point in site.air.points] == [500, 60]
    (cut,) = site.air.in_power_cut(site.tanks())
    assert (cut.vessel, round(cut.flow_m3_s * 3.6e6)) == ("tank", 200)


@pytest.mark.parametrize(
    "air", ["[air]\n", '[air]\nvessels = ["tank", "sump"]\nabove_water = false\nbattery = true\n']
)
def test_written_out_and_read_again(tmp_path: Path, air: str) -> None:
    """The long form says all of it."""
    site = load(tmp_path, air)
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site), encoding="utf-8")
    again = load_problem(path).outline
    assert replace(again, file=site.file, assumptions=()) == replace(site, assumptions=())


def test_every_mistake_at_once(tmp_path: Path) -> None:
    """Unknown vessels and keys, wrong units, diffusers deeper than the tank."""
    with pytest.raises(InputError) as wrong:
        load(tmp_path, '[air]\nflow = "3 m"\ndepht = "1 m"\nvessels = "tank"\n')
    places = [mistake.place for mistake in wrong.value.mistakes]
    assert places == ["air.flow", "air.depht", "air.vessels"]
    with pytest.raises(InputError, match="no vessel"):
        load(tmp_path, '[air]\nvessels = ["pond"]\n')
    with pytest.raises(InputError, match="deeper than tank"):
        load(tmp_path, '[air]\ndepth = "1.2 m"\n')
