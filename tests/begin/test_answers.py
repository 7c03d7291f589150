"""An answer of one line taken apart: what each piece is, in any order, and what is wrong with one."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.begin.answers import Form
from autoplan.begin.checking import Checker
from autoplan.begin.questions import QUESTIONS, Question
from autoplan.begin.usual import filled
from autoplan.errors import QuantityError

CHECKER = Checker()
TWO_FILTERS = filled({"besides": "sump, settler, biofilter", "beds.count": "3"})


def form(beginning: str) -> Form:
    """The values that a question takes, by how it begins."""
    (question,) = [one for one in QUESTIONS if one.about.startswith(beginning)]
    return question.form(TWO_FILTERS)


@pytest.mark.parametrize(
    ("question", "line", "taken"),
    [
        ("Units", "US", {"units": "us"}),
        ("Units", "", {}),
        ("Price list", "my lists, all of them", {"catalog": "my lists, all of them"}),
        ("Place", "outside", {"place": "outdoors"}),
        ("Beside", "biofilter and sump", {"besides": "sump, biofilter"}),
        ("Beside", "none", {"besides": ""}),
        ("Fish tank", "260 gal", {"tank.volume": "260 gal"}),
        ("Fish tank", "round, 1 m 20", {"tank.shape": "round", "tank.depth": "1 m 20"}),
        ("Fish tank", "90 cm deep", {"tank.depth": "90 cm"}),
        ("Fish tank", "depth 3 ft 2 in,800 L", {"tank.depth": "3 ft 2 in", "tank.volume": "800 L"}),
        ("Beds", "4 beds of 4 ft x 3 ft", {"beds.count": "4", "beds.area": "4 ft x 3 ft"}),
        ("Beds", "1.2 x 0.8 m; 300 mm", {"beds.area": "1.2 x 0.8 m", "beds.depth": "300 mm"}),
        ("Heights", "20 cm, sump 45 cm below ground", {"tank.floor": "20 cm", "sump.floor": "-45 cm"}),
        ("Heights", "biofilter: 0", {"biofilter.floor": "0 mm"}),
        ("Heights", "beds 600 mm above the ground", {"beds.floor": "600 mm"}),
        ("Thickness", "filters 3 mm", {"filters.wall": "3 mm"}),
        (
            "Thickness",
            "1/4 in",
            dict.fromkeys(("tank.wall", "filters.wall", "beds.wall", "sump.wall"), "1/4 in"),
        ),
        ("Level distances", "2 m, bed to bed 4 ft", {"ways.next": "2 m", "ways.beds": "4 ft"}),
    ],
)
def test_takes_what_people_write(question: str, line: str, taken: dict[str, str]) -> None:
    """Values in any order that is clear, with or without what they are called, in their own units."""
    assert form(question).taken(line) == taken


@pytest.mark.parametrize(
    ("question", "line", "problem", "remedy"),
    [
        ("Units", "metrc", "not known", 'did you mean "metric"'),
        ("Place", "moon", "not known", "write indoors or outdoors"),
        ("Beside", "pond", "not known", "sump or settler or biofilter or none"),
        ("Beside", "none, sump", "both none and something", "leave out"),
        ("Fish tank", "800", "has no unit", "800 L"),
        ("Fish tank", "1,5 m", "has a comma", "point for decimals"),
        ("Fish tank", "3 kg", "is a mass", "gal"),
        ("Fish tank", "rond", "not known", 'did you mean "round"'),
        ("Fish tank", "1 m, 800 L, 2 m", "one value too many", "give 3 at most"),
        ("Fish tank", "1 m, 2 m", "a volume is needed", "2 L"),
        ("Fish tank", "1 m 5", "not one length", "1 m 20"),
        ("Fish tank", "900 mm deep, deep 800 mm", "deep is given twice", "once"),
        ("Beds", "0", "not from 1 to 40", "between"),
        ("Beds", "41", "not from 1 to 40", "between"),
        ("Beds", "2.5 beds", "not a whole number", "write e.g. 2"),
        ("Heights", "tank 3 L", "is a volume", "mm"),
        ("Price list", "a\x1b[2Jb", "not a short text", "write a name"),
    ],
)
def test_says_what_is_wrong(question: str, line: str, problem: str, remedy: str) -> None:
    """The reason and what would be right, for the value that is wrong."""
    with pytest.raises(QuantityError) as caught:
        form(question).taken(line)
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_the_most_beds_are_taken() -> None:
    """One bed and forty are both counts; the limits themselves are inside."""
    assert form("Beds").taken("1") == {"beds.count": "1"}
    assert form("Beds").taken("40 beds") == {"beds.count": "40"}


@given(st.sampled_from(QUESTIONS), st.text(max_size=40))
def test_any_line_is_an_answer_or_a_reason(question: Question, line: str) -> None:
    """No line ends in anything else, and what is taken belongs to the question."""
    asked = question.form(TWO_FILTERS)
    taken: dict[str, str] = {}
    with suppress(QuantityError):
        taken = asked.taken(line)
    assert set(taken) <= {part.key for part in asked.parts}


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.about.split(":")[0])
def test_what_is_shown_as_usual_can_be_typed(question: Question) -> None:
    """The text in brackets, typed as an answer, says the same as Enter."""
    usual = question.shown(TWO_FILTERS)
    keys = question.keys(TWO_FILTERS)
    assert question.form(TWO_FILTERS).taken(usual) == {key: TWO_FILTERS[key] for key in keys}


figures = st.one_of(st.integers(-3, 3), st.floats(allow_nan=False, allow_infinity=False), st.floats(0, 20))
units = st.sampled_from(["mm", "m", "in", "ft", "L", "gal", "m2", "ft2", "m3", "", "kg"])
values = st.builds(lambda number, unit: f"{number} {unit}", figures, units)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([one for one in QUESTIONS if "Price" not in one.about]),
    st.lists(values, min_size=1, max_size=3).map(", ".join),
    st.sampled_from(["", "sump", "sump, settler"]),
    st.sampled_from(["indoors", "outdoors"]),
)
def test_any_figures_are_an_answer_or_a_reason(
    question: Question, line: str, besides: str, place: str
) -> None:
    """Nothing, too much and less than nothing come back with a reason, through the whole of the check."""
    given_before = {"besides": besides, "place": place}
    if not question.asked(filled(given_before)):
        return
    with suppress(QuantityError):
        assert CHECKER.taken(question, line, given_before, for_sure=False)


@pytest.mark.parametrize("line", ["0 L", "11000 m3", "0 mm", "1001 m", "-2 L"])
def test_sizes_of_nothing_and_of_lakes_are_refused(line: str) -> None:
    """At both ends, before anything is worked out with them."""
    with pytest.raises(QuantityError, match=r"too (small|large)"):
        form("Fish tank").taken(line)


@pytest.mark.parametrize("line", ["0.2 L", "9000 m3", "0.2 mm", "999 m"])
def test_sizes_inside_these_are_left_to_the_problem_file(line: str) -> None:
    """Which has closer limits of its own."""
    assert form("Fish tank").taken(line)


def test_heights_may_be_nothing_and_below() -> None:
    """Down to a kilometre, where the problem file's own limits end it."""
    assert form("Heights").taken("0 mm, -999 m") == {"tank.floor": "0 mm", "settler.floor": "-999 m"}
    with pytest.raises(QuantityError, match="too small"):
        form("Heights").taken("-1001 m")
