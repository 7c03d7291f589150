"""Steady flow in any network of lines, pumps and outlets: loops, several sources, several pumps.

Each link loses head as a rising function of its flow. The flows that carry every draw and close every loop
are then those of least content, the sum of each link's loss integrated over its flow (Birkhoff and Diaz,
Quarterly of Applied Mathematics 13, 1956; Collins et al., Management Science 24, 1978; both from memory): a
convex problem with one answer. Its unknowns are the flows round the loops, so that water is conserved by
construction. It is solved by Newton's method (Epp and Fowler, Journal of the Hydraulics Division 96, 1970,
from memory) with a bracketed search along each step, which holds where a factor jumps or an outlet closes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import inf, isfinite
from typing import TYPE_CHECKING, TypeAlias

from autoplan.hydraulics.conduit import Conduit
from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.search import root
from autoplan.hydraulics.water import Water

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

STIFF = 1e9
"""Head that a closed way out or a pump past its run-out takes, for each unit of flow beyond [m/(m3/s)].

Used on the way to the answer only: in the end such links carry just what they may."""

HEAD_CLOSURE = 1e-10
"""Head by which a loop may fail to close [m]."""

ROUNDED = 2e-15
"""Share of a head or a flow that is lost to rounding [-]."""

ALONG = 1e-6
"""How closely the place along a step is found where it goes too far, over the step [-]."""

MOST_STEPS = 300
"""Newton's steps for one search; random networks of bores from 2 to 160 mm and K to 1e9 took 90 at most."""

_FLATTEST = 1e-3
"""Least slope that a step reckons with, so that still fittings do not send it to infinity [m/(m3/s)]."""

_TINY_FLOW = 1e-12
_SLOPE_STEP = 1e-6


class NetworkError(ValueError):
    """The network has no steady flow: a link ends nowhere, or a draw has no water that could reach it."""


@dataclass(frozen=True, slots=True)
class Fixed:
    """A node held at a head [m]: the water of a vessel, or an open outlet at its height."""

    head_m: float


@dataclass(frozen=True, slots=True)
class Free:
    """A node whose head follows from the flows, and what is drawn from it [m3/s]; below 0 it is fed."""

    draw_m3_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Link:
    """A way for water from one node to another.

    Attributes:
        start, finish: nodes; flow counts as positive from start to finish.
        lines: what it passes, in series; at least one with some resistance unless there is a pump.
        back: the lines as water running backwards meets them, or None for the same.
        pump: lifts from start to finish; lets nothing back and gives no more than its run-out.
        one_way: whether it lets water through from start to finish only: an outlet in air, a check valve.
        shut: whether it lets nothing through.
        drop_m: further head lost, whatever the flow [m].
        most_m3_s: flow that a valve on it is set to let through at most [m3/s], 0 or more.
    """

    start: str
    finish: str
    lines: tuple[Conduit, ...] = ()
    back: tuple[Conduit, ...] | None = None
    pump: PumpCurve | None = None
    one_way: bool = False
    shut: bool = False
    drop_m: float = 0.0
    most_m3_s: float = inf


@dataclass(frozen=True)
class Solution:
    """Steady flow; heads are worked out when they are first asked for, since many want only the flows.

    Attributes:
        flows: by link [m3/s].
        told: works out `heads` and `throttled`.
    """

    flows: Mapping[str, float]
    told: Callable[[], tuple[dict[str, float], dict[str, float]]] = field(repr=False, compare=False)

    @cached_property
    def _told(self) -> tuple[dict[str, float], dict[str, float]]:
        return self.told()

    @property
    def heads(self) -> Mapping[str, float]:
        """Head by node [m]; nodes that nothing open joins to a fixed head are left out."""
        return self._told[0]

    @property
    def throttled(self) -> Mapping[str, float]:
        """Head [m] that the valve of each link takes which carries its `most_m3_s`."""
        return self._told[1]


