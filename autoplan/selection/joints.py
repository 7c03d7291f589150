"""What joins where runs meet: the adaptors at a pump's outlet, the tee and adaptors at a junction.

A joint is tied to the openings that meet, not to whole candidates: a small transport block, its sums over
each run's sizes equal to the choices of those sizes. (The clause form of the same thing, "not this size or
not that size or this joint", takes the solver minutes where the block takes it a moment.)

A tee sits on the run that carries the whole flow, in that run's own size; sizes step down from the tee to
the other two and never up, as the trade does it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from autoplan.catalog.parts import End, Tee
from autoplan.problem.site import Flow, Run, RunKind
from autoplan.rules.circuit import passage_loss, tee_loss
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.selection.model import Model
from autoplan.selection.shelf import Shelf
from autoplan.units import tenth_mm_up

Key = tuple[End, float]
"""An opening and the bore behind it [m]."""

SizeChoices = Mapping[Key, Sequence[Var]]
"""For each opening a run may have, the choices that give it that opening."""

MOST_ADAPTORS = 3
"""Longest chain of adaptors from a tee to a run: each joint is one more to leak."""


class Joint(Protocol):
    """The ways in which what meets at one place can be joined."""

    def loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:
        """Loss from one run into the next [0.1 mm, rounded up], at the given flows by run [m3/s]."""

    def rated(self) -> Sequence[Sequence[tuple[Var, float]]]:
        """Groups of choices with their pressure rating [m of water]; of each group one is made."""

    def parts(self) -> Iterator[tuple[Var, Counter[str]]]:
        """Every choice with the parts it uses, stubs of pipe among them."""

    def drawn(self, values: Sequence[int]) -> JointDrawn:
        """What an answer chooses here."""

    def choices(self) -> Iterator[Var]:
        """Every choice."""


@dataclass(frozen=True, slots=True)
class JointDrawn:
    """A joint as chosen: the tee if any, its runs (run, run, branch), the adaptors to each run."""

    tee: str | None
    ports: tuple[str, ...]
    chains: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class InLineWay:
    """Adaptors from one opening to another."""

    keys: tuple[Key, Key]
    chain: tuple[str, ...]
    bore_m: float
    rating_m: float


class InLine:
    """Two openings in line: a pump's outlet and its main, or two runs of different size.

    Args:
        names: what meets, in the direction of flow; the adaptors are drawn at the second.
        ways: each way with its choice.
    """

    def __init__(self, names: tuple[str, str], ways: Sequence[tuple[Var, InLineWay]]) -> None:
        self.names = names
        self.ways = ways

    def loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:  # noqa: ARG002
        """Loss through the adaptors, at the flow of the second."""
        return weighted(
            (var, tenth_mm_up(passage_loss(way.keys[0][1], way.bore_m, way.keys[1][1], flows[self.names[1]])))
            for var, way in self.ways
        )

    def rated(self) -> Sequence[Sequence[tuple[Var, float]]]:
        """One group."""
        return [[(var, way.rating_m) for var, way in self.ways]]

    def parts(self) -> Iterator[tuple[Var, Counter[str]]]:
        """The adaptors of each way."""
        for var, way in self.ways:
            yield var, Counter(way.chain)

    def drawn(self, values: Sequence[int]) -> JointDrawn:
        """The chosen adaptors, drawn at the second."""
        (way,) = [way for var, way in self.ways if values[var]]
        return JointDrawn(None, self.names, {self.names[0]: (), self.names[1]: way.chain})

    def choices(self) -> Iterator[Var]:
        """Every way."""
        return (var for var, _ in self.ways)


@dataclass(frozen=True, slots=True)
class TeeWay:
    """A tee on the trunk: its part, the trunk's opening, and which of the other runs takes the branch."""

    tee: Tee
    trunk: Key
    ports: tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class PortWay:
    """Adaptors from one of a tee's openings to a run."""

    opening: Key
    run: Key
    chain: tuple[str, ...]
    bore_m: float
    rating_m: float


class Teed:
    """Three runs at a tee.

    Args:
        trunk: the run that carries the whole flow.
        tees: each tee and orientation with its choice.
        ports: for each of the other runs, each way to reach it with its choice.
    """

    def __init__(
        self,
        trunk: str,
        tees: Sequence[tuple[Var, TeeWay]],
        ports: Mapping[str, Sequence[tuple[Var, PortWay]]],
    ) -> None:
        self.trunk = trunk
        self.tees = tees
        self.ports = ports

    def loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:
        """Loss into, through and out of the tee; only paths that use the trunk exist."""
        other = goes if came == self.trunk else came
        through = weighted(
            (var, tenth_mm_up(self._tee_loss(way, came, goes, flows))) for var, way in self.tees
        )
        beyond = weighted(
            (var, tenth_mm_up(passage_loss(way.opening[1], way.bore_m, way.run[1], flows[other])))
            for var, way in self.ports[other]
        )
        return total((through, beyond))

    def _tee_loss(self, way: TeeWay, came: str, goes: str, flows: Mapping[str, float]) -> float:
        other = goes if came == self.trunk else came
        at_trunk = passage_loss(way.trunk[1], float("inf"), way.tee.bore_m, flows[self.trunk])
        return at_trunk + tee_loss(way.tee, flows[came], flows[goes], by_branch=way.ports[2] == other)

    def rated(self) -> Sequence[Sequence[tuple[Var, float]]]:
        """The tee, and the adaptors to each of the other runs."""
        groups = [[(var, way.tee.rating_m) for var, way in self.tees]]
        return groups + [[(var, way.rating_m) for var, way in ways] for ways in self.ports.values()]

    def parts(self) -> Iterator[tuple[Var, Counter[str]]]:
        """The tee, and the adaptors of each way."""
        for var, tee in self.tees:
            yield var, Counter((tee.tee.id,))
        for ways in self.ports.values():
            for var, way in ways:
                yield var, Counter(way.chain)

    def drawn(self, values: Sequence[int]) -> JointDrawn:
        """The chosen tee and adaptors."""
        (tee,) = [way for var, way in self.tees if values[var]]
        chains: dict[str, tuple[str, ...]] = {self.trunk: ()}
        for run, ways in self.ports.items():
            (chains[run],) = [way.chain for var, way in ways if values[var]]
        return JointDrawn(tee.tee.id, tee.ports, chains)

    def choices(self) -> Iterator[Var]:
        """Every tee and every way to reach a run."""
        yield from (var for var, _ in self.tees)
        for ways in self.ports.values():
            yield from (var for var, _ in ways)


