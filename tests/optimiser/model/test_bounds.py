"""Ranges that rows leave to levels, by hand."""

from __future__ import annotations

from autoplan.optimiser.model.bounds import bounds
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.presolve import impossible
from autoplan.rules.linear import Linear, weighted


def two_levels() -> tuple[Model, Linear, Linear, list[Linear]]:
    """A tank at 50 or more over a filter at 20 or more, and the choice of a drain that loses 10, 30 or 60."""
    model = Model()
    tank, filter_ = model.integer("tank", 0, 100), model.integer("filter", 0, 100)
    drains = [model.choice(name) for name in ("wide", "middle", "narrow")]
    model.exactly_one(drains)
    levels = [weighted([(var, 1)]) for var in (tank, filter_)]
    model.at_least("range", levels[0], 50)
    model.at_least("range", levels[1], 20)
    loss = weighted(zip(drains, (10, 30, 60), strict=True))
    model.at_least("fall", levels[0], levels[1] + loss)
    model.at_least("rim", Linear(constant=75), levels[1] + loss)
    return model, levels[0], levels[1], [weighted([(var, 1)]) for var in drains]


def test_ranges() -> None:
    """By the widest drain the filter stands 10 under 75 at the most, and the tank between 50 and 100."""
    model, tank, filter_, _ = two_levels()
    found = bounds(model)
    assert found[next(iter(tank.terms))] == (50, 100)
    assert found[next(iter(filter_.terms))] == (20, 65)


def test_a_choice_that_levels_leave_no_room_for() -> None:
    """Of 20 or more, 60 over it are past 75, and 30 are not."""
    model, _, _, (wide, middle, narrow) = two_levels()
    out = impossible(model)
    assert next(iter(narrow.terms)) in out
    assert {next(iter(wide.terms)), next(iter(middle.terms))}.isdisjoint(out)


def test_without_the_row_it_stays() -> None:
    """What no row asks bounds nothing."""
    model, _, filter_, (*_, narrow) = two_levels()
    model.inequalities[:] = [row for row in model.inequalities if row.rule != "range"]
    assert bounds(model)[next(iter(filter_.terms))] == (0, 65)
    assert next(iter(narrow.terms)) not in impossible(model)


def test_a_choice_outside_a_row_gives_it_nothing() -> None:
    """Of a group with a member that the row does not name, that one is the best where the others cost."""
    model = Model()
    level = model.integer("level", 0, 10)
    inside, dear, outside = (model.choice(name) for name in ("inside", "dear", "outside"))
    model.exactly_one([inside, dear, outside])
    model.at_least("fall", Linear(constant=7), weighted([(level, 1), (inside, 2), (dear, 8)]))
    assert bounds(model)[level] == (0, 7)
    assert bounds(model, {outside})[level] == (0, 5)
    assert impossible(model) == {dear}


def test_nothing_to_choose_and_no_rows() -> None:
    """Of an empty model nothing is said."""
    model = Model()
    level = model.integer("level", 0, 10)
    assert bounds(model) == {level: (0, 10)}
    assert impossible(model) == frozenset()


def test_rows_that_clash_leave_a_range_alone() -> None:
    """Where nothing is left the search has to say so, and no range turns round."""
    model = Model()
    level = model.integer("level", 0, 10)
    model.at_least("one", weighted([(level, 1)]), 8)
    model.at_least("other", Linear(constant=5), weighted([(level, 1)]))
    low, high = bounds(model)[level]
    assert low <= high
