"""What joins where runs meet: the adaptors at a pump's outlet, the tee and adaptors at a junction.

A joint is tied to the openings that meet, not to whole candidates: a small transport block, its sums over
each run's sizes equal to the choices of those sizes. (The clause form of the same thing, "not this size or
not that size or this joint", takes the solver minutes where the block takes it a moment.)

A tee sits on the run that carries the whole flow, in that run's own size; sizes step down from the tee to
the other two and never up, as the trade does it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import add, and_, sub
from typing import Protocol

from autoplan.catalog.joining import Chain, Need
from autoplan.catalog.kinds.tee import BRANCH
from autoplan.catalog.parts import End, Tee
from autoplan.fittings.tee import tee_loss
from autoplan.line.needs import Want
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.tees import Bores, better_tee, worst_passage
from autoplan.optimiser.options.consumables import Counting, Needs
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Flow, Run, RunKind
from autoplan.rules.asked import Narrowed, OnBranch
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.units import tenth_mm_up


@dataclass(frozen=True, slots=True)
class OpeningSize:
    """One opening that a run or pump may have: the bores behind it [m], and the choices that give it.

    A joint is chosen by openings alone, and loses what the worst pair of bores behind them would: pipe of one
    opening differs by the wall, and the joint by tenths of a millimetre, where a choice for each pair of
    bores would make the model several times as large.
    """

    bores: Bores
    choices: tuple[Var, ...]


Sizes = Mapping[End, OpeningSize]


def by_opening(found: Iterable[tuple[End, float, Var]]) -> dict[End, OpeningSize]:
    """Choices gathered by the opening that they give, with the bores behind it."""
    bores: dict[End, set[float]] = {}
    choices: dict[End, list[Var]] = {}
    for end, bore, var in found:
        bores.setdefault(end, set()).add(bore)
        choices.setdefault(end, []).append(var)
    return {end: OpeningSize(tuple(sorted(bores[end])), tuple(choices[end])) for end in choices}


MOST_ADAPTORS = 3
"""Longest chain of adaptors from a tee to a run: each joint is one more to leak."""


class JointChoice(Protocol):
    """The ways in which what meets at one place can be joined."""

    def loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:
        """Loss from one run into the next [0.1 mm, rounded up], at the given flows by run [m3/s]."""

    def rated(self) -> Sequence[Sequence[tuple[Var, float]]]:
        """Groups of choices with their pressure rating [m of water]; of each group one is made."""

    def parts(self) -> Iterator[tuple[Var, Counter[str]]]:
        """Every choice with the parts it uses, stubs of pipe among them."""

    def needs(self) -> Iterator[tuple[Var, Needs, Needs]]:
        """Every choice with what its joints take, welded and screwed."""

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

    keys: tuple[End, End]
    bores: tuple[Bores, Bores]
    chain: tuple[str, ...]
    bore_m: float
    rating_m: float
    needs: tuple[Needs, Needs]


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
            (var, tenth_mm_up(worst_passage(way.bores, way.bore_m, flows[self.names[1]])))
            for var, way in self.ways
        )

    def rated(self) -> Sequence[Sequence[tuple[Var, float]]]:
        """One group."""
        return [[(var, way.rating_m) for var, way in self.ways]]

    def parts(self) -> Iterator[tuple[Var, Counter[str]]]:
        """The adaptors of each way."""
        for var, way in self.ways:
            yield var, Counter(way.chain)

    def needs(self) -> Iterator[tuple[Var, Needs, Needs]]:
        """The joints of each way."""
        return ((var, *way.needs) for var, way in self.ways)

    def drawn(self, values: Sequence[int]) -> JointDrawn:
        """The chosen adaptors, drawn at the second."""
        (way,) = [way for var, way in self.ways if values[var]]
        return JointDrawn(None, self.names, {self.names[0]: (), self.names[1]: way.chain})

    def choices(self) -> Iterator[Var]:
        """Every way."""
        return (var for var, _ in self.ways)


@dataclass(frozen=True, slots=True)
class TeeWay:
    """A tee on the trunk: its part, the trunk's opening, and which of the other runs takes the branch.

    What its other openings take whatever leaves them is among its needs.
    """

    tee: Tee
    trunk: End
    bores: Bores
    ports: tuple[str, str, str]
    needs: tuple[Needs, Needs]


@dataclass(frozen=True, slots=True)
class PortWay:
    """Adaptors to a run from a tee's opening, or from any of several between which nothing tells.

    The first of the bores is the widest of all tees with such an opening.
    """

    openings: tuple[End, ...]
    run: End
    bores: tuple[Bores, Bores]
    chain: tuple[str, ...]
    bore_m: float
    rating_m: float
    needs: tuple[Needs, Needs]


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
        self._losses: dict[tuple[str, str, float, float], Linear] = {}

    def loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:
        """Loss into, through and out of the tee; only paths that use the trunk exist."""
        key = (came, goes, flows[came], flows[goes])
        if key not in self._losses:
            self._losses[key] = self._loss(came, goes, flows)
        return self._losses[key]

    def _loss(self, came: str, goes: str, flows: Mapping[str, float]) -> Linear:
        other = goes if came == self.trunk else came
        joining = goes == self.trunk
        through = weighted(
            (var, tenth_mm_up(self._tee_loss(way, came, goes, flows))) for var, way in self.tees
        )
        beyond = weighted(
            (var, tenth_mm_up(worst_passage(way.bores, way.bore_m, flows[other], backwards=joining)))
            for var, way in self.ports[other]
        )
        return total((through, beyond))

    def _tee_loss(self, way: TeeWay, came: str, goes: str, flows: Mapping[str, float]) -> float:
        other = goes if came == self.trunk else came
        bores, joining = (way.bores, (way.tee.bore_m,)), goes == self.trunk
        at_trunk = worst_passage(bores, math.inf, flows[self.trunk], backwards=joining)
        inside = tee_loss(way.tee, flows[came], flows[goes], by_branch=way.ports[2] == other)
        return at_trunk + inside + self._beside(way, other, flows[other], backwards=joining)

    def _beside(self, way: TeeWay, run: str, flow_m3_s: float, *, backwards: bool) -> float:
        """The most that a tee adds to what is lost behind it [m], being narrower than others so open."""
        own, opening, more = (way.tee.bore_at(way.ports.index(run)),), _opening_for(way, run), 0.0
        for _, port in self.ports[run]:
            if opening in port.openings and port.bores[0] != own:
                narrow = worst_passage((own, port.bores[1]), port.bore_m, flow_m3_s, backwards=backwards)
                wide = worst_passage(port.bores, port.bore_m, flow_m3_s, backwards=backwards)
                more = max(more, narrow - wide)
        return more

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

    def needs(self) -> Iterator[tuple[Var, Needs, Needs]]:
        """The trunk's joint with the tee, and the joints of each way."""
        for var, tee in self.tees:
            yield (var, *tee.needs)
        for ways in self.ports.values():
            yield from ((var, *way.needs) for var, way in ways)

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
    counting: Counting,
    place: str,
    names: tuple[str, str],
    sizes: tuple[Sizes, Sizes],
    *,
    under_pressure: bool,
    need: Need = Need.JOIN,
    also: Callable[[Shelf, End, End], Sequence[Chain]] | None = None,
) -> InLine | None:
    """Join two openings in line; None where no adaptors reach any pair.

    Args:
        model, counting: the model, and what joints take of the shelf's sundries.
        place: the pumped vessel or junction.
        names: what meets, the second being a run.
        sizes: of each, its openings and the choices that give it each.
        under_pressure, need: whether a pump's head stands in it; what the adaptors must be able to do.
        also: further chains for two openings, or None for no more.
    """
    ways, shelf = list[tuple[Var, InLineWay]](), counting.shelf
    for a in sizes[0]:
        for b in sizes[1]:
            bores = sizes[0][a].bores, sizes[1][b].bores
            found = shelf.chains(a, b, under_pressure=under_pressure, need=need)
            if also is not None:
                found = tuple(dict.fromkeys((*found, *also(shelf, a, b))))
            for chain in found if place in counting.site.vessels else counting.passing(names[1], found):
                needs = _needs(counting, names[1], a, b, chain.parts)
                way = InLineWay((a, b), bores, chain.parts, chain.bore_m, chain.rating_m, needs)
                ways.append((model.choice(f"{place}: {a} to {b} {' '.join(chain.parts)}"), way))
    if not ways:
        return None
    model.exactly_one([var for var, _ in ways])
    for side in (0, 1):
        for key, size in sizes[side].items():
            meets = weighted((var, 1) for var, way in ways if way.keys[side] == key)
            model.equal(meets, weighted((var, 1) for var in size.choices))
    return InLine(names, ways)


