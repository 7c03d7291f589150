"""The pieces of an answer on the sticks that it counts; or the row that cuts the answer off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from autoplan.drawing import CutStick
from autoplan.optimiser.cutting.cutting import (
    CuttingUndecidedError,
    Stick,
    lay,
    lengths_of,
    most_too_few,
    taking,
)
from autoplan.optimiser.cutting.patterns import lay_by_patterns
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import NO_STICKS, Supply, least_cost
from autoplan.optimiser.search.solve import Ending, Search, Unless
from autoplan.rules.base import Concern, Given
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from autoplan.units import TENTH_MM, tenth_mm_up

THOROUGH = 400_000
"""Steps of a search that decides about an answer before the solver is asked; about a second."""

LAYING_WORK = 30.0
"""Work of the solver on one answer's pieces, in its own measure."""

Laid = list[list[int]]


@dataclass(frozen=True, slots=True)
class LaidStick:
    """One stick, or one length bought by the metre, and the pieces on it.

    Attributes:
        pipe: first row of its family.
        kind: what it is and who sells it.
        length: its length [0.1 mm].
        pieces: laid on it [0.1 mm].
        alone: whether it is one length that a shop cuts to measure, so that the builder cuts nothing.
    """

    pipe: str
    kind: Stick
    length: int
    pieces: tuple[int, ...]
    alone: bool


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """The sticks that pieces are cut from.

    Attributes:
        laid: every stick with its pieces.
        kerf: width of a saw cut [0.1 mm].
        short: rows that this answer breaks and that every answer whose pieces can be laid keeps; empty if
            all are laid.
    """

    laid: tuple[LaidStick, ...]
    kerf: int
    short: tuple[Linear | Unless, ...]

    @property
    def cuts(self) -> tuple[CutStick, ...]:
        """The sticks as drawn; none for a pipe that one shop cuts to measure."""
        return tuple(cut for stick in self.laid if not stick.alone for cut in _cut(stick, self.kerf))

    @property
    def used_m(self) -> Mapping[tuple[str, str], float]:
        """Length cut from each order line [m], by part and shop."""
        used: Counter[tuple[str, str]] = Counter()
        for stick in self.laid:
            used[stick.kind.pipe, stick.kind.shop] += sum(stick.pieces)
        return {line: length * TENTH_MM for line, length in used.items()}

    def trimmed(self, shorter: Mapping[str, Sequence[tuple[int, int]]]) -> CuttingPlan:
        """The same plan with pieces cut shorter than they were laid.

        Args:
            shorter: by the first row of a pipe's family, (laid, cut) length of every piece [0.1 mm].
        """
        waiting: dict[tuple[str, int], list[int]] = {}
        for pipe, pairs in shorter.items():
            for old, new in pairs:
                waiting.setdefault((pipe, old), []).append(new)
        laid = tuple(
            replace(stick, pieces=tuple(waiting[stick.pipe, piece].pop(0) for piece in stick.pieces))
            for stick in self.laid
        )
        return replace(self, laid=laid)


def cutting_plan(draft: Draft, values: Sequence[int], deadline: float | None = None) -> CuttingPlan:
    """Lay every pipe's pieces on the sticks that an answer counts.

    Args:
        draft: the model that was answered.
        values: of every variable.
        deadline: `time.monotonic()` at which to stop, or None.

    Raises:
        CuttingUndecidedError: whether they can be laid was not decided by then.
    """
    kerf = tenth_mm_up(draft.book.given(Given.SAW_CUT))
    found: list[LaidStick] = []
    short: list[Linear | Unless] = []
    for pipe_id, pieces, supplies, counts in _asked(draft, values):
        sticks = [supply.stick for supply in supplies]
        laid = decide(pieces, sticks, counts, kerf, deadline)
        if laid is None:
            short.append(_Shortage(draft, pipe_id, values, counts, kerf).row())
            continue
        lengths = lengths_of(sticks, counts)
        on = [(*at, list_) for at, list_ in zip(lengths, laid, strict=True) if list_]
        alone = len(on) == 1 and on[0][0].to_measure
        found += [LaidStick(pipe_id, kind, length, tuple(list_), alone) for kind, length, list_ in on]
    return CuttingPlan(tuple(found), kerf, tuple(short))


