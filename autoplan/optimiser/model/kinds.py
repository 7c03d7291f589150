"""All answers divided by what a builder tells them apart by.

Where one group of choices says a trait, its choices are the parts. Where several have a share in it, as all
classes of drains have in how walls are passed, a choice for each thing says whether it is used anywhere: so
the relaxation of "some of the main is hose" pays for hose, and that of "none is" has none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from autoplan.optimiser.model.model import Inequality, Model
from autoplan.optimiser.model.signature import RULE, Trait
from autoplan.optimiser.search.relaxation import Partition
from autoplan.rules.linear import Var, weighted

Groups = Sequence[Sequence[Var]]


def by_kinds(model: Model, traits: Sequence[Trait]) -> tuple[Model, list[Partition]]:
    """The model with such choices, that follow from the others, and what answers are divided by.

    Two answers in the same part of every partition come to the same in every trait.
    """
    more = replace(
        model,
        variables=[*model.variables],
        groups=[*model.groups],
        inequalities=[*model.inequalities],
    )
    found: list[Partition] = []
    for trait in traits:
        if trait.where is not None:
            found.append(_used(more, f"any {trait.name}", trait.where))
        if len(trait.groups) == 1:
            found.append(trait.by_value)
        else:
            found += [_used(more, f"{trait.name}: {mark}", users) for mark, users in _may_be_used(trait)]
    return more, [part for part in found if len(part) > 1]


def besides(parts: Sequence[Partition], kinds: Sequence[Partition]) -> list[Partition]:
    """Those of the kinds that do not divide answers just as some of the parts do."""
    made = [frozenset(map(frozenset, part)) for part in parts]
    return [kind for kind in kinds if frozenset(map(frozenset, kind)) not in made]


def _may_be_used(trait: Trait) -> Iterator[tuple[str, Groups]]:
    """What some answers use and some do not, each with the choices that use it, group by group."""
    for mark in trait.order:
        users = trait.using(mark)
        always = any(own and len(own) == len(group) for own, group in zip(users, trait.groups, strict=True))
        if any(users) and not always:
            yield mark, users


def _used(model: Model, name: str, users: Groups) -> Partition:
    """A choice of whether any of these choices is made, as two parts."""
    used, unused = model.choice(name), model.choice(f"no {name}")
    model.exactly_one((used, unused))
    rows = [weighted([(used, 1), *((var, -1) for var in own)]) for own in users if own]
    every = [var for own in users for var in own]
    rows.append(weighted([*((var, 1) for var in every), (used, -1)]))
    model.inequalities += [Inequality(RULE, row, None) for row in rows]
    return [every, [unused]]
