"""The short form's circuit, its assumptions, and the long form written out."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from autoplan.errors import InputError
from autoplan.problem.brief import DrainGrade, DrainJoints, Overload
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import Draw, RunKind, Site, VesselKind
from autoplan.problem.tables.defaults import LINES, TURNOVER, VESSEL, WISHES
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.units import Dimension, read

PROBLEMS = sorted((Path(__file__).parents[2] / "problems").glob("*.toml"))


def load(folder: Path, text: str) -> Site:
    """The site of a problem text."""
    path = folder / "problem.toml"
    path.write_text(text, encoding="utf-8")
    return load_problem(path).outline


def short(beds: int, extra: str = "") -> str:
    """The least that a short form must say."""
    sump = '[sump]\nvolume = "800 L"\n'
    return f'[tank]\nvolume = "1000 L"\n[beds]\ncount = {beds}\narea = "1.2 m2"\n{sump}{extra}'


def links(site: Site) -> list[tuple[str, str, str]]:
    """Every run with its ends."""
    return [(run.name, run.start, run.finish) for run in site.runs.values()]


def plan(site: Site, run: str) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """Level pieces and corners of a run, to the micrometre."""
    found = site.runs[run].plan
    assert found is not None
    return tuple(round(piece, 6) for piece in found.level_m), found.corners


def test_there_are_shipped_problems() -> None:
    """The tests below have something to test."""
    assert len(PROBLEMS) >= 5


@pytest.mark.parametrize("path", PROBLEMS, ids=lambda path: path.stem)
def test_the_long_form_written_out_is_the_same_site(tmp_path: Path, path: Path) -> None:
    """Written and read again, nothing is different and nothing is left to assume.

    But for an arrangement or bed drains left open, of which one way is written, and the key under which a
    tub is chosen.
    """
    problem = load_problem(path)
    load(tmp_path, expand_to_toml(problem))
    again = load_problem(tmp_path / "problem.toml")
    (layout,) = again.layouts
    assert layout.assumptions == ()
    first = problem.layouts[0]
    choices = {name: replace(choice, place=f"vessel.{name}.choose") for name, choice in first.choices.items()}
    said = replace(layout, assumptions=first.assumptions, arrangement=first.arrangement)
    said = replace(said, bed_drains=first.bed_drains)
    assert said == replace(first, choices=choices)
    assert replace(again, file=problem.file, layouts=problem.layouts, left_out=problem.left_out) == problem


@pytest.mark.parametrize("path", PROBLEMS, ids=lambda path: path.stem)
def test_every_assumption_is_marked_in_the_long_form(path: Path) -> None:
    """Each assumption stands in the head with its value, mark and reason; the values carry their mark too."""
    problem = load_problem(path)
    text = expand_to_toml(problem)
    for assumed in problem.outline.assumptions:
        assert f"#   {assumed.place} = {assumed.text} ({assumed.mark}): {assumed.why}\n" in text
    written = [line for line in text.splitlines() if "# assumed (" in line and not line.startswith("#")]
    assert len(written) >= 10


SIZES = st.integers(500, 4000).map(lambda litres: f"{litres / 7:.3f} L")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 6), SIZES, st.integers(310, 900), st.floats(0.1, 4), st.booleans())
def test_any_short_form_survives_the_round_trip(
    tmp_path: Path, beds: int, volume: str, depth: int, turnover: float, by_pump: bool
) -> None:
    """Odd numbers, any number of beds, either overload: the long form is the same site."""
    overload = '"pump"' if by_pump else "1.7"
    text = (
        f'[tank]\nvolume = "{volume}"\ndepth = "{depth / 25.4:.4f} in"\nfloor = "1.3 m"\n'
        f'[settler]\nvolume = "60 gal"\nfloor = "11 in"\n[beds]\ncount = {beds}\narea = "13.7 ft2"\n'
        f'[sump]\nvolume = "800 L"\n[wishes]\nturnover = "{turnover:.6f}/hour"\noverload = {overload}\n'
        '[owned]\nseal-50 = 2\n[rules.overload]\nfreeboard = "1 in"\noff = false\n'
    )
    site = load(tmp_path, text)
    again = load(tmp_path, expand_to_toml(site))
    assert replace(again, assumptions=site.assumptions) == site
    assert again.assumptions == ()


def test_two_beds_by_hand(tmp_path: Path) -> None:
    """One tee serves two beds: the first from its branch, the last straight on."""
    site = load(tmp_path, short(2))
    assert links(site) == [
        ("tank drain", "tank", "sump"),
        ("main", "sump", "split"),
        ("tank feed", "split", "tank"),
        ("trunk 1", "split", "bed tee 1"),
        ("bed feed 1", "bed tee 1", "bed 1"),
        ("bed feed 2", "bed tee 1", "bed 2"),
        ("bed drain 1", "bed 1", "sump"),
        ("bed drain 2", "bed 2", "sump"),
    ]
    assert list(site.vessels) == ["tank", "bed 1", "bed 2", "sump"]
    assert {name: len(runs) for name, runs in site.classes().items()} == {
        "tank drain": 1,
        "main": 1,
        "tank feed": 1,
        "trunk 1": 1,
        "bed feed": 2,
        "bed drain": 2,
    }
    assert [run.name for run in site.runs.values() if run.valve] == ["tank feed", "bed feed 1", "bed feed 2"]
    assert site.runs["tank drain"].draw is Draw.SOLIDS_LIFTING
    assert site.runs["bed drain 2"].draw is Draw.STANDPIPE
    assert site.pumped_vessels() == ("sump",)


def test_one_bed_and_no_bed(tmp_path: Path) -> None:
    """One bed hangs on the split itself; without beds the main leads to the tank, with a valve."""
    one = load(tmp_path, short(1))
    assert list(one.junctions) == ["split"]
    assert ("bed feed 1", "split", "bed 1") in links(one)
    none = load(tmp_path, short(0))
    assert links(none) == [("tank drain", "tank", "sump"), ("main", "sump", "tank")]
    assert none.runs["main"].valve
    assert none.junctions == {}


def test_filters_stand_in_the_chain_where_there_are_any(tmp_path: Path) -> None:
    """Tank, settler, biofilter, sump; either filter may be missing."""
    settler, biofilter = '[settler]\nvolume = "200 L"\n', '[biofilter]\nvolume = "200 L"\n'

    def chain(extra: str) -> list[tuple[str, str, str]]:
        return [link for link in links(load(tmp_path, short(0, extra))) if link[0] != "main"]

    last = ("biofilter drain", "biofilter", "sump")
    assert chain(settler + biofilter) == [
        ("tank drain", "tank", "settler"),
        ("settler drain", "settler", "biofilter"),
        last,
    ]
    assert chain(biofilter) == [("tank drain", "tank", "biofilter"), last]
    assert chain(settler)[1] == ("settler drain", "settler", "sump")


def test_distances_add_up_along_the_way(tmp_path: Path) -> None:
    """The ways to tank and first bed begin with the main; the last bed's feed turns off the trunk."""
    distances = (
        '[distances]\nsump_to_split = "1 m"\nsump_to_tank = "6 m"\nsump_to_first_bed = "3 m"\n'
        'between_beds = "1.4 m"\ntrunk_to_bed = "1 m"\nbed_to_sump = "2 m"\n'
        "[corners]\nsump_to_tank = [90, 45, 45]\nbed_to_sump = 0\ntrunk_to_bed = 0\n"
    )
    site = load(tmp_path, short(3, distances))
    along = {path[-1]: sum(site.runs[name].length_m for name in path) for path in pressure_paths(site)}
    assert along == pytest.approx(
        {"tank feed": 6.0, "bed feed 1": 4.0, "bed feed 2": 5.4, "bed feed 3": 6.8}, abs=1e-9
    )
    assert plan(site, "tank feed") == ((1.25,) * 4, (90, 45, 45))
    assert plan(site, "bed feed 2") == ((1.0,), ())
    assert plan(site, "bed feed 3") == ((1.4, 1.0), (90,))
    lengths = [site.runs[f"bed drain {number}"].length_m for number in (1, 2, 3)]
    assert lengths == pytest.approx([2.0, 3.4, 4.8], abs=1e-9)