def _asked(
    draft: Draft, values: Sequence[int]
) -> Iterator[tuple[str, list[int], Sequence[Supply], list[int]]]:
    """Of each pipe that is cut: the pieces [0.1 mm], what they may be cut from, and how many packs."""
    for pipe_id, groups in draft.cuts_by_group.items():
        pieces = [tenth_mm_up(p) for group in groups for var, list_ in group if values[var] for p in list_]
        if pieces:
            supplies = draft.orders.supplies[pipe_id]
            yield pipe_id, pieces, supplies, [evaluate(supply.packs, values) for supply in supplies]


def _cut(stick: LaidStick, kerf: int) -> Iterator[CutStick]:
    """One stick, or metres in few lengths that the shop cuts, and what is left after a cut behind each piece.

    Metres that come in several lengths need no saw cut between them; what that saves goes to the last that
    have room for it.
    """
    kind, cut = stick.kind, 0 if stick.kind.to_measure else kerf
    lengths = [(stick.length, list(stick.pieces))]
    if kind.longest is not None and stick.length > kind.longest:
        lengths = _in_lengths(stick, kind.longest, cut)
    for length, pieces in lengths:
        left = max(0, length - sum(pieces) - cut * len(pieces))
        made = tuple(piece * TENTH_MM for piece in pieces)
        yield CutStick(kind.pipe, length * TENTH_MM, made, left * TENTH_MM, owned=not kind.shop)


def _in_lengths(stick: LaidStick, longest: int, cut: int) -> list[tuple[int, list[int]]]:
    """Lengths no longer than a shop cuts, together no longer than the metres bought, and what each holds."""
    bins: list[list[int]] = []
    for piece in sorted(stick.pieces, reverse=True):
        roomy = (held for held in bins if sum(held) + cut * len(held) + piece <= longest)
        held = next(roomy, None)
        if held is None:
            bins.append([piece])
        else:
            held.append(piece)
    lengths = [sum(held) + cut * (len(held) - 1) for held in bins]
    spare = stick.length - sum(lengths)
    for place in reversed(range(len(lengths))):
        more = min(spare, longest - lengths[place])
        lengths[place], spare = lengths[place] + more, spare - more
    return list(zip(lengths, bins, strict=True))


MOST_MORE = 6
"""Most packs of one kind of pipe that are added to an answer to have its pieces laid."""


def with_more(draft: Draft, values: Sequence[int], deadline: float | None = None) -> tuple[int, ...] | None:
    """An answer whose pieces cannot be laid, with a pack more of the cheapest stick that mends it, or a few.

    Not the cheapest plan, but one that can be built, at once. None where no packs do, or they break a row.
    """
    kerf = tenth_mm_up(draft.book.given(Given.SAW_CUT))
    more = list(values)
    for _, pieces, supplies, counts in _asked(draft, values):
        if _laid_soon(pieces, supplies, counts, kerf, deadline):
            continue
        added = packs_more(pieces, supplies, counts, kerf, deadline)
        if not added:
            return None
        for place in added:
            more[next(iter(supplies[place].packs.terms))] += 1
    found = draft.orders.with_least_freight(more)
    rows = draft.model.inequalities
    kept = all(evaluate(row.left, found) >= 0 for row in rows if row.when is None or found[row.when])
    return found if kept else None


