"""Networks: closed forms, a second method on random trees and loops, and what happens at every stop."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from fluids.friction import Colebrook
from scipy.optimize import root

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.network import Fixed, Free, Link, NetworkError, Solution, solve
from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.water import GRAVITY, Water

WATER = Water(998.2, 1.0e-6)
CURVE = PumpCurve(((0.0, 3.0), (0.0006, 2.4), (0.0012, 1.0)))


def fittings(k: float, bore: float = 0.02) -> tuple[Conduit, ...]:
    """A line that loses K v^2 / 2g and nothing else."""
    return (Conduit(bore, 0.0, 0.0, (Resistance(k, bore),)),)


def pipe(bore: float, length: float, roughness: float = 1.5e-6) -> tuple[Conduit, ...]:
    """A straight pipe."""
    return (Conduit(bore, roughness, length),)


def conductance(k: float, bore: float = 0.02) -> float:
    """Flow through fittings under 1 m, A sqrt(2 g / K) [m3/s]."""
    return math.pi / 4 * bore**2 * math.sqrt(2 * GRAVITY / k)


def missing(nodes, links, solution: Solution) -> float:
    """The most by which a free node's water does not add up [m3/s]."""
    found = [0.0]
    for name, node in nodes.items():
        if isinstance(node, Free):
            came = sum(solution.flows[link] for link, way in links.items() if way.finish == name)
            went = sum(solution.flows[link] for link, way in links.items() if way.start == name)
            found.append(abs(came - went - node.draw_m3_s))
    return max(found)


# --- closed forms ----------------------------------------------------------------------------------------


def test_two_branches_split_by_their_conductance() -> None:
    """Turbulent fittings pass A sqrt(2 g h / K): a draw splits over two branches in that proportion."""
    links = {"a": Link("up", "down", fittings(2.0)), "b": Link("up", "down", fittings(8.0, 0.03))}
    found = solve({"up": Fixed(5.0), "down": Free(0.003)}, links, WATER)
    first, second = conductance(2.0), conductance(8.0, 0.03)
    assert found.flows["a"] == pytest.approx(0.003 * first / (first + second), rel=1e-9)
    assert found.flows["b"] == pytest.approx(0.003 * second / (first + second), rel=1e-9)
    assert found.heads["down"] == pytest.approx(5.0 - (0.003 / (first + second)) ** 2, rel=1e-9)


def test_laminar_pipes_split_by_hagen_poiseuille() -> None:
    """Laminar flow splits as d^4 / L (Hagen and Poiseuille); here 1 : 2^4 / 4."""
    links = {"a": Link("up", "down", pipe(0.01, 1.0)), "b": Link("up", "down", pipe(0.02, 4.0))}
    found = solve({"up": Fixed(0.0), "down": Free(5e-6)}, links, WATER)
    assert found.flows["b"] / found.flows["a"] == pytest.approx(4.0, rel=1e-6)


def test_series_adds_losses() -> None:
    """Two fittings in a row pass what one of their summed K would."""
    links = {"a": Link("up", "mid", fittings(3.0)), "b": Link("mid", "down", fittings(5.0))}
    nodes = {"up": Fixed(2.0), "mid": Free(), "down": Fixed(0.5)}
    found = solve(nodes, links, WATER)
    assert found.flows["a"] == pytest.approx(conductance(8.0) * math.sqrt(1.5), rel=1e-9)
    assert found.heads["mid"] == pytest.approx(2.0 - 1.5 * 3 / 8, abs=1e-9)
    one = solve(
        {"up": Fixed(2.0), "down": Fixed(0.5)},
        {"a": Link("up", "down", fittings(3.0) + fittings(5.0))},
        WATER,
    )
    assert one.flows["a"] == pytest.approx(found.flows["a"], rel=1e-9)


def test_parallel_adds_flows() -> None:
    """Two ways under one fall pass the sum of what each alone would."""
    links = {"a": Link("up", "down", pipe(0.03, 5.0)), "b": Link("down", "up", pipe(0.04, 9.0))}
    found = solve({"up": Fixed(1.0), "down": Fixed(0.2)}, links, WATER)
    assert found.flows["a"] == pytest.approx(links["a"].lines[0].flow(0.8, WATER), rel=1e-9)
    assert found.flows["b"] == pytest.approx(-links["b"].lines[0].flow(0.8, WATER), rel=1e-9)


