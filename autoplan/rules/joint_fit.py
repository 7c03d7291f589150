"""Every part joins the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.catalog.joining import Joining
from autoplan.catalog.parts import End, Pipe, Way
from autoplan.drawing import DrawnEnd
from autoplan.outcome import Finding
from autoplan.problem.site import Draw
from autoplan.rules.base import Rule
from autoplan.rules.circuit import adaptor_like
from autoplan.rules.survey import Survey


class JointFit(Rule):
    """Each pair of neighbouring ends mates, all the way along each run.

    Nothing is encoded: the selection builds only from parts that mate and from chains of adaptors.
    """

    id = "joint-fit"
    sentence = "Every end mates with its neighbour's, in kind, system and size."
    source = "mating rules of the price list's systems"
    unit = "joints that do not fit"

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run; value counts the joints that do not fit."""
        joining = Joining(survey.catalog)
        for name in survey.drawing.runs:
            bad = sum(1 for pair in self._pairs(survey, name) if not joining.mates(*pair))
            yield self.at_most(name, float(bad), 0.0)

    def _pairs(self, survey: Survey, name: str) -> Iterator[tuple[End, End]]:
        catalog, drawn, pipe = survey.catalog, survey.drawn(name), survey.pipe(name)
        for turn in drawn.turns:
            for part in turn.parts:
                yield from ((end, pipe.end) for end in catalog.turns[part].ends)
        for part in drawn.extras:
            ends = catalog.tees[part].ends if part in catalog.tees else catalog.adaptors[part].ends
            yield from ((end, pipe.end) for end in ends)
        if drawn.valve is not None:
            yield from self._valve_pairs(survey, drawn.valve, drawn.valve_chain, pipe)
        if drawn.start.penetration is not None and survey.run(name).draw is not Draw.WALL:
            wall_part = catalog.penetrations[drawn.start.penetration]
            # A seal holds the pipe itself, which goes on to what stands behind the wall.
            inside = pipe.end if wall_part.way is Way.SEAL else wall_part.ends[0]
            tees = [catalog.tees[part].ends[2] for part in drawn.extras if part in catalog.tees]
            yield from self._chain_pairs(survey, inside, drawn.start.inner_chain, (*tees, pipe.end)[0])
        for end, side in ((drawn.start, 0), (drawn.finish, 1)):
            opening = self._opening(survey, name, end, side)
            if opening is not None:
                yield from self._chain_pairs(survey, opening, end.chain, pipe.end)

    def _opening(self, survey: Survey, name: str, end: DrawnEnd, side: int) -> End | None:
        catalog = survey.catalog
        if end.at in survey.drawing.junctions:
            junction = survey.drawing.junctions[end.at]
            if junction.tee is not None:
                return catalog.tees[junction.tee].ends[junction.ports.index(name)]
            other = junction.ports[0] if junction.ports[1] == name else junction.ports[1]
            # Two runs in line: the adaptors are drawn at the start of the one that leaves.
            return survey.pipe(other).end if side == 0 else None
        if end.way is Way.OVER_RIM:
            return None
        if end.penetration is not None:
            return catalog.penetrations[end.penetration].ends[1]
        return catalog.pumps[survey.drawing.pumps[end.at].part].outlet

    def _valve_pairs(
        self, survey: Survey, valve_id: str, chain: Sequence[str], pipe: Pipe
    ) -> Iterator[tuple[End, End]]:
        valve = survey.catalog.valves[valve_id]
        half = len(chain) // 2
        yield from self._chain_pairs(survey, valve.ends[0], chain[:half], pipe.end)
        yield from self._chain_pairs(survey, valve.ends[1], chain[half:], pipe.end)

    def _chain_pairs(
        self, survey: Survey, opening: End, chain: Sequence[str], last: End
    ) -> Iterator[tuple[End, End]]:
        """Neighbours along a chain; an adaptor may be turned either way round, so try both."""
        joining = Joining(survey.catalog)
        here = opening
        for part in chain:
            piece = adaptor_like(survey.catalog, part)
            first, second = (piece.end, piece.end) if isinstance(piece, Pipe) else piece.ends
            if not joining.mates(here, first) and joining.mates(here, second):
                first, second = second, first
            yield here, first
            here = second
        yield here, last
