"""What designs are told apart by; ranks of each kind by trying everything: each is the cheapest of its own.

Every design of a small site that holds is read once more, straight from its drawing; of each value the
cheapest must be a rank, and there must be no others.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.signature import MIXED, Trait, traits_in, unlike, with_only
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.merge import closed_kinds, rank_all
from autoplan.optimiser.search.narrowed import narrowed
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.ranking import Ranked
from autoplan.optimiser.search.solve import Ending, Search, Unless
from autoplan.optimiser.search.variants import Variant, variants_of
from autoplan.outcome import Kind, Verdict
from autoplan.problem.site import Entry, Guard, RunKind, Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from autoplan.verdict.judge import judge
from tests.optimiser.everything import Everything
from tests.optimiser.search.test_merge import judge_of, sites_of, three
from tests.optimiser.test_guards import SHELF as GUARDED
from tests.optimiser.test_siphons import SHELF as FLOODED
from tests.optimiser.test_siphons import WIDER, with_siphon
from tests.optimiser.ways import guard_of, way_of

SITE = Callable[..., Site]
CUT = Callable[[str], Catalog]

MORE = """
    drain-75-3m seal-75 drain-sweep-75-90 drain-coupling-75 bulkhead-50 hose-25-metre hose-nut-1-25
    thread-bush-1-34 pe-25-sdr11-metre compression-25 compression-female-25-34
"""
"""A wider drain, bulkheads for drains, and pipe that bends for the main."""

PARTS = tuple(kind for kind in Kind if kind is not Kind.ARRANGEMENT)


# --- the row that other values keep ---------------------------------------------------------------------


@st.composite
def traits(draw: st.DrawFn) -> tuple[Model, Trait]:
    """Up to three groups of choices, each using any of three things, with or without a condition."""
    model = Model()
    conditional = draw(st.booleans())
    marks = st.frozensets(st.sampled_from("abc"), min_size=int(conditional), max_size=2)
    groups = []
    for number in range(draw(st.integers(1, 3))):
        group = {model.choice(f"{number}{i}"): draw(marks) for i in range(draw(st.integers(1, 3)))}
        model.exactly_one(list(group))
        groups.append(group)
    where = None
    if conditional:
        pair = [model.choice("joined"), model.choice("not joined")]
        model.exactly_one(pair)
        where = ((pair[0],),)
    fixed = draw(st.sampled_from(["", "", "a", "b"]))
    return model, Trait(
        Kind.WALLS,
        "walls",
        ("a", "b", "c"),
        () if fixed else tuple(groups),
        fixed,
        where,
        mixes=draw(st.booleans()),
    )


def kept(row: Linear | Unless, values: list[int]) -> bool:
    """Whether an answer keeps a row."""
    if isinstance(row, Linear):
        return evaluate(row, values) >= 0
    counts = [evaluate(count, values) for count, _ in row.enough]
    assert all(count >= 0 for count in counts)
    enough = sum(count >= least for count, (_, least) in zip(counts, row.enough, strict=True))
    return evaluate(row.left, values) + enough >= 0


def answers(model: Model) -> Iterable[list[int]]:
    """Values of every answer of a model that is groups of choices only."""
    for made in product(*model.groups):
        yield [int(Var(i) in made) for i in range(len(model.variables))]


@settings(max_examples=150, deadline=None, derandomize=True)
@given(made=traits())
def test_the_row_is_kept_by_just_the_other_values(made: tuple[Model, Trait]) -> None:
    """Of every value that an answer has, or another site might: answers keep its row if theirs is another."""
    model, trait = made
    found = {tuple(values): trait.of(values) for values in answers(model)}
    for value in {*found.values(), (), ("a",), ("elsewhere",), MIXED if trait.mixes else ("a", "b")}:
        row = unlike([trait], {"walls": value})
        for values, own in found.items():
            assert kept(row, list(values)) == (own != value), (value, own)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(made=traits())
def test_values_and_what_has_only_one(made: tuple[Model, Trait]) -> None:
    """Every answer's value is among those named, and of each value just the answers that have it are left."""
    model, trait = made
    found = {tuple(values): trait.of(values) for values in answers(model)}
    named = trait.values()
    assert set(found.values()) <= set(named)
    assert len(set(named)) == len(named)
    for value in named:
        shut, rows = trait.only(value)
        for values, own in found.items():
            left = not any(values[var] for var in shut) and all(kept(row, list(values)) for row in rows)
            assert left == (own == value), (value, own)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(one=traits(), data=st.data())
