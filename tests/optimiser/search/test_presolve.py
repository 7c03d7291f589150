"""Narrowing against trying every answer: a choice is out only if no answer of that cost makes it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.linear_solver import pywraplp

from autoplan.catalog.parts import Catalog
from autoplan.errors import InternalError
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import ROW_LIMIT, Model
from autoplan.optimiser.options.shelf import Shelf
from autoplan.optimiser.search import presolve, programme
from autoplan.optimiser.search.presolve import Narrowing, impossible
from autoplan.optimiser.search.programme import Matrix, Programme
from autoplan.optimiser.search.relaxation import Branch, Relaxation
from autoplan.optimiser.search.separate import Separator
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Linear, Var, weighted
from tests.optimiser.conftest import CORNER_SHELF


def each(group: Sequence[Var]) -> list[Sequence[Var]]:
    """A group of choices as a partition: each by itself."""
    return [[var] for var in group]


QUICK = settings(max_examples=60, deadline=None, derandomize=True)


@st.composite
def small_models(draw: st.DrawFn) -> tuple[Model, Linear]:
    """Three groups of choices, two rows that bind them, a count of packs, a pair of groups that agree."""
    model = Model()
    groups = [[model.choice(f"{g}{i}") for i in range(draw(st.integers(2, 4)))] for g in "abc"]
    for group in groups:
        model.exactly_one(group)
    packs = model.integer("packs", 0, 6)
    number = st.integers(0, 9)
    every = [var for group in groups for var in group]
    for _ in range(2):
        room = Linear(constant=draw(st.integers(5, 25)))
        model.at_least("row", room, weighted((var, draw(number)) for var in every))
    model.at_least("packs", weighted([(packs, 4)]), weighted((var, draw(number)) for var in every))
    if draw(st.booleans()):
        # The last choices of the first two groups go together, as sizes at a joint do.
        model.equal(weighted([(groups[0][-1], 1)]), weighted([(groups[1][-1], 1)]))
    cost = weighted([(var, draw(st.integers(0, 60))) for var in every] + [(packs, draw(st.integers(1, 20)))])
    return model, cost


def answers(model: Model, cost: Linear) -> Iterator[tuple[int, tuple[Var, ...]]]:
    """Every answer of a small model: its cost and the choices it makes."""
    others = [i for i, v in enumerate(model.variables) if (v.low, v.high) != (0, 1)]
    ranges = [range(model.variables[i].low, model.variables[i].high + 1) for i in others]
    for made in product(*model.groups):
        for counts in product(*ranges):
            values = [0] * len(model.variables)
            for var in made:
                values[var] = 1
            for i, count in zip(others, counts, strict=True):
                values[i] = count

            def worth(row: Linear, values: list[int] = values) -> int:
                return row.constant + sum(coef * values[var] for var, coef in row.terms.items())

            if all(worth(row.left) >= 0 for row in model.inequalities) and not any(
                worth(row) for row in model.equalities
            ):
                yield worth(cost), made


@QUICK
@given(small=small_models(), spare=st.integers(0, 40))
def test_no_choice_of_an_answer_within_the_limit_is_out(small: tuple[Model, Linear], spare: int) -> None:
    """Of every answer within the limit every choice stays; so the optimum does, and its proof holds."""
    model, cost = small
    found = list(answers(model, cost))
    narrowing = Narrowing(model, cost, [each(model.groups[0]), each(model.groups[1])])
    if not found:
        assert Search(model).minimize(cost).ending is Ending.NONE
        return
    least = min(cents for cents, _ in found)
    assert narrowing.bound <= least + 1e-6
    out = narrowing.out(least + spare)
    assert not any(set(made) & out for cents, made in found if cents <= least + spare)
    narrowed = Search(model, out=out).minimize(cost)
    assert (narrowed.ending, narrowed.objective) == (Ending.PROVEN, least)


@QUICK
@given(
    small=small_models(),
    ceiling=st.sampled_from((1.0, 1.02, 1.1, 1.5)),
    spares=st.lists(st.integers(0, 60), min_size=1, max_size=4),
)
def test_nothing_is_lost_over_the_ceiling(
    small: tuple[Model, Linear], ceiling: float, spares: list[int]
) -> None:
    """Whatever is left out once a bound is known, no choice of an answer within a limit is ever out."""
    model, cost = small
    found = list(answers(model, cost))
    if not found:
        return
    least = min(cents for cents, _ in found)
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(presolve, "CEILING", ceiling)
        changed.setattr(programme, "WORTH", 2.0)
        changed.setattr(presolve, "SLACK", 0.01)
        narrowing = Narrowing(model, cost, [each(model.groups[0])], finer=[each(model.groups[1])])
        whole = narrowing.whole
        assert narrowing.bound <= least + 1e-6
        kinds = narrowing.kinds()
        for spare in spares:
            kind = next(kinds, None)
            out = narrowing.out(least + spare)
            assert not any(set(made) & out for cents, made in found if cents <= least + spare)
            if kind is not None:
                mine = [(cents, made) for cents, made in found if holds(kind, model, made)]
                assert all(kind.bound <= cents + 1e-6 for cents, _ in mine)
                out = narrowing.part(kind, least + spare).out
                assert not any(set(made) & out for cents, made in mine if cents <= least + spare)
            assert whole - 1e-6 <= narrowing.bound <= least + 1e-6


@QUICK
@given(
    small=small_models(),
    divided=st.integers(0, 3),
    ceiling=st.sampled_from((1.0, 1.02, 1.1, 1.5)),
    spares=st.lists(st.integers(-20, 60), min_size=1, max_size=4),
)
def test_nothing_is_lost_in_halves(
    small: tuple[Model, Linear], divided: int, ceiling: float, spares: list[int]
) -> None:
    """However far the answers are halved, bounds hold, and every answer is whole in some part of them."""
    model, cost = small
    found = list(answers(model, cost))
    if not found:
        return
    least = min(cents for cents, _ in found)
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(presolve, "CEILING", ceiling)
        changed.setattr(programme, "WORTH", 2.0)
        changed.setattr(presolve, "SLACK", 0.01)
        partitions = [each(group) for group in model.groups[:divided]]
        narrowing = Narrowing(model, cost, partitions, torn=model.groups[1:2])
        for spare in spares:
            before, most = narrowing.bound, least + spare
            list(narrowing.deepen(most))
            assert before - 1e-6 <= narrowing.bound <= least + 1e-6
            out = narrowing.out(most)
            parts = narrowing.parted(most, 2)
            for cents, made in found:
                if cents <= most:
                    assert not out.intersection(made)
                    assert any(part.out.isdisjoint(made) for part in parts)


def test_halves_know_what_a_mixture_does_not() -> None:
    """Three lines on a trunk, wide or narrow: half of each costs 50, narrow 90 with half lines large."""
    model = Model()
    wide, narrow = trunk = [model.choice("wide"), model.choice("narrow")]
    model.exactly_one(trunk)
    cost = {wide: 100, narrow: 0}
    for number in range(3):
        small, large = [model.choice(f"small {number}"), model.choice(f"large {number}")]
        model.exactly_one([small, large])
        model.at_least("head", weighted([(wide, 2), (large, 1)]), weighted([(small, 1)]))
        cost |= {small: 0, large: 60}
    narrowing = Narrowing(model, weighted(cost.items()), [], torn=[trunk])
    assert narrowing.bound == pytest.approx(50)
    # What comes to no more than the allowance over it is of interest still.
    list(narrowing.deepen(49 - presolve.SLACK))
    assert narrowing.bound == pytest.approx(50)
    list(narrowing.deepen(51 - presolve.SLACK))
    assert narrowing.bound == pytest.approx(90)
    list(narrowing.deepen(1000))
    assert narrowing.bound == pytest.approx(100)


@QUICK
@given(small=small_models(), ceiling=st.integers(0, 60))
def test_what_is_told_below_a_ceiling_holds_for_all(small: tuple[Model, Linear], ceiling: int) -> None:
    """Bounds and reduced costs of a branch claim nothing that an answer over the ceiling breaks."""
    model, cost = small
    found = list(answers(model, cost))
    if not found:
        return
    most = min(cents for cents, _ in found) + ceiling
    near = {var for cents, made in found if cents < most for var in made}
    relaxation = Relaxation(model, cost, frozenset(), [each(model.groups[0])])
    relaxation.branch((None,))
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(programme, "WORTH", 2.0)
        relaxation.focus({var for group in model.groups for var in group} - near, most)
    for member in (None, *range(len(model.groups[0]))):
        for branch in (relaxation.branch((member,)), relaxation.branch((member,), whole=True)):
            for cents, made in found:
                if member is None or model.groups[0][member] in made:
                    assert branch.bound <= cents + 1e-4
                    assert branch.least()[list(made)].max() <= cents + 1e-4


def holds(kind: Branch, model: Model, made: Sequence[Var]) -> bool:
    """Whether an answer is of a kind, by the first two groups."""
    return all(
        group[member] == choice
        for group, member, choice in zip(model.groups, kind.members, made, strict=False)
        if member is not None
    )


@given(
    small=small_models(),
    shut=st.lists(st.frozensets(st.integers(0, 7)), min_size=1, max_size=6),
    out=st.frozensets(st.integers(0, 7)),
    focused=st.booleans(),
)
@QUICK
def test_few_rows_say_the_same(
    small: tuple[Model, Linear], shut: list[frozenset[int]], out: frozenset[int], focused: bool
) -> None:
    """A programme with few rows comes to what the whole does; without some columns, to what it does so.

    Few are those that an answer just keeps, or at first the equalities alone; the last row is added later.
    """
    model, cost = small
    later = model.inequalities[-1:]

    def made() -> Programme:
        matrix = Matrix([v.low for v in model.variables], [v.high for v in model.variables], (), cost.terms)
        for group in model.groups:
            matrix.add(dict.fromkeys(group, 1), 1, 1)
        for row in model.inequalities[:-1]:
            matrix.add(row.left.terms, -row.left.constant, math.inf)
        return Programme(matrix, None)

    whole = made()
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(programme, "WORTH", 2.0)
        changed.setattr(programme, "MANY_ROWS", math.inf if focused else 0)
        few = made()
        if few.solve(frozenset(), whole=True) != pywraplp.Solver.OPTIMAL:
            return
        assert not focused or few.focus(out)
    for row in later:
        for one in (whole, few):
            one.matrix.add(row.left.terms, -row.left.constant, math.inf)
    out = out if focused else frozenset()
    for closed in shut:
        status = whole.solve(closed | out, whole=True)
        assert few.solve(closed, whole=False) == status
        if status == pywraplp.Solver.OPTIMAL:
            assert few.answer.value == pytest.approx(whole.answer.value, abs=1e-4)
            slack = few.matrix.slack(few.answer.values)
            assert slack.min(initial=0.0) >= -1e-5
            reduced = few.matrix.reduced(few.answer.duals)
            open_ = [column for column in range(len(reduced)) if column not in closed | out]
            assert all(reduced[column] >= -1e-4 for column in open_ if not few.answer.values[column])


@QUICK
@given(small=small_models())
def test_impossible_choices_are_in_no_answer(small: tuple[Model, Linear]) -> None:
    """What bounds alone rule out is in no answer at all."""
    model, cost = small
    out = impossible(model)
    assert not any(set(made) & out for _, made in answers(model, cost))
    assert Narrowing(model, cost, [[model.groups[0]]]).out(float("inf")) >= out


def test_a_limit_below_the_optimum_leaves_less() -> None:
    """Of three choices at 10, 20 and 300 a limit of 20 keeps two, one of 10 at least the first."""
    model = Model()
    group = [model.choice(name) for name in "abc"]
    model.exactly_one(group)
    cost = weighted(zip(group, (10, 20, 300), strict=True))
    narrowing = Narrowing(model, cost, [each(group)])
    assert narrowing.bound == pytest.approx(10)
    assert narrowing.out(20) == {group[2]}
    assert narrowing.out(300) == set()


def test_impossible_sees_both_sides_of_a_row() -> None:
    """A choice that takes all the room there is stays; one that takes a unit more is out."""
    model = Model()
    just, over = model.choice("just"), model.choice("over")
    model.exactly_one([just, over])
    model.at_least("room", Linear(constant=7), weighted([(just, 7), (over, 8)]))
    assert impossible(model) == {over}


@pytest.mark.parametrize("beds", [0, 1])
@pytest.mark.parametrize("flow_l_h", [750.0, 1300.0])
def test_same_optimum_without_narrowing(
    site_of: Callable[..., Site], corner_shelf: Catalog, beds: int, flow_l_h: float
) -> None:
    """On real problems the whole model and the narrowed one prove the same cost."""
    site = site_of(beds=beds, flow_l_h=flow_l_h, tank_water_m=(0.4, 0.6), sump_water_m=(0.05, 0.15))
    draft = Draft(site, corner_shelf, read_rules(site))
    cost = draft.spending()
    partitions = [each([var for var, _ in draft.pumps("sump")])]
    partitions += [each(group) for group in draft.model.groups if draft.stores.screwed in group]
    whole = Search(draft.model).minimize(cost)
    assert whole.ending is Ending.PROVEN
    assert whole.objective is not None
    narrowing = Narrowing(draft.model, cost, partitions, Separator(draft))
    out = narrowing.out(whole.objective)
    made = {var for group in draft.model.groups for var in group if whole.values[var]}
    assert out
    assert not made & out
    narrowed = Search(draft.model, out=out).minimize(cost)
    assert (narrowed.ending, narrowed.objective) == (Ending.PROVEN, whole.objective)


def test_a_relaxation_that_is_given_up_bounds_nothing(
    monkeypatch: pytest.MonkeyPatch, site_of: Callable[..., Site], corner_shelf: Catalog
) -> None:
    """The simplex method may go round in circles: after so many steps it is left, and rules nothing out."""
    site = site_of(flow_l_h=750.0, tank_water_m=(0.4, 0.6))
    draft = Draft(site, corner_shelf, read_rules(site))
    pumps = each([var for var, _ in draft.pumps("sump")])
    asked = (draft.model, draft.spending(), frozenset[Var](), [pumps])
    solved = Relaxation(*asked).branch((None,))
    assert solved.bound > 0
    for name in ("SIMPLEX", "AFRESH"):
        once = re.sub(r"iterations: \d+", "iterations: 1", getattr(programme, name))
        assert once != getattr(programme, name)
        monkeypatch.setattr(programme, name, once)
    left = Relaxation(*asked).branch((None,))
    assert (left.bound, any(left.reduced), any(left.values)) == (0.0, False, False)
    narrowing = Narrowing(draft.model, draft.spending(), [pumps], Separator(draft))
    assert narrowing.out(solved.bound) == impossible(draft.model)


@pytest.mark.parametrize("constant", [0, 5, -5])
def test_rows_past_what_the_solver_can_be_trusted_with(constant: int) -> None:
    """Coefficients and constant of a row add up to less than 2^31, or the row is refused."""
    model = Model()
    a, b = model.choice("a"), model.choice("b")
    most = ROW_LIMIT - abs(constant)
    assert ROW_LIMIT == 2**31 - 1
    model.at_least("fits", weighted([(a, most - 10), (b, -10)], constant), 0)
    model.equal(weighted([(a, most)], constant), Linear())
    with pytest.raises(InternalError, match="coefficients"):
        model.at_least("too much", weighted([(a, most - 10), (b, -11)], constant), 0)
    with pytest.raises(InternalError, match="coefficients"):
        model.equal(weighted([(a, most + 1)], constant), Linear())


def test_hopeless_losses_are_all_alike(
    monkeypatch: pytest.MonkeyPatch, site_of: Callable[..., Site], shelf_of: Callable[..., Catalog]
) -> None:
    """A loss past all that pumps and heights give counts as just that; the cheapest design is the same."""
    shelf = shelf_of(CORNER_SHELF + " pn16-20-3m elbow-20-90 coupling-20 bush-25-20 bush-32-20")
    site = site_of(flow_l_h=900.0, tank_water_m=(0.4, 0.6), main_legs_m=(30.0, 30.0))
    book = read_rules(
        replace(site, rule_settings={"drain-bore": {"off": True}, "drain-rigid": {"off": True}})
    )
    most = Shelf(site, shelf).hopeless_loss_m(site)
    strongest = max(head for pump in shelf.pumps.values() for _, head in pump.curve)
    vessels = site.vessels.values()
    height = max(vessel.rim_m for vessel in vessels) - min(vessel.floor_m for vessel in vessels)
    assert most == pytest.approx(strongest + height + 1.0)
    found = []
    for cap in (most, 1e4):
        monkeypatch.setattr(Shelf, "hopeless_loss_m", lambda *_, cap=cap: cap)
        draft = Draft(site, shelf, book)
        lost = max(draft.path_loss(("main",), 1.0).terms.values())
        found.append((lost, Search(draft.model).minimize(draft.spending())))
    assert found[0][0] == round(most * 10_000) < found[1][0]
    assert found[0][1].ending is found[1][1].ending is Ending.PROVEN
    assert found[0][1].objective == found[1][1].objective
