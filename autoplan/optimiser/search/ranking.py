"""What a search for ranked designs is given and what it comes to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.optimiser.model.signature import Value
from autoplan.optimiser.search.solve import Ending, Unless
from autoplan.outcome import Verdict
from autoplan.rules.linear import Linear

Judge = Callable[[Drawing], Verdict]


@dataclass(frozen=True, slots=True)
class Ranked:
    """One design with its proof.

    Attributes:
        drawing, verdict: the design and its judgement.
        objective, bound: what was minimised and its proven bound [cents].
        proven: whether the two meet.
        traits: what ranks are told apart by, in plain words.
        key: the same as it is compared.
    """

    drawing: Drawing
    verdict: Verdict
    objective: int
    bound: int
    proven: bool
    traits: Mapping[str, str]
    key: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class KnownBest:
    """A design that is the cheapest with its traits.

    Attributes:
        goal: what it comes to, in the unit of `tie_break.folded`.
        values: of every variable.
        drawing, verdict: the design and its judgement.
        differ: the row that other traits keep.
    """

    goal: int
    values: tuple[int, ...]
    drawing: Drawing
    verdict: Verdict
    differ: Linear | Unless


@dataclass(slots=True)
class Ranking:
    """What a ranking run came to.

    Attributes:
        designs: in rank order.
        ending: of the last search: NONE once no further design differs.
        first_bound: bound of rank 1 [cents], or None.
        rejected: designs that the verdict refused.
        solves: searches run.
        interrupted: whether the user stopped it.
    """

    designs: list[Ranked] = field(default_factory=list)
    ending: Ending = Ending.UNDECIDED
    first_bound: int | None = None
    rejected: int = 0
    solves: int = 0
    interrupted: bool = False

    def add(self, design: Ranked) -> None:
        """The next in rank order.

        Raises:
            InternalError: it is proven, and cheaper than the one before it.
        """
        if self.designs and design.proven and design.objective < self.designs[-1].objective:
            raise InternalError(f"rank {len(self.designs) + 1} is cheaper than the one before it")
        if self.first_bound is None:
            self.first_bound = design.bound
        self.designs.append(design)
        self.ending = Ending.PROVEN if design.proven else Ending.FEASIBLE