def encode_tee(
    model: Model,
    counting: Counting,
    place: str,
    runs: Sequence[Run],
    flows: Mapping[str, Flow],
    sizes: Mapping[str, Sizes],
    asked: Mapping[str, Need],
) -> Teed | None:
    """Join three runs by a tee; None where no tee and adaptors reach.

    Args:
        model, counting, place: the model, what joints take of the shelf's sundries, the junction's name.
        runs, flows: the three runs that meet, and design flows.
        sizes, asked: by run name, its openings and the choices that give it each; what adaptors must do.
    """
    under_pressure = runs[0].kind is RunKind.PRESSURE
    trunk = max(runs, key=lambda run: flows[run.name].design_m3_s).name
    others = [run.name for run in runs if run.name != trunk]
    tees = _tee_ways(counting, place, trunk, others, sizes)
    found = {run: _port_ways(counting, run, tees, sizes[run], asked[run], under_pressure) for run in others}
    tees = [way for way in tees if all(_opening_for(way, run) in found[run] for run in others)]
    if not tees:
        return None
    tees, ports = _shared(tees, found)
    chosen = [(model.choice(f"{place}: {way.tee.id} {way.trunk} {way.ports}"), way) for way in tees]
    reached = {
        run: [
            (model.choice(f"{place}: {run} {way.openings[0]} {way.run} {' '.join(way.chain)}"), way)
            for way in ways
        ]
        for run, ways in ports.items()
    }
    model.exactly_one([var for var, _ in chosen])
    for key, size in sizes[trunk].items():
        meets = weighted((var, 1) for var, way in chosen if way.trunk == key)
        model.equal(meets, weighted((var, 1) for var in size.choices))
    for run in others:
        model.exactly_one([var for var, _ in reached[run]])
        for key, size in sizes[run].items():
            meets = weighted((var, 1) for var, way in reached[run] if way.run == key)
            model.equal(meets, weighted((var, 1) for var in size.choices))
        for openings in _apart(ports[run]):
            leaves = weighted((var, 1) for var, way in reached[run] if way.openings[0] in openings)
            offers = weighted((var, 1) for var, way in chosen if _opening_for(way, run) in openings)
            model.equal(leaves, offers)
            for opening in openings if len(openings) > 1 else ():
                leaves = weighted((var, 1) for var, way in reached[run] if opening in way.openings)
                offers = weighted((var, 1) for var, way in chosen if _opening_for(way, run) == opening)
                model.at_least(ROLES[Concern.JOINTS], leaves, offers)
    return Teed(trunk, chosen, reached)


