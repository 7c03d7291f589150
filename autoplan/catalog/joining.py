"""Which opening mates with which, and the cheapest adaptors between two that do not.

A rigid pipe is named by its outside, poly line and hose by their bore, and systems never mate with each
other: metric, inch and iron-size pipe differ by too little to see and too much to seal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from autoplan.catalog.parts import Adaptor, Catalog, End, Part, Penetration, Pipe, Pump, Tee, Turn, Valve

STUB_M = 0.08
"""Length of a piece of pipe that joins two sockets [m]; common practice, no source."""

MOST_PARTS = 4
"""Longer chains are not offered: each joint is one more to leak."""

_MATING = frozenset(
    frozenset(pair)
    for pair in (("socket", "spigot"), ("seal", "spigot"), ("barb", "bore"), ("male", "female"))
)
_SEALING = {("R", "G"), ("R", "Rp"), ("R", "Rc"), ("G", "Rp")}
"""(male, female) thread systems that seal with tape beside those of equal name, after ISO 7-1: a taper male
in a parallel or taper female. A parallel male in a taper female touches at one turn and does not. `G` and
`Rp` are the same parallel thread, `R` (male) and `Rc` (female) the taper one."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Adaptors in a row.

    Attributes:
        parts: part ids from the first opening to the second; the id of a pipe stands for a stub of it.
        cost_cents: sum over the parts, each at its least price for one piece.
        bore_m: smallest passage [m], infinite if there are no parts.
        rating_m: least pressure rating [m of water], infinite if there are no parts.
        stubs: the pipes among the parts, in order.
    """

    parts: tuple[str, ...] = ()
    cost_cents: int = 0
    bore_m: float = math.inf
    rating_m: float = math.inf
    stubs: tuple[str, ...] = ()


_Label = tuple[int, tuple[str, ...]]
"""Cost in cents, and the parts so far."""


class Joining:
    """The joining graph of a catalogue.

    Args:
        catalog: where the adaptors and the pipe for stubs come from.
        without: ids of parts that may not be used.
    """

    def __init__(self, catalog: Catalog, without: frozenset[str] = frozenset()) -> None:
        self._catalog = catalog
        self._without = without
        self._found: dict[tuple[End, float], dict[End, _Label]] = {}
        self._chains: dict[tuple[End, End, float], Chain | None] = {}
        self._steps: dict[float, dict[End, list[tuple[int, str, End]]]] = {}

    @staticmethod
    def mates(a: End, b: End) -> bool:
        """Whether two openings join without anything between them, in either order."""
        if frozenset((a.form, b.form)) not in _MATING or a.size != b.size:
            return False
        if a.system == b.system:
            return True
        male, female = (a, b) if a.form == "male" else (b, a)
        return male.form == "male" and (male.system, female.system) in _SEALING

    @cached_property
    def graph(self) -> Any:
        """A networkx multigraph: nodes are openings, edges are adaptors and stubs.

        An edge from u to v keyed by a part says: the part mates with opening u and leaves opening v. Its data
        are `cents`, `rating_m` and `stub`. A seal takes nothing but pipe, so only stubs leave one.
        """
        from networkx import MultiDiGraph

        graph = MultiDiGraph()
        for opening in sorted({end for part in self._parts() for end in ends_of(part)}):
            self._connect(graph, opening)
        return graph

    def _connect(self, graph: Any, opening: End) -> None:
        """Add an opening and every step from it."""
        graph.add_node(opening)
        for part, near, far in self._pieces:
            stub = isinstance(part, Pipe)
            if self.mates(opening, near) and (stub or opening.form != "seal"):
                cents = _stub_cents(part) if isinstance(part, Pipe) else _cents(part)
                graph.add_edge(opening, far, part.id, cents=cents, rating_m=part.rating_m, stub=stub)

    def chain(self, a: End, b: End, need_rating_m: float = 0.0) -> Chain | None:
        """The cheapest adaptors from opening a to opening b, fewest and first by id among equals.

        Args:
            a, b: openings; nothing is needed if they mate.
            need_rating_m: least pressure rating of each part [m of water].

        Returns:
            The chain, or None if none of up to `MOST_PARTS` parts joins them.
        """
        key = (a, b, self._rating_step(need_rating_m))
        if key not in self._chains:
            self._chains[key] = self._look_up(*key)
        return self._chains[key]

    def _look_up(self, a: End, b: End, need: float) -> Chain | None:
        if self.mates(a, b):
            return Chain()
        if b.form == "seal" and a.form != "seal":
            back = self.chain(b, a, need)
            return None if back is None else self._chain(back.parts[::-1], back.cost_cents)
        reached = self._reach(a, need)
        best = min(
            ((cents, len(parts), parts) for end, (cents, parts) in reached.items() if self.mates(end, b)),
            default=None,
        )
        return None if best is None else self._chain(best[2], best[0])

    def _chain(self, parts: tuple[str, ...], cents: int) -> Chain:
        pipes, adaptors = self._catalog.pipes, self._catalog.adaptors
        rows = [adaptors[part] if part in adaptors else pipes[part] for part in parts]
        return Chain(
            parts,
            cents,
            min((row.bore_m for row in rows), default=math.inf),
            min((row.rating_m for row in rows), default=math.inf),
            tuple(part for part in parts if part in pipes),
        )

    def _reach(self, a: End, need: float) -> dict[End, _Label]:
        """Cheapest way to every opening that up to `MOST_PARTS` parts reach from a."""
        if (a, need) not in self._found:
            if a not in self.graph:
                self._connect(self.graph, a)
                self._steps.clear()
            steps = self._steps_for(need)
            best: dict[End, _Label] = {}
            frontier: dict[End, _Label] = {a: (0, ())}
            for _ in range(MOST_PARTS):
                ahead: dict[End, _Label] = {}
                for end, (cents, parts) in frontier.items():
                    for price, part, far in steps.get(end, ()):
                        label = (cents + price, (*parts, part))
                        known = ahead.get(far) or best.get(far)
                        if known is None or label[0] < known[0] or (far in ahead and label < known):
                            ahead[far] = label
                best |= ahead
                frontier = ahead
            self._found[a, need] = best
        return self._found[a, need]

    def _steps_for(self, need: float) -> dict[End, list[tuple[int, str, End]]]:
        """The graph's edges of that rating or more, one of those in parallel: (cents, part, to).

        It is the cheapest; but a stub comes from pipe by the metre where there is some, since a stick is
        bought whole.
        """
        if need not in self._steps:
            sticks = {part for part, pipe in self._catalog.pipes.items() if pipe.stick_m > 0}
            steps: dict[End, list[tuple[int, str, End]]] = {}
            for opening, ahead in self.graph.adjacency():
                for far, edges in ahead.items():
                    enough = [
                        (part in sticks, data["cents"], part)
                        for part, data in edges.items()
                        if data["rating_m"] >= need
                    ]
                    if enough:
                        _, cents, part = min(enough)
                        steps.setdefault(opening, []).append((cents, part, far))
            self._steps[need] = steps
        return self._steps[need]

    def _rating_step(self, need: float) -> float:
        """The least rating in the catalogue that will do, so that equal questions have one answer kept."""
        return min((rating for rating in self._ratings if rating >= need), default=math.inf)

    @cached_property
    def _ratings(self) -> tuple[float, ...]:
        return tuple(sorted({part.rating_m for part, _, _ in self._pieces}))

    def _parts(self) -> Iterator[Part]:
        for group in self._catalog.groups():
            yield from group.values()

    @cached_property
    def _pieces(self) -> list[tuple[Adaptor | Pipe, End, End]]:
        """Each adaptor both ways round, and each rigid pipe with spigots as a stub."""
        pieces: list[tuple[Adaptor | Pipe, End, End]] = []
        for part in self._catalog.adaptors.values():
            if part.id not in self._without:
                pieces += [(part, near, far) for near, far in {part.ends: 0, part.ends[::-1]: 0}]
        for pipe in self._catalog.pipes.values():
            if pipe.id not in self._without and pipe.end.form == "spigot" and pipe.bend_radius_m == 0:
                pieces.append((pipe, pipe.end, pipe.end))
        return pieces


def ends_of(part: Part) -> tuple[End, ...]:
    """The openings of any part, in the order of its row."""
    if isinstance(part, Pipe):
        return (part.end,)
    if isinstance(part, Pump):
        return (part.outlet,)
    if isinstance(part, Turn | Tee | Adaptor | Valve | Penetration):
        return part.ends
    raise TypeError(f"{type(part).__name__} has no ends")


def _cents(part: Part) -> int:
    """Least price of one piece, or one stick or metre of pipe, rounded up to whole cents."""
    return min(-(-offer.price_cents // offer.pack) for offer in part.offers)


def _stub_cents(pipe: Pipe) -> int:
    """Price of the stub's length of a pipe, rounded up to whole cents."""
    return math.ceil(_cents(pipe) * STUB_M / (pipe.stick_m or 1.0) - 1e-9)