def solve(
    nodes: Mapping[str, Fixed | Free],
    links: Mapping[str, Link],
    water: Water,
    guess: Mapping[str, float] | None = None,
) -> Solution:
    """Steady flow of a network.

    Args:
        nodes: by name.
        links: by name.
        water: gives the kinematic viscosity.
        guess: flows to start from [m3/s]; nearer is faster, and the answer is the same.

    Returns:
        Flows, heads and what throttled valves take. Draws are met to rounding at every free node, and loops
        close to 1e-10 m.

    Raises:
        NetworkError: a link names no node or has no resistance, a number is out of range, or draws cannot be
            met by what is open. Also if the search takes too many steps, which no random network has done.
    """
    _check(nodes, links)
    laws = {name: _Law(link, water) for name, link in links.items() if not link.shut}
    held: dict[str, float] = {}
    flows = whole = _descend(nodes, laws, held, guess or {})
    while beyond := _beyond(laws, flows, held):
        held.update(beyond)
        flows = _descend(nodes, laws, held, flows)
    found = {name: flows.get(name, 0.0) for name in links}
    return Solution(found, lambda: _told(nodes, laws, held, flows, whole))


def _told(
    nodes: Mapping[str, Fixed | Free],
    laws: Mapping[str, _Law],
    held: Mapping[str, float],
    flows: Mapping[str, float],
    whole: Mapping[str, float],
) -> tuple[dict[str, float], dict[str, float]]:
    """Heads by node, and what throttled valves take by link [m].

    Args:
        nodes, laws: the network.
        held: links that were held at what they may carry [m3/s].
        flows: all flows with those held; `whole` those before any was [m3/s].
    """
    heads = _heads(nodes, laws, flows, [name for name in laws if name not in held])
    full = [name for name in held if held[name] > 0.0]
    first = _heads(nodes, laws, whole, laws) if full else {}
    for name in full:
        # Between two valves set to the same flow any head will do: the one on the way to the answer serves.
        for node in (laws[name].link.start, laws[name].link.finish):
            if node in first:
                heads.setdefault(node, first[node])
    throttled = {
        name: max(0.0, heads[laws[name].link.start] - heads[laws[name].link.finish] - laws[name](held[name]))
        for name in full
        if laws[name].link.most_m3_s == held[name]
        and laws[name].link.start in heads
        and laws[name].link.finish in heads
    }
    return heads, throttled


def _check(nodes: Mapping[str, Fixed | Free], links: Mapping[str, Link]) -> None:
    for name, node in nodes.items():
        if not isfinite(node.head_m if isinstance(node, Fixed) else node.draw_m3_s):
            raise NetworkError(f"node {name}: its number is not finite")
    for name, link in links.items():
        for end in (link.start, link.finish):
            if end not in nodes:
                raise NetworkError(f"link {name} ends at {end}, which is no node")
        if not (isfinite(link.drop_m) and link.most_m3_s >= 0.0):
            raise NetworkError(f"link {name}: its drop or its most is out of range")
        for lines in (link.lines, link.back or link.lines):
            resists = any(line.length_m > 0.0 or any(r.k > 0.0 for r in line.resistances) for line in lines)
            if not resists and link.pump is None:
                raise NetworkError(f"link {name} has neither resistance nor pump")


class _Law:
    """Head lost along a link [m]: a continuous function of flow that rises all the way."""

    def __init__(self, link: Link, water: Water) -> None:
        self.link = link
        self.water = water
        self.lines = link.lines
        self.back = link.lines if link.back is None else link.back
        self.least = 0.0 if link.one_way or link.pump is not None else -inf
        self.most = min(link.most_m3_s, inf if link.pump is None else link.pump.run_out_m3_s)

    def __call__(self, flow: float) -> float:
        inside = self.least if flow < self.least else self.most if flow > self.most else flow
        lost = self.link.drop_m
        if inside < 0.0:
            for line in self.back:
                lost -= line.loss(-inside, self.water)
        else:
            for line in self.lines:
                lost += line.loss(inside, self.water)
        if self.link.pump is not None:
            lost -= self.link.pump.head(inside)
        return lost + STIFF * (flow - inside)

    def slope(self, flow: float, here: float) -> float:
        """Head for each unit of flow [m/(m3/s)] where the loss is `here`."""
        if not self.least <= flow <= self.most:
            return STIFF
        step = _SLOPE_STEP * abs(flow) + _TINY_FLOW
        step = step if flow + step <= self.most else -step
        return max((self(flow + step) - here) / step, _FLATTEST)


