"""Ways to build a class made up at random, and what a rule's rows say of them.

A draft of a real problem gets classes of made-up ways: the real ones of one pipe with fittings, lengths,
heights, holes and ratings changed at random, each way in one to three of these. The rule writes its rows over
them, and a listening draft notes what it reads.
"""

from __future__ import annotations

import copy
import math
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from autoplan.catalog.parts import FixtureKind
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.fittings.valve import CheckValveSet
from autoplan.fittings.wall import Pierced
from autoplan.optimiser.model.draft import Draft
from autoplan.problem.site import Run
from autoplan.rules.base import Rule
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.pressure.trunk_bore import TrunkBore
from autoplan.rules.quantities import (
    CROWN,
    GROWN_LOSS,
    INLET,
    LOSS,
    LOSS_AT_DESIGN,
    PARTS,
    SPARE_LOSS,
    SPENDING,
    Better,
    Quantity,
    parts_water,
)

WAYS, FEW, NEW = 28, 6, 1_000_000
"""Made-up ways of a class; real ones that are left of the others; the first variable made here."""

Declared = Callable[[Run], Sequence[tuple[Quantity[Any], Better]]]
"""What a rule says that it reads of a run."""


@dataclass
class Listening:
    """A draft as a rule sees it, which notes what is read of which run and what rows are written."""

    draft: Draft
    read: set[tuple[str, Quantity[Any]]] = field(default_factory=set)
    rows: list[tuple[Linear, Var | None]] = field(default_factory=list)
    bought: dict[Quantity[Any], Var] = field(default_factory=dict)
    made: int = NEW * 2

    def __getattr__(self, name: str) -> Any:
        return getattr(self.draft, name)

    def _note(self, quantity: Quantity[Any], *runs: str) -> None:
        self.read.update((run, quantity) for run in runs)

    def each(self, quantity: Quantity[Any], run: str) -> Any:
        """Noted."""
        self._note(quantity, run)
        return self.draft.each(quantity, run)

    def receiving_levels(self, path: Sequence[str], *, overloaded: bool = False) -> Any:
        """Noted: the crown of the last run."""
        self._note(CROWN, path[-1])
        return self.draft.receiving_levels(path, overloaded=overloaded)

    def against(self, path: Sequence[str], flows: Mapping[str, float], *, overloaded: bool = False) -> Any:
        """Noted: the crown of the last run where it ends in a vessel."""
        if self.draft.site.runs[path[-1]].finish in self.draft.site.vessels:
            self._note(CROWN, path[-1])
        return self.draft.against(path, flows, overloaded=overloaded)

    def path_loss(self, path: Sequence[str], factor: float, *, grown: bool = False) -> Linear:
        """Noted."""
        at_design = GROWN_LOSS if grown else LOSS_AT_DESIGN
        beyond = SPARE_LOSS if grown else LOSS
        self._note(at_design if factor == 1.0 else beyond, *path)
        return self.draft.path_loss(path, factor, grown=grown)

    def loss_at(self, path: Sequence[str], flows: Mapping[str, float]) -> Linear:
        """Noted."""
        self._note(LOSS, *path)
        return self.draft.loss_at(path, flows)

    def drain_loss(self, path: Sequence[str]) -> Linear:
        """Noted."""
        self._note(LOSS, *path)
        return self.draft.drain_loss(path)

    def run_loss(self, run: str, *, grown: bool = False) -> Linear:
        """Noted."""
        self._note(GROWN_LOSS if grown else LOSS_AT_DESIGN, run)
        return self.draft.run_loss(run, grown=grown)

    def inlet_rise(self, run: str, factor: float) -> Linear:
        """Noted."""
        self._note(INLET, run)
        return self.draft.inlet_rise(run, factor)

    def candidates(self, run_class: str) -> Any:
        """Whole ways are not for rules to see."""
        raise AssertionError(f"a rule looked at all of {run_class}")

    def _amount(self, quantity: Quantity[Any]) -> Linear:
        self._note(quantity, *self.draft.site.runs)
        self.bought.setdefault(quantity, self.one_of("some of it")[0])
        return weighted([(self.bought[quantity], 1)])

    def uses(self) -> Mapping[str, Linear]:
        """Noted: so much of every part."""
        return dict.fromkeys(self.draft.uses(), self._amount(PARTS))

    def may_run_short(self, part: str) -> bool:  # noqa: ARG002
        """Anything might."""
        return True

    def spending(self) -> Linear:
        """Noted: so much money."""
        return self._amount(SPENDING)

    def one_of(self, *names: str) -> Sequence[Var]:
        """New variables."""
        self.made += len(names)
        return [Var(self.made - number) for number in range(len(names))]

    def at_least(self, rule: str, left: Linear, right: Linear | int, when: Var | None = None) -> None:  # noqa: ARG002
        """A row, kept as it is."""
        self.rows.append((left - right, when))


