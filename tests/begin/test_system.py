"""The problem file that answers become: it loads, says what was answered, and stands as it was said to."""

from __future__ import annotations

import itertools
import tomllib
from dataclasses import replace

import pytest

from autoplan.begin.checking import Checker
from autoplan.begin.questions import QUESTIONS
from autoplan.begin.system import lines_of, problem_text
from autoplan.begin.turnover import stays_clean
from autoplan.begin.usual import Tape, filled, flood_of
from autoplan.catalog.load import find_catalog, load_catalog
from autoplan.catalog.materials import Grade
from autoplan.problem.brief import PrintUnits
from autoplan.problem.site import Site
from autoplan.problem.toml.load import problem_from

CHECKER = Checker()
BESIDES = ("", "sump", "sump, settler", "sump, biofilter", "sump, settler, biofilter")


def turnover_of(**given: str) -> float:
    """How often an hour the tank of some answers passes."""
    return site_of(**given).vessels["tank"].turnover_per_s * 3600


def site_of(**given: str) -> Site:
    """The problem of some answers, their dots written as two underlines."""
    return CHECKER.site({key.replace("__", "."): text for key, text in given.items()})


@pytest.mark.parametrize(
    ("units", "besides", "place", "count"),
    list(itertools.product(("metric", "us"), BESIDES, ("indoors", "outdoors"), ("1", "4"))),
)
def test_what_is_usual_loads(units: str, besides: str, place: str, count: str) -> None:
    """Every kind of system that can be asked for is a problem without a mistake, all else left usual."""
    given = {"units": units, "besides": besides, "place": place, "beds.count": count}
    site = CHECKER.site(given)
    assert [name for name in ("settler", "biofilter", "sump") if name in site.vessels] == [
        name for name in ("settler", "biofilter", "sump") if name in besides
    ]
    assert sum(vessel.bed is not None for vessel in site.vessels.values()) == int(count)
    assert site.print_units is (PrintUnits.US if units == "us" else PrintUnits.SI)
    assert ("sump-high" in site.rule_settings) is (place == "outdoors")
    # Nothing that was asked about is left to be assumed.
    asked = (".depth", ".wall", ".base", ".shape", ".floor", ".flood")
    assert not [one.place for one in site.assumptions if one.place.endswith(asked)]
    assert not [one.place for one in site.assumptions if one.place.startswith("distances.")]


def test_answers_are_in_the_file_as_typed() -> None:
    """Each text stands at its key, marked as usual where it was not typed."""
    given = {
        "tank.volume": "260 gal",
        "tank.depth": "1 m 20",
        "tank.shape": "square",
        "tank.wall": "1/4 in",
        "tank.floor": "1 ft 2 in",
        "beds.count": "3",
        "beds.area": "4 ft x 3 ft",
    }
    said = filled(given)
    text = problem_text(said, given, (1.5, "why"))
    tables = tomllib.loads(text)
    assert tables["tank"] == {
        "volume": "260 gal",
        "depth": "1 m 20",
        "shape": "square",
        "wall": "1/4 in",
        "base": "1/4 in",
        "floor": "1 ft 2 in",
    }
    assert tables["beds"]["count"] == 3
    assert tables["beds"]["area"] == "4 ft x 3 ft"
    assert 'volume = "260 gal"  # to the rim\n' in text
    assert f'volume = "{said["sump.volume"]}"  # to the rim (usual)\n' in text
    site = problem_from(text, "file").outline
    assert site.vessels["tank"].floor_m == pytest.approx(14 * 0.0254)
    assert site.vessels["tank"].rim_m == pytest.approx(14 * 0.0254 + 1.2)


def test_hostile_text_stays_text() -> None:
    """A price list's name with quotes and line ends comes back from the file as it was."""
    name = 'a"b\\c]\n[tank]\nvolume = "1 L"'
    text = problem_text(filled({"catalog": name}), {"catalog": name}, (1.5, "why"))
    assert tomllib.loads(text)["catalog"] == name


def test_every_line_has_a_comment_and_no_line_is_long() -> None:
    """A newcomer reads what each key is."""
    for line in CHECKER.text({"place": "outdoors", "besides": "sump, settler"}).splitlines():
        assert len(line) <= 110
        assert not line or line.startswith(("#", "[")) or "  # " in line


def test_distances_are_those_that_were_answered() -> None:
    """What goes up and down is left to the heights; the split is 600 mm from the sump, or half of 1 m."""
    said = filled({"besides": "sump, settler", "ways.next": "2 m", "ways.back": "5 m", "ways.bed": "3 m"})
    assert lines_of(said) == {
        "tank_to_settler": 2.0,
        "settler_to_sump": 2.0,
        "sump_to_split": 0.6,
        "sump_to_tank": 5.0,
        "tank_overflow": 5.0,
        "sump_to_first_bed": 3.0,
        "bed_to_sump": 3.0,
        "trunk_to_bed": 0.5,
    }
    for near in ("ways.back", "ways.bed"):
        assert lines_of({**said, near: "1 m"})["sump_to_split"] == 0.5


def test_beds_without_a_sump_fall_back_to_the_tank() -> None:
    """As far as the water came."""
    said = filled({"besides": "", "ways.bed": "1 m"})
    assert lines_of(said) == {
        "tank_to_first_bed": 1.0,
        "bed_to_tank": 1.0,
        "between_beds": 1.2,
        "trunk_to_bed": 0.5,
    }