def pumped(lift: float, k: float = 5.0, pump: PumpCurve = CURVE, **changes: object) -> Solution:
    """A pump that lifts through fittings to an open outlet."""
    nodes = {"sump": Fixed(0.0), "outlet": Free(), "open end": Fixed(lift)}
    feed = Link("outlet", "open end", fittings(k), one_way=True)
    links = {"pump": Link("sump", "outlet", pump=pump), "feed": replace(feed, **changes)}
    return solve(nodes, links, WATER)


def test_a_pump_meets_its_system() -> None:
    """On its first chord 3 - 1000 Q = lift + Q^2 / c^2: a quadratic."""
    c = 1 / conductance(5.0) ** 2
    flow = (-1000 + math.sqrt(1000**2 + 4 * c * (3.0 - 2.0))) / (2 * c)
    assert flow < 0.0006
    found = pumped(2.0)
    assert found.flows["feed"] == pytest.approx(flow, rel=1e-9)
    assert found.heads["outlet"] == pytest.approx(3.0 - 1000 * flow, rel=1e-9)


def test_two_pumps_side_by_side_and_in_a_row() -> None:
    """Equal pumps give twice the flow at a head side by side, and twice the head at a flow in a row."""
    nodes = {"sump": Fixed(0.0), "mid": Free(), "outlet": Free(), "end": Fixed(1.0)}
    feed = Link("outlet", "end", fittings(5.0))
    pump = Link("sump", "outlet", pump=CURVE)
    beside = solve(nodes, {"one": pump, "two": pump, "feed": feed}, WATER)
    row = {
        "one": Link("sump", "mid", pump=CURVE),
        "two": Link("mid", "outlet", pump=CURVE),
        "feed": feed,
    }
    behind = solve(nodes, row, WATER)
    double = PumpCurve(tuple((2 * flow, head) for flow, head in CURVE.points))
    tall = PumpCurve(tuple((flow, 2 * head) for flow, head in CURVE.points))
    assert beside.flows["feed"] == pytest.approx(pumped(1.0, pump=double).flows["feed"], rel=1e-9)
    assert beside.flows["one"] == pytest.approx(beside.flows["two"], rel=1e-9)
    assert behind.flows["feed"] == pytest.approx(pumped(1.0, pump=tall).flows["feed"], rel=1e-9)


def test_the_jump_of_friction_is_passed() -> None:
    """Falls that drive a pipe through Reynolds numbers around 2000 give the inverse of its loss."""
    (line,) = pipe(0.02, 3.0)
    for fall in np.linspace(0.002, 0.02, 60):
        links = {"a": Link("up", "mid", (line,)), "b": Link("mid", "down", (line,))}
        found = solve({"up": Fixed(2 * fall), "mid": Free(), "down": Fixed(0.0)}, links, WATER)
        assert found.flows["a"] == pytest.approx(line.flow(fall, WATER), rel=1e-7)


# --- stops -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("lift", "flows"), [(2.999, True), (3.001, False), (50.0, False)])
def test_an_outlet_lets_water_out_only(lift: float, flows: bool) -> None:
    """Just under shut-off head a little flows; above it nothing comes back, and the pump holds its head."""
    found = pumped(lift)
    assert (found.flows["feed"] > 1e-9) is flows
    assert found.flows["feed"] >= 0.0
    assert found.heads["outlet"] == pytest.approx(min(lift, 3.0), abs=2e-3)


def test_a_pump_lets_nothing_back() -> None:
    """An end under water above shut-off head would run back through the pump, if it could."""
    assert pumped(4.0, one_way=False).flows == {"pump": 0.0, "feed": 0.0}
    assert pumped(4.0, one_way=False).heads["outlet"] == pytest.approx(4.0)


def test_a_pump_gives_no_more_than_its_run_out() -> None:
    """Against a fall instead of a lift the flow is the last of the curve."""
    found = pumped(-50.0, k=1.0)
    assert found.flows["feed"] == pytest.approx(0.0012)
    assert "feed" not in found.throttled


