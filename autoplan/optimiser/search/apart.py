"""One search made in parts, side by side on the cores there are.

The parts are the same on every machine, and none is told what another found: so the answer is the same
however many of them are searched at a time.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import replace

from autoplan.optimiser.search.clock import HEARING_S
from autoplan.optimiser.search.presolve import Narrowing, Portion
from autoplan.optimiser.search.solve import Answer, Ending, Search, Watcher
from autoplan.rules.linear import Linear, Var
from autoplan.side_by_side import cores

PARTS = 4
"""How many parts a search is made in that is worth it; two cores have two each, of unequal size."""

PARTED_FROM = 800
"""Fewest choices of a search that is."""


class Parts:
    """The parts that regions are searched in, and what is proven of each.

    A region within the one before it keeps its parts: what holds no answer of interest is not searched again.
    """

    def __init__(self, narrowing: Narrowing) -> None:
        self._narrowing = narrowing
        self._parts: list[Portion] = []
        self._limit = -math.inf

    def of(self, limit: float, out: frozenset[Var], *, split: bool) -> list[Portion]:
        """The parts of a region.

        Args:
            limit: what its answers cost at most [the objective's unit].
            out: choices that are in none of them.
            split: whether it is worth searching in parts.
        """
        if not self._parts or limit > self._limit or (split and len(self._parts) == 1):
            self._limit = limit
            self._parts = self._narrowing.parted(limit, PARTS) if split else [Portion((), out)]
            return self._parts
        if len(self._parts) == 1:
            self._parts[0].out = out
            return self._parts
        return [part for part in self._parts if self._narrowing.within(part, limit, out)]


def cheapest(
    search: Search,
    parts: Sequence[Portion],
    goal: Linear,
    watcher: Watcher,
    at_most: int | None,
    work: float | None,
    beaten: Sequence[int],
) -> list[Answer]:
    """The cheapest answer of each part.

    Args:
        search: with all rows.
        parts: every answer of interest is in one of them.
        goal, watcher, at_most, work, beaten: as for `Search.minimize`, for each part.
    """
    told = _Told(watcher, len(parts))

    def one(number: int) -> Answer:
        answer = search.minimize(
            goal,
            watcher=told.of(number),
            at_most=at_most,
            work=work,
            beaten=beaten,
            closed=parts[number].out,
        )
        told.ended(number, answer)
        return answer

    if len(parts) <= 1:
        return [one(number) for number in range(len(parts))]
    workers = ThreadPoolExecutor(min(cores(), len(parts)))
    try:
        running = [workers.submit(one, number) for number in range(len(parts))]
        # Each search looks at the clock by itself; here only Ctrl-C is to be heard.
        while wait(running, timeout=HEARING_S).not_done:
            pass
        return [found.result() for found in running]
    finally:
        workers.shutdown(wait=False, cancel_futures=True)


def together(answers: Sequence[Answer]) -> Answer:
    """What answers of all parts come to: of those that cost the same, that of the first part."""
    found = [answer for answer in answers if answer.objective is not None]
    best = min(found, key=lambda answer: answer.objective or 0, default=Answer(Ending.NONE))
    open_ = [
        answer
        for answer in answers
        if answer.ending not in (Ending.NONE, Ending.PROVEN)
        and not (best.objective is not None and answer.bound is not None and answer.bound >= best.objective)
    ]
    bounds = [answer.bound for answer in answers if answer.ending is not Ending.NONE]
    known = [bound for bound in bounds if bound is not None]
    bound = min(known) if known and len(known) == len(bounds) else None
    interrupted = any(answer.interrupted for answer in answers)
    if not open_:
        ending = Ending.NONE if best.objective is None else Ending.PROVEN
    else:
        ending = Ending.UNDECIDED if best.objective is None else Ending.FEASIBLE
    return replace(best, ending=ending, bound=bound, interrupted=interrupted)


class _Told:
    """What is known of all parts together, passed on as one.

    Args:
        watcher: who is told.
        parts: how many there are.
    """

    def __init__(self, watcher: Watcher, parts: int) -> None:
        self._watcher = watcher
        self._lock = threading.Lock()
        self._best: list[float | None] = [None] * parts
        self._bound: list[float | None] = [None] * parts
        self._open = [True] * parts

    def of(self, number: int) -> Watcher:
        """A watcher of one part."""

        def watch(best: float | None, bound: float | None) -> None:
            with self._lock:
                self._best[number], self._bound[number] = best, bound
                self._tell()

        return watch

    def ended(self, number: int, answer: Answer) -> None:
        """A part that is done no longer holds the bound down."""
        with self._lock:
            self._open[number] = answer.ending not in (Ending.NONE, Ending.PROVEN)
            if any(self._open):
                self._tell()

    def _tell(self) -> None:
        found = [best for best in self._best if best is not None]
        bounds = [bound for bound, is_open in zip(self._bound, self._open, strict=True) if is_open]
        known = [bound for bound in bounds if bound is not None]
        best = min(found, default=None)
        bound = min(known) if known and len(known) == len(bounds) else None
        self._watcher(best, bound if bound is None or best is None else min(bound, best))