def test_pieces_are_taken_as_they_are_given(tmp_path: Path) -> None:
    """From corner to corner, 90 unless said; what is added or taken off is in the first piece."""
    distances = (
        '[distances]\nsump_to_split = "1 m"\nsump_to_tank = ["3 m", "2 m"]\nbetween_beds = "1.4 m"\n'
        'bed_to_sump = ["500 mm", "800 mm", "1 m"]\n[corners]\nbed_to_sump = [45, 45]\n'
    )
    site = load(tmp_path, short(2, distances))
    assert plan(site, "tank feed") == ((2.0, 2.0), (90,))
    assert plan(site, "bed drain 1") == ((0.5, 0.8, 1.0), (45, 45))
    assert plan(site, "bed drain 2") == ((1.9, 0.8, 1.0), (45, 45))


def test_one_bed_is_at_the_end_of_its_trunk(tmp_path: Path) -> None:
    """There the trunk goes straight on, with the corners of both; without a sump it is the pump's main."""
    site = load(tmp_path, short(1, '[distances]\nsump_to_first_bed = ["2 m", "1 m"]\n'))
    assert plan(site, "bed feed 1") == ((1.4, 1.5), (90,))
    bench = 'arrangement = "no sump"\n[tank]\nvolume = "450 L"\n[beds]\ncount = 1\narea = "0.5 m2"\n'
    bench = load(tmp_path, bench + 'floor = "1.5 m"\n[corners]\ntrunk_to_bed = [45]\n')
    assert bench.runs["bed feed 1"].start == "tank"
    assert plan(bench, "bed feed 1") == ((2.25, 0.25), (45,))