def test_a_shut_link_passes_nothing() -> None:
    """With its only way shut a pump stands at shut-off head."""
    found = pumped(1.0, shut=True)
    assert found.flows == {"pump": 0.0, "feed": 0.0}
    assert found.heads["outlet"] == pytest.approx(3.0)


def test_a_set_valve_takes_what_is_left() -> None:
    """At 0.0003 m3/s the pump has 2.7 m; lift and fittings leave the rest to the valve."""
    found = pumped(1.0, most_m3_s=0.0003)
    assert found.flows["feed"] == pytest.approx(0.0003, rel=1e-12)
    assert found.throttled["feed"] == pytest.approx(2.7 - 1.0 - (0.0003 / conductance(5.0)) ** 2, abs=1e-9)


def test_a_valve_that_need_not_close_stays_open() -> None:
    """A set flow just above what comes with no valve leaves the valve open; just below closes it a bit."""
    free = pumped(1.0).flows["feed"]
    above, below = pumped(1.0, most_m3_s=free * 1.001), pumped(1.0, most_m3_s=free * 0.999)
    assert above.flows["feed"] == pytest.approx(free, rel=1e-9)
    assert "feed" not in above.throttled
    assert below.flows["feed"] == pytest.approx(free * 0.999, rel=1e-12)
    assert 0.0 < below.throttled["feed"] < 0.01


def test_two_valves_in_a_row_share_what_is_left() -> None:
    """Set to the same flow they take together what one alone would."""
    alone = pumped(1.0, most_m3_s=0.0003).throttled["feed"]
    nodes = {"sump": Fixed(0.0), "outlet": Free(), "mid": Free(), "end": Fixed(1.0)}
    links = {
        "pump": Link("sump", "outlet", pump=CURVE),
        "main": Link("outlet", "mid", fittings(2.0), most_m3_s=0.0003),
        "feed": Link("mid", "end", fittings(3.0), most_m3_s=0.0003, one_way=True),
    }
    assert sum(solve(nodes, links, WATER).throttled.values()) == pytest.approx(alone, abs=1e-6)


def test_equal_heads_move_nothing() -> None:
    """Still water stays still, in pipes and in fittings."""
    links = {"a": Link("up", "mid", pipe(0.02, 1.0)), "b": Link("mid", "down", fittings(2.0))}
    found = solve({"up": Fixed(1.0), "mid": Free(), "down": Fixed(1.0)}, links, WATER)
    assert found.flows["a"] == pytest.approx(0.0, abs=1e-12)
    assert found.heads["mid"] == pytest.approx(1.0, abs=1e-9)


def test_backwards_may_cost_something_else() -> None:
    """Water that runs backwards meets the lines given for it."""
    links = {"a": Link("down", "up", fittings(1.0), back=fittings(4.0))}
    found = solve({"up": Fixed(1.0), "down": Fixed(0.0)}, links, WATER)
    assert found.flows["a"] == pytest.approx(-conductance(4.0), rel=1e-9)


def test_a_drop_is_lost_whatever_flows() -> None:
    """A drop takes its share of the fall, and closes an outlet that has no more than that."""
    link = Link("up", "down", fittings(4.0), drop_m=0.25, one_way=True)
    nodes = {"up": Fixed(1.25), "down": Fixed(0.0)}
    assert solve(nodes, {"a": link}, WATER).flows["a"] == pytest.approx(conductance(4.0), rel=1e-9)
    assert solve(nodes, {"a": replace(link, drop_m=1.3)}, WATER).flows["a"] == 0.0


