"""The relaxation of one draft, with all that makes it tight and all that answers are divided by."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.kinds import besides, by_kinds
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import FEW_SHOPS
from autoplan.optimiser.model.shop_sets import divisions
from autoplan.optimiser.model.signature import Trait
from autoplan.optimiser.search.presolve import Narrowing, impossible
from autoplan.optimiser.search.relaxation import Partition
from autoplan.optimiser.search.separate import Separator
from autoplan.rules.linear import Linear


def narrowed(
    draft: Draft,
    model: Model,
    objective: Linear,
    told_apart: Sequence[Trait],
    late: Callable[[], bool],
    deadline: float | None,
) -> tuple[Model, Narrowing]:
    """The model that searches are made with, and its relaxation.

    Args:
        draft: what the model says.
        model: its model, or that with rows more.
        objective: what is minimised.
        told_apart: what answers are to be divided by so that kinds can be looked for one by one; nothing
            where one design is enough.
        late, deadline: as for `Narrowing`.
    """
    kinds: Sequence[Partition] = ()
    # Many shops make rows of ways to order, which are not divided further.
    if told_apart and len(draft.orders.asking) <= FEW_SHOPS:
        model, kinds = by_kinds(model, told_apart)
    out = impossible(model)
    # It knows nothing of choices that only say which kind an answer is of.
    tight = Separator(draft, [var for var in out if var < len(draft.model.variables)])
    parts, sets = divisions(draft, model, objective, out, deadline)
    kinds = besides(parts, kinds)
    torn = [
        [var for var, _ in sorted(draft.candidates(shared), key=lambda way: way[1].pipe.bore_m)]
        for shared in draft.shared_classes()
    ]
    return model, Narrowing(model, objective, parts, tight, late, out, deadline, sets, kinds, torn)
