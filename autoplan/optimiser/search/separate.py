"""All rows that tighten the relaxation of one draft, looked for together."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property

from autoplan.optimiser.model.covers import Covers
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.rounding import Rounding
from autoplan.optimiser.model.stick_rows import StickRows
from autoplan.optimiser.model.together import Together
from autoplan.rules.base import Given
from autoplan.rules.linear import Linear, Var


class Separator:
    """Finds rows (>= 0) that every plan keeps and that given values of every variable break.

    Args:
        draft: the model, and what its choices cut and take.
        out: choices that are in no answer.
    """

    def __init__(self, draft: Draft, out: Collection[Var] = ()) -> None:
        self._draft = draft
        self._out = out

    @cached_property
    def _families(self) -> tuple[Covers, StickRows, Rounding, Together]:
        """What looks for rows; made when the first are asked for, since a first design does without."""
        draft, out = self._draft, self._out
        kerf = draft.book.given(Given.SAW_CUT)
        return (
            Covers(draft.model, out),
            StickRows(draft.orders.supplies, draft.cuts_by_group, kerf, out),
            Rounding(draft.model, out),
            Together(draft),
        )

    def __call__(self, values: Sequence[float]) -> list[Linear]:
        """Such rows, of every family."""
        return [row for family in self._families for row in family.rows(values)]
