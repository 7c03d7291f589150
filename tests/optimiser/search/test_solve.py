"""The door to the solver: what is read when, and what never is."""

from __future__ import annotations

import time

import pytest

from autoplan.errors import InternalError
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.solve import Answer, Ending, Search, Unless
from autoplan.rules.linear import Linear, Var, weighted


def three() -> tuple[Model, list[Var], Linear]:
    """One of three choices, at 30, 10 and 20."""
    model = Model()
    choices = [model.choice(name) for name in "abc"]
    model.exactly_one(choices)
    return model, choices, weighted(zip(choices, (30, 10, 20), strict=True))


def impossible_pair() -> tuple[Model, Linear]:
    """Two choices of which one must be made and neither may."""
    model = Model()
    a, b = model.choice("a"), model.choice("b")
    model.exactly_one([a, b])
    model.at_least("none", Linear(), weighted([(a, 1), (b, 1)]))
    return model, weighted([(a, 1), (b, 2)])


def test_proven_optimum_is_read() -> None:
    """The cheapest of three, its cost, its bound, and a value for every variable."""
    model, _, cost = three()
    assert Search(model).minimize(cost) == Answer(Ending.PROVEN, (0, 1, 0), 10, 10)


@pytest.mark.parametrize("careful", [False, True])
def test_nothing_is_read_where_there_is_no_answer(careful: bool) -> None:
    """The solver hands out zeros after a proof that there is none; they are not taken for an answer."""
    model, cost = impossible_pair()
    assert Search(model).minimize(cost, careful=careful) == Answer(Ending.NONE)


@pytest.mark.parametrize("model_of", [three, impossible_pair], ids=["has an answer", "has none"])
def test_nothing_is_read_once_time_is_up(model_of: object) -> None:
    """A deadline in the past is undecided, whether or not there is an answer: no values, cost or bound."""
    model, *_, cost = model_of()  # type: ignore[operator]
    search = Search(model, deadline=time.monotonic() - 1)
    assert search.minimize(cost) == Answer(Ending.UNDECIDED)
    assert Search(model).minimize(cost, at_most_s=0.0) == Answer(Ending.UNDECIDED)


@pytest.mark.parametrize("constant", [0, 7, -7])
def test_answers_beyond_the_most_do_not_count(constant: int) -> None:
    """An optimum of exactly the most is proven, constant and all; with a unit less there is no answer."""
    model, _, cost = three()
    search = Search(model)
    best = search.minimize(cost + constant, at_most=10 + constant)
    assert best == Answer(Ending.PROVEN, (0, 1, 0), 10 + constant, 10 + constant)
    assert search.minimize(cost + constant, at_most=9 + constant) == Answer(Ending.NONE)
    assert search.minimize(cost).objective == 10


def test_empty_list_of_options_is_refused() -> None:
    """An empty exactly-one would be silently infeasible; it is a fault of ours and said to be."""
    with pytest.raises(InternalError, match="empty list of options"):
        Model().exactly_one([])


def test_rows_for_one_search_and_for_all() -> None:
    """A row given to one search is forgotten by the next; a required one is not."""
    model, (_, b, c), cost = three()
    search = Search(model)
    assert search.minimize(cost, also=[weighted([(b, -1)])]).objective == 20
    assert search.minimize(cost).objective == 10
    search.require(weighted([(b, -1)]))
    assert search.minimize(cost).objective == 20
    search.require(weighted([(c, -1)]))
    assert search.minimize(cost, hint=(1, 0, 0)).values == (1, 0, 0)


def test_row_left_aside_where_there_is_enough_of_something() -> None:
    """A choice is out unless one of two counts is large enough; the cheaper way to have enough is taken."""
    model, (a, b, _), cost = three()
    few, many = model.integer("few", 0, 9), model.integer("many", 0, 9)
    prices = cost + weighted([(few, 3), (many, 2)])
    enough = ((weighted([(few, 1)]), 2), (weighted([(many, 1)]), 4))
    search = Search(model)
    search.require(Unless(weighted([(b, -1)]), enough))
    assert search.minimize(prices).objective == 10 + 3 * 2
    assert search.minimize(prices, also=[weighted([(few, -1)])]).objective == 10 + 2 * 4
    assert search.minimize(prices, also=[weighted([(few, -1), (many, -1)], 3)]).objective == 10 + 3 * 2
    assert search.minimize(prices, also=[weighted([(few, -1), (many, -1)], 1)]).objective == 20
    search.require(Unless(weighted([(a, -1), (b, -1)]), ()))
    assert search.minimize(prices).objective == 20


def test_row_that_holds_only_where_chosen() -> None:
    """A row tied to a choice binds where it is made and not elsewhere."""
    model, (_, b, c), cost = three()
    packs = model.integer("packs", 0, 9)
    model.at_least("packs", weighted([(packs, 1)]), 7, when=b)
    with_packs = cost + weighted([(packs, 1)])
    assert Search(model).minimize(with_packs).objective == 10 + 7
    assert Search(model).minimize(with_packs, also=[weighted([(b, -1)])]).objective == 20
    assert Search(model, out=frozenset({b, c})).minimize(with_packs).objective == 30


def test_choices_that_are_out_are_not_made() -> None:
    """A choice left out reads 0, and with all of a group out there is no answer."""
    model, choices, cost = three()
    assert Search(model, out=frozenset(choices[1:2])).minimize(cost).values == (0, 0, 1)
    assert Search(model, out=frozenset(choices)).minimize(cost).ending is Ending.NONE


def test_watcher_is_told_of_answers() -> None:
    """Progress ends at the cost that is proven, and no bound is above its cost."""
    model, _, cost = three()
    told: list[tuple[float | None, float | None]] = []
    Search(model).minimize(cost, watcher=lambda best, bound: told.append((best, bound)))
    assert told
    assert told[-1][0] == 10
    assert all(bound <= best for best, bound in told if best is not None and bound is not None)