def _beyond(
    laws: Mapping[str, _Law], flows: Mapping[str, float], held: Mapping[str, float]
) -> dict[str, float]:
    """Links that carry what they may not, and what they may [m3/s]; pumps only when nothing else does.

    A closed way out leans on the pump behind it, which need not be past its own limits once that is held.
    """
    found = {
        name: min(max(flows[name], law.least), law.most)
        for name, law in laws.items()
        if name not in held and not law.least <= flows[name] <= law.most
    }
    ways = {name: flow for name, flow in found.items() if laws[name].link.pump is None}
    return ways or found


def _descend(
    nodes: Mapping[str, Fixed | Free],
    laws: Mapping[str, _Law],
    held: Mapping[str, float],
    guess: Mapping[str, float],
) -> dict[str, float]:
    """Flows of least content [m3/s] with some links held at theirs."""
    draws = {name: node.draw_m3_s for name, node in nodes.items() if isinstance(node, Free)}
    for name, flow in held.items():
        for end, sign in ((laws[name].link.start, 1.0), (laws[name].link.finish, -1.0)):
            if end in draws:
                draws[end] += sign * flow
    free = {name: law for name, law in laws.items() if name not in held}
    return {**_Loops(nodes, free, draws).solve(guess), **held}


class _Loops:
    """The loops of a network and its flows in terms of them.

    Nodes of fixed head count as one, the ground. Each link outside a tree of ways from the ground makes a
    loop with it; a loop through the ground runs between two fixed heads.
    """

    def __init__(
        self, nodes: Mapping[str, Fixed | Free], laws: Mapping[str, _Law], draws: Mapping[str, float]
    ) -> None:
        import numpy as np

        self.names = list(laws)
        self.laws = list(laws.values())
        ends = [(law.link.start, law.link.finish) for law in self.laws]
        ways, roots = _tree(nodes, ends)
        inside = {number for way in ways.values() for number, _ in way}
        self.chords = [number for number in range(len(ends)) if number not in inside]
        self.through = np.zeros((len(ends), len(self.chords)))
        for column, chord in enumerate(self.chords):
            self.through[chord, column] = 1.0
            start, finish = ends[chord]
            for end, sign in ((start, 1.0), (finish, -1.0)):
                for number, forward in ways[end]:
                    self.through[number, column] += sign * forward
        self.base = np.zeros(len(ends))
        spare: dict[str, float] = {}
        for name, draw in draws.items():
            for number, forward in ways[name]:
                self.base[number] += forward * draw
            spare[roots[name]] = spare.get(roots[name], 0.0) + draw
        for begin, draw in spare.items():
            if isinstance(nodes[begin], Free) and abs(draw) > _TINY_FLOW:
                raise NetworkError(f"nothing open leads to {begin} for the {draw:g} m3/s drawn there")
        heads = {name: node.head_m for name, node in nodes.items() if isinstance(node, Fixed)}
        self.fixed = np.array([heads.get(start, 0.0) - heads.get(finish, 0.0) for start, finish in ends])

    def solve(self, guess: Mapping[str, float]) -> dict[str, float]:
        import numpy as np

        round_loops = np.array([guess.get(self.names[chord], 1e-4) for chord in self.chords])
        if not self.chords:
            return dict(zip(self.names, self.base.tolist(), strict=True))
        losses = self._losses(round_loops)
        for _ in range(MOST_STEPS):
            slopes = self._slopes(round_loops, losses)
            if self._closes(round_loops, losses, slopes):
                break
            round_loops, losses = self._step(round_loops, losses, slopes)
        else:
            raise NetworkError(f"the loops do not close in {MOST_STEPS} steps")
        return dict(zip(self.names, self._flows(round_loops).tolist(), strict=True))

    def _flows(self, round_loops: Array) -> Array:
        flows: Array = self.base + self.through @ round_loops
        return flows

    def _losses(self, round_loops: Array) -> Array:
        """Head lost along each link, less what fixed heads at its ends drive it with [m]."""
        import numpy as np

        flows = self._flows(round_loops).tolist()
        lost = np.array([law(flow) for law, flow in zip(self.laws, flows, strict=True)])
        gaps: Array = lost - self.fixed
        return gaps

    def _slopes(self, round_loops: Array, losses: Array) -> Array:
        import numpy as np

        flows = self._flows(round_loops).tolist()
        whole = (losses + self.fixed).tolist()
        return np.array([law.slope(*at) for law, *at in zip(self.laws, flows, whole, strict=True)])

    def _closes(self, round_loops: Array, losses: Array, slopes: Array) -> bool:
        """Whether every loop closes, or comes as near to it as the last digit of the flows lets it."""
        import numpy as np

        passing = np.abs(self.base) + np.abs(self.through) @ np.abs(round_loops)
        rounding = ROUNDED * (np.abs(losses + self.fixed) + slopes * passing)
        gaps = np.abs(self.through.T @ losses)
        return bool(np.all(gaps <= HEAD_CLOSURE + np.abs(self.through.T) @ rounding))

    def _step(self, round_loops: Array, losses: Array, slopes: Array) -> tuple[Array, Array]:
        """Newton's step, shortened to the place along it where the content is least if it goes too far.

        Returns:
            Flows round the loops [m3/s], and what is lost there along each link [m].
        """
        import numpy as np

        gaps = self.through.T @ losses
        curvature = self.through.T @ (slopes[:, None] * self.through)
        # Slopes lie up to twelve decades apart: the matrix is scaled, and propped up against rounding.
        scale = np.sqrt(np.diag(curvature))
        scaled = curvature / np.outer(scale, scale) + ROUNDED * len(scale) * np.eye(len(scale))
        step: Array = -np.linalg.solve(scaled, gaps / scale) / scale

        along = self.through @ step

        def rise(share: float) -> float:
            return float(along @ self._losses(round_loops + share * step))

        before, whole = float(step @ gaps), round_loops + step
        after = self._losses(whole)
        if before >= 0.0 or float(along @ after) <= -0.5 * before:
            return whole, after
        shorter = round_loops + root(rise, 0.0, 1.0, ALONG)[0] * step
        return shorter, self._losses(shorter)