def packs_more(
    pieces: Sequence[int],
    supplies: Sequence[Supply],
    counts: Sequence[int],
    kerf: int,
    deadline: float | None,
) -> list[int]:
    """Which packs more, by the place of their supply, have pieces laid; none where nothing is found.

    One of the cheapest supply of which one is enough; else a few of those that cost least by their length.

    Args:
        pieces: lengths [0.1 mm].
        supplies, counts: what is sold, and how many packs of each there are so far.
        kerf: width of a cut [0.1 mm].
        deadline: `time.monotonic()` for each try.
    """
    now, added = list(counts), list[int]()
    sold = [i for i, supply in enumerate(supplies) if supply.packs.terms]
    for place in sorted(sold, key=lambda i: supplies[i].stick.cents):
        raised = [count + (i == place) for i, count in enumerate(counts)]
        if raised[place] <= supplies[place].stick.most and _laid_soon(
            pieces, supplies, raised, kerf, deadline
        ):
            return [place]
    while len(added) < MOST_MORE:
        left = [i for i in sold if now[i] < supplies[i].stick.most]
        if not left:
            break
        added.append(min(left, key=lambda i: _rate(supplies[i].stick)))
        now[added[-1]] += 1
        if len(added) > 1 and _laid_soon(pieces, supplies, now, kerf, deadline):
            return added
    return []


def _rate(stick: Stick) -> float:
    """What a stick costs by its length [cents for 0.1 mm]."""
    return stick.cents / (stick.length * stick.pack)


def _laid_soon(
    pieces: Sequence[int],
    supplies: Sequence[Supply],
    counts: Sequence[int],
    kerf: int,
    deadline: float | None,
) -> bool:
    """Whether pieces are laid without a long search."""
    sticks = [supply.stick for supply in supplies]
    try:
        return _quickly(pieces, sticks, counts, kerf, deadline) is not None
    except CuttingUndecidedError:
        return False


def _quickly(
    pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int, deadline: float | None
) -> Laid | None:
    """As `cutting.lay`, by a short search and by whole fillings.

    Raises:
        CuttingUndecidedError: neither decided it.
    """
    with suppress(CuttingUndecidedError):
        return lay(pieces, sticks, counts, kerf)
    return lay_by_patterns(pieces, sticks, counts, kerf, deadline)


def decide(
    pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int, deadline: float | None
) -> Laid | None:
    """As `cutting.lay`, by a quick search, by whole fillings and by thorough searches, until the deadline.

    Raises:
        CuttingUndecidedError: not decided by then, or the user stopped it.
    """
    with suppress(CuttingUndecidedError):
        return _quickly(pieces, sticks, counts, kerf, deadline)
    with suppress(CuttingUndecidedError):
        return lay(pieces, sticks, counts, kerf, THOROUGH)
    return lay_by_solver(pieces, sticks, counts, kerf, deadline)