def test_cut_off_nodes_have_no_head() -> None:
    """Between two shut links nothing says what the head is; under a closed outlet water stands at its lip."""
    nodes = {"up": Fixed(1.0), "mid": Free(), "end": Fixed(2.0)}
    shut, outlet = (
        Link("up", "mid", fittings(1.0), shut=True),
        Link("mid", "end", fittings(1.0), one_way=True),
    )
    between = solve(nodes, {"a": shut, "b": replace(outlet, shut=True)}, WATER)
    assert between.flows == {"a": 0.0, "b": 0.0}
    assert "mid" not in between.heads
    under = solve(nodes, {"a": shut, "b": outlet}, WATER)
    assert under.flows == {"a": 0.0, "b": 0.0}
    assert under.heads["mid"] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("head", "opens"), [(0.30, False), (0.34, False), (0.36, True), (0.60, True), (3.0, True)]
)
def test_a_check_valve_opens_when_its_flap_is_carried(head: float, opens: bool) -> None:
    """A flap that takes 3.5 x 1.4^2 / 2g = 0.350 m is shut below that, alone and beside a free way.

    Above it its line carries what friction leaves of the other head: energy along each way, by hand.
    """
    flap = Conduit(0.02, 1.5e-6, 2.0, (Resistance(3.5, 0.02, 1.4),))
    bare = Conduit(0.02, 1.5e-6, 2.0, (Resistance(1.0, 0.02),))
    nodes = {"source": Fixed(head), "low": Fixed(0.0)}
    found = solve(nodes, {"checked": Link("source", "low", (flap,), one_way=True)}, WATER)
    assert (found.flows["checked"] > 0.0) is opens
    if opens and found.flows["checked"] < 1.4 * math.pi / 4 * 0.02**2:
        left = Conduit(0.02, 1.5e-6, 2.0).flow(head - 3.5 * 1.4**2 / (2 * GRAVITY), WATER)
        assert found.flows["checked"] == pytest.approx(left, rel=1e-6)
    elif opens:
        assert flap.held_open().loss(found.flows["checked"], WATER) == pytest.approx(head, abs=1e-9)
    both = {
        "way": Link("source", "mid", (bare,)),
        "checked": Link("mid", "low", (flap,), one_way=True),
        "free": Link("mid", "low", (bare,)),
    }
    beside = solve({**nodes, "mid": Free()}, both, WATER)
    through = beside.flows["checked"] + beside.flows["free"]
    assert beside.flows["way"] == pytest.approx(through, rel=1e-9)
    assert beside.heads["mid"] == pytest.approx(bare.loss(beside.flows["free"], WATER), abs=1e-9)
    if beside.flows["checked"] > 0.0:
        assert flap.loss(beside.flows["checked"], WATER) == pytest.approx(beside.heads["mid"], abs=1e-9)
    else:
        assert beside.heads["mid"] <= 3.5 * 1.4**2 / (2 * GRAVITY)


# --- a second method -------------------------------------------------------------------------------------


USUAL = ((0.015, 0.06), (0.5, 8.0))
WILD = ((0.003, 0.16), (1e-4, 1e9))
"""Bores [m] and K [-] to draw from."""


def random_network(seed: int, *, loops: bool, ranges=USUAL):
    """Random nodes and pipes with fittings: a tree, or a tree with more ways across."""
    draw = random.Random(seed)
    count = draw.randint(3, 9)
    nodes: dict[str, Fixed | Free] = {"node 0": Fixed(draw.uniform(1.0, 3.0))}
    for number in range(1, count):
        fixed = number == count - 1 or draw.random() < 0.25
        nodes[f"node {number}"] = (
            Fixed(draw.uniform(0.0, 3.0)) if fixed else Free(draw.choice((0.0, draw.uniform(-2e-4, 6e-4))))
        )
    names = list(nodes)

    def lines() -> tuple[Conduit, ...]:
        bore, k = (math.exp(draw.uniform(*map(math.log, limits))) for limits in ranges)
        fitting = Resistance(k, bore * draw.uniform(0.7, 1.0))
        return (Conduit(bore, draw.choice((1.5e-6, 1e-4)), draw.uniform(0.5, 8.0), (fitting,)),)

    ends = [(names[draw.randrange(number)], names[number]) for number in range(1, count)]
    if loops:
        ends += [tuple(draw.sample(names, 2)) for _ in range(draw.randint(1, count))]
    return nodes, {f"link {number}": Link(*draw.sample(pair, 2), lines()) for number, pair in enumerate(ends)}