def test_the_solver_reads_the_row_so_too(one: tuple[Model, Trait], data: st.DataObject) -> None:
    """With the row required there is an answer if and only if some answer has another value."""
    model, trait = one
    found = {trait.of(values) for values in answers(model)}
    value = data.draw(st.sampled_from(sorted(found)))
    search = Search(model)
    search.require(unlike([trait], {"walls": value}))
    answer = search.minimize(weighted([]))
    assert answer.ending is (Ending.PROVEN if found - {value} else Ending.NONE)
    assert not answer.values or trait.of(answer.values) != value


def test_any_of_several_traits_will_do() -> None:
    """Two groups of two, each a trait: three of four answers are unlike the fourth; of no trait none is."""
    model = Model()
    pairs = [[model.choice(name) for name in names] for names in ("ab", "cd")]
    for pair in pairs:
        model.exactly_one(pair)
    told = [
        Trait(Kind.PUMP, str(i), ("x", "y"), ({p: frozenset(n) for p, n in zip(pair, "xy", strict=True)},))
        for i, pair in enumerate(pairs)
    ]
    row = unlike(told, {"0": ("x",), "1": ("y",)})
    assert isinstance(row, Linear)
    assert [kept(row, values) for values in answers(model)] == [True, False, True, True]
    search = Search(model)
    search.require(unlike([], {}))
    assert search.minimize(weighted([])).ending is Ending.NONE


# --- what a drawing has ---------------------------------------------------------------------------------


def made_of(pipe: str) -> str:
    """What a pipe of the metric price list is, by its id."""
    names = {"hose": "hose", "poly": "poly line", "pe": "polyethylene pipe"}
    return names.get(pipe.partition("-")[0], "rigid pipe")


def alike(things: Iterable[str]) -> str:
    """The one thing, or that it is a mix."""
    found = set(things)
    return found.pop() if len(found) == 1 else "mix" if found else "none"


