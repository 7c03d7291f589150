"""What the wishes of a builder cost."""

from __future__ import annotations

from autoplan.outcome import Outcome
from autoplan.report.figures import money

HALF_A_CENT = 0.005


def wish_words(outcome: Outcome, most: int | None = None) -> str:
    """What each wish costs of rank 1, in a line; "" where there is none, or nothing is known of any.

    Of more than `most` the dearest, and how many more there are.
    """
    currency, wishes = outcome.catalog.currency, outcome.wishes
    if most is not None and len(wishes) > most:
        dearest = sorted(wishes, key=lambda wish: wish.dearer, reverse=True)[:most]
        wishes = tuple(wish for wish in wishes if wish in dearest)
    said = []
    for wish in wishes:
        costs = f"{'' if wish.exact else 'at most '}{money(wish.dearer, currency)} of it"
        said.append(f"{wish.words}: {costs if wish.dearer >= HALF_A_CENT else 'costs nothing'}")
    if len(wishes) < len(outcome.wishes):
        said.append(f"{len(outcome.wishes) - len(wishes)} more: --show cost")
    return f"{'; '.join(said)}." if said else ""