def test_heights_and_water_by_hand(tmp_path: Path) -> None:
    """Floors stand above the ground there; water follows from freeboard and depth, a bed's from its flood."""
    tank = '[tank]\nvolume = "1600 L"\ndepth = "800 mm"\nfloor = "200 mm"\nground = "350 mm"\n'
    site = load(tmp_path, tank + '[beds]\ncount = 1\narea = "2 m2"\n[sump]\nvolume = "800 L"\n')
    at = site.vessels["tank"]
    assert (at.floor_m, at.area_m2, at.turnover_volume_m3) == (0.55, 2.0, 1.6)
    assert at.rim_m == pytest.approx(1.35)
    assert at.ground_m == 0.35
    again = load(tmp_path, expand_to_toml(site)).vessels["tank"]
    assert (again.floor_m, again.ground_m) == (0.55, 0.35)
    assert (at.water_min_m, at.water_max_m) == (0.55 + 0.68, 0.55 + 0.72)
    bed = site.vessels["bed 1"]
    assert bed.water_min_m == bed.water_max_m == 0.6 + 0.25
    assert site.vessels["sump"].water_min_m == site.vessels["sump"].floor_m == -0.5
    # 1600 L x 1.5/h; 0.40 x 2 m2 x 250 mm = 200 L, twice an hour
    assert site.flows["tank feed"].design_m3_s * 3.6e6 == pytest.approx(2400)
    assert site.flows["bed feed 1"].design_m3_s * 3.6e6 == pytest.approx(400)
    assert site.flows["main"].design_m3_s * 3.6e6 == pytest.approx(2800)


def test_what_is_given_is_not_assumed(tmp_path: Path) -> None:
    """A key that the builder writes leaves the list of assumptions, and its value is taken."""
    before = load(tmp_path, short(2))
    more = '[wishes]\noverload = "pump"\nwater = "24 degC"\nturnover = "1/hour"\n'
    more += '[distances]\nbetween_beds = "2 m"\n'
    after = load(tmp_path, short(2, more))
    gone = {item.place for item in before.assumptions} - {item.place for item in after.assumptions}
    assert gone == {"wishes.overload", "wishes.water", "wishes.turnover", "distances.between_beds"}
    assert after.wishes.overload is Overload.PUMP
    assert after.wishes.water_celsius == 24.0
    assert after.flows["tank feed"].design_m3_s * 3.6e6 == pytest.approx(1000)


def test_uncertain_heights_and_drain_joints_survive(tmp_path: Path) -> None:
    """A vessel's uncertainty and the wish for screwed drains stand in the long form; unsaid, 0 and "any"."""
    said = '[wishes]\ndrain_joints = "screwed"\ndrain_grade = "drain"\n'
    site = load(tmp_path, short(1, said).replace("[tank]\n", '[tank]\nuncertain = "1 in"\n'))
    long = load(tmp_path, expand_to_toml(site))
    for read_in in (site, long):
        assert read_in.vessels["tank"].uncertain_m == pytest.approx(0.0254)
        assert read_in.vessels["sump"].uncertain_m == 0
        assert read_in.wishes.drain_joints is DrainJoints.SCREWED
        assert read_in.wishes.drain_grade is DrainGrade.DRAIN
    plain = load(tmp_path, short(1))
    assert plain.wishes.drain_joints is DrainJoints.ANY
    assert plain.wishes.drain_grade is DrainGrade.DRINKING
    assumed = {found.place for found in plain.assumptions}
    assert {"wishes.drain_joints", "wishes.drain_grade"} <= assumed


@pytest.mark.parametrize(
    ("text", "place", "problem"),
    [
        ('[tank]\nuncertain = "-5 mm"\n', "tank.uncertain", "too small"),
        ("[tank]\nuncertain = 5\n", "tank.uncertain", "5"),
        ('[wishes]\ndrain_joints = "welds"\n[tank]\n', "wishes.drain_joints", "not known here"),
        ('[wishes]\ndrain_grade = "waste"\n[tank]\n', "wishes.drain_grade", "not known here"),
    ],
)
def test_wrong_words_about_joints(tmp_path: Path, text: str, place: str, problem: str) -> None:
    """A negative or bare uncertainty and an unknown way of joining are told with their place."""
    with pytest.raises(InputError) as caught:
        load(tmp_path, short(1).replace("[tank]\n", text))
    (mistake,) = caught.value.mistakes
    assert mistake.place == place
    assert problem in mistake.problem