def _tee_ways(
    counting: Counting, place: str, trunk: str, others: Sequence[str], sizes: Mapping[str, Sizes]
) -> list[TeeWay]:
    """Tees that take the trunk as it is, as rules let them turn, less those that another matches wholly."""
    ways, shelf, runs = list[TeeWay](), counting.shelf, counting.site.runs
    free = [not counting.book.refusing(OnBranch(counting.site, place, runs[each])) for each in others]
    turned = [(others[1 - branch], others[branch]) for branch in (1, 0) if free[branch]]
    least_m = shelf.least_shut_off_m if runs[trunk].kind is RunKind.PRESSURE else 0.0
    tees = [tee for tee in counting.passing(trunk, shelf.tees()) if tee.rating_m >= least_m]
    for key, size in sizes[trunk].items():
        fitting = [tee for tee in tees if shelf.joining.mates(tee.ends[0], key)]
        kept = [tee for tee in fitting if not any(better_tee(shelf, other, tee) for other in fitting)]
        for tee in kept:
            needs = _needs(counting, trunk, tee.ends[0], key, (), part=tee.id)
            ways += [
                TeeWay(tee, key, size.bores, (trunk, *both), needs)
                for both in turned
                if not counting.book.refusing(Narrowed(counting.site, runs[both[1]], tee.branch_m))
            ]
    return ways


