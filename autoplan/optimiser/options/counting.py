"""What a candidate takes: pieces of each part, and pipe to cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from autoplan.catalog.joining import stub_length
from autoplan.catalog.parts import Catalog
from autoplan.line.water import timed_watts
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Site
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Var

Cuts = dict[str, list[tuple[Var, list[float]]]]
"""By the first row of a pipe's family, every choice that cuts it, and the pieces [m]."""


def candidate_uses(candidate: Candidate) -> Counter[str]:
    """Pieces of every part that a candidate uses over its whole class, pipe and stubs left out."""
    return Counter(part for drawn in candidate.drawn.values() for part in drawn.parts())


def candidate_standpipes(candidate: Candidate) -> dict[str, list[float]]:
    """Standpipes of other pipe than the candidate's own: lengths [m], as long as they could be, by row."""
    lengths: dict[str, list[float]] = {}
    for drawn in (run for run in candidate.drawn.values() if not run.later):
        end = drawn.floor
        if end is None or end.standpipe is None or end.standpipe_top_m is None or end.centre_m is None:
            continue
        lengths.setdefault(end.standpipe, []).append(end.standpipe_top_m - end.centre_m)
    return lengths


def candidate_pieces(candidate: Candidate) -> list[float]:
    """Pieces to cut of the candidate's own pipe [m], stubs of adaptor chains left out."""
    return [piece for drawn in candidate.drawn.values() for piece in drawn.pieces_m]


def valve_watts(catalog: Catalog, site: Site, candidate: Candidate) -> float:
    """Mean power that the timed valves of a candidate take over its whole class [W]."""
    return sum(timed_watts(catalog, site, drawn) for drawn in candidate.drawn.values())


def pieces_by_pipe(
    shelf: Shelf,
    candidates: Iterable[tuple[Var, Candidate]],
    choices: Iterable[tuple[Var, Mapping[str, int]]],
    waste: float,
) -> Cuts:
    """By the first row of each pipe's family: every choice that cuts it, and what is kept for its pieces [m].

    Args:
        shelf: the pipes.
        candidates: the choices that cut a pipe of their own.
        choices: every choice with the pieces of each part that it uses, stubs of pipe among them.
        waste: what is kept beside each piece, as a share of it [-].
    """
    cuts: Cuts = {}
    for var, candidate in candidates:
        cuts.setdefault(candidate.pipe.id, []).append((var, candidate_pieces(candidate)))
        for stood, lengths in candidate_standpipes(candidate).items():
            cuts.setdefault(stood, []).append((var, [length * (1 + waste) for length in lengths]))
    pipes = shelf.catalog.pipes
    first_row = {pipe.family: pipe.id for pipe in shelf.pipe_families()}
    for var, parts in choices:
        for part, count in parts.items():
            if part in pipes:
                length = stub_length(shelf.catalog, pipes[part]) * (1 + waste)
                cuts.setdefault(first_row[pipes[part].family], []).append((var, [length] * count))
    return cuts
