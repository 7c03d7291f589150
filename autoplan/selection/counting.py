"""What a candidate takes: pieces of each part, and pipe to cut."""

from __future__ import annotations

from collections import Counter

from autoplan.rules.base import Candidate


def candidate_uses(candidate: Candidate) -> Counter[str]:
    """Pieces of every part that a candidate uses over its whole class, pipe and stubs left out."""
    used: Counter[str] = Counter()
    for drawn in candidate.drawn.values():
        if drawn.later:
            used.update(() if drawn.cap is None else (drawn.cap,))
            continue
        used.update(part for turn in drawn.turns for part in turn.parts)
        used.update(drawn.extras)
        used.update(part for part in (drawn.valve,) if part is not None)
        used.update(drawn.valve_chain)
        for end in (drawn.start, drawn.finish):
            used.update(part for part in (end.penetration, *end.chain, *end.inner_chain) if part is not None)
    return used


def candidate_pieces(candidate: Candidate) -> list[float]:
    """Pieces to cut of the candidate's own pipe [m], stubs of adaptor chains left out."""
    return [piece for drawn in candidate.drawn.values() for piece in drawn.pieces_m]
