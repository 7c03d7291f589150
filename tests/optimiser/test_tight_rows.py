"""Rows that tighten the relaxation: every answer keeps every one of them, and they do lift the bound."""

from __future__ import annotations

import random
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.optimiser.cutting.cutting import Stick, lay
from autoplan.optimiser.model.covers import Covers
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import Supply
from autoplan.optimiser.model.rounding import Rounding
from autoplan.optimiser.model.stick_rows import StickRows
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.relaxation import Relaxation
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from tests.optimiser.search.test_presolve import answers, small_models

QUICK = settings(max_examples=150, deadline=None, derandomize=True)


def told(model: Model, made: tuple[Var, ...], counts: dict[int, int]) -> list[int]:
    """Values of every variable of an answer."""
    return [counts.get(i, int(Var(i) in made)) for i in range(len(model.variables))]


@QUICK
@given(small=small_models(), seed=st.integers(0, 10_000))
def test_no_answer_is_cut_off(small: tuple[Model, Linear], seed: int) -> None:
    """Rows that random values break, and those that the relaxation breaks, hold for every answer."""
    model, cost = small
    draw = random.Random(seed)
    points = [[draw.random() * (v.high if v.high > 1 else 0.7) for v in model.variables]]
    branch = Relaxation(model, cost, frozenset(), []).branch(())
    points += [list(branch.values)] if branch.values else []
    families = Covers(model, ()), Rounding(model, ())
    rows = [row for point in points for family in families for row in family.rows(point)]
    packs = len(model.variables) - 1 if model.variables[-1].high > 1 else None
    if packs is None:
        (packs,) = (i for i, v in enumerate(model.variables) if v.high > 1)
    for _, made in answers(model, weighted([])):
        for count in range(model.variables[packs].high + 1):
            values = told(model, made, {packs: count})
            if all(evaluate(row.left, values) >= 0 for row in model.inequalities):
                assert all(evaluate(row, values) >= 0 for row in rows)


@QUICK
@given(
    pieces=st.lists(st.lists(st.integers(3, 40), min_size=1, max_size=3), min_size=2, max_size=4),
    stock=st.tuples(st.integers(20, 40), st.integers(8, 25)),
    metres=st.booleans(),
    kerf=st.integers(0, 2),
    keeps=st.sampled_from((0, 0, 3)),
)
def test_every_plan_that_can_be_laid_keeps_stick_rows(
    pieces: list[list[int]], stock: tuple[int, int], metres: bool, kerf: int, keeps: int
) -> None:
    """Two lengths of stick, perhaps metres too: counts on which the pieces can be laid break no row."""
    model = Model()
    kinds = [Stick("p", length, 100, 6, keeps=keeps) for length in stock]
    if metres:
        kinds.append(Stick("p", 10, 30, 12, by_metre=True))
    packs = [model.integer(f"packs {i}", 0, kind.most) for i, kind in enumerate(kinds)]
    groups = [(model.choice(f"yes {i}"), model.choice(f"no {i}")) for i in range(len(pieces))]
    cuts = [[(yes, [piece * 1e-4 for piece in cut])] for (yes, _), cut in zip(groups, pieces, strict=True)]
    supplies = [Supply(kind, weighted([(var, 1)])) for kind, var in zip(kinds, packs, strict=True)]
    finder = StickRows({"p": supplies}, {"p": cuts}, kerf * 1e-4, ())
    nothing_bought = [0.0] * len(packs) + [1.0, 0.0] * len(pieces)
    rows = finder.rows(nothing_bought)
    assert rows
    for chosen in product((False, True), repeat=len(pieces)):
        cut = [piece for yes, list_ in zip(chosen, pieces, strict=True) if yes for piece in list_]
        made = [value for yes in chosen for value in (int(yes), int(not yes))]
        for counts in product(range(3), range(3), range(0, 13, 3) if metres else (0,)):
            counts = counts[: len(kinds)]
            if lay(cut, kinds, counts, kerf) is not None:
                values = [*counts, *made]
                assert all(evaluate(row, values) >= 0 for row in rows), (cut, counts)


def test_a_staircase_closes_what_a_share_of_each_leaves_open() -> None:
    """Two runs of which each may lose 0 or 10 of 15: half of either each fits, both do not."""
    model = Model()
    runs = [(model.choice(f"wide {i}"), model.choice(f"narrow {i}")) for i in range(2)]
    for group in runs:
        model.exactly_one(group)
    model.at_least("head", Linear(constant=15), weighted((narrow, 10) for _, narrow in runs))
    cost = weighted((wide, 100) for wide, _ in runs)
    plain, tight = Narrowing(model, cost, []), Narrowing(model, cost, [], Covers(model, ()).rows)
    assert plain.bound == pytest.approx(50)
    assert tight.bound == pytest.approx(100)


def test_whole_tins() -> None:
    """Two joints of 60 mL from tins of 100 mL take two tins, where the relaxation buys 1.2."""
    model = Model()
    tins = model.integer("tins", 0, 9)
    joints = [(model.choice(f"glued {i}"), model.choice(f"dear {i}")) for i in range(2)]
    for group in joints:
        model.exactly_one(group)
    model.at_least("sundries", weighted([(tins, 100)]), weighted((glued, 60) for glued, _ in joints))
    cost = weighted([(tins, 500), *((dear, 900) for _, dear in joints)])
    plain, tight = Narrowing(model, cost, []), Narrowing(model, cost, [], Rounding(model, ()).rows)
    assert plain.bound == pytest.approx(600)
    assert tight.bound == pytest.approx(1000)


def test_pieces_longer_than_half_a_stick_take_one_each() -> None:
    """Three pieces of 60 take three sticks of 100, where length alone asks for 1.8; of 50, two sticks."""
    model = Model()
    packs = model.integer("packs", 0, 9)
    choice = model.choice("cut")
    supplies = [Supply(Stick("p", 100, 10, 9), weighted([(packs, 1)]))]
    for length, least in ((60, 3), (50, 2)):
        finder = StickRows({"p": supplies}, {"p": [[(choice, [length * 1e-4] * 3)]]}, 0.0, ())
        rows = finder.rows([0.0, 1.0])
        assert all(evaluate(row, [least, 1]) >= 0 for row in rows)
        assert not all(evaluate(row, [least - 1, 1]) >= 0 for row in rows)