@dataclass
class Small:
    """A small problem, everything that can be built in it, and what was found to hold."""

    site: Site
    catalog: Catalog
    known: dict[int, bool] = field(default_factory=dict)

    @cached_property
    def everything(self) -> Everything:
        """Whatever can be built."""
        return Everything(self.site, self.catalog)

    @cached_property
    def by_cost(self) -> list[tuple[int, Drawing]]:
        """The cheapest design of every shape, cheapest first."""
        return list(self.everything.by_cost())

    def holds(self, number: int) -> bool:
        """Whether a design holds, worked out once."""
        if number not in self.known:
            self.known[number] = self.everything.holds(self.by_cost[number][1])
        return self.known[number]

    def value(self, kind: Kind, drawing: Drawing) -> Hashable:
        """What a drawing has of a kind, read from the drawing alone."""
        runs = self.site.runs.values()
        drains = [drawing.runs[run.name] for run in runs if run.kind is RunKind.GRAVITY]
        pressed = [run for run in runs if run.kind is RunKind.PRESSURE]
        main = [r.name for r in pressed if r.start == "sump" or r.finish in self.site.junctions]
        beds = [drawing.runs[run.name] for run in runs if run.start.startswith("bed")]
        if kind is Kind.PUMP:
            return drawing.pumps["sump"].part
        if kind is Kind.WALLS:
            return frozenset(str(way_of(end)) for run in drains for end in run.ends)
        if kind is Kind.JOINTS:
            return drawing.screwed_drains
        if kind is Kind.MATERIAL:
            feeds = [run.name for run in pressed if run.name not in main]
            named = (main, feeds, [run.run for run in drains])
            return tuple(alike(made_of(drawing.runs[name].pipe) for name in names) for names in named)
        if kind is Kind.DRAIN:
            return str(self.catalog.pipes[drawing.runs["drain"].pipe].end.size)
        if kind is Kind.BEDS:
            floors = [(run, run.floor) for run in beds if run.floor is not None]
            stood = [(floor, self.catalog.pipes[floor.standpipe or run.pipe]) for run, floor in floors]
            assert len(stood) == len(beds)
            return (
                alike(self.catalog.pipes[run.pipe].end.size for run in beds),
                alike(f"{pipe.end.size} {floor.siphon is not None}" for floor, pipe in stood),
            )
        tank = [run.name for run in pressed if run.finish == "tank"]
        return alike(str(guard_of(drawing.runs[name].finish)) for name in tank)

    def cheapest(self, *kinds: Kind, most: int = 10**9) -> dict[Hashable, int]:
        """Of each value of these kinds together the least cost of what holds [cents], the first so many."""
        found: dict[Hashable, int] = {}
        for number, (cents, drawing) in enumerate(self.by_cost):
            value = tuple(self.value(kind, drawing) for kind in kinds)
            if value not in found and self.holds(number):
                found[value] = cents
                if len(found) == most:
                    break
        return found

    def judged(self, drawing: Drawing) -> Verdict:
        """The independent verdict."""
        return judge(self.site, self.catalog, read_rules(self.site), drawing)

    def ranked(self, top: int, *kinds: Kind) -> list[Ranked]:
        """The ranks told apart by rows, each proven."""
        draft = Draft(self.site, self.catalog, read_rules(self.site))
        found = Ranker(draft, self.judged, differ=kinds, several=True).run(top)
        assert all(ranked.proven and ranked.verdict.ok for ranked in found.designs)
        assert len(found.designs) == top or found.ending is Ending.NONE
        return found.designs

    def one_by_one(self, top: int, *kinds: Kind) -> list[Ranked]:
        """The ranks searched value by value, each proven."""
        variants, book = [Variant(self.site)], read_rules(self.site)
        found = rank_all(variants, self.catalog, book, lambda _: self.judged, top, differ=kinds)
        assert all(placed.proven and placed.ranked.verdict.ok for placed in found.designs)
        assert all(trial.only is not None for trial in found.trials)
        return [placed.ranked for placed in found.designs]


@pytest.fixture(scope="module")
def guarded(site_of: SITE, shelf_of: CUT) -> Small:
    """A tank over a sump with every guard, three pumps, two drains, and four kinds of main."""
    return Small(site_of(guard=Guard.ANY, flow_l_h=850.0), shelf_of(GUARDED + MORE))


@pytest.fixture(scope="module")
def flooded(site_of: SITE, shelf_of: CUT) -> Small:
    """A tank, a sump and a bed under a bell, with four pipes to drain it by and to stand in it."""
    site = with_siphon(site_of(1, 330.0, sump_water_m=(0.15, 0.15), entry=Entry.OVER_RIM), 3.3)
    return Small(site, shelf_of(FLOODED + WIDER + "pn16-20-3m"))


def test_kinds_that_cannot_be_leave_the_bound(site_of: SITE, shelf_of: CUT) -> None:
    """Where rows leave one kind the choices that say so are out too, and the relaxation is tightened."""
    site = site_of(guard=Guard.ANY, flow_l_h=850.0, beds=1)
    draft = Draft(site, shelf_of(FLOODED + GUARDED + MORE), read_rules(site))
    told = [trait for trait in traits_in(draft) if len(trait.groups) > 1 and trait.open]
    assert told
    for trait in told:
        value = next(value for value in trait.values() if value != MIXED)
        model = with_only(draft.model, [trait], {trait.name: value})
        more, narrowing = narrowed(draft, model, draft.spending(), told, lambda: False, None)
        assert any(var >= len(draft.model.variables) for var in narrowing.impossible)
        _, least = narrowed(draft, model, draft.spending(), (), lambda: False, None)
        assert narrowing.bound == pytest.approx(least.bound, rel=0.01)
        assert len(more.variables) > len(model.variables)