Way: TypeAlias = tuple[tuple[int, float], ...]
"""Links passed, each with 1 where it is passed from start to finish, else -1."""


def _tree(
    nodes: Mapping[str, Fixed | Free], ends: Sequence[tuple[str, str]]
) -> tuple[dict[str, Way], dict[str, str]]:
    """A way to each node from the ground, or from the first node of a part that has no ground.

    Returns:
        The way by node, and the node it begins at by node.
    """
    meets: dict[str, list[tuple[int, float, str]]] = {name: [] for name in nodes}
    for number, (start, finish) in enumerate(ends):
        meets[start].append((number, 1.0, finish))
        meets[finish].append((number, -1.0, start))
    ways: dict[str, Way] = {}
    roots: dict[str, str] = {}
    ground = [name for name, node in nodes.items() if isinstance(node, Fixed)]
    for begin in (ground, *([name] for name in nodes)):
        queue = deque(name for name in begin if name not in ways)
        ways.update((name, ()) for name in queue)
        roots.update((name, name) for name in queue)
        while queue:
            here = queue.popleft()
            for number, forward, there in meets[here]:
                if there not in ways:
                    ways[there] = (*ways[here], (number, forward))
                    roots[there] = roots[here]
                    queue.append(there)
    return ways, roots


def _heads(
    nodes: Mapping[str, Fixed | Free],
    laws: Mapping[str, _Law],
    flows: Mapping[str, float],
    open_links: Iterable[str],
) -> dict[str, float]:
    """Head [m] of every node that open links join to a fixed head."""
    names = list(open_links)
    ends = [(laws[name].link.start, laws[name].link.finish) for name in names]
    ways, roots = _tree(nodes, ends)
    lost = [laws[name](flows[name]) for name in names]
    heads: dict[str, float] = {}
    for node, way in ways.items():
        root = nodes[roots[node]]
        if isinstance(root, Fixed):
            heads[node] = root.head_m - sum(forward * lost[number] for number, forward in way)
    return heads
