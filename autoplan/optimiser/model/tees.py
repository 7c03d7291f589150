"""Which tee is worth offering, and what the steps in bore beside one lose."""

from __future__ import annotations

import math
from functools import lru_cache

from autoplan.catalog.parts import Tee
from autoplan.fittings.passage import passage_loss
from autoplan.optimiser.options.shelf import Shelf

Bores = tuple[float, ...]
"""Bores that may lie behind one opening [m]."""


def better_tee(shelf: Shelf, one: Tee, other: Tee) -> bool:
    """Whether a tee does all that another does for no more money; of two alike the first by id.

    Only tees of one shape are held against each other, their bores in one ratio: then K is the same and the
    wider loses less. A handbook's K takes steps where the ratio passes from one range into the next.
    """
    if one.id == other.id or (one.ends, one.angle) != (other.ends, other.angle):
        return False
    if one.bore_m < other.bore_m or one.rating_m < other.rating_m:
        return False
    if not math.isclose(one.branch_m / one.bore_m, other.branch_m / other.bore_m, rel_tol=1e-9):
        return False
    bills = shelf.bill([one.id]), shelf.bill([other.id])
    if not shelf.no_dearer(*bills):
        return False
    alike = (one.bore_m, one.rating_m) == (other.bore_m, other.rating_m) and shelf.no_dearer(*bills[::-1])
    return not alike or one.id < other.id


@lru_cache(maxsize=20_000)
def worst_passage(
    bores: tuple[Bores, Bores], narrow_m: float, flow_m3_s: float, *, backwards: bool = False
) -> float:
    """The most that a passage loses [m] over all the bores that may lie on either side of it [m].

    Water goes from the first to the second, or backwards: a step up in bore loses more than one down.
    """
    before, after = bores[::-1] if backwards else bores
    return max(passage_loss(a, narrow_m, b, flow_m3_s) for a in before for b in after)
