"""Laying out: text folded and cut short, labels spread, things named apart."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.report.drawings.canvas import Canvas, fold, ident, short, spread, width_of
from autoplan.report.drawings.plot import ticks


@settings(deadline=None)  # the first of them loads scipy
@given(
    st.lists(st.floats(0.0, 300.0), min_size=1, max_size=12),
    st.floats(0.0, 20.0),
)
def test_labels_are_spread(wanted: list[float], apart: float) -> None:
    """Labels keep their order, stay apart and inside, where there is room for all of them."""
    places = spread(wanted, apart, 0.0, 300.0)
    assert len(places) == len(wanted)
    if apart * (len(wanted) - 1) > 300.0:
        return
    ordered = [place for _, place in sorted(zip(wanted, places, strict=True))]
    assert all(b - a >= apart - 1e-6 for a, b in pairwise(sorted(ordered)))
    assert ordered == sorted(ordered)
    assert min(places) >= -1e-6
    assert max(places) <= 300.0 + 1e-6


def test_labels_with_room_stay_where_they_are() -> None:
    """Labels far enough from each other are not moved, two at one place part to both sides of it."""
    assert spread([50.0, 10.0, 90.0], 20.0, 0.0, 100.0) == [50.0, 10.0, 90.0]
    assert spread([50.0, 50.0], 10.0, 0.0, 100.0) == [45.0, 55.0]
    assert spread([100.0, 99.0], 10.0, 0.0, 100.0) == [100.0, 90.0]


@settings(deadline=None, max_examples=40)  # the first of them loads fonts
@given(st.text(max_size=60), st.floats(20.0, 200.0))
def test_folded_text_fits(text: str, wide: float) -> None:
    """No line of folded text is wider than there is room."""
    from autoplan.report.drawings.render import quiet

    with quiet():
        assert all(width_of(line) <= wide for line in fold(text, wide))


def test_words_are_not_broken() -> None:
    """A text is folded between words; one word that is too long alone is cut short with dots."""
    lines = fold("one two three four five", width_of("three four"))
    assert " ".join(lines) == "one two three four five"
    assert len(lines) > 1
    assert short("unpronounceable", width_of("unprono…")) == "unprono…"
    assert short("short", 100.0) == "short"


def test_names_on_a_sheet_are_apart() -> None:
    """Two things of one name get two, and names are letters and digits whatever they come from."""
    canvas = Canvas()
    for _ in range(2):
        canvas.line(((0.0, 0.0), (1.0, 1.0)), gid=ident("Bed 1", "<b>"))
    assert [thing.gid for thing in canvas.things] == ["bed-1-b", "bed-1-b-2"]
    assert ident("水", "a") == "x-a"


@pytest.mark.parametrize(("least", "most"), [(0.0, 7.3), (0.0, 0.043), (-3.0, 12.0), (0.0, 6240.0)])
def test_scales_have_round_steps(least: float, most: float) -> None:
    """A scale's figures lie inside it, even steps apart, each step 1, 2, 2.5 or 5 times a power of ten."""
    found = ticks(least, most)
    steps = {round(b - a, 9) for a, b in pairwise(found)}
    assert len(steps) == 1
    step = steps.pop()
    while step < 1.0:
        step *= 10.0
    while step >= 10.0:
        step /= 10.0
    assert round(step, 6) in (1.0, 2.0, 2.5, 5.0)
    assert least <= found[0] <= found[-1] <= most
    assert 3 <= len(found) <= 8
