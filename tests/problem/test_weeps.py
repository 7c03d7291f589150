"""Beds with a weep hole as the problem file has them: hole and inflow by hand, mistakes, the long form."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.errors import InputError
from autoplan.problem.choices.floods import by_floods, floods_told
from autoplan.problem.flows import running_drains
from autoplan.problem.site import BedDrain, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.balance import flood_drawdown
from tests.weeps import problem

G = 9.80665


def weeping(beds: str = "", area: float = 1.0) -> Site:
    """The shipped problem of one bed, 250 mm of water in it when full, with a weep hole."""
    return problem(f'drain = "weep hole"\n{beds}', area).outline


def empties_s(hole_m: float, wet_m2: float) -> float:
    """2 A (sqrt h - sqrt (d / 2)) / (0.6 a sqrt (2 g)) from 210 mm over the hole to its top edge [s]."""
    area = math.pi / 4 * hole_m**2
    return 2 * wet_m2 * (math.sqrt(0.21) - math.sqrt(hole_m / 2)) / (0.6 * area * math.sqrt(2 * G))


def test_hole_and_inflow_by_hand() -> None:
    """6 mm let out 0.6 x 28.27 mm2 x 2.0295 m/s = 124 L/h, beside two floods of 100 L an hour."""
    site = weeping()
    weep, bed = site.weep_beds()["bed 1"], site.vessels["bed 1"]
    assert (weep.hole_m, weep.height_m) == (0.006, 0.040)
    leak = 0.6 * math.pi / 4 * 0.006**2 * math.sqrt(2 * G * 0.21)
    assert leak * 3.6e6 == pytest.approx(123.9, abs=0.1)
    assert weep.leak_m3_s == pytest.approx(leak, rel=1e-6)
    assert bed.demand_m3_s * 3.6e6 == pytest.approx(2 * 100 + leak * 3.6e6, rel=1e-6)
    for run in ("bed feed 1", "bed drain 1"):
        assert site.flows[run].design_m3_s == pytest.approx(bed.demand_m3_s)
    assert site.flows["bed drain 1"].peak_m3_s == site.flows["bed drain 1"].design_m3_s


@pytest.mark.parametrize(("area", "hole_mm"), [(2.5, 6), (2.53, 7), (3.4, 7), (3.5, 8)])
def test_the_default_hole_is_just_enough(area: float, hole_mm: int) -> None:
    """The smallest whole millimetre, from 6, that empties the bed in three hours by hand."""
    site = weeping(area=area)
    assert site.weep_beds()["bed 1"].hole_m == hole_mm / 1000
    assert empties_s(hole_mm / 1000, 0.4 * area) <= 3 * 3600.0
    assert hole_mm == 6 or empties_s((hole_mm - 1) / 1000, 0.4 * area) > 3 * 3600.0


def test_each_default_is_an_assumption() -> None:
    """Hole, its height and the drain's peak are told with their marks; what is given is no assumption."""
    said = {assumed.place: (assumed.text, assumed.mark) for assumed in weeping().assumptions}
    assert said["beds.hole"] == ("6 mm", "follows from the other values")
    assert said["beds.hole_height"] == ("40 mm", "from memory")
    assert said["beds.drain_peak"] == ("1", "follows from the other values")
    given = weeping('hole = "9 mm"\nhole_height = "30 mm"')
    assert (given.weep_beds()["bed 1"].hole_m, given.weep_beds()["bed 1"].height_m) == (0.009, 0.030)
    assert not {"beds.hole", "beds.hole_height"} & {assumed.place for assumed in given.assumptions}


def test_the_long_form_says_all_of_it(tmp_path: Path) -> None:
    """Written out and read again it is the same site, with nothing left to assume."""
    site = weeping('hole = "7 mm"')
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site), encoding="utf-8")
    again = load_problem(path).outline
    assert again.assumptions == ()
    assert replace(again, file=site.file, assumptions=site.assumptions) == site


@pytest.mark.parametrize(
    ("beds", "said"),
    [
        (
            'drain = "weep hole"\nhole_height = "249 mm"',
            "hole_height: the weep hole of bed 1 is not under its",
        ),
        (
            'drain = "weep hole"\nhole_height = "2 mm"',
            "hole_height: the weep hole of bed 1 would reach under",
        ),
        ('drain = "weep hole"\nhole_height = "3 mm"', None),
        ('drain = "weep hole"\non_time = "5 min"', '"on_time" is for a timed bed; write drain = "timer"'),
        ('drain = "standpipe"\nhole = "8 mm"', '"hole" is for a bed that runs empty by a hole'),
        ('hole = "8 mm"', 'write drain = "timer" or drain = "weep hole" too, or take hole out'),
        ('drain = "weep hole"\nbell = "bottle"', '"bell" is for a bed with a siphon'),
        ('drain = "leak"', "weep hole"),
    ],
)
def test_mistakes(beds: str, said: str | None) -> None:
    """A hole outside the water, a clock that is none, keys without their drain: each is told with a cure."""
    if said is None:
        assert problem(beds).outline.weep_beds()
        return
    with pytest.raises(InputError) as caught:
        problem(beds)
    assert said in str(caught.value)