@dataclass(frozen=True)
class Written:
    """The rows of one rule over made-up ways of one class."""

    draft: Draft
    run_class: str
    heard: Listening
    ways: list[tuple[Var, Candidate]]

    @cached_property
    def own(self) -> frozenset[Var]:
        """The choices of the made-up ways."""
        return frozenset(var for var, _ in self.ways)

    @cached_property
    def levels(self) -> frozenset[Var]:
        """Water levels, which may lie below the datum."""
        draft = self.draft
        levels = [level(name) for name in draft.site.vessels for level in (draft.level, draft.overload_level)]
        return frozenset(var for level in levels for var in level.terms)

    @property
    def runs(self) -> list[Run]:
        """The runs of the class."""
        return [run for run in self.draft.site.runs.values() if run.run_class == self.run_class]

    def undeclared(self, declared: Declared) -> set[tuple[str, Quantity[Any]]]:
        """What was read and not declared."""
        said = {
            (run.name, covered)
            for run in self.draft.site.runs.values()
            for quantity, _ in declared(run)
            for covered in (quantity, *quantity.covers)
        }
        return self.heard.read - said

    def wrong(self, declared: Declared) -> Iterator[tuple[Candidate, Candidate]]:
        """Ways that should be no worse than others by what is declared, and are by the rows."""
        for quantity, var in self.heard.bought.items():
            said = dict(declared(self.runs[0])).get(quantity, Better.NEITHER)
            signs = {np.sign(left.terms.get(var, 0)) for left, _ in self.heard.rows}
            if signs & {Better.LESS: {1}, Better.MORE: {-1}, Better.NEITHER: set()}[said]:
                yield self.ways[0][1], self.ways[0][1]
        columns, alike = self._measured(declared)
        no_worse = (columns[:, :, None] <= columns[:, None, :]).all(axis=0)
        for one, other in np.argwhere(no_worse & ~self._row_by_row):
            (mine, better), (its, worse) = self.ways[one], self.ways[other]
            if alike[one] == alike[other] and not self._holds(mine, its):
                yield better, worse

    @cached_property
    def _row_by_row(self) -> Any:
        """By way and other way, whether each row with the one follows from the same row with the other."""
        names = [var for var, _ in self.ways]
        follows = np.ones((len(names), len(names)), dtype=bool)
        for left, when in self.heard.rows:
            given = np.array([left.terms.get(var, 0) for var in names], dtype=float)
            asked = np.array([when not in self.own or var == when for var in names])
            # In force with the one alone it follows from nothing that the other keeps.
            follows &= ~asked[:, None] | ((given[:, None] >= given[None, :]) & asked[None, :])
        return follows

    def _measured(self, declared: Declared) -> tuple[Any, list[object]]:
        """Columns of which less is better, and by way what must be the same for any comparison."""
        candidates = [way for _, way in self.ways]
        columns: list[Any] = [np.zeros(len(candidates))]
        alike: list[tuple[object, ...]] = [
            (c.start_way, c.finish_way, *((d.guard, d.floor and d.floor.standpipe) for d in c.drawn.values()))
            for c in candidates
        ]
        for run in self.runs:
            for quantity, better in declared(run):
                values = [quantity.of(self.draft._seen, candidate, run) for candidate in candidates]
                alike = [(*known, value is None) for known, value in zip(alike, values, strict=True)]
                for column in quantity.measured(self.draft._seen, run, values):
                    columns += [column] if better is not Better.MORE else []
                    columns += [-column] if better is not Better.LESS else []
        return np.array(columns), alike

    def _holds(self, mine: Var, its: Var) -> bool:
        """Whether every row holds with one way where all rows hold with the other, all else the same."""
        return all(
            self._no_stronger(row, mine, row, its)
            or any(self._no_stronger(row, mine, by, its) for by in self.heard.rows)
            for row in self.heard.rows
        )

    def _no_stronger(
        self, row: tuple[Linear, Var | None], mine: Var, by: tuple[Linear, Var | None], its: Var
    ) -> bool:
        """Whether a row with one way follows from a row with the other."""
        (left, when), (right, by_when) = row, by
        own = self.own
        if when in own and when != mine:
            return True
        if by_when in own and by_when != its:
            return False
        if by_when is not None and by_when not in own and by_when != when:
            return False
        if left.constant + left.terms.get(mine, 0) < right.constant + right.terms.get(its, 0):
            return False
        if left is right:
            return True
        for var in {*left.terms, *right.terms} - own:
            more = left.terms.get(var, 0) - right.terms.get(var, 0)
            if more < 0 or (more > 0 and var in self.levels):
                return False
        return True