def matches(small: Small, kind: Kind) -> int:
    """Assert that ranks of one kind are the cheapest of each of its values, and say how many there are."""
    expected = small.cheapest(kind)
    for search in (small.one_by_one, small.ranked):
        ranks = search(len(expected) + 1, kind)
        assert {(small.value(kind, one.drawing),): one.objective for one in ranks} == expected
        assert [one.objective for one in ranks] == sorted(expected.values())
    return len(expected)


@pytest.mark.parametrize(
    ("kind", "least"),
    [
        *(("pump", 3), ("material", 3), ("guard", 3)),
        *(
            pytest.param(kind, least, marks=pytest.mark.long)
            for kind, least in (("walls", 3), ("joints", 2), ("drain", 2), ("beds", 1))
        ),
    ],
)
def test_each_kind_by_trying_everything(guarded: Small, kind: str, least: int) -> None:
    """Each row is the cheapest of what has its value, no value that leaves a design is missing."""
    assert matches(guarded, Kind(kind)) >= least


@pytest.mark.long
@pytest.mark.parametrize(
    ("kind", "least"),
    [("pump", 1), ("walls", 2), ("joints", 2), ("material", 1), ("drain", 1), ("beds", 3), ("guard", 1)],
)
def test_each_kind_with_a_bed_by_trying_everything(flooded: Small, kind: str, least: int) -> None:
    """The same with a bed under a bell: its drain and standpipe are what most of the choice lies in."""
    assert matches(flooded, Kind(kind)) >= least


def test_ranks_of_every_kind_by_trying_everything(guarded: Small) -> None:
    """The first ranks cost what the cheapest of every combination of values costs, in order."""
    costs = sorted(guarded.cheapest(*PARTS).values())
    assert len(costs) > 12
    ranks = guarded.ranked(12)
    assert [one.objective for one in ranks] == costs[:12]
    values = [tuple(guarded.value(kind, one.drawing) for kind in PARTS) for one in ranks]
    assert len(set(values)) == len(values)


def test_kinds_together(guarded: Small) -> None:
    """Two kinds at once rank the cheapest of every pair of their values."""
    expected = guarded.cheapest(Kind.JOINTS, Kind.DRAIN)
    for search in (guarded.one_by_one, guarded.ranked):
        ranks = search(len(expected) + 1, Kind.DRAIN, Kind.JOINTS)
        found = [tuple(guarded.value(kind, r.drawing) for kind in (Kind.JOINTS, Kind.DRAIN)) for r in ranks]
        assert dict(zip(found, (one.objective for one in ranks), strict=True)) == expected


def test_traits_are_told_as_drawn(guarded: Small, flooded: Small) -> None:
    """The words of a design's traits name what its drawing has, all of it and nothing else."""
    for small in (guarded, flooded):
        (best,) = small.ranked(1)
        drawing, told = best.drawing, best.traits
        assert told["pump"] == small.catalog.pumps[drawing.pumps["sump"].part].description
        walls = small.value(Kind.WALLS, drawing)
        assert set(told["drains pass walls by"].split(" and ")) == walls
        assert told["drain joints"] == ("screwed" if drawing.screwed_drains else "welded")
        assert told["tank drain"] == f"metric {small.value(Kind.DRAIN, drawing)}"
        assert told["main"] == made_of(drawing.runs["main" if "main" in drawing.runs else "main 1"].pipe)
        assert told["against siphoning back"].endswith(str(small.value(Kind.GUARD, drawing)))
    size, stood = small.value(Kind.BEDS, drawing)  # type: ignore[misc]
    assert told["bed drains"] == f"metric {size}"
    assert told["standpipes"] == f"metric {stood.partition(' ')[0]}, under a bell"
    assert told["feeds"] == made_of(drawing.runs["tank feed"].pipe)