LONG = """
wishes = {{ turnover = "1/hour" }}
vessel = [
  {{ name = "tank", kind = "tank", volume = "500 L", depth = "750 mm", floor = "150 mm" }},
  {{ name = "mint", kind = "bed", area = "1 m2", floor = "550 mm", drain = "weep hole" }},
  {{ name = "sage", kind = "bed", area = "1 m2", floor = "550 mm", drain = "standpipe" }},
  {{ name = "sump", kind = "sump", volume = "500 L", depth = "500 mm", floor = "-450 mm" }},
]
junction = [{{ name = "split" }}, {{ name = "fork" }}]
run = [
  {{ name = "main", kind = "pressure", from = "sump", to = "split", legs = ["1 m"] }},
  {{ name = "tank feed", kind = "pressure", from = "split", to = "tank", legs = ["1 m"] }},
  {{ name = "beds", kind = "pressure", from = "split", to = "fork", legs = ["1 m"] }},
  {{ name = "mint feed", kind = "pressure", from = "fork", to = "mint", legs = ["1 m"] }},
  {{ name = "sage feed", kind = "pressure", from = "fork", to = "sage", legs = ["1 m"] }},
  {{ name = "tank drain", kind = "gravity", from = "tank", to = "sump", legs = ["1 m"] }},
  {{ name = "mint drain", kind = "gravity", from = "mint", to = "sump", legs = ["1 m"]{mint} }},
  {{ name = "sage drain", kind = "gravity", from = "sage", to = "sump", legs = ["1 m"]{sage} }},
]
"""


@pytest.mark.parametrize(
    ("mint", "sage", "said"),
    [
        ("", "", None),
        (
            ', draw = "wall"',
            "",
            "mint drain drains a bed with a weep hole, which is in a standpipe; write draw",
        ),
        (
            ', class = "drains"',
            ', class = "drains"',
            'runs of the class "drains" go to beds with a weep hole and',
        ),
    ],
)
def test_runs_of_the_long_form(tmp_path: Path, mint: str, sage: str, said: str | None) -> None:
    """The hole is in a standpipe, and such drains are built alike with no others."""
    path = tmp_path / "long.toml"
    path.write_text(LONG.format(mint=mint, sage=sage), encoding="utf-8")
    if said is None:
        assert list(load_problem(path).outline.weep_beds()) == ["mint"]
        return
    with pytest.raises(InputError) as caught:
        load_problem(path)
    assert said in str(caught.value)


def test_two_drains_of_one_bed(tmp_path: Path) -> None:
    """One standpipe has the hole, so one drain leaves the bed."""
    path = tmp_path / "long.toml"
    more = '  { name = "second", kind = "gravity", from = "mint", to = "sump", legs = ["1 m"] },\n]\n'
    path.write_text(LONG.format(mint="", sage="").rstrip().removesuffix("]") + more, encoding="utf-8")
    with pytest.raises(InputError, match="2 drains leave mint, whose weep hole is in one standpipe"):
        load_problem(path)


def test_the_sump_fills_every_such_bed() -> None:
    """The sump gives 100 L for the bed with a weep hole in any case, and for another that may be full."""
    site = weeping()
    weep = site.vessels["bed 1"]
    assert weep.bed is not None
    plain = replace(weep.bed, drain=BedDrain.SIPHON, weep=None)
    for most, held_m3 in ((None, 0.2), (1, 0.2), (0, 0.1)):
        wishes = replace(site.wishes, beds_full=most)
        other = replace(weep, name="bed 2", bed=plain)
        drains = {"two": replace(site.runs["bed drain 1"], name="two", start="bed 2")}
        both = replace(
            site, wishes=wishes, vessels={**site.vessels, "bed 2": other}, runs={**site.runs, **drains}
        )
        assert flood_drawdown(both, "sump") == pytest.approx(held_m3 / site.vessels["sump"].area_m2)


def test_its_drain_runs_all_the_time() -> None:
    """What stands in the drain of a bed that is always fed runs back in a power cut, a siphon's does not."""
    assert "bed drain 1" in running_drains(weeping())
    assert "bed drain 1" not in running_drains(problem("").outline)


def test_floods_in_a_range() -> None:
    """The least and the most of the range leave the leak as it is; told is what the bed gets besides."""
    layouts = list(by_floods(problem('drain = "weep hole"\nfloods = ["1/hour", "3/hour"]').layouts[0]))
    leak = layouts[0].vessels["bed 1"].demand_m3_s * 3.6e6 - 100
    assert leak == pytest.approx(123.9, abs=0.1)
    assert [layout.flows["bed drain 1"].design_m3_s * 3.6e6 - leak for layout in layouts] == pytest.approx(
        [100, 150, 200, 250, 300]
    )
    assert [floods_told(layout) for layout in (layouts[0], layouts[-1])] == [
        {"floods": "1/hour"},
        {"floods": "3/hour"},
    ]