def lost_by_hand(line: Conduit, flow: float) -> float:
    """Darcy-Weisbach with Colebrook in closed form, and K on its own bore: written for this test [m]."""
    speed = 4 * abs(flow) / (math.pi * line.bore_m**2)
    reynolds = speed * line.bore_m / WATER.viscosity_m2_s
    rough = line.roughness_m / line.bore_m
    if reynolds < 2000:
        head = 32 * WATER.viscosity_m2_s * line.length_m * speed / (GRAVITY * line.bore_m**2)
    else:
        turbulent = float(Colebrook(max(reynolds, 2040.0), rough))
        share = min(1.0, (reynolds - 2000) / 40)
        factor = 0.032 + share * (turbulent - 0.032)
        head = factor * line.length_m / line.bore_m * speed**2 / (2 * GRAVITY)
    for fitting in line.resistances:
        head += fitting.k * (4 * flow / (math.pi * fitting.bore_m**2)) ** 2 / (2 * GRAVITY)
    return math.copysign(head, flow)


def second_method(nodes, links, start: Solution, seed: int) -> tuple[dict[str, float], dict[str, float]]:
    """Flows and free heads by a general root finder on energy along each link and water at each node.

    The losses only rise, so there is one root wherever the search begins; it begins well away from `start`.
    """
    draw = random.Random(seed)
    ways, free = list(links), [name for name, node in nodes.items() if isinstance(node, Free)]

    def residual(x: np.ndarray) -> list[float]:
        flows = dict(zip(ways, x[: len(ways)] * 1e-3, strict=True))
        heads = {name: node.head_m for name, node in nodes.items() if isinstance(node, Fixed)}
        heads.update(zip(free, x[len(ways) :], strict=True))
        energy = [
            heads[link.start]
            - heads[link.finish]
            - sum(lost_by_hand(line, flows[name]) for line in link.lines)
            for name, link in links.items()
        ]
        water = [
            sum(flows[name] for name in ways if links[name].finish == node)
            - sum(flows[name] for name in ways if links[name].start == node)
            - nodes[node].draw_m3_s
            for node in free
        ]
        return [*energy, *(1e3 * balance for balance in water)]

    begin = [start.flows[name] * 1e3 * draw.uniform(0.5, 1.5) + draw.uniform(-0.05, 0.05) for name in ways]
    begin += [start.heads[name] + draw.uniform(-0.5, 0.5) for name in free]
    found = root(residual, begin, method="hybr", tol=1e-13, options={"maxfev": 20_000})
    if max(map(abs, residual(found.x))) > 1e-8:
        found = root(residual, found.x, method="lm", tol=1e-14)
    assert max(map(abs, residual(found.x))) < 1e-8, "the second method found no root"
    heads = dict(zip(free, found.x[len(ways) :], strict=True))
    return dict(zip(ways, found.x[: len(ways)] * 1e-3, strict=True)), heads


@pytest.mark.parametrize("loops", [False, True])
@pytest.mark.parametrize("seed", range(25))
def test_a_general_root_finder_agrees(seed: int, loops: bool) -> None:
    """On random trees and loops flows agree to 1e-6 of the largest flow, heads to 1e-6 m."""
    nodes, links = random_network(seed, loops=loops)
    found = solve(nodes, links, WATER)
    flows, heads = second_method(nodes, links, found, seed)
    largest = max(map(abs, found.flows.values()))
    for name, flow in flows.items():
        assert found.flows[name] == pytest.approx(flow, abs=1e-6 * largest)
    for name, head in heads.items():
        assert found.heads[name] == pytest.approx(head, abs=1e-6)
    assert missing(nodes, links, found) < 1e-12


def random_mixture(seed: int, ranges=USUAL):
    """As `random_network`, with pumps, outlets, set valves, drops and shut ways among the links."""
    draw = random.Random(1000 + seed)
    nodes, links = random_network(seed, loops=True, ranges=ranges)
    for name, link in links.items():
        kind = draw.random()
        top = draw.uniform(1.0, 5.0)
        if kind < 0.2:
            curve = PumpCurve(((0.0, top), (5e-4, 0.8 * top), (1.5e-3, draw.choice((0.0, 0.3)) * top)))
            links[name] = replace(link, pump=curve)
        elif kind < 0.4 and int(name.removeprefix("link ")) >= len(nodes) - 1:
            # Only ways across: those of the tree must be able to meet the draws.
            changes = ({"one_way": True}, {"most_m3_s": draw.uniform(0.0, 4e-4)}, {"shut": True})
            links[name] = replace(link, **draw.choice(changes))
        elif kind < 0.5:
            links[name] = replace(link, drop_m=draw.uniform(0.0, 0.3))
    return {
        name: replace(node, draw_m3_s=0.0) if isinstance(node, Free) else node for name, node in nodes.items()
    }, links


