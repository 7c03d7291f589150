"""What a candidate takes: pieces of each part, and pipe to cut."""

from __future__ import annotations

from collections import Counter

from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.rules.base import Candidate
from autoplan.rules.circuit import timed_watts


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
            used.update(end.upright_parts)
    return used


def candidate_standpipes(candidate: Candidate) -> dict[str, list[float]]:
    """Standpipes of other pipe than the candidate's own: lengths [m], as long as they could be, by row."""
    lengths: dict[str, list[float]] = {}
    for drawn in (run for run in candidate.drawn.values() if not run.later):
        end = drawn.start
        if end.standpipe is not None and end.standpipe_top_m is not None and end.centre_m is not None:
            lengths.setdefault(end.standpipe, []).append(end.standpipe_top_m - end.centre_m)
    return lengths


def candidate_pieces(candidate: Candidate) -> list[float]:
    """Pieces to cut of the candidate's own pipe [m], stubs of adaptor chains left out."""
    return [piece for drawn in candidate.drawn.values() for piece in drawn.pieces_m]


def valve_watts(catalog: Catalog, site: Site, candidate: Candidate) -> float:
    """Mean power that the timed valves of a candidate take over its whole class [W]."""
    return sum(timed_watts(catalog, site, drawn) for drawn in candidate.drawn.values())