def test_the_next_size_of_a_main_is_no_kind(guarded: Small) -> None:
    """Mains of 25 and 32 mm both do, and no two ranks differ in nothing else."""
    mains = {d.runs["main"].pipe for n, (_, d) in enumerate(guarded.by_cost) if guarded.holds(n)}
    assert {"pn16-25-3m", "pn10-32-3m"} <= mains
    every = guarded.cheapest(*PARTS)
    rigid = [value for value in every if value[PARTS.index(Kind.MATERIAL)][0] == "rigid pipe"]  # type: ignore[index]
    finer = {
        (*(guarded.value(kind, drawing) for kind in PARTS), drawing.runs["main"].pipe)
        for number, (_, drawing) in enumerate(guarded.by_cost)
        if guarded.holds(number)
    }
    assert len([one for one in finer if one[:-1] in set(rigid)]) > len(rigid)


def test_a_bed_to_come_later_does_not_count(flooded: Small) -> None:
    """Of a bed that is not built yet no drain is told, nor the wall that it would pass."""
    site = flooded.site
    later = {n: replace(run, spare=True) for n, run in site.runs.items() if "bed" in (run.start + run.finish)}
    bare = replace(site, runs={**site.runs, **later})
    told = {trait.name for trait in traits_in(Draft(bare, flooded.catalog, read_rules(bare)))}
    assert {"bed drains", "standpipes"} & told == set()
    now = {trait.name for trait in traits_in(Draft(site, flooded.catalog, read_rules(site)))}
    assert {"bed drains", "standpipes"} <= now


def test_a_check_valve_that_always_loses_is_kept_for_ranks(site_of: SITE, guarded: Small) -> None:
    """Over a rim a hole so shallow is cheaper everywhere: only where designs are ranked are both a choice."""
    site = site_of(guard=Guard.ANY, flow_l_h=850.0, entry=Entry.OVER_RIM)
    site = replace(site, rule_settings={"siphon-back": {"hole_depth": "5 mm"}})
    guards = []
    for ranked in (False, True):
        workshop = Workshop(guarded.catalog, ranked=ranked)
        draft = Draft(site, guarded.catalog, read_rules(site), workshop=workshop)
        (trait,) = traits_in(draft, [Kind.GUARD])
        guards.append({mark for group in trait.groups for own in group.values() for mark in own})
    assert guards[1] - guards[0] == {"check valve"}
    assert guards[0] == {"air gap", "siphon-break hole"}


# --- over several sites ---------------------------------------------------------------------------------


def test_each_arrangement_and_each_pump(site_of: SITE, corner_shelf: Catalog) -> None:
    """Over three variants: the cheapest of each, and whatever the variant the cheapest with each pump."""
    site = three(site_of)
    smalls = [Small(one, corner_shelf) for one in sites_of(site)]
    variants, _ = variants_of(site, corner_shelf)
    costs = {v.said: min(s.cheapest(Kind.PUMP).values()) for v, s in zip(variants, smalls, strict=True)}
    pumps: dict[Hashable, int] = {}
    for small in smalls:
        for value, cents in small.cheapest(Kind.PUMP).items():
            pumps[value] = min(cents, pumps.get(value, cents))

    def found(kind: Kind) -> list[tuple[str, str, int]]:
        book, judges = read_rules(site.outline), judge_of(corner_shelf)
        merged = rank_all(variants, corner_shelf, book, judges, 9, differ=[kind])
        assert all(placed.proven for placed in merged.designs)
        (note,) = closed_kinds(merged, [kind], 9)
        assert note == f"No further design that keeps the rules differs in {kind}."
        assert merged.fruitless == []
        return [
            (p.variant.said, p.ranked.drawing.pumps["sump"].part, p.ranked.objective) for p in merged.designs
        ]

    assert {said: cents for said, _, cents in found(Kind.ARRANGEMENT)} == costs
    by_pump = found(Kind.PUMP)
    assert {(pump,): cents for _, pump, cents in by_pump} == pumps
    assert len(by_pump) == len(pumps) > 1