def lift_of(link: Link, flow: float) -> float:
    """Head of a link's pump, straight between its points [m]."""
    if link.pump is None:
        return 0.0
    flows, heads = zip(*link.pump.points, strict=True)
    return float(np.interp(flow, flows, heads))


@pytest.mark.parametrize("seed", range(60))
def test_every_link_obeys_its_own_law(seed: int) -> None:
    """Between its stops a link loses what it must; at a stop the heads lean on it the right way."""
    nodes, links = random_mixture(seed)
    found = solve(nodes, links, WATER)
    assert missing(nodes, links, found) < 1e-12
    for name, link in links.items():
        flow = found.flows[name]
        if link.shut:
            assert flow == 0.0
            continue
        run_out = math.inf if link.pump is None else link.pump.run_out_m3_s
        most = min(link.most_m3_s, run_out)
        least = 0.0 if link.one_way or link.pump is not None else -math.inf
        assert least <= flow <= most
        if not {link.start, link.finish} <= set(found.heads):
            assert flow in (0.0, most)
            continue
        lost = sum(lost_by_hand(line, flow) for line in link.lines) + link.drop_m - lift_of(link, flow)
        left = found.heads[link.start] - found.heads[link.finish] - lost
        assert left <= 1e-7 or flow == most
        assert left >= -1e-7 or flow == least
        if name in found.throttled:
            assert found.throttled[name] == pytest.approx(left, abs=1e-7)


def test_wild_networks_are_solved_too() -> None:
    """Bores from 3 to 160 mm and valves from open to all but shut in one network lose no water."""
    for seed in range(300):
        nodes, links = random_mixture(seed, WILD)
        assert missing(nodes, links, solve(nodes, links, WATER)) < 1e-12


def test_where_it_starts_does_not_matter() -> None:
    """Any guess leads to the same flows."""
    nodes, links = random_network(3, loops=True)
    plain = solve(nodes, links, WATER)
    for scale in (0.0, 1.0, -3.0, 1e3):
        guess = {name: scale * flow for name, flow in plain.flows.items()}
        assert solve(nodes, links, WATER, guess).flows == pytest.approx(plain.flows, abs=1e-10)


# --- mistakes --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("nodes", "link", "says"),
    [
        ({"up": Fixed(1.0)}, Link("up", "down", fittings(1.0)), "no node"),
        ({"up": Fixed(1.0), "down": Free()}, Link("up", "down"), "neither resistance nor pump"),
        (
            {"up": Fixed(1.0), "down": Free()},
            Link("up", "down", fittings(0.0)),
            "neither resistance nor pump",
        ),
        ({"up": Fixed(math.nan), "down": Free()}, Link("up", "down", fittings(1.0)), "not finite"),
        (
            {"up": Fixed(1.0), "down": Free()},
            Link("up", "down", fittings(1.0), most_m3_s=-1.0),
            "range",
        ),
        (
            {"up": Fixed(1.0), "down": Free(1e-3)},
            Link("up", "down", fittings(1.0), shut=True),
            "nothing open",
        ),
        (
            {"up": Fixed(1.0), "down": Free(-1e-3)},
            Link("up", "down", fittings(1.0), one_way=True),
            "nothing open",
        ),
        (
            {"up": Fixed(1.0), "down": Free(1e-3)},
            Link("up", "down", fittings(1.0), most_m3_s=5e-4),
            "nothing open",
        ),
    ],
)
def test_unsound_networks_are_refused(nodes, link: Link, says: str) -> None:
    """What no water could obey is said, and not answered with numbers."""
    with pytest.raises(NetworkError, match=says):
        solve(nodes, {"a": link}, WATER)
