"""What the wishes of a builder cost."""

from __future__ import annotations

from autoplan.outcome import Outcome
from autoplan.report.figures import money

HALF_A_CENT = 0.005


def wish_words(outcome: Outcome) -> str:
    """What each wish costs of rank 1, in a line; "" where there is none, or nothing is known of any."""
    currency = outcome.catalog.currency
    said = []
    for wish in outcome.wishes:
        costs = f"{'' if wish.exact else 'at most '}{money(wish.dearer, currency)} of it"
        said.append(f"{wish.words}: {costs if wish.dearer >= HALF_A_CENT else 'costs nothing'}")
    return f"{'; '.join(said)}." if said else ""