def written(draft: Draft, rule: Rule, run_class: str, seed: object) -> Written:
    """The rows of a rule over made-up ways of a class, and a few real ones of the others."""
    made = copy.copy(draft)
    made._lost = {}
    made._candidates, made._ways = {}, {}
    ways: list[tuple[Var, Candidate]] = []
    for name, real in draft._candidates.items():
        found = real[:: math.ceil(len(real) / FEW)]
        if name == run_class:
            found = ways = list(_made_up(draft, [way for _, way in real], random.Random(f"{seed} {name}")))
        made._candidates[name] = found
        candidates = tuple(way for _, way in found)
        made._ways[name] = replace(draft._ways[name], candidates=candidates, losses={}, _lines={})
    heard = Listening(made)
    rule.encode(heard)
    return Written(made, run_class, heard, ways)


def _made_up(draft: Draft, real: Sequence[Candidate], draw: random.Random) -> Iterator[tuple[Var, Candidate]]:
    pipe = draw.choice(real).pipe
    like = [way for way in real if way.pipe is pipe]
    kinds = {(way.start_way, way.finish_way, *(d.guard for d in way.drawn.values())): way for way in like}
    bases = [draw.choice(like), *draw.sample(list(kinds.values()), len(kinds))][:4]
    sharing = any(parts_water(draft.site, draft.site.runs[name]) for name in bases[0].drawn)
    begins = any(run in both for both in _trunks(draft) for run in bases[0].drawn)
    more = *((_trim,) if sharing else ()), *((_bore,) if begins else ())
    for number in range(WAYS):
        way = bases[number % len(bases)]
        for change in (*draw.sample(CHANGES, draw.randint(1, 3)), *more):
            way = change(draft, way, draw)
        yield Var(NEW + number), way


def _trunks(draft: Draft) -> Iterator[tuple[str, str]]:
    """Stretches of trunks that must be about as wide as others, with these."""
    for rule in draft.book.rules:
        if isinstance(rule, TrunkBore):
            yield from rule.kept(draft.site).items()