def _port_ways(
    counting: Counting, run: str, tees: Sequence[TeeWay], sizes: Sizes, need: Need, under_pressure: bool
) -> dict[End, list[PortWay]]:
    """By opening of the tees the adaptors to a run, where they are few and do not widen, if there are any."""
    shelf = counting.shelf
    widest: dict[End, float] = {}
    for tee in (way.tee for way in tees):
        for port in (1, BRANCH):
            end, bore = tee.ends[port], tee.bore_at(port)
            widest[end] = max(widest.get(end, 0.0), bore)
    found: dict[End, list[PortWay]] = {}
    for opening, bore in widest.items():
        shelf.clock.check()
        for key, size in sizes.items():
            if shelf.nominal(key) > shelf.nominal(opening) and not shelf.joining.mates(opening, key):
                continue
            most = MOST_ADAPTORS
            chains = shelf.chains(opening, key, under_pressure=under_pressure, need=need, most=most)
            for chain in counting.passing(run, chains):
                needs = _needs(counting, run, opening, key, chain.parts)
                both = (bore,), size.bores
                way = PortWay((opening,), key, both, chain.parts, chain.bore_m, chain.rating_m, needs)
                found.setdefault(opening, []).append(way)
    return found


def _shared(
    tees: Sequence[TeeWay], found: Mapping[str, Mapping[End, Sequence[PortWay]]]
) -> tuple[list[TeeWay], dict[str, list[PortWay]]]:
    """Tees with what their openings take of sundries, and one way in place of those that are alike then.

    What all ways from an opening take is the opening's own: cement goes into a socket, whatever is in it.
    """
    ports: dict[str, list[PortWay]] = {}
    for run, by_opening in found.items():
        taken = {opening: _in_common(ways) for opening, ways in by_opening.items()}
        tees = [replace(tee, needs=_both(add, tee.needs, taken[_opening_for(tee, run)])) for tee in tees]
        alike: dict[object, PortWay] = {}
        for opening in dict.fromkeys(_opening_for(tee, run) for tee in tees):
            for way in by_opening[opening]:
                needs = _both(sub, way.needs, taken[opening])
                key = way.run, way.bores, way.chain, *(frozenset(wants.items()) for wants in needs)
                openings = (*alike[key].openings, opening) if key in alike else (opening,)
                alike[key] = replace(way, openings=openings, needs=needs)
        ports[run] = list(alike.values())
    return list(tees), ports


def _in_common(ways: Sequence[PortWay]) -> tuple[Needs, Needs]:
    """What all of some ways take, welded and screwed."""
    common = ways[0].needs
    for way in ways[1:]:
        common = _both(and_, common, way.needs)
    return common


def _both(
    combine: Callable[[Counter[Want], Counter[Want]], Counter[Want]],
    one: tuple[Needs, Needs],
    other: tuple[Needs, Needs],
) -> tuple[Needs, Needs]:
    """Needs put together, welded with welded and screwed with screwed."""
    welded, screwed = (combine(Counter(a), Counter(b)) for a, b in zip(one, other, strict=True))
    return welded, screwed


def _apart(ways: Sequence[PortWay]) -> list[dict[End, None]]:
    """Openings in groups such that no way leaves from openings of two groups."""
    groups: list[dict[End, None]] = []
    for way in ways:
        joined = dict.fromkeys(way.openings)
        for group in [group for group in groups if group.keys() & joined.keys()]:
            groups.remove(group)
            joined = group | joined
        groups.append(joined)
    return groups


def _needs(
    counting: Counting, run: str, opening: End, key: End, chain: Sequence[str], part: str = ""
) -> tuple[Needs, Needs]:
    """What the joints from an opening to a run's pipe take, welded and screwed."""
    site = counting.site
    ends = (part or counting.shelf.part_with(opening), opening), (counting.shelf.pipe_with(key), key)
    at_start = site.runs[run].start in site.junctions or site.runs[run].kind is RunKind.PRESSURE
    welded = counting.of_chain(run, ends, chain, screwed=False, at_start=at_start)
    if not counting.may_be_taped(run):
        return welded, welded
    return welded, counting.of_chain(run, ends, chain, screwed=True, at_start=at_start)


def _opening_for(way: TeeWay, run: str) -> End:
    return way.tee.ends[way.ports.index(run)]
