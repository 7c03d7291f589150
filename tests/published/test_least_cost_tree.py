"""The least-cost network of Alperovits & Shamir, solved as the choice of one size per pipe.

E. Alperovits and U. Shamir, "Design of optimal water distribution systems", Water Resources Research 13(6),
1977, 885-900. The published cheapest design with one size per pipe costs 419 000. It has two loops; with the
flows of that design imposed and its two closing pipes (4 and 8, 13 000 together) taken out, it is a tree.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.rules.linear import Linear, Var, weighted

COST = {
    1: 2,
    2: 5,
    3: 8,
    4: 11,
    6: 16,
    8: 23,
    10: 32,
    12: 50,
    14: 60,
    16: 90,
    18: 130,
    20: 170,
    22: 300,
    24: 550,
}
"""Cost of a metre by nominal inches, as published."""

SIZES = tuple(COST)
LENGTH_M, ROUGHNESS_C, SOURCE_M = 1000, 130, 210

FLOW = {1: 1120.0, 2: 336.87, 3: 683.13, 5: 530.56, 6: 200.56, 7: 236.87}
"""Flow by pipe [m3/h] in the published design."""

CLOSING = {4: (4, 32.57), 8: (1, 0.56)}
"""Size [in] and flow [m3/h] of the two pipes that close the loops; flows are what the nodes' draws leave."""

PATHS = {2: (1,), 3: (1, 2), 4: (1, 3), 5: (1, 2, 7), 6: (1, 3, 5), 7: (1, 3, 5, 6)}
ELEVATION_M = {2: 150, 3: 160, 4: 155, 5: 150, 6: 165, 7: 160}
PRESSURE_M = 30

BEST = {1: 18, 2: 10, 3: 16, 5: 16, 6: 10, 7: 10}
"""The published sizes, without the two closing pipes."""

TENTHS_MM = 10_000
TOO_MUCH_M = 100.0
"""More than any node has to spare, so a loss beyond it need not be told apart from it."""


def loss_m(flow_m3_h: float, inches: float) -> float:
    """Hazen-Williams loss [m], h = 10.6744 L Q^1.852 / (C^1.852 D^4.8704) in metres and m3/s."""
    flow, bore = flow_m3_h / 3600, inches * 0.0254
    return 10.6744 * LENGTH_M * flow**1.852 / (ROUGHNESS_C**1.852 * bore**4.8704)


def spare_m(node: int) -> float:
    """Head [m] that may be lost on the way to a node."""
    return SOURCE_M - ELEVATION_M[node] - PRESSURE_M


def tree() -> tuple[Model, dict[int, dict[int, Var]], Linear]:
    """The model: one size per pipe, a row per node, losses rounded up to 0.1 mm; and its cost."""
    model = Model()
    size = {pipe: {s: model.choice(f"pipe {pipe}, {s} in") for s in SIZES} for pipe in FLOW}
    for choices in size.values():
        model.exactly_one(list(choices.values()))
    for node, path in PATHS.items():
        lost = weighted(
            (size[p][s], math.ceil(min(loss_m(FLOW[p], s), TOO_MUCH_M) * TENTHS_MM))
            for p in path
            for s in SIZES
        )
        model.at_least("pressure", Linear(constant=math.floor(spare_m(node) * TENTHS_MM)), lost)
    cost = weighted((size[p][s], COST[s] * LENGTH_M) for p in FLOW for s in SIZES)
    return model, size, cost


def chosen(size: dict[int, dict[int, Var]], values: tuple[int, ...]) -> dict[int, int]:
    """Size of each pipe in an answer."""
    return {pipe: next(s for s, var in choices.items() if values[var]) for pipe, choices in size.items()}


@pytest.fixture(scope="module")
def every_design() -> tuple[np.ndarray, np.ndarray]:
    """Cost of each of the 14^6 designs, and whether it gives every node its pressure, in floats."""
    axis = {pipe: i for i, pipe in enumerate(FLOW)}

    def spread(pipe: int, values: list[float]) -> np.ndarray:
        shape = [1] * len(axis)
        shape[axis[pipe]] = len(SIZES)
        return np.array(values).reshape(shape)

    loss = {p: spread(p, [loss_m(FLOW[p], s) for s in SIZES]) for p in FLOW}
    cost = sum(spread(p, [COST[s] * LENGTH_M for s in SIZES]) for p in FLOW)
    fits = np.ones((len(SIZES),) * len(axis), dtype=bool)
    for node, path in PATHS.items():
        fits &= sum(loss[p] for p in path) <= spare_m(node)
    return cost, fits


def test_imposed_flows_close_both_loops() -> None:
    """Heads by both ways round each loop agree to 0.5 m : the flows are the published design's."""
    loss = {p: loss_m(FLOW[p], BEST[p]) for p in FLOW} | {p: loss_m(q, s) for p, (s, q) in CLOSING.items()}
    assert loss[2] + loss[7] == pytest.approx(loss[3] + loss[4], abs=0.5)
    assert loss[4] == pytest.approx(loss[5] + loss[6] + loss[8], abs=0.5)


def test_search_proves_the_published_design() -> None:
    """Sizes 18, 10, 16, 16, 10, 10 at 406 000, proven; with the closing pipes the published 419 000."""
    model, size, cost = tree()
    answer = Search(model).minimize(cost)
    assert answer.ending is Ending.PROVEN
    assert chosen(size, answer.values) == BEST
    assert answer.objective == answer.bound == 406_000
    assert answer.objective + sum(COST[s] * LENGTH_M for s, _ in CLOSING.values()) == 419_000


def test_next_best_is_10_000_dearer() -> None:
    """Once the best is forbidden, the search proves 416 000."""
    model, size, cost = tree()
    search = Search(model)
    search.require(weighted(((size[p][s], -1) for p, s in BEST.items()), len(BEST) - 1))
    second = search.minimize(cost)
    assert second.ending is Ending.PROVEN
    assert second.objective == second.bound == 416_000


def test_brute_force_agrees(every_design: tuple[np.ndarray, np.ndarray]) -> None:
    """Of all 14^6 designs one costs 406 000, it is the published one, and the next costs 416 000."""
    cost, fits = every_design
    costs = np.where(fits, cost, np.iinfo(np.int64).max)
    cheapest = np.argwhere(costs == costs.min())
    assert [tuple(SIZES[i] for i in found) for found in cheapest] == [tuple(BEST.values())]
    assert costs.min() == 406_000
    assert costs[costs > 406_000].min() == 416_000


@pytest.mark.parametrize("pipe", FLOW)
def test_no_pipe_can_be_smaller(pipe: int, every_design: tuple[np.ndarray, np.ndarray]) -> None:
    """With one pipe of the best a size smaller and the others as they are, some node lacks pressure."""
    smaller = BEST | {pipe: SIZES[SIZES.index(BEST[pipe]) - 1]}
    _, fits = every_design
    assert fits[tuple(SIZES.index(s) for s in BEST.values())]
    assert not fits[tuple(SIZES.index(s) for s in smaller.values())]