def test_an_assumption_written_into_the_file_changes_nothing(tmp_path: Path) -> None:
    """Each assumption's place is a key that the builder can write, with the text it shows."""
    text = short(2)
    site = load(tmp_path, text)
    tables = tomllib.loads(text)
    for assumed in site.assumptions:
        table, _, key = assumed.place.rpartition(".")
        plain = assumed.text.startswith("[") or assumed.text in ("true", "false")
        value = tomllib.loads(f"x = {assumed.text}")["x"] if plain else assumed.text
        (tables.setdefault(table, {}) if table else tables)[key] = value
    lines = [f"{key} = {value!r}" for key, value in tables.items() if not isinstance(value, dict)]
    for name, table in tables.items():
        if isinstance(table, dict):
            lines += [f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in table.items())]
    again = load(tmp_path, "\n".join(lines))
    assert again.assumptions == ()
    assert replace(again, assumptions=site.assumptions) == site


def _toml(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else repr(value)


def test_every_default_is_readable_and_marked() -> None:
    """The one table of defaults: each reads as what it is, and says where it comes from."""
    kinds = {"volume": Dimension.VOLUME, "area": Dimension.AREA, "floods": Dimension.RATE}
    numbers = dict.fromkeys(("void", "drain_peak", "range"), Dimension.NUMBER)
    for table in VESSEL.values():
        for key, default in table.items():
            assert default.mark in ("common practice, no source", "from memory")
            assert default.why
            if key not in ("shape", "drain", "bell"):
                read(default.text, (kinds | numbers).get(key, Dimension.LENGTH))
    assert all(read(line.length, Dimension.LENGTH) > 0 for line in LINES.values())
    assert all(default.mark for default in (*WISHES.values(), TURNOVER))


def test_defaults_make_a_system_that_falls(tmp_path: Path) -> None:
    """With both filters and nothing but sizes given, every drain has some fall at the highest levels."""
    site = load(tmp_path, short(4, '[settler]\nvolume = "200 L"\n[biofilter]\nvolume = "200 L"\n'))
    for run in site.runs.values():
        if run.kind is RunKind.GRAVITY:
            above, below = site.vessels[run.start], site.vessels[run.finish]
            assert above.water_max_m - below.water_max_m >= 0.06


def test_defaults_keep_to_the_rules_of_thumb() -> None:
    """Turnover 1 to 2 an hour, one to four floods an hour, void 0.35 to 0.5 (common practice, no source)."""
    assert 1 <= read(TURNOVER.text, Dimension.RATE) * 3600 <= 2
    bed = {default: VESSEL[VesselKind.BED][default].text for default in ("floods", "void")}
    assert 1 <= read(bed["floods"], Dimension.RATE) * 3600 <= 4
    assert 0.35 <= read(bed["void"], Dimension.NUMBER) <= 0.5


def test_rain_top_ups_and_covers_are_written_out(tmp_path: Path) -> None:
    """What was said of them stands in the long form, and what was not is assumed: 30 mm, none, none."""
    said = 'top_up = "60 L/h"\ncover = true\n[wishes]\nrain = "45 mm"\n'
    site = load(tmp_path, short(1, said))
    assert site.wishes.rain_m == pytest.approx(0.045)
    assert site.vessels["sump"].top_up_m3_s * 3.6e6 == pytest.approx(60.0)
    assert site.vessels["sump"].cover
    again = load(tmp_path, expand_to_toml(site))
    assert (again.wishes, again.vessels) == (site.wishes, site.vessels)
    bare = load(tmp_path, short(1))
    assert bare.wishes.rain_m == read(WISHES["rain"].text, Dimension.LENGTH) == pytest.approx(0.03)
    assert not any(vessel.top_up_m3_s or vessel.cover for vessel in bare.vessels.values())


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ('top_up = "0 L/h"', '"0 L/h" is too small'),
        ('top_up = "60 L"', "top_up"),
        ('cover = "yes"', "neither true nor false"),
        ('[wishes]\nrain = "-1 mm"', '"-1 mm" is too small'),
        ('[wishes]\nrain = "2 m"', '"2 m" is too large'),
    ],
)
def test_wrong_rain_top_ups_and_covers(tmp_path: Path, said: str, problem: str) -> None:
    """Each is told with its place and what would be right."""
    with pytest.raises(InputError) as found:
        load(tmp_path, short(1, said + "\n"))
    (mistake,) = found.value.mistakes
    assert problem in f"{mistake.place} {mistake.problem}"
    assert mistake.remedy
