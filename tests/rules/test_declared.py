"""What rules declare that they read: nothing else is read, and the way that is said to be no worse is none.

Of each declaration every mutation is caught: left out, and turned the other way.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from autoplan import load_catalog, load_problem
from autoplan.catalog.materials import Grade
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.variants import variants_of
from autoplan.problem.brief import Flushing
from autoplan.problem.site import Run
from autoplan.rules.base import Rule
from autoplan.rules.book import ALL, read_rules
from autoplan.rules.quantities import Better, Quantity
from tests import outside
from tests.lists import rewritten
from tests.rules import test_waste
from tests.rules.random_lines import Declared, Written, written
from tests.rules.water import test_surge
from tests.short_list import from_short_list, from_shortest_list

HOME = Path(__file__).parents[2]

ENCODING = [kind for kind in ALL if kind.encode is not Rule.encode]


def shipped(name: str, *changes: tuple[str, str]) -> str:
    """A shipped problem, with other words in it."""
    text = (HOME / "problems" / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


PROBLEMS = {
    "one bed": shipped("one-tank-one-bed"),
    "often": shipped("one-tank-one-bed") + '\n[rules.flood-rate]\nmost = "1.01/hour"\n',
    "crest": outside.text(),
    "clock": shipped("timed-beds"),
    "clock, pump": shipped("timed-beds") + '\n[rules.timer-shut]\nsiphon = "45 %"\n',
    "overflow": shipped("two-drains"),
    "closer": shipped("two-drains") + '\n[rules.share-trim]\napart = "5 mm"\n',
    "scarce": shipped("two-drains", ('"70 %"', '"82.8 %"'), ('"30 %"', '"17.2 %"')),
    # Any bell over any wall part, for more ways to make up others of.
    "surge": test_surge.PROBLEM.format(rule="rules.flange-fit.off = true"),
    "sludge": test_waste.PROBLEM,
    "joined drains": shipped("two-lines"),
    "shared": shipped("row-of-beds", ("count = 4", "count = 2"), ('"any"', '"shared"')),
    "trunk": shipped("row-of-beds", ("count = 4", "count = 3"), ('"any"', '"each"')),
    "in water": shipped("one-tank-one-bed") + '\n[wishes]\nmouth = "below water"\n',
    "money": shipped("one-tank-one-bed")
    + '\n[wishes]\nbudget = 900\ndrain_grade = "drain"\nsecond_half = true\n',
}
"""Problems in which every rule with rows has something to say."""


WIDER = ("surge", "joined drains")
"""Those in which pipe that is left out elsewhere tells one way to take water in from another."""

Said = tuple[Quantity[Any], Better]

LARGE = re.compile(r"^(pe|compression)-|(?<!bell)(?<!guard)(?<!-\d\d)-(63|90|110)(-|$)")
"""Parts that are left out too, but where a siphon surges: a few ways are enough to make up others of."""

FEW, MANY = 1, 4
"""Of each class so many sets of made-up ways, every day and in the long runs."""

MORE = {"surge": 4, "turnover": 2}
"""Rules of which every mutation shows only in more of them."""

often = pytest.mark.parametrize("sets", [FEW, pytest.param(MANY, marks=pytest.mark.long)])


@cache
def workshop() -> Workshop:
    """What all drafts share; the list does not say what parts are sold for, so that drain parts are in it."""
    listed = load_catalog(HOME / "catalogs" / "metric")
    return Workshop(rewritten(listed, lambda row: replace(row, grade=Grade.UNKNOWN)))


@cache
def draft(name: str) -> Draft:
    """A draft of one problem from the short price list."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "problem.toml"
        listed = from_short_list if name in WIDER else from_shortest_list
        file.write_text(listed(PROBLEMS[name]), encoding="utf-8")
        problem = load_problem(file)
    catalog = workshop().catalog
    site = variants_of(problem, catalog)[0][0].site
    # No row asks for flushing points, and the short list has none with room on the shortest drains.
    site = replace(site, wishes=replace(site.wishes, flushing_points=Flushing.NOWHERE))
    large = {part for group in catalog.groups() for part in group if LARGE.search(part)}
    if name != "surge":
        site = replace(site, unavailable=site.unavailable | large)
    few = {
        part.id: replace(part, offers=tuple(replace(offer, stock=2) for offer in part.offers))
        for part in catalog.turns.values()
    }
    if name == "money":
        return Draft(site, replace(catalog, turns=few), read_rules(site))
    return Draft(site, catalog, read_rules(site), workshop=workshop())


@cache
def rows_of(rule_id: str, sets: int) -> list[tuple[Rule, Written]]:
    """What a rule writes over made-up ways of every class of every problem, one class at a time."""
    found = []
    seeds = range(max(sets, MORE.get(rule_id, 0)))
    for name in PROBLEMS:
        made = draft(name)
        rules = [rule for rule in made.book.rules if rule.id == rule_id]
        for rule, seed, run_class in product(rules, seeds, made.site.classes()):
            one = written(made, rule, run_class, f"{name} {seed + 1}")
            if one.heard.rows:
                found.append((rule, one))
    return found


def declared(rule: Rule, one: Written) -> Declared:
    """What a rule itself declares."""
    return lambda run: list(rule.declares(one.draft.site, run))


def caught(rule_id: str, sets: int, old: Said, new: Better | None) -> bool:
    """Whether one of the two tests fails where one thing that a rule says is turned or left out."""
    for rule, one in rows_of(rule_id, sets):
        own = declared(rule, one)

        def said(run: Run, own: Declared = own) -> list[Said]:
            kept = [said for said in own(run) if said != old]
            return kept if new is None or old not in own(run) else [*kept, (old[0], new)]

        if one.undeclared(said) or any(one.wrong(said)):
            return True
    return False


def everything_said(rule_id: str, sets: int) -> set[Said]:
    """All that a rule declares of any run of any problem."""
    return {
        said
        for rule, one in rows_of(rule_id, sets)
        for run in one.runs
        for said in rule.declares(one.draft.site, run)
    }


@often
@pytest.mark.parametrize("rule_id", [kind.id for kind in ENCODING])
def test_nothing_else_is_read(rule_id: str, sets: int) -> None:
    """Whatever a rule with rows looks at of how a run is built it has declared."""
    assert rows_of(rule_id, sets)
    for rule, one in rows_of(rule_id, sets):
        assert not one.undeclared(declared(rule, one))


@often
@pytest.mark.parametrize("rule_id", [kind.id for kind in ENCODING])
def test_what_is_declared_no_worse_is_none(rule_id: str, sets: int) -> None:
    """Of two made-up ways the one that is no worse in all that is declared keeps every row of the other."""
    for rule, one in rows_of(rule_id, sets):
        assert not next(one.wrong(declared(rule, one)), None), one.run_class


@often
@pytest.mark.parametrize("rule_id", [kind.id for kind in ENCODING])
def test_every_mutation_of_a_declaration_is_caught(rule_id: str, sets: int) -> None:
    """A declaration that is left out fails one of the two tests, and so does one that is turned round."""
    for old in everything_said(rule_id, sets):
        assert caught(rule_id, sets, old, None), f"{old} left out"
        # To say that neither way is sure to be no worse is never wrong, only wasteful.
        for other in {Better.LESS, Better.MORE} - {old[1]}:
            assert caught(rule_id, sets, old, other), f"{old} as {other}"


def test_every_rule_that_declares_writes_rows() -> None:
    """Who reads nothing needs to declare nothing."""
    silent = [kind.id for kind in ALL if kind.reads and kind not in ENCODING]
    assert not silent