def encode_in_line(
    model: Model,
    shelf: Shelf,
    place: str,
    names: tuple[str, str],
    sizes: tuple[SizeChoices, SizeChoices],
    *,
    under_pressure: bool,
) -> InLine | None:
    """Join two openings in line; None where no adaptors reach any pair."""
    ways = []
    for a in sizes[0]:
        for b in sizes[1]:
            chain = shelf.chain(a[0], b[0], under_pressure=under_pressure)
            if chain is not None:
                way = InLineWay((a, b), chain.parts, chain.bore_m, chain.rating_m)
                ways.append((model.choice(f"{place}: {a[0]} {a[1]} to {b[0]} {b[1]}"), way))
    if not ways:
        return None
    model.exactly_one([var for var, _ in ways])
    for side in (0, 1):
        for key, variables in sizes[side].items():
            meets = weighted((var, 1) for var, way in ways if way.keys[side] == key)
            model.equal(meets, weighted((var, 1) for var in variables))
    return InLine(names, ways)


def encode_tee(
    model: Model,
    shelf: Shelf,
    place: str,
    runs: Sequence[Run],
    flows: Mapping[str, Flow],
    sizes: Mapping[str, SizeChoices],
) -> Teed | None:
    """Join three runs by a tee; None where no tee and adaptors reach.

    Args:
        model, shelf, place: the model, the parts, and the junction's name.
        runs: the three runs that meet.
        flows: design flows.
        sizes: by run name, its openings and the choices that give it each.
    """
    under_pressure = runs[0].kind is RunKind.PRESSURE
    trunk = max(runs, key=lambda run: flows[run.name].design_m3_s).name
    others = [run.name for run in runs if run.name != trunk]
    tees = _tee_ways(shelf, trunk, others, sizes)
    openings = list(dict.fromkeys((end, way.tee.bore_m) for way in tees for end in way.tee.ends[1:]))
    ports = {run: _port_ways(shelf, openings, list(sizes[run]), under_pressure) for run in others}
    if not tees or not all(ports.values()):
        return None
    chosen = [(model.choice(f"{place}: {way.tee.id} {way.trunk} {way.ports}"), way) for way in tees]
    reached = {
        run: [(model.choice(f"{place}: {run} {way.opening} {way.run}"), way) for way in ways]
        for run, ways in ports.items()
    }
    model.exactly_one([var for var, _ in chosen])
    for key, variables in sizes[trunk].items():
        meets = weighted((var, 1) for var, way in chosen if way.trunk == key)
        model.equal(meets, weighted((var, 1) for var in variables))
    for run in others:
        model.exactly_one([var for var, _ in reached[run]])
        for key, variables in sizes[run].items():
            meets = weighted((var, 1) for var, way in reached[run] if way.run == key)
            model.equal(meets, weighted((var, 1) for var in variables))
        for opening in openings:
            leaves = weighted((var, 1) for var, way in reached[run] if way.opening == opening)
            offers = weighted((var, 1) for var, way in chosen if _opening_for(way, run) == opening)
            model.equal(leaves, offers)
    return Teed(trunk, chosen, reached)


def _tee_ways(
    shelf: Shelf, trunk: str, others: Sequence[str], sizes: Mapping[str, SizeChoices]
) -> list[TeeWay]:
    """Tees that take the trunk as it is, either way round; of tees alike but in price the cheaper."""
    ways: dict[object, TeeWay] = {}
    for key in sizes[trunk]:
        for tee in shelf.tees():
            if not shelf.joining.mates(tee.ends[0], key[0]):
                continue
            for straight, branch in ((others[0], others[1]), (others[1], others[0])):
                alike = (key, tee.ends, tee.angle, tee.bore_m, tee.rating_m, straight)
                other = ways.get(alike)
                if other is None or shelf.beats(tee.id, other.tee.id):
                    ways[alike] = TeeWay(tee, key, (trunk, straight, branch))
    return list(ways.values())


def _port_ways(
    shelf: Shelf, openings: Sequence[Key], keys: Sequence[Key], under_pressure: bool
) -> list[PortWay]:
    """Adaptors from a tee's openings to a run, where they are few and do not widen."""
    ways = []
    for opening in openings:
        for key in keys:
            chain = shelf.chain(opening[0], key[0], under_pressure=under_pressure)
            if chain is None or len(chain.parts) > MOST_ADAPTORS:
                continue
            if chain.parts and shelf.nominal(key[0]) > shelf.nominal(opening[0]):
                continue
            ways.append(PortWay(opening, key, chain.parts, chain.bore_m, chain.rating_m))
    return ways


def _opening_for(way: TeeWay, run: str) -> Key:
    return way.tee.ends[way.ports.index(run)], way.tee.bore_m