def _bore(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:  # noqa: ARG001
    """Of pipe with another wall."""
    return replace(way, pipe=replace(way.pipe, bore_m=way.pipe.bore_m * draw.choice((0.8, 1.0, 1.2))))


def _drag(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:  # noqa: ARG001
    share = draw.choice((0.5, 0.8, 1.3, 2.0))
    lines = {
        name: replace(line, resistances=tuple(replace(r, k=r.k * share) for r in line.resistances))
        for name, line in way.lines.items()
    }
    return replace(way, lines=lines)


def _length(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:  # noqa: ARG001
    share = draw.choice((0.9, 1.1, 1.5))
    lines = {name: replace(line, length_m=line.length_m * share) for name, line in way.lines.items()}
    drawn = {name: replace(run, length_m=run.length_m * share) for name, run in way.drawn.items()}
    return replace(way, lines=lines, drawn=drawn)


def _check(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:
    """Another check valve where there is one."""
    checks = [part.id for part in draft.catalog.valves.values() if part.style == "check"]
    part, lift = draw.choice(checks), draw.choice((0.8, 1.25))
    drawn = {
        name: replace(
            run,
            fittings=tuple(
                replace(f, valve=part) if isinstance(f, CheckValveSet) else f for f in run.fittings
            ),
        )
        for name, run in way.drawn.items()
    }
    lines = {
        name: replace(
            line, resistances=tuple(replace(r, lifts_m_s=r.lifts_m_s * lift) for r in line.resistances)
        )
        for name, line in way.lines.items()
    }
    return replace(way, drawn=drawn, lines=lines)


def _rating(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:
    heads = [pump.curve[0][1] for pump in draft.catalog.pumps.values()]
    return replace(way, rating_m=draw.choice(heads) + draw.choice((-0.1, 0.1)))


def _holes(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:  # noqa: ARG001
    more, by = draw.choice((0.0, 0.004, -0.004)), draw.choice((0.0, 0.003, -0.003))
    places = {
        at: replace(place, offset_m=place.offset_m + more, hole_m=place.hole_m + by, bore_m=place.bore_m + by)
        for at, place in way.places.items()
    }
    return replace(way, places=places)


def _heights(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:  # noqa: ARG001
    """Ends at heights of their own, each height on its own."""

    def moved(height: float | None) -> float | None:
        return height and height + draw.choice((-0.03, 0.0, 0.02, 0.05, 1.0, 1.1))

    drawn = {}
    for name, run in way.drawn.items():
        end = run.finish
        if isinstance(end, OverRim):
            end = replace(
                end,
                centre_m=moved(end.centre_m),
                mouth_m=moved(end.mouth_m),
                air_hole_m=moved(end.air_hole_m),
                air_hole_width_m=end.air_hole_width_m * draw.choice((1.0, 1.5)),
            )
        elif isinstance(end, AtVessel):
            end = replace(end, centre_m=moved(end.centre_m))
        drawn[name] = run.with_ends(run.start, end)
    return replace(way, drawn=drawn)


def _inlet(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:
    """Another wall part, whose bore is what the water enters by, and another screen or none."""
    parts = [part.id for part in draft.catalog.penetrations.values() if 0 < part.bore_m < 0.06]
    screens = [part.id for part in draft.catalog.fixtures.values() if part.kind is FixtureKind.SCREEN]
    part, screen = draw.choice(parts), draw.choice([None, *screens])
    drawn = {}
    for name, run in way.drawn.items():
        drawn[name] = run
        if isinstance(run.start, Pierced):
            kept = tuple(fitting for fitting in run.fittings if not isinstance(fitting, InletScreen))
            more = () if screen is None else (InletScreen(screen),)
            new = replace(run, fittings=(kept[0], *more, *kept[1:]))
            drawn[name] = new.with_ends(replace(run.start, penetration=part), run.finish)
    return replace(way, drawn=drawn)


def _trim(draft: Draft, way: Candidate, draw: random.Random) -> Candidate:
    """With another part that sets its share, or with none; everything it puts in the way left aside."""
    balls = [part.id for part in draft.catalog.valves.values() if part.style == "ball"]
    parts: list[Trim] = [*map(Trim, draft.catalog.trims), *map(TrimValve, balls)]
    chosen = draw.choice([*parts, *[None] * len(parts)])
    drawn = {}
    for name, run in way.drawn.items():
        kept = tuple(fitting for fitting in run.fittings if not isinstance(fitting, Trim))
        more = () if chosen is None else (chosen,)
        drawn[name] = replace(run, fittings=(kept[0], *more, *kept[1:]))
    return replace(way, drawn=drawn)


CHANGES = (_drag, _length, _check, _rating, _holes, _heights, _inlet)
