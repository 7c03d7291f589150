"""The sites that one problem stands for: arrangements, vessels to buy and floods in all combinations."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError, Mistake
from autoplan.problem.choices.floods import by_floods, floods_told
from autoplan.problem.choices.overflows import by_overflows
from autoplan.problem.choices.vessels import by_vessels
from autoplan.problem.problem import Arranged, Problem
from autoplan.problem.site import OverflowOffer, Site
from autoplan.sentence import Text, say

OVERFLOW = "emergency overflow"
"""The trait of a variant with one that was only offered."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One site of those that a problem stands for.

    Attributes:
        site: with every outer choice made.
        traits: what tells it from the others, name to value; empty if there are no others.
        kind: what makes two designs different whatever their pipes and pumps: arrangement, vessels bought.
        offered: set where it has an overflow that is only built where there is no design without it, or
            where it comes to less than the next one without.
    """

    site: Site
    traits: Mapping[str, str] = field(default_factory=dict)
    kind: tuple[str, ...] = ()
    offered: OverflowOffer | None = None

    @property
    def said(self) -> str:
        """What tells it from the others, in a line."""
        return ", ".join(
            value if name == "arrangement" else f"{name} {value}" for name, value in self.traits.items()
        )

    @property
    def named(self) -> str:
        """The same, also for the one without what another has."""
        return self.said or f"no {OVERFLOW}"


def variants_of(problem: Problem, catalog: Catalog) -> tuple[list[Variant], tuple[Text, ...]]:
    """Every site that a problem stands for.

    Args:
        problem: what is asked.
        catalog: has the vessels to choose from.

    Returns:
        The variants in the order of their choices, one where nothing is open; a sentence for each vessel or
        arrangement that was left out since it cannot be built.

    Raises:
        InputError: none of the vessels to choose from fits where it would stand.
    """
    unfit: list[Mistake] = []
    found = [
        _variant(problem, layout, built, offered)
        for layout in problem.layouts
        for chosen in by_vessels(layout, catalog.vessels, problem.file, unfit)
        for made in by_floods(chosen)
        for built, offered in by_overflows(made, problem.wishes)
    ]
    if not found:
        raise InputError(list(dict.fromkeys(unfit)))
    said = (say("Left out: {}, since {}.", wrong.place, wrong.said) for wrong in unfit)
    if len(found) == 1:
        found = [Variant(found[0].site)]
    return found, tuple(dict.fromkeys((*problem.left_out, *said)))


def _variant(problem: Problem, layout: Arranged, made: Arranged, offered: OverflowOffer | None) -> Variant:
    """A layout with every choice made, with what tells it from the others."""
    traits = {} if layout.arrangement is None else {"arrangement": str(layout.arrangement)}
    if layout.bed_drains is not None:
        traits["bed drains"] = str(layout.bed_drains)
    traits |= {name: str(made.vessels[name].part) for name in layout.choices}
    traits |= {} if offered is None else {OVERFLOW: "built"}
    return Variant(problem.site_of(made), traits | floods_told(made), tuple(traits.values()), offered)


def choice_mistakes(problem: Problem, catalog: Catalog) -> Iterator[Mistake]:
    """Vessels to choose from that the price list does not have."""
    asked = {choice for layout in problem.layouts for choice in layout.choices.values()}
    for choice in sorted(asked, key=lambda one: one.place):
        if not catalog.vessels:
            mistake = f"the price list {catalog.name} has no vessels to choose from"
            yield Mistake(problem.file, choice.place, mistake, "give the size of the one you have")
            continue
        for part in choice.among:
            if part not in catalog.vessels:
                close = difflib.get_close_matches(part, list(catalog.vessels), n=1)
                remedy = f"did you mean {close[0]!r}" if close else f"it has {', '.join(catalog.vessels)}"
                yield Mistake(problem.file, choice.place, f"the price list has no vessel {part!r}", remedy)
