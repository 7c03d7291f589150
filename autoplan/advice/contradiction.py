"""A proof that a later search of the same call contradicts is a fault of ours, and never a line of text."""

from __future__ import annotations

from autoplan.errors import InternalError
from autoplan.optimiser.search.ranking import Ranked


def never_cheaper(proven: Ranked, later: Ranked, where: str) -> None:
    """Take note of a design that was found among fewer choices than one that was proven cheapest.

    Args:
        proven: the cheapest of all choices; nothing is said where that is not proven.
        later: a design found where some choices were left out.
        where: in words, what was left out.

    Raises:
        InternalError: the later one comes to less.
    """
    if proven.proven and later.objective < proven.objective:
        raise InternalError(
            f"{where} a design comes to {later.objective / 100:.2f}, though {proven.objective / 100:.2f} was "
            "proven to be the least with it"
        )
