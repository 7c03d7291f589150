"""What a candidate takes: pieces of each part, and pipe to cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from autoplan.catalog.joining import stub_length
from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.rules.candidate import Candidate
from autoplan.rules.circuit import timed_watts
from autoplan.rules.linear import Var
from autoplan.selection.shelf import Shelf

Cuts = dict[str, list[tuple[Var, list[float]]]]
"""By the first row of a pipe's family, every choice that cuts it, and the pieces [m]."""


def candidate_uses(candidate: Candidate) -> Counter[str]:
    """Pieces of every part that a candidate uses over its whole class, pipe and stubs left out."""
    used: list[str | None] = []
    for drawn in candidate.drawn.values():
        if drawn.later:
            used.append(drawn.cap)
            continue
        for turn in drawn.turns:
            used += turn.parts
        used += (
            drawn.open_tee,
            drawn.screen,
            drawn.check,
            *drawn.check_chain,
            *drawn.flush,
            *drawn.couplings,
        )
        used += (drawn.valve, *drawn.valve_chain)
        for end in (drawn.start, drawn.finish):
            used += (end.penetration, *end.chain, *end.inner_chain, *end.upright_parts)
    return Counter(part for part in used if part is not None)


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


def pieces_by_pipe(
    shelf: Shelf,
    candidates: Iterable[tuple[Var, Candidate]],
    choices: Iterable[tuple[Var, Mapping[str, int]]],
) -> Cuts:
    """By the first row of each pipe's family: every choice that cuts it, and the pieces [m].

    Args:
        shelf: the pipes.
        candidates: the choices that cut a pipe of their own.
        choices: every choice with the pieces of each part that it uses, stubs of pipe among them.
    """
    cuts: Cuts = {}
    for var, candidate in candidates:
        cuts.setdefault(candidate.pipe.id, []).append((var, candidate_pieces(candidate)))
        for stood, lengths in candidate_standpipes(candidate).items():
            cuts.setdefault(stood, []).append((var, lengths))
    pipes = shelf.catalog.pipes
    first_row = {pipe.family: pipe.id for pipe in shelf.pipe_families()}
    for var, parts in choices:
        for part, count in parts.items():
            if part in pipes:
                length = stub_length(shelf.catalog, pipes[part])
                cuts.setdefault(first_row[pipes[part].family], []).append((var, [length] * count))
    return cuts
