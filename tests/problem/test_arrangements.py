"""Series, no sump, any of them; pumps that stand in one circle; what is left open."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.problem.flows import drained_to
from autoplan.problem.problem import Problem
from autoplan.problem.site import Arrangement, RunKind, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.balance import flood_drawdown
from autoplan.sentence import as_written

PROBLEMS = Path(__file__).parents[2] / "problems"
LITRES_PER_HOUR = 3.6e6


def load(folder: Path, text: str) -> Site:
    """The site of a problem text."""
    path = folder / "problem.toml"
    path.write_text(text, encoding="utf-8")
    return load_problem(path).outline


def loaded(folder: Path, text: str) -> Problem:
    """The problem of a text."""
    load(folder, text)
    return load_problem(folder / "problem.toml")


def short(arrangement: str, beds: int, floor: str = "650 mm", extra: str = "", rest: str = "") -> str:
    """A tank of 400 L at 1 an hour and beds of 100 L a flood; the rest at its defaults."""
    return (
        f'arrangement = "{arrangement}"\n[tank]\nvolume = "400 L"\ndepth = "600 mm"\n{rest}\n'
        f'[beds]\ncount = {beds}\narea = "1 m2"\nfloor = "{floor}"\n{extra}\n[wishes]\nturnover = "1/hour"\n'
    )


SUMP = '[sump]\nvolume = "600 L"'


def links(site: Site, kind: RunKind) -> list[tuple[str, str, str]]:
    """Every run of a kind with its ends."""
    return [(run.name, run.start, run.finish) for run in site.runs.values() if run.kind is kind]


def hourly(site: Site, run: str) -> float:
    """Design flow of a run [L/h]."""
    return site.flows[run].design_m3_s * LITRES_PER_HOUR


def test_series_by_hand(tmp_path: Path) -> None:
    """Tank, settler, beds, sump by gravity; the pump feeds the tank alone; all of it passes the beds."""
    rest = 'floor = "900 mm"\n[settler]\nvolume = "200 L"\nfloor = "600 mm"'
    site = load(tmp_path, short("series", 2, extra=SUMP, rest=rest))
    assert links(site, RunKind.GRAVITY) == [
        ("tank drain", "tank", "settler"),
        ("bed feed 1", "settler", "bed 1"),
        ("bed feed 2", "settler", "bed 2"),
        ("bed drain 1", "bed 1", "sump"),
        ("bed drain 2", "bed 2", "sump"),
    ]
    assert links(site, RunKind.PRESSURE) == [("main", "sump", "tank")]
    # 400 L once an hour, half of it to each bed: 2 floods an hour of 100 L, as is asked for
    assert hourly(site, "main") == pytest.approx(400)
    assert hourly(site, "bed feed 2") == pytest.approx(200)
    assert site.runs["bed feed 2"].length_m > site.runs["bed feed 1"].length_m


def test_beds_in_series_that_ask_for_more_than_the_fish(tmp_path: Path) -> None:
    """Three floods of 100 L an hour in each of two beds take 600 L/h, so that is what the tank gets."""
    text = short("series", 2, extra=f'floods = "3/hour"\n{SUMP}', rest='floor = "900 mm"')
    site = load(tmp_path, text)
    assert hourly(site, "main") == pytest.approx(600)
    assert hourly(site, "bed feed 1") == pytest.approx(300)


def test_no_sump_by_hand(tmp_path: Path) -> None:
    """The pump stands in the tank, the beds fall back to it, and the fish ask for more than the beds."""
    site = load(tmp_path, short("no sump", 2, floor="700 mm", rest='floor = "0 mm"'))
    assert list(site.vessels) == ["tank", "bed 1", "bed 2"]
    assert site.pumped_vessels() == ("tank",)
    assert links(site, RunKind.PRESSURE) == [
        ("main", "tank", "bed tee 1"),
        ("bed feed 1", "bed tee 1", "bed 1"),
        ("bed feed 2", "bed tee 1", "bed 2"),
    ]
    assert links(site, RunKind.GRAVITY) == [
        ("bed drain 1", "bed 1", "tank"),
        ("bed drain 2", "bed 2", "tank"),
    ]
    assert hourly(site, "main") == pytest.approx(400)
    # the tank holds 400 L on 2/3 m2; both beds full at once take 200 L of it, 300 mm
    assert flood_drawdown(site, "tank") == pytest.approx(0.3)


def test_one_bed_without_a_sump(tmp_path: Path) -> None:
    """A single bed needs no tee: one line from the pump into it, with a valve."""
    site = load(tmp_path, short("no sump", 1, floor="700 mm", rest='floor = "0 mm"'))
    assert links(site, RunKind.PRESSURE) == [("bed feed 1", "tank", "bed 1")]
    assert site.runs["bed feed 1"].valve
    assert not site.junctions


def test_any_leaves_out_what_cannot_be_built(tmp_path: Path) -> None:
    """On level ground nothing falls from tank to beds: parallel is left, and it is said why."""
    problem = loaded(tmp_path, short("any", 1, extra=SUMP, rest='floor = "0 mm"'))
    assert [one.arrangement for one in problem.layouts] == [Arrangement.PARALLEL, Arrangement.NO_SUMP]
    (said,) = problem.left_out
    assert as_written(said).startswith("Left out: series, since at tank.floor water would have to climb")


def test_any_is_each_by_itself(tmp_path: Path) -> None:
    """Each alternative is the site that its own word would give, assumptions included."""
    rest = 'floor = "900 mm"'
    problem = loaded(tmp_path, short("any", 2, extra=SUMP, rest=rest))
    assert [one.arrangement for one in problem.layouts] == [Arrangement.PARALLEL, Arrangement.SERIES]
    for one in problem.layouts:
        alone = loaded(tmp_path, short(str(one.arrangement), 2, extra=SUMP, rest=rest))
        assert replace(problem, layouts=(replace(one, arrangement=None),), left_out=()) == alone


def test_without_a_sump_table_only_no_sump_is_left(tmp_path: Path) -> None:
    """No [sump] is no mistake where one arrangement needs none."""
    problem = loaded(tmp_path, short("any", 1, floor="700 mm", rest='floor = "0 mm"'))
    assert [one.arrangement for one in problem.layouts] == [Arrangement.NO_SUMP]
    assert len(problem.left_out) == 2


def test_open_choices_survive_the_long_form(tmp_path: Path) -> None:
    """A range of floods and a sump to choose are written out as such."""
    sump = '[sump]\nchoose = ["tub-600", "tub-1000"]\nfloor = "-400 mm"'
    text = short("parallel", 2, extra=f'floods = ["1/hour", "4/hour"]\n{sump}')
    problem = loaded(tmp_path, text)
    again = loaded(tmp_path, expand_to_toml(problem))
    ((first,), (layout,)) = (problem.layouts, again.layouts)
    assert layout.assumptions == ()
    choice = layout.choices["sump"]
    assert choice.place == "vessel.sump.choose"
    assert choice.among == ("tub-600", "tub-1000")
    bed = layout.vessels["bed 2"].bed
    assert bed is not None
    assert bed.floods_range == pytest.approx((1 / 3600, 4 / 3600))
    vessels = {**layout.vessels, "sump": first.vessels["sump"]}
    choices = {"sump": replace(choice, place="sump.choose")}
    assert replace(layout, vessels=vessels, choices=choices, assumptions=first.assumptions) == first


def test_two_pumps_in_one_circle_give_the_same() -> None:
    """What the header's tanks ask for, 350 L/h, goes through the bed too, which alone would take 220 L/h."""
    site = load_problem(PROBLEMS / "two-tanks.toml").outline
    assert site.pumped_vessels() == ("well", "sump")
    assert hourly(site, "lift") == pytest.approx(350)
    assert hourly(site, "bed feed") == pytest.approx(350, rel=1e-9)
    assert hourly(site, "big feed") == pytest.approx(220)
    assert drained_to(site, "bed") == {"sump"}
    assert flood_drawdown(site, "well") == 0


def test_the_bed_may_ask_for_more_than_the_tanks(tmp_path: Path) -> None:
    """Four floods of 110 L take 440 L/h, so the header gets as much and shares it as the tanks need it."""
    text = (
        (PROBLEMS / "two-tanks.toml")
        .read_text()
        .replace('area = "1.1 m2"', 'area = "1.1 m2"\nfloods = "4/hour"')
    )
    site = load(tmp_path, text)
    assert hourly(site, "lift") == pytest.approx(440, rel=1e-9)
    assert hourly(site, "bed feed") == pytest.approx(440)
    assert hourly(site, "big feed") == pytest.approx(440 * 220 / 350)