@pytest.mark.parametrize(("count", "between"), [("1", False), ("2", True)])
def test_the_way_between_beds_is_asked_where_there_are_two(count: str, between: bool) -> None:
    """One bed has no neighbour."""
    said = filled({"beds.count": count})
    assert ("between_beds" in lines_of(said)) is between
    assert ("ways.beds" in QUESTIONS[-1].keys(said)) is between


def test_rain_finds_room_in_what_everything_runs_back_to() -> None:
    """30 mm on tank (1200 L / 900 mm), bed (1 m2) and sump, over the sump's own area, and 20 mm more."""
    site = site_of(place="outdoors")
    sump = site.vessels["sump"]
    area = 1.2 / 0.9 + 1.0 + sump.area_m2
    asked = float(str(site.rule_settings["sump-high"]["freeboard"]).removesuffix(" mm")) / 1000
    assert 0 <= asked - (0.03 * area / sump.area_m2 + 0.02) < 0.01
    assert site.wishes.rain_m == pytest.approx(0.03)
    assert site_of(place="indoors").wishes.rain_m == 0.0
    bare = site_of(place="outdoors", besides="")
    tank = bare.vessels["tank"]
    asked = float(str(bare.rule_settings["sump-high"]["freeboard"]).removesuffix(" mm")) / 1000
    assert 0 <= asked - (0.03 * (tank.area_m2 + 2 * 1.0) / tank.area_m2 + 0.02) < 0.01


def test_a_pump_in_the_tank_gives_no_more_than_the_beds_can_flood() -> None:
    """Two beds of 1 m2, 190 mm of water, 0.4 void: 152 L; 3.5 such floods an hour over a tank of 600 L."""
    site = site_of(besides="")
    assert site.vessels["tank"].turnover_per_s * 3600 == pytest.approx(0.88)
    assert 0.88 <= 3.5 * 2 * 1.0 * 0.19 * 0.4 / 0.6 < 0.89


def test_the_tank_turns_over_so_that_its_drain_stays_clean() -> None:
    """0.3 m/s: 1112 L/h at 36.2 mm bore, but over 1000 L/h the bore must be 45 mm: 1733 L/h at 45.2 mm."""
    catalog = load_catalog(find_catalog("metric"))
    assert stays_clean(1.74 / 3600, catalog)
    assert not stays_clean(1.73 / 3600, catalog)
    assert not stays_clean(1.0 / 3600, catalog)
    # At 1.5 an hour 1155 L give 1733 L/h: from there on there is nothing to change.
    assert turnover_of(tank__volume="1160 L") == pytest.approx(1.5)
    assert "so that its drain stays clean" not in CHECKER.text({"tank.volume": "1160 L"})
    assert turnover_of(tank__volume="1000 L") == pytest.approx(1.75)
    assert "so that its drain stays clean" in CHECKER.text({"tank.volume": "1000 L"})
    # 860 L give no more than 1720 L/h within what is usual: left at 1.5, and told.
    assert turnover_of(tank__volume="870 L") == pytest.approx(2.0)
    assert turnover_of(tank__volume="860 L") == pytest.approx(1.5)
    assert "flush it now and then" in CHECKER.text({"tank.volume": "860 L"})


def test_pipe_sold_for_drains_sets_no_turnover() -> None:
    """34 mm bore is clean at 981 L/h, but the only cheap pipe of it is refused ahead of fish."""
    catalog = load_catalog(find_catalog("metric"))
    assert not stays_clean(0.985 / 3600, catalog)
    wet = {id: replace(pipe, grade=Grade.DRINKING) for id, pipe in catalog.pipes.items()}
    assert stays_clean(0.985 / 3600, replace(catalog, pipes=wet))


@pytest.mark.parametrize(
    ("depth", "flood"), [("320 mm", "250 mm"), ("150 mm", "90 mm"), ("1 m 20", "1.13 m")]
)
def test_a_bed_floods_a_hand_under_its_rim(depth: str, flood: str) -> None:
    """70 mm, and six tenths of a shallow bed, in whole centimetres."""
    assert flood_of(filled({"beds.depth": depth})) == flood


def test_a_tape_rounds_away_from_too_short() -> None:
    """Up to whole centimetres or inches, down likewise, and exact values are kept."""
    metric, us = Tape(us=False), Tape(us=True)
    assert [metric.up(0.751), metric.up(0.75), metric.up(1.001), metric.down(-0.451)] == [
        "760 mm",
        "750 mm",
        "1.01 m",
        "-460 mm",
    ]
    assert us.up(8 * 0.3048) == "8 ft"
    assert [us.up(0.0254), us.up(0.03), us.up(1.7), us.down(0.05), us.down(-0.03)] == [
        "1 in",
        "2 in",
        "5 ft 7 in",
        "1 in",
        "-2 in",
    ]
    assert [metric.volume_up(0.301), metric.volume_up(0.3), us.volume_up(0.1)] == ["350 L", "300 L", "30 gal"]


def test_at_most_twelve_questions_in_lines_that_fit() -> None:
    """Each with its reason in one line of a terminal of 80 characters."""
    assert len(QUESTIONS) <= 12
    for question in QUESTIONS:
        assert len(f"12 of 12. {question.about}") <= 80
        assert len(f"   {question.why}") <= 80


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_usual_sump_keeps_run_off_out(units: str) -> None:
    """Its rim stands 100 mm over the ground, or 4 in where inches are whole."""
    vessel = site_of(units=units).vessels["sump"]
    over = vessel.rim_m - vessel.ground_m
    assert over == pytest.approx(0.1 if units == "metric" else 4 * 0.0254)
    assert not vessel.cover
    assert "# cover = true" in CHECKER.text({"units": units})
