"""The small picture of levels: to scale, inside its frame, figures that are right, a fallback in ASCII."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.report.sections.levels_picture import ASCII, LINES, Profile, legend, levels_picture, marks_for

TANK = Profile("tank", 0.15, 0.82, 0.9)
BEDS = tuple(Profile(f"bed {number}", 0.55, 0.8, 0.87) for number in (1, 2, 3))
SUMP = Profile("sump", -0.45, -0.058, 0.05)


def mm(height_m: float) -> str:
    """Whole millimetres."""
    return f"{height_m * 1000:.0f}"


def test_floor_water_and_rim_stand_at_their_heights() -> None:
    """Each lies in the line nearest to its height, with its own figure in it."""
    lines = levels_picture((TANK, SUMP), mm)
    step = float(lines[1].split()[0]) - float(lines[2].split()[0])
    for figure, height in ((" 150 ", 150), (" 820 ", 820), (" -450 ", -450), (" -58 ", -58)):
        line = next(line for line in lines if figure in line[8:])
        assert abs(float(line.split()[0].rstrip("_")) - height) <= step / 2
    assert "~ 820 ~" in "".join(lines)


def test_a_shallow_vessel_shows_its_water_too() -> None:
    """A header that is as deep as a line: its floor gives way to its water, which stands in its own line."""
    header = Profile("header", 1.5, 1.865, 1.95)
    others = Profile("tank", 0.7, 1.214, 1.3), Profile("sump", -0.4, 0.02, 0.1)
    lines = levels_picture((header, *others), mm, height=7)
    assert [line[:6].strip() for line in lines[1:]] == ["1800", "1200", "600", "0", "-600"]
    assert "~ 1865 ~" in lines[1]
    assert "- 1500 -" in lines[2]


def test_the_lowest_floor_stays_in_the_picture() -> None:
    """There is no line under the lowest: where water lies in it too the floor is shown."""
    lines = levels_picture((Profile("tank", 0.0, 2.9, 3.0), Profile("puddle", 0.0, 0.1, 0.5)), mm, height=8)
    assert lines[-1].count("- 0 -") == 2
    assert "100" not in "".join(line[6:] for line in lines)


def test_neighbours_that_stand_alike_are_drawn_once() -> None:
    """Three beds in a row are one drawing with all their numbers; apart they would be three."""
    lines = levels_picture((TANK, *BEDS, SUMP), mm)
    assert lines[0].split() == ["tank", "bed", "1-3", "sump"]
    apart = levels_picture((BEDS[0], TANK, BEDS[1]), mm)
    assert apart[0].split() == ["bed", "1", "tank", "bed", "2"]


def test_the_ground_is_drawn_where_it_is() -> None:
    """A line at height 0 between the vessels, and none where everything stands over it."""
    assert any(line.split()[0] == "0" and "___" in line for line in levels_picture((TANK, SUMP), mm))
    assert not any("_" in line for line in levels_picture((TANK, *BEDS), mm))


def test_water_that_is_not_known_is_not_drawn() -> None:
    """Walls alone."""
    lines = levels_picture((Profile("tank", 0.1, None, 0.9),), mm)
    assert "~" not in "".join(lines)
    assert " 100 " in lines[-1]


def test_what_has_no_room_is_named() -> None:
    """A dozen unlike vessels do not fit 80 characters."""
    many = [Profile(f"tub {number}", number / 10, None, number / 10 + 0.5) for number in range(12)]
    lines = levels_picture(many, mm)
    drawn = sum(f"tub {number}" in lines[0] for number in range(12))
    assert 0 < drawn < 12
    assert lines[-1] == "Not drawn: " + ", ".join(f"tub {number}" for number in range(drawn, 12))


def test_no_vessel_no_picture() -> None:
    """Nothing to draw is no line."""
    assert levels_picture((), mm) == ()


heights = st.floats(-20, 20)
vessels = st.builds(
    lambda name, ends, share: Profile(
        name, min(ends), None if share is None else min(ends) + share * (max(ends) - min(ends)), max(ends)
    ),
    st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=40),
    st.tuples(heights, heights),
    st.none() | st.floats(0, 1),
)


@given(st.lists(vessels, min_size=1, max_size=15), st.integers(30, 100), st.integers(6, 12), st.booleans())
def test_it_stays_inside_its_frame(stands: list[Profile], width: int, height: int, us: bool) -> None:
    """Whatever stands there: no line too long, no line too many, nothing but plain characters."""
    lines = levels_picture(stands, mm, width=width, height=height, us=us)
    assert len(lines) <= height + 1
    assert all(len(line) <= width for line in lines)
    assert "".join(lines).isascii()


@pytest.mark.parametrize(
    ("encoding", "marks"),
    [("utf-8", LINES), ("ascii", ASCII), ("latin-1", ASCII), (None, ASCII), ("?", ASCII)],
)
def test_plain_characters_where_others_cannot_be_shown(encoding: str | None, marks: object) -> None:
    """Drawn lines only on a stream that can carry them."""
    assert marks_for(encoding) is marks


def test_drawn_lines_say_the_same() -> None:
    """The two pictures differ in their marks alone."""
    plain, drawn = (levels_picture((TANK, *BEDS, SUMP), mm, marks=marks) for marks in (ASCII, LINES))
    table = str.maketrans("│─└┘·╌", "|-++._")
    assert tuple(line.translate(table) for line in drawn) == plain


def test_the_legend_names_the_unit() -> None:
    """Figures without a unit would be none."""
    assert " in mm " in legend("mm")
