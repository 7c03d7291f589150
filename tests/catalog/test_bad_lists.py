"""Every mistake of a price list at once, both sides of every limit, and files that are none."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from autoplan.catalog.load import FILES, load_catalog
from autoplan.catalog.rows import columns_of
from autoplan.catalog.sizes import Size
from autoplan.errors import InputError, Mistake

DATA = Path(__file__).parents[1] / "data"
Overlay = Callable[[str], Path]
Edit = Callable[[str, str, str], Path]


def mistakes_of(folder: Path) -> list[tuple[str, str, str, str]]:
    """File name, place, problem and remedy of every mistake."""
    with pytest.raises(InputError) as caught:
        load_catalog(folder)
    return [(Path(m.file).name, m.place, m.problem, m.remedy) for m in caught.value.mistakes]


BROKEN = {
    "bore-larger-than-outside": [
        ("pipes.csv", "line 3", "bore_mm 54.2 is not smaller than outside_mm 50", "under 50"),
    ],
    "wall-disagrees": [("pipes.csv", "line 2", "wall_mm 2.6 does not agree", "it is 1.6")],
    "duplicate-part": [
        ("turns.csv", "line 3", 'id "elbow-50" is already in turns.csv, line 2', "its own"),
        ("valves.csv", "line 2", 'id "bush-50-32" is already in joints.csv, line 3', "its own"),
    ],
    "unknown-words": [
        ("turns.csv", "line 2", 'end_a "soket metric 50" has an unknown form', '"socket"'),
        ("turns.csv", "line 2", 'end_b "socket metrik 50" has an unknown system', '"metric"'),
        ("turns.csv", "line 2", 'style "tigth" is not known', '"tight"'),
        ("tees.csv", "line 2", 'end_c "socket metric 33" has an unknown size', "32, 50"),
        ("tees.csv", "line 2", 'angle_deg "60" is not known', "45, 90"),
        ("joints.csv", "line 4", 'end_b "spigot G 1": G has no spigot', "male, female"),
        ("joints.csv", "line 5", 'end_a "male G1" is not three words', "socket metric 50"),
        ("valves.csv", "line 3", 'style "chek" is not known', '"check"'),
        ("penetrations.csv", "line 3", 'way "bulkhead" is not known', '"bulkhead fitting"'),
    ],
    "unknown-shop": [
        ("pumps.csv", "line 2", 'shop "ponds" is not known', '"pond"'),
        ("offers.csv", "line 2", 'part "tail-1-52" is not known', '"tail-1-25"'),
        ("offers.csv", "line 2", 'shop "mil" is not known', '"mill"'),
    ],
    "bad-prices": [
        ("joints.csv", "line 2", "price is -1.60", "more than 0"),
        ("joints.csv", "line 3", "price is 1.055", "two decimals"),
        ("joints.csv", "line 4", 'price "1,25" has a comma', "1.50"),
        ("joints.csv", "line 5", "pack is 0", "1 or more"),
        ("valves.csv", "line 2", 'price "11.50 EUR" has a unit', "number alone"),
        ("valves.csv", "line 3", "price is 2000000", "up to 1000000"),
    ],
    "bad-numbers": [
        ("pipes.csv", "line 2", 'roughness_mm "nan" is not a number', "1.5"),
        ("pipes.csv", "line 3", "stock is 1.5", "whole number"),
        ("pipes.csv", "line 4", 'outside_mm "fifty" is not a number', "1.5"),
        ("pipes.csv", "line 5", 'outside_mm "29.4 mm" has a unit', "header names the unit"),
    ],
    "pump-curves": [
        ("pumps.csv", "line 2", "head 2.9 m follows 2.8 m", "must fall"),
        ("pumps.csv", "line 3", "flow 900 follows 1200", "order of flow"),
        ("pumps.csv", "line 4", "3 points from flow 100", "first at 0"),
        ("pumps.csv", "line 5", '"0-2.8" is not a point', "flow:head"),
        ("pumps.csv", "line 6", "watts 7 is less than the 7.4 W", "check"),
        ("pumps.csv", "line 7", "outlet_bore_mm 35 is too large for male G 1", "outlet"),
        ("pumps.csv", "line 7", 'slowable is "maybe"', '"yes" or "no"'),
    ],
    "penetration-limits": [
        ("penetrations.csv", "line 2", "wall_min_mm 13 is more than wall_max_mm 3", "swap"),
        ("penetrations.csv", "line 2", "hole_mm 49 is not larger than the 50", "drill"),
        ("penetrations.csv", "line 3", "bore_mm 52 is too large for socket metric 50", "under 50"),
        ("penetrations.csv", "line 4", "hole_mm 33 is not larger than the 33.249", "drill"),
    ],
    "pipe-of-another-size": [
        ("pipes.csv", "line 2", "outside_mm 33.4 is not that of metric 32", "has 32"),
        ("pipes.csv", "line 5", "bore_mm 22 is not that of poly 25", "has 25"),
        ("pipes.csv", "line 5", "bend_radius_mm is empty", "least radius"),
    ],
    "columns": [
        ("pipes.csv", "line 1", 'column "outsid_mm" is not known', '"outside_mm"'),
        ("pipes.csv", "line 1", 'column "bend_radius_mm" is there twice', "one of them"),
        ("tees.csv", "line 1", 'column "angle_deg" is missing', "end_c, angle_deg"),
        ("valves.csv", "line 1", 'column "colour" is not known', "kv_m3_h"),
    ],
    "row-too-wide": [("joints.csv", "line 2", '"no" stands beyond the last of 12 columns', "quotation")],
    "offers-twice": [
        ("offers.csv", "line 3", "pond already offers tail-1-25", "one row"),
        ("offers.csv", "line 4", "mill already offers tail-1-25", "one row"),
    ],
    "systems-and-title": [
        ("catalog.toml", "curency", "the key is not known", '"currency"'),
        ("catalog.toml", "currency", "a text is needed", "EUR"),
        ("systems.csv", "line 6", "metric 50 is already in systems.csv, line 3", "its own"),
        ("systems.csv", "line 7", 'size "1 1/4" has a blank', '"1-1/4"'),
        ("systems.csv", "line 8", "none of outside_mm, bore_mm, thread_major_mm", "names the size"),
    ],
    "size-limits": [
        ("systems.csv", "line 4", "outside_mm 40 is not between its limits 40.1 and 40.2", "one of them"),
        ("systems.csv", "line 5", "outside_mm 63 is not between its limits 62.8 and 62.9", "one of them"),
        ("systems.csv", "line 6", "mouth_min_mm 74.6 is too tight for pipe of 75.3", "74.7 or more"),
        ("systems.csv", "line 7", "mouth_max_mm 91.1 does not hold pipe of 90", "90 to 91"),
        ("systems.csv", "line 8", "mouth_min_mm 110.6 is more than mouth_max_mm 110.1", "swap"),
        ("systems.csv", "line 9", "none of outside_mm, bore_mm, thread_major_mm", "names the size"),
        ("systems.csv", "line 9", "limits of the outside are given without outside_mm", "nominal outside"),
    ],
    "pipe-outside-limits": [
        ("pipes.csv", "line 2", "outside_mm 31.9 is not that of metric 32", "has 32 to 32.2"),
        ("pipes.csv", "line 3", "outside_mm 32.3 is not that of metric 32", "has 32 to 32.2"),
        ("pipes.csv", "line 7", "outside_mm 32.3 is not that of metric 32", "has 32 to 32.2"),
    ],
    "sleeve-no-range": [
        ("joints.csv", "line 3", 'end_a "sleeve range 50" is no range', "sleeve range 48-61"),
        ("joints.csv", "line 4", 'end_b "sleeve range 56-48" is no range', "sleeve range 48-61"),
        ("joints.csv", "line 5", 'end_a "sleeve range wide-wider" is no range', "sleeve range 48-61"),
        ("joints.csv", "line 6", 'end_a "sleeve metric 50" is no range', "sleeve range 48-61"),
        ("joints.csv", "line 7", 'end_a "sleeve range 0-56" is no range', "sleeve range 48-61"),
        ("joints.csv", "line 8", "bore_mm 56 is too large for sleeve range 48-56", "under 56"),
    ],
    "sundries": [
        ("sundries.csv", "line 2", "content is empty for a solvent cement", "fill it in"),
        ("sundries.csv", "line 3", "from_mm is given for a thread tape", "leave it empty"),
        ("sundries.csv", "line 3", "to_mm is given for a thread tape", "leave it empty"),
        ("sundries.csv", "line 4", "content is given for a screw", "leave it empty"),
        ("sundries.csv", "line 5", "thread is empty for a washer", "fill it in"),
        ("sundries.csv", "line 6", 'thread "G 7/8" is not in systems.csv', "system and size"),
        ("sundries.csv", "line 7", 'thread "metric 50" is not in systems.csv', "system and size"),
        ("sundries.csv", "line 8", "to_mm is empty for a hose clamp", "fill it in"),
        ("sundries.csv", "line 9", "from_mm 40 is more than to_mm 25", "swap"),
        ("sundries.csv", "line 10", "from_mm is empty for a support stand", "fill it in"),
        ("sundries.csv", "line 10", "to_mm is empty for a support stand", "fill it in"),
        ("sundries.csv", "line 11", "thread is given for a hole saw", "leave it empty"),
        ("sundries.csv", "line 12", 'kind "glue" is not known', "solvent cement"),
    ],
    "siphons-wrong": [
        ("siphons.csv", "line 2", 'kind "dome" is not known', "bell, media guard, snorkel"),
        ("siphons.csv", "line 3", "kind is empty", "fill it in"),
        ("siphons.csv", "line 4", "inside_mm 80 is not smaller than outside_mm 75", "under 75"),
        ("siphons.csv", "line 5", "inside_mm 75 is not smaller than outside_mm 75", "under 75"),
        ("siphons.csv", "line 6", "inside_mm is empty", "fill it in"),
        ("siphons.csv", "line 6", "outside_mm is empty", "fill it in"),
        ("siphons.csv", "line 6", "tallest_mm is empty", "fill it in"),
        ("siphons.csv", "line 7", "inside_mm is 5001", "up to 5000"),
        ("siphons.csv", "line 7", "outside_mm is 5002", "up to 5000"),
        ("siphons.csv", "line 7", "tallest_mm is 6000", "up to 5000"),
        ("siphons.csv", "line 8", 'inside_mm "four" is not a number', "1.5"),
        ("siphons.csv", "line 8", "tallest_mm is -500", "more than 0"),
        ("siphons.csv", "line 9", 'shop "brook" is not known', "mill, pond"),
        ("siphons.csv", "line 10", 'id "bell-a" is already in siphons.csv, line 2', "its own"),
    ],
    "bodies-wrong": [
        ("joints.csv", "line 2", "body_mm is -1", "0"),
        ("joints.csv", "line 3", 'body_mm "long" is not a number', "1.5"),
        ("valves.csv", "line 2", 'apart is "perhaps"', '"yes" or "no"'),
    ],
    "timed-wrong": [
        ("valves.csv", "line 2", "watts is given for a ball valve", "leave it empty"),
        ("valves.csv", "line 3", "watts is empty", "fill it in"),
        ("valves.csv", "line 4", "watts is 0", "more than 0"),
    ],
    "garbled": [
        ("catalog.toml", "", "cannot be read", "name ="),
        ("shops.csv", "", "there is no shop in it", "row"),
        ("pipes.csv", "line 2", "the text is not UTF-8", "UTF-8"),
        ("turns.csv", "line 1", "the text is not that of a CSV file", "UTF-8"),
        ("tees.csv", "line 2", "no row of a CSV file", "close every quotation mark"),
        ("joints.csv", "", "the file is empty", "id,description,shop"),
        ("valves.csv", "line 2", "no row of a CSV file", "close every quotation mark"),
    ],
}


@pytest.mark.parametrize("name", BROKEN)
def test_every_mistake_at_once(name: str, overlay: Overlay) -> None:
    """Each mistake has its file, its place, what is wrong and what would be right; nothing else is said."""
    found = mistakes_of(overlay(name))
    wanted = BROKEN[name]
    assert [entry[:2] for entry in found] == [entry[:2] for entry in wanted]
    for (_, _, problem, remedy), (_, _, problem_part, remedy_part) in zip(found, wanted, strict=True):
        assert problem_part in problem
        assert remedy_part in remedy


def test_every_broken_folder_is_tested() -> None:
    """No folder of broken files lies about unused."""
    folders = {path.name.removeprefix("catalog-") for path in DATA.glob("catalog-*")}
    good = {"small", "spreadsheet-habits", "semicolons", "pipe-at-its-limits", "bodies", "siphons", "timed"}
    assert folders == {*BROKEN, *good}


def test_missing_files(tmp_path: Path) -> None:
    """An empty folder lacks every file, and nothing more is said of what they would hold."""
    found = mistakes_of(tmp_path)
    assert [file for file, _, _, _ in found] == ["catalog.toml", *FILES]
    assert {problem for _, _, problem, _ in found} == {"the file is missing"}


def test_a_misspelt_file_is_pointed_out(edited: Edit) -> None:
    """A file whose name is nearly right is named in the remedy for the missing one."""
    folder = edited("pumps.csv", "pump", "pump")
    (folder / "pumps.csv").rename(folder / "pump.csv")
    found = mistakes_of(folder)
    assert found[0][:3] == ("pumps.csv", "", "the file is missing")
    assert "pump.csv" in found[0][3]


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("systems.csv", "system,size", "sytem,size"),
        ("shops.csv", "shop,name", "shopp,name"),
        ("joints.csv", "id,description", "idd,description"),
        ("joints.csv", "tail-1-25,poly tail,", "tail-1-25,poly, tail,"),
    ],
)
def test_what_cannot_be_known_is_not_asked(file: str, old: str, new: str, edited: Edit) -> None:
    """A fault in the header of one file is one mistake, not one more for each row that refers to it."""
    assert len(mistakes_of(edited(file, old, new))) == 1


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """One mistake, not one for each file."""
    assert len(mistakes_of(tmp_path / "nowhere")) == 1


BOTH_SIDES = [
    ("pipes.csv", "50,2.4,45.2,10,0.0015,3", "50,2.4,45.0,10,0.0015,3", "50,2.4,44.9,10,0.0015,3"),
    ("pipes.csv", "50,2.4,45.2,10,0.0015,3", "50.5,2.6,45.2,10,0.0015,3", "50.6,2.6,45.2,10,0.0015,3"),
    ("pipes.csv", "29.4,,25,3", "29.4,,27.4,3", "29.4,,27.6,3"),
    ("pipes.csv", "29.4,,25,3,0.007,,300", "29.4,,25,3,0.007,,14.8", "29.4,,25,3,0.007,,14.7"),
    ("penetrations.csv", "64,3,13", "64,13,13", "64,13.1,13"),
    ("penetrations.csv", "64,3,13", "50.1,3,13", "50,3,13"),
    ("penetrations.csv", "34,3,15", "33.25,3,15", "33.249,3,15"),
    ("joints.csv", "barb poly 25,21", "barb poly 25,25", "barb poly 25,25.1"),
    ("joints.csv", "socket metric 50,42.6", "socket metric 50,49.9", "socket metric 50,50"),
    ("joints.csv", "1.60,1", "0.01,1", "0.00,1"),
    ("joints.csv", "1.60,1", "1000000,1", "1000000.01,1"),
    ("joints.csv", "42.6,16,no", "42.6,0,no", "42.6,-0.1,no"),
    ("shops.csv", "9.50,200", "0,0", "-0.01,0"),
    ("pumps.csv", "49,1,3,", "49,1,0,", "49,1,-1,"),
    ("pumps.csv", ",42,no", ",7.4,no", ",7.3,no"),
    ("pumps.csv", "0:2.8 1200:2.26 2400:0.93 3000:0", "0:2.8 1200:2.26 2400:0.93", "0:2.8 1200:2.26"),
    ("pumps.csv", "2400:0.93 3000:0", "2400:0.93 3000:0.92", "2400:0.93 3000:0.93"),
    ("joints.csv", "sleeve range 48-56,44,0", "sleeve range 48-56,55.9,0", "sleeve range 48-56,56,0"),
    ("joints.csv", "sleeve range 48-56,sleeve", "sleeve range 48-48.1,sleeve", "sleeve range 48-48,sleeve"),
    ("sundries.csv", "clamp,,25,40", "clamp,,40,40", "clamp,,40.1,40"),
    ("sundries.csv", "cement,125,", "cement,0.1,", "cement,0,"),
]

LIMITS = [
    (("50", "50", "50.2", "", ""), ("50", "50.1", "50.2", "", "")),
    (("50", "49.8", "50", "", ""), ("50", "49.8", "49.9", "", "")),
    (("50", "50", "50.2", "49.6", "50.3"), ("50", "50", "50.2", "49.5", "50.3")),
    (("50", "50", "50.2", "50.1", "51"), ("50", "50", "50.2", "50.1", "51.1")),
    (("50", "50", "50.2", "49.6", "50"), ("50", "50", "50.2", "49.6", "49.9")),
    (("50", "50", "50.2", "50.3", "50.3"), ("50", "50", "50.2", "50.4", "50.3")),
]
"""Outside, its limits and those of the mouth [mm]: just right, and a tenth too far."""


@pytest.mark.parametrize(("good", "bad"), LIMITS)
def test_both_sides_of_a_sizes_limits(good: tuple[str, ...], bad: tuple[str, ...], edited: Edit) -> None:
    """Nominal within the limits; a mouth at most 0.6 under the thickest and 1.0 over the thinnest pipe."""
    limits = [column.name for column in columns_of(Size) if column.spare and column.name != "grip_mm"]
    header = ",".join(("system,size,outside_mm", *limits, "bore_mm,thread_major_mm,socket_mm,source"))

    def rows(cells: tuple[str, ...]) -> Path:
        folder = edited("systems.csv", "system", "system")
        lines = [header, f"metric,50,{','.join(cells)},,,31,limits", "metric,32,32,,,,,,,22,as before"]
        lines += ["G,1,,,,,,,33.249,,ISO 228-1", "poly,25,,,,,,25,,,bore", "hose,25,,,,,,25,,,bore"]
        (folder / "systems.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        return folder

    assert load_catalog(rows(good)).systems["metric"]["50"].outside_m == pytest.approx(0.05)
    # Pipe of the list that wrong limits leave outside them is told as well.
    assert [file for file, *_ in mistakes_of(rows(bad)) if file != "pipes.csv"] == ["systems.csv"]


@pytest.mark.parametrize(("file", "old", "good", "bad"), BOTH_SIDES)
def test_both_sides_of_every_limit(file: str, old: str, good: str, bad: str, edited: Edit) -> None:
    """The value just inside is read; the one just outside is one mistake in that file."""
    load_catalog(edited(file, old, good))
    assert [entry[0] for entry in mistakes_of(edited(file, old, bad))] == [file]


def test_one_id_twice_and_bore_and_price_in_one_row(edited: Edit) -> None:
    """One row may be wrong in several ways; each is said."""
    folder = edited("pipes.csv", "pipe-50,pressure pipe 50 mm,mill,7.40,1,12", "pipe-32,,mill,x,1,12")
    assert len(mistakes_of(folder)) == 3


@pytest.mark.parametrize("word", ["pipe 50", "ä", "-x", "a/b"])
def test_ids_are_one_plain_word(word: str, edited: Edit) -> None:
    """An id can be typed on a command line."""
    assert "one plain word" in mistakes_of(edited("pipes.csv", "pipe-50,", f"{word},"))[0][2]


WORDS = st.sampled_from(
    [",", ";", "\t", '"', "\n", "\r", "\0", "-1", "0", "1e9", "nan", "٣", "x", "1,5", "=A1", "\xa0"]
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    file=st.sampled_from((*FILES, "offers.csv", "sundries.csv", "catalog.toml")),
    at=st.floats(0, 1),
    word=WORDS,
    cut=st.integers(0, 40),
)
def test_whatever_a_file_holds_it_is_read_or_refused(
    file: str, at: float, word: str, cut: int, tmp_path: Path
) -> None:
    """A text put anywhere into any file, in place of what stood there, raises nothing but InputError."""
    folder = tmp_path / "any"
    shutil.copytree(DATA / "catalog-small", folder, dirs_exist_ok=True)
    text = (DATA / "catalog-small" / file).read_text(encoding="utf-8")
    place = int(at * len(text))
    (folder / file).write_text(text[:place] + word + text[place + cut :], encoding="utf-8", newline="")
    mistakes: tuple[Mistake, ...] = ()
    try:
        groups = load_catalog(folder).groups()
        prices = [offer.price_cents for group in groups for part in group.values() for offer in part.offers]
    except InputError as error:
        mistakes = error.mistakes
        prices = [len(mistakes)]
    assert min(prices) > 0
    assert all(mistake.problem and mistake.remedy for mistake in mistakes)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=200))
def test_any_bytes_at_all(raw: bytes, tmp_path: Path) -> None:
    """Bytes that are no text at all are refused as calmly."""
    folder = tmp_path / "raw"
    shutil.copytree(DATA / "catalog-small", folder, dirs_exist_ok=True)
    (folder / "pipes.csv").write_bytes(raw)
    with pytest.raises(InputError):
        load_catalog(folder)
