"""Whether there is an emergency overflow, where that is left open: without those offered, and with them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.problem.brief import Survives, Wishes
from autoplan.problem.flows import flows
from autoplan.problem.layouts.overflows import KEY
from autoplan.problem.problem import Arranged
from autoplan.problem.site import OverflowOffer, Run


def by_overflows(layout: Arranged, wishes: Wishes) -> Iterator[tuple[Arranged, OverflowOffer | None]]:
    """A layout without the overflows that it is only offered, and with all of them.

    They are offered against drains that may be half blocked; where nothing of the kind is wished for none can
    be needed, nor come cheaper.

    Args:
        layout: as laid, every other choice made.
        wishes: what is asked of it.

    Yields:
        The layout, and when it is asked for at all: None for always.
    """
    offers = {name: run for name, run in layout.runs.items() if run.offered is not None}
    rest = {name: run for name, run in layout.runs.items() if name not in offers}
    yield replace(layout, runs=rest, flows={name: layout.flows[name] for name in rest}), None
    if offers and wishes.survives is Survives.HALF_BLOCKED:
        cheaper = any(run.offered is OverflowOffer.ANY for run in offers.values())
        yield _built(layout, offers), OverflowOffer.ANY if cheaper else OverflowOffer.IF_NEEDED


def _built(layout: Arranged, offers: dict[str, Run]) -> Arranged:
    """The layout with its overflows built, and what is assumed of them told."""
    runs = {**layout.runs, **{name: replace(run, offered=None) for name, run in offers.items()}}
    told = tuple(replace(one, moot=one.moot and not _theirs(one.place)) for one in layout.assumptions)
    made = replace(layout, runs=runs, assumptions=told)
    return replace(made, flows=flows(made))


def _theirs(place: str) -> bool:
    """Whether an assumption is of how such an overflow goes."""
    return place.endswith(f".{KEY}")
