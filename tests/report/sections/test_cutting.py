"""The cutting list: marks that fit the stick, and what each piece is for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.drawing import CutStick
from autoplan.outcome import Outcome
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.cutting import cuts, marks, sticks
from autoplan.report.units import SI, US, Gauge

INCH = 0.0254


def _with_cuts(outcome: Outcome, *cut: CutStick) -> Outcome:
    first = outcome.designs[0]
    return replace(outcome, designs=(replace(first, drawing=replace(first.drawing, cuts=cut)),))


@pytest.mark.parametrize(
    ("offcut_m", "marked", "left"),
    [
        # Three pieces of 10.05 in are nearest to 10 1/16 in, together 0.0375 in more than they are.
        (0.04 * INCH, (161, 161, 161), 0),
        (0.0374 * INCH, (160, 161, 161), 0),
        (0.0, (160, 161, 161), 0),
        # 0.0375 + 0.0625 in: one sixteenth is left over; a little less, and it is not.
        (0.1001 * INCH, (161, 161, 161), 1),
        (0.0999 * INCH, (161, 161, 161), 0),
    ],
)
def test_marks_fit_the_stick(offcut_m: float, marked: tuple[int, ...], left: int) -> None:
    """Pieces are rounded to the nearest mark as long as all of them still come out of the stick."""
    pieces = (10.05 * INCH,) * 3
    assert marks(pieces, offcut_m, US.piece) == (marked, left)


@pytest.mark.parametrize(("offcut_m", "marked"), [(0.00081, (101, 101)), (0.00079, (100, 101))])
def test_millimetres_fit_the_stick_too(offcut_m: float, marked: tuple[int, ...]) -> None:
    """Two pieces of 100.6 mm are 101 mm only if 0.8 mm are to spare."""
    assert marks((0.1006, 0.1006), offcut_m, SI.piece)[0] == marked


@pytest.mark.parametrize("gauge", [SI.piece, US.piece], ids=["si", "us"])
@given(
    pieces=st.lists(st.integers(400, 60000), min_size=1, max_size=12),
    offcut=st.integers(0, 30),
)
def test_no_stick_is_cut_short(gauge: Gauge, pieces: list[int], offcut: int) -> None:
    """Whatever the pieces [0.1 mm], the marks and what is left fit, and no piece is a whole step off."""
    exact = tuple(piece * 1e-4 for piece in pieces)
    marked, left = marks(exact, offcut * 1e-4, gauge)
    step = gauge.si / gauge.per_unit
    assert left >= 0
    assert (sum(marked) + left) * step <= sum(exact) + offcut * 1e-4 + 1e-8
    assert all(abs(mark * step - piece) < step for mark, piece in zip(marked, exact, strict=True))


def test_each_piece_is_named(outcome: Outcome) -> None:
    """Every piece of every line is on the list once, with its run and place; hose comes from the roll."""
    listed = sticks(outcome, outcome.designs[0], SI.piece)
    assert [
        (stick.pipe, stick.number, piece.steps, piece.run, piece.place)
        for stick in listed
        for piece in stick.pieces
    ] == [
        ("drain-50", 1, 1200, "tank drain", "leg 1"),
        ("drain-50", 1, 900, "tank drain", "leg 2"),
        ("press-32", 1, 1400, "pump main", "leg 2"),
        ("press-32", 1, 600, "pump main", "leg 1"),
        ("press-32", 1, 50, "pump main", "between two 45s"),
        ("hose-25", None, 1900, "tank feed", "legs 1 to 2"),
    ]


def test_a_piece_of_another_length_is_not_taken_for_it(outcome: Outcome) -> None:
    """A tenth of a millimetre apart is the same piece; half a millimetre is not, and both are listed."""
    changed = _with_cuts(outcome, CutStick("drain-50", 3.0, (1.2001,), 1.7969))
    assert sticks(changed, changed.designs[0], SI.piece)[0].pieces[0].run == "tank drain"
    changed = _with_cuts(outcome, CutStick("drain-50", 3.0, (1.2005,), 1.7965))
    listed = sticks(changed, changed.designs[0], SI.piece)
    assert listed[0].pieces[0].run == ""
    assert (1200, "leg 1") in {(piece.steps, piece.place) for stick in listed[1:] for piece in stick.pieces}


def _words(outcome: Outcome) -> str:
    return " ".join(plain_text(cuts(outcome, outcome.designs[0], SI)).split())


@pytest.mark.parametrize(
    ("legs", "told"), [((1.05, 1.05), True), ((1.05, 1.051), False), ((2.1,), False), ((0.7,) * 3, True)]
)
def test_equal_legs_are_to_be_measured(outcome: Outcome, legs: tuple[float, ...], told: bool) -> None:
    """Equal legs between turns are seldom how a site is; a run in one leg has none to measure."""
    drain = replace(outcome.site.runs["tank drain"], legs_m=legs)
    site = replace(outcome.site, runs={**outcome.site.runs, "tank drain": drain})
    assert ("taken as equal: measure on site before you cut." in _words(replace(outcome, site=site))) is told


@pytest.mark.parametrize("body_m", [None, 0.022])
def test_what_takes_an_unknown_length_is_told(outcome: Outcome, body_m: float | None) -> None:
    """Of parts on rigid pipe whose rows give no length; the pipe is cut for the least that they can take."""
    rows = {part: replace(row, body_m=body_m) for part, row in outcome.catalog.adaptors.items()}
    catalog, runs = replace(outcome.catalog, adaptors=rows), outcome.designs[0].drawing.runs
    rigid = [run for run in runs.values() if not catalog.pipes[run.pipe].bend_radius_m]
    on_rigid = {part for run in rigid for part in run.parts() if part in rows}
    assert on_rigid
    words = _words(replace(outcome, catalog=catalog))
    for part in on_rigid:
        said = f"does not say how much of its leg {rows[part].description} takes"
        assert (said in words) is (body_m is None)
    assert words.count("does not say how much") == (0 if body_m else len(on_rigid))


@pytest.mark.parametrize("place", ["leg 1", "riser", "across the floor", "standpipe"])
def test_nothing_is_cut_to_fit(outcome: Outcome, place: str) -> None:
    """Every length is known; only what a standpipe's foot stands in is not, and it is cut at its top."""
    first = outcome.designs[0]
    drain = first.verdict.lines["tank drain"]
    items = (replace(drain.items[0], place=place), *drain.items[1:])
    lines = {**first.verdict.lines, "tank drain": replace(drain, items=items)}
    changed = replace(outcome, designs=(replace(first, verdict=replace(first.verdict, lines=lines)),))
    words = _words(changed)
    assert "to fit" not in words
    assert words.count("sockets give 2 to 5 mm at each end of a piece") == 1
    assert ("then cut off its top at the height told" in words) is (place == "standpipe")