def lay_by_solver(
    pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int, deadline: float | None
) -> Laid | None:
    """As `cutting.lay`, by counting how many pieces of each length go on each stick.

    Raises:
        CuttingUndecidedError: not decided by the deadline, or the user stopped it.
    """
    model = Model()
    lengths = lengths_of(sticks, counts)
    number = Counter(pieces)
    placed: dict[int, list[tuple[int, Var]]] = {piece: [] for piece in number}
    for stick, (kind, length) in enumerate(lengths):
        cut = 0 if kind.to_measure else kerf
        taken, room = [], kind.room(length, cut)
        for piece, count in number.items():
            takes = taking(piece, cut, room)
            most = min(count, room // takes) if kind.holds(piece) and piece <= length else 0
            if most:
                var = model.integer(f"{piece} on {stick}", 0, most)
                placed[piece].append((stick, var))
                taken.append((var, takes))
        model.at_least(ROLES[Concern.ORDER], Linear(constant=room), weighted(taken))
    for piece, where in placed.items():
        model.equal(weighted((var, 1) for _, var in where), Linear(constant=number[piece]))
    answer = Search(model, deadline).minimize(Linear(), work=LAYING_WORK)
    if answer.values:
        laid: Laid = [[] for _ in lengths]
        for piece, where in placed.items():
            for stick, var in where:
                laid[stick] += [piece] * answer.values[var]
        return laid
    if answer.ending is Ending.NONE:
        return None
    raise CuttingUndecidedError(interrupted=answer.interrupted)


class _Shortage:
    """A pipe whose pieces cannot be laid on what an answer counts.

    Args:
        draft: the model.
        pipe_id: first row of the pipe's family.
        values: the answer.
        counts: packs of each of the pipe's supplies in the answer.
        kerf: width of a saw cut [0.1 mm].
    """

    def __init__(
        self, draft: Draft, pipe_id: str, values: Sequence[int], counts: Sequence[int], kerf: int
    ) -> None:
        self.draft, self.pipe_id, self.values, self.counts, self.kerf = draft, pipe_id, values, counts, kerf
        self.supplies: tuple[Supply, ...] = draft.orders.supplies[pipe_id]
        self.sticks = [supply.stick for supply in self.supplies]
        self.used = self._used()

    def _used(self) -> list[tuple[tuple[Var, ...], list[int]]]:
        """For each group that cuts the pipe, the choices that cut no less, and the pieces; most first."""
        used = []
        for group in self.draft.cuts_by_group[self.pipe_id]:
            for var, list_ in group:
                if self.values[var] and list_:
                    as_much = tuple(other for other, cut in group if covers(cut, list_))
                    used.append((as_much, [tenth_mm_up(piece) for piece in list_]))
        return sorted(used, key=lambda item: -sum(item[1]))

    def row(self) -> Linear | Unless:
        """What every answer keeps whose pieces can be laid, and this one does not."""
        for few in range(1, len(self.used) + 1):
            row = self._by_cost(self.used[:few])
            if row is not None:
                return row
        return self._by_count()

    def _by_cost(self, used: Sequence[tuple[tuple[Var, ...], list[int]]]) -> Linear | None:
        """With such pieces the pipe costs at least so much, unless other shops are ordered from too."""
        spending, ordered = self.draft.orders.pipe_spending[self.pipe_id], self.draft.orders.ordered
        selling = {kind.shop for kind in self.sticks if kind.shop}
        spent = evaluate(spending, self.values)
        pieces = [piece for _, list_ in used for piece in list_]
        closed = [shop for shop in ordered if shop in selling and not self.values[ordered[shop]]]
        for without in ([], closed) if closed else ([],):
            cents = least_cost(pieces, [k for k in self.sticks if k.shop not in without], self.kerf)
            if cents == NO_STICKS:
                return _not_all(used) + weighted((ordered[shop], 1) for shop in without)
            if cents > spent:
                return spending + _not_all(used) * cents + weighted((ordered[s], cents) for s in without)
        return None

    def _by_count(self) -> Linear | Unless:
        """With such pieces there is more of something than it takes to be too little."""
        used = self._fewest()
        pieces = [piece for _, list_ in used for piece in list_]
        too_few = most_too_few(pieces, self.sticks, self.counts, self.kerf)
        left = _not_all(used)
        more = [
            (supply.packs, few + 1)
            for supply, few in zip(self.supplies, too_few, strict=True)
            if few < supply.stick.most
        ]
        if len(more) == 1:
            ((packs, least),) = more
            return packs + left * least
        return Unless(left, tuple(more)) if more else left

    def _fewest(self) -> list[tuple[tuple[Var, ...], list[int]]]:
        """As few groups as are found whose pieces cannot be laid by themselves."""
        for few in range(1, len(self.used)):
            pieces = [piece for _, list_ in self.used[:few] for piece in list_]
            try:
                if lay(pieces, self.sticks, self.counts, self.kerf) is None:
                    return self.used[:few]
            except CuttingUndecidedError:
                continue
        return self.used


def _not_all(used: Sequence[tuple[tuple[Var, ...], list[int]]]) -> Linear:
    """At least 0 unless in each of these groups one of these choices is made; then -1."""
    return weighted(((var, -1) for as_much, _ in used for var in as_much), len(used) - 1)


def covers(pieces: Sequence[float], others: Sequence[float]) -> bool:
    """Whether other pieces can be laid wherever these can: as many, each as long as its counterpart."""
    longer, shorter = sorted(pieces, reverse=True), sorted(others, reverse=True)
    return len(longer) >= len(shorter) and all(
        tenth_mm_up(a) >= tenth_mm_up(b) for a, b in zip(longer, shorter, strict=False)
    )
