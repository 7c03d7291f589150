"""What ranked designs must differ in, and how a builder tells them apart.

A trait speaks of the whole plan and not of a class of runs. Where several classes share a role, as the drains
of unlike beds do, it is all that is used there. Of wall parts it matters which they are, in whatever wall; of
pipe it is one thing throughout or a mix, and one mix is as another: a builder does not call it another plan
because one feed of many is of hose.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, product

from autoplan.catalog.mating import PipeKind, pipe_kind
from autoplan.catalog.parts import Catalog, End, Pipe, Way
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Inequality, Model
from autoplan.optimiser.search.solve import Unless
from autoplan.outcome import Kind
from autoplan.problem.site import Draw, Guard, Run, RunKind, Site, VesselKind
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Linear, Var, total, weighted

Value = tuple[str, ...]
"""What a trait comes to in a plan: all that is used, in order, or `MIXED`."""

MIXED: Value = ("mixed",)
"""More than one thing, where one mix is as another."""

Carried = Mapping[Var, frozenset[str]]
"""Choices of which one is made, with what each uses."""

RULE = "differ"
"""What rows that leave one value are tagged by; no rule of the book."""

_GUARDS = {Guard.HOLE: "siphon-break hole"}


@dataclass(frozen=True, slots=True)
class Trait:
    """One thing that designs may differ in.

    Attributes:
        kind: what it is asked for by.
        name: what it is called.
        order: everything that may be used, in the order in which it is told.
        groups: by class, or whatever else has a part in it, the choices.
        fixed: what every answer uses, where that is no choice.
        where: groups of choices without any of which it comes to nothing; None where there are no such. With
            them every choice of `groups` uses something.
        words: what is used in plain words, where it is not that itself.
        without: what is said where nothing is used.
        mixes: whether one mix is as another.
    """

    kind: Kind
    name: str
    order: Value
    groups: tuple[Carried, ...]
    fixed: str = ""
    where: tuple[tuple[Var, ...], ...] | None = None
    words: Mapping[str, str] = field(default_factory=dict)
    without: str = "none"
    mixes: bool = True

    @property
    def open(self) -> bool:
        """Whether it leaves any choice."""
        if self.partition is not None:
            return len(self.partition) > 1
        return self.where is not None or (bool(self.groups) and len(self.order) > 1)

    def used(self, values: Sequence[int]) -> Value:
        """Everything that an answer uses."""
        if self.where is not None and not any(values[var] for group in self.where for var in group):
            return ()
        made = {mark for group in self.groups for var, own in group.items() if values[var] for mark in own}
        return self._in_order(made | {self.fixed})

    def of(self, values: Sequence[int]) -> Value:
        """What it comes to in an answer."""
        return self._come_to(self.used(values))

    def told(self, values: Sequence[int]) -> str:
        """What is used in plain words."""
        return " and ".join(self.words.get(mark, mark) for mark in self.used(values)) or self.without

    @property
    def partition(self) -> list[list[Var]] | None:
        """The choices by what it comes to, where one group says it all and leaves a choice; else None."""
        return None if self.where is not None or len(self.groups) != 1 else self.by_value

    @property
    def by_value(self) -> list[list[Var]]:
        """The choices of its only group, by what they come to where they count."""
        parts: dict[Value, list[Var]] = {}
        for var, own in self.groups[0].items():
            parts.setdefault(self._come_to(own), []).append(var)
        return list(parts.values())

    def unlike(self, value: Value) -> Unless:
        """A count that is above 0 just where it comes to anything else than this value in an answer."""
        if self.partition is not None:
            same = [var for var, own in self.groups[0].items() if self._come_to(own) == value]
            return Unless(weighted(((var, -1) for var in same), 1), ())
        nothing = [] if self.where is None else [_none_of(self.where)]
        if value == MIXED:
            return Unless(Linear(), (*nothing, *(_none_of(self._beside({mark})) for mark in self.order)))
        if self.where is not None and not value:
            return Unless(weighted((var, 1) for group in self.where for var in group), ())
        if self.fixed:
            return Unless(Linear(constant=int(value != (self.fixed,))), tuple(nothing))
        nothing += [_none_of(self.using(mark)) for mark in value]
        left = weighted((var, 1) for group in self._beside(value) for var in group)
        return Unless(left, tuple(nothing))

    def values(self) -> list[Value]:
        """Whatever it may come to, as far as each group of choices by itself tells."""
        if self.partition is not None:
            return list(dict.fromkeys(self._come_to(own) for own in self.groups[0].values()))
        nothing: list[Value] = [()] if self.where is not None or (self.groups and self._could(())) else []
        if self.fixed:
            return [(self.fixed,), *nothing]
        most = 1 if self.mixes else len(self.order)
        found = [
            used for n in range(1, most + 1) for used in combinations(self.order, n) if self._could(used)
        ]
        mixed = [MIXED] if self.mixes and len(self.order) > 1 else []
        return [*found, *mixed, *nothing]

    def only(self, value: Value) -> tuple[frozenset[Var], list[Linear]]:
        """Choices that are not made where it comes to this value, and rows that answers keep beside that."""
        if self.partition is not None:
            return frozenset(v for v, own in self.groups[0].items() if self._come_to(own) != value), []
        rows = [] if self.where is None else [_some_of(self.where)]
        if value == MIXED:
            return frozenset(), [*rows, *(_some_of(self._beside({mark})) for mark in self.order)]
        if self.where is not None and not value:
            return frozenset(var for group in self.where for var in group), []
        if self.fixed:
            return frozenset(), rows
        shut = frozenset(var for group in self._beside(value) for var in group)
        return shut, [*rows, *(_some_of(self.using(mark)) for mark in value)]

    def _could(self, used: Value) -> bool:
        """Whether each group has a choice that uses nothing else, and each thing is used by one."""
        left = [[own for own in group.values() if own <= set(used)] for group in self.groups]
        return all(left) and all(any(mark in own for group in left for own in group) for mark in used)

    def _in_order(self, used: Collection[str]) -> Value:
        return tuple(mark for mark in self.order if mark in used)

    def _come_to(self, used: Collection[str]) -> Value:
        return MIXED if self.mixes and len(used) > 1 else self._in_order(used)

    def _beside(self, marks: Collection[str]) -> list[list[Var]]:
        """By group, the choices that use anything besides these."""
        found = [[var for var, own in group.items() if own - set(marks)] for group in self.groups]
        return [group for group in found if group]

    def using(self, mark: str) -> list[list[Var]]:
        """By group, the choices that use this."""
        return [[var for var, own in group.items() if mark in own] for group in self.groups]


def _none_of(groups: Sequence[Sequence[Var]]) -> tuple[Linear, int]:
    """A count, and what it comes to where none of these choices is made; never below 0."""
    return weighted(((var, -1) for group in groups for var in group), len(groups)), len(groups)


def _some_of(groups: Sequence[Sequence[Var]]) -> Linear:
    """A row: one of these choices is made at least."""
    return weighted(((var, 1) for group in groups for var in group), -1)


def keys_of(traits: Sequence[Trait]) -> Iterator[dict[str, Value]]:
    """Everything that plans may be told apart by."""
    for values in product(*(trait.values() for trait in traits)):
        yield {trait.name: value for trait, value in zip(traits, values, strict=True)}


def with_only(model: Model, traits: Sequence[Trait], key: Mapping[str, Value]) -> Model:
    """The same model with only the answers that are told apart by this key."""
    parts = [trait.only(key[trait.name]) for trait in traits]
    shut = [weighted((var, -1) for var in sorted(out)) for out, _ in parts if out]
    rows = [Inequality(RULE, row, None) for row in (*shut, *(row for _, rows in parts for row in rows))]
    return replace(model, inequalities=[*model.inequalities, *rows])


def unlike(traits: Sequence[Trait], key: Mapping[str, Value]) -> Linear | Unless:
    """The row that answers keep which are told apart from this key by any of the traits.

    Where one group of choices says all of a trait, or one thing is used throughout, it is plain; else what
    another answer would have to lack is counted by `Unless`, which leaves the model as it is.
    """
    counts = [trait.unlike(key[trait.name]) for trait in traits]
    left = total(count.left for count in counts) - 1
    enough = tuple(each for count in counts for each in count.enough)
    return Unless(left, enough) if enough else left


def traits_in(draft: Draft, kinds: Collection[Kind] = ()) -> tuple[Trait, ...]:
    """What designs of one site may differ in, of these kinds or of all."""
    found = (*_pumps(draft), *_drain_joints(draft), *_of_runs(draft))
    return tuple(trait for trait in found if not kinds or trait.kind in kinds)


def _pumps(draft: Draft) -> Iterator[Trait]:
    """The product in each pumped vessel, whatever its speed."""
    vessels = draft.site.pumped_vessels()
    for vessel in vessels:
        made = {var: choice.pump for var, choice in draft.pumps(vessel)}
        order = tuple(dict.fromkeys(pump.id for pump in made.values()))
        name = "pump" if len(vessels) == 1 else f"pump in {vessel}"
        words = {pump.id: pump.description for pump in made.values()}
        group = {var: frozenset((pump.id,)) for var, pump in made.items()}
        yield Trait(Kind.PUMP, name, order, (group,), words=words)


def _drain_joints(draft: Draft) -> Iterator[Trait]:
    """Welded or screwed, where drains have any joint that could be either."""
    if not any(run.kind is RunKind.GRAVITY for run in draft.site.runs.values()):
        return
    either = {
        var
        for choices in map(draft.candidates, draft.site.classes())
        for var, candidate in choices
        if candidate.needs != candidate.screwed_needs
    }
    for joint in draft.all_joints().values():
        either.update(var for var, welded, screwed in joint.needs() if welded != screwed)
    where = [tuple(var for var in group if var in either) for group in draft.model.groups]
    always = not either or any(len(own) == len(g) for own, g in zip(where, draft.model.groups, strict=True))
    screwed = draft.stores.screwed
    open_ = [pair for pair in draft.model.groups if screwed in pair]
    yield Trait(
        Kind.JOINTS,
        "drain joints",
        ("welded", "screwed"),
        tuple(
            {var: frozenset(("screwed" if var == screwed else "welded",)) for var in pair} for pair in open_
        ),
        "" if open_ else "screwed" if draft.counting.screwed else "welded",
        None if always else tuple(own for own in where if own),
        without="gripped",
    )


@dataclass(frozen=True, slots=True)
class _Role:
    """What is read off the runs that have a part in something.

    Attributes:
        kind, name: as for `Trait`.
        takes_in: whether a run has a part in it.
        read: what a candidate adds for such a run, each with what it sorts by.
        without, mixes: as for `Trait`.
    """

    kind: Kind
    name: str
    takes_in: Callable[[Run], bool]
    read: Callable[[Candidate, Run], Sequence[tuple[float, str]]]
    without: str = "none"
    mixes: bool = True


def _of_runs(draft: Draft) -> Iterator[Trait]:
    """Everything that hangs on how runs are built; what a bed to come later will have is left aside."""
    for role in _roles(draft.site, draft.catalog):
        ranks: dict[str, float] = {}
        groups = []
        for name, members in draft.site.classes().items():
            runs = [run for run in members if not run.spare and role.takes_in(run)]
            if not runs:
                continue
            group: dict[Var, frozenset[str]] = {}
            for var, candidate in draft.candidates(name):
                marks = [mark for run in runs for mark in role.read(candidate, run)]
                ranks.update((mark, rank) for rank, mark in marks)
                group[var] = frozenset(mark for _, mark in marks)
            groups.append(group)
        if groups:
            order = tuple(sorted(ranks, key=lambda mark: (ranks[mark], mark)))
            yield Trait(role.kind, role.name, order, tuple(groups), without=role.without, mixes=role.mixes)


def _roles(site: Site, catalog: Catalog) -> Iterator[_Role]:
    pumped, ways, kinds, guards = site.pumped_vessels(), list(Way), list(PipeKind), list(Guard)

    def drains(run: Run) -> bool:
        return run.kind is RunKind.GRAVITY and not run.waste

    def main(run: Run) -> bool:
        """From a pump, or on to where it divides again."""
        return run.kind is RunKind.PRESSURE and (run.start in pumped or run.finish in site.junctions)

    def feeds(run: Run) -> bool:
        return run.kind is RunKind.PRESSURE and not main(run)

    def starts_in(run: Run, kind: VesselKind) -> bool:
        vessel = site.vessels.get(run.start)
        return drains(run) and not run.overflow and vessel is not None and vessel.kind is kind

    def guarded(run: Run) -> bool:
        """Into a vessel that its pump could empty: no bed, which floods anyway, and no well."""
        vessel = site.vessels.get(run.finish)
        water = vessel is not None and vessel.bed is None and vessel.name not in pumped
        return run.kind is RunKind.PRESSURE and water

    def walls(candidate: Candidate, _: Run) -> list[tuple[float, str]]:
        made = (candidate.start_way, candidate.finish_way)
        return [(ways.index(way), str(way)) for way in made if way is not None]

    def material(candidate: Candidate, _: Run) -> list[tuple[float, str]]:
        kind = pipe_kind(candidate.pipe.end)
        return [(kinds.index(kind), str(kind))]

    def size(candidate: Candidate, _: Run) -> list[tuple[float, str]]:
        return [_size(candidate.pipe)]

    def standpipe(candidate: Candidate, run: Run) -> list[tuple[float, str]]:
        start = candidate.drawn[run.name].floor
        assert start is not None
        width, words = _size(start.stood(catalog, candidate.pipe))
        if start.siphon is not None:
            words += ", flared, under a bell" if start.siphon.flare is not None else ", under a bell"
        return [(width, f"{words}, with a drain hole" if start.drain_hole is not None else words)]

    def guard(candidate: Candidate, run: Run) -> list[tuple[float, str]]:
        made = candidate.drawn[run.name].guard
        return [(guards.index(made), _GUARDS.get(made, str(made)))]

    def upright(run: Run) -> bool:
        return starts_in(run, VesselKind.BED) and run.draw is Draw.STANDPIPE

    yield _Role(Kind.WALLS, "drains pass walls by", drains, walls, "nothing", mixes=False)
    yield _Role(Kind.MATERIAL, "main", main, material)
    yield _Role(Kind.MATERIAL, "feeds", feeds, material)
    yield _Role(Kind.MATERIAL, "drains", drains, material)
    yield _Role(Kind.DRAIN, "tank drain", lambda run: starts_in(run, VesselKind.TANK), size)
    yield _Role(Kind.BEDS, "bed drains", lambda run: starts_in(run, VesselKind.BED), size)
    yield _Role(Kind.BEDS, "standpipes", upright, standpipe)
    yield _Role(Kind.GUARD, "against siphoning back", guarded, guard)


def _size(pipe: Pipe) -> tuple[float, str]:
    """What the trade calls a pipe's size, and what sizes are ordered by."""
    end: End = pipe.end
    return pipe.outside_m, f"{end.system} {end.size}"