def _drains(outcome: Outcome, *cut: CutStick) -> Outcome:
    """Four drains with a first leg of 361 mm each, and the sticks that these lie on."""
    drain = outcome.designs[0].verdict.lines["tank drain"]
    leg = replace(drain.items[0], length_m=0.361, place="leg 1, down", through=None)
    names = [f"bed drain {number}" for number in range(1, 5)]
    lines = {name: replace(drain, run=name, items=(leg,), sides=()) for name in names}
    first = outcome.designs[0]
    design = replace(
        first,
        drawing=replace(first.drawing, cuts=cut),
        verdict=replace(first.verdict, lines=lines),
    )
    return replace(outcome, designs=(design,))


def test_identical_pieces_are_one_line(outcome: Outcome) -> None:
    """Whichever sticks they lie on, pieces of one length and place are told together, their runs named."""
    changed = _drains(
        outcome,
        CutStick("drain-50", 3.0, (0.361, 0.361, 0.361), 1.908),
        CutStick("drain-50", 1.0, (0.361,), 0.636),
    )
    text = plain_text(cuts(changed, changed.designs[0], SI))
    assert re.search(r"drain pipe 50 mm, 3 m +4 x 361 +bed drain 1 to bed drain 4: leg 1, down\n", text)
    assert re.search(r"no\. 1 +3000 +3 x 361 +bed drain 1 to .* 1908", text)


@pytest.mark.parametrize(
    ("left_m", "said"),
    [
        ((0.0,), "drain pipe 50 mm, 3 m: nothing is left over"),
        ((0.001,), "drain pipe 50 mm, 3 m: the rest is 1 mm"),
        ((0.4, 0.5), "drain pipe 50 mm, 3 m: 2 rests, 900 mm together, the longest 500 mm"),
        ((0.0, 0.5), "drain pipe 50 mm, 3 m: the rest is 500 mm"),
    ],
)
def test_what_is_left_of_each_size(outcome: Outcome, left_m: tuple[float, ...], said: str) -> None:
    """By size of pipe the longest rest is told, out of which a piece cut wrong can come, or that none is."""
    sticks_m = (CutStick("drain-50", 0.361 + left, (0.361,), left) for left in left_m)
    changed = _drains(outcome, *sticks_m)
    assert said in _words(changed)


def test_couplings_are_where_a_leg_is_longer_than_a_stick(outcome: Outcome) -> None:
    """A leg in two pieces has a coupling, which the list says; one in one piece has none."""
    assert "longer than a stick" not in _words(outcome)
    first = outcome.designs[0]
    main = replace(
        first.drawing.runs["pump main"], slots_m=((0.3, 0.3), (1.4,), (0.05,)), coupling=("tail-32-25",)
    )
    runs = {**first.drawing.runs, "pump main": main}
    changed = replace(outcome, designs=(replace(first, drawing=replace(first.drawing, runs=runs)),))
    assert "pump main: coupling where a leg is longer than a stick (hose tail" in _words(changed)


def test_alike_pieces_of_a_stick_are_one_line(outcome: Outcome) -> None:
    """A stick's own line has its length and what is left; further pieces stand below."""
    text = plain_text(cuts(outcome, outcome.designs[0], SI))
    assert re.search(
        r"drain pipe 50 mm, +no\. 1 +3000 +1200 +tank drain: leg 1 +894\n3 m\n +900 +tank drain: leg 2\n",
        text,
    )
    assert re.search(r"clear hose 25 mm by +roll +- +1900 +tank feed: legs 1 to 2 +-\nthe metre\n", text)
    twice = _with_cuts(outcome, CutStick("press-32", 5.0, (0.3, 0.3), 4.394))
    assert re.search(
        r"pressure pipe 32 mm, +no\. 1 +5000 +2 x 300 +spares +4394",
        plain_text(cuts(twice, twice.designs[0], SI)),
    )
