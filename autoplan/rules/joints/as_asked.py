"""The drawing builds what the problem asks for: every run, its legs, its turns, its ends."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.catalog.parts import TurnStyle
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.wall import Pierced
from autoplan.line.route import along_m
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Draw, Run, RunKind
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey

SLACK_M = 1e-3
"""Pieces are cut in tenths of a millimetre; over a run of ten pieces that makes a millimetre."""


class AsAsked(Rule):
    """A drawing that leaves out pipe, turns or a fitting looks cheaper and easier on the pump than it is.

    Nothing is encoded: the optimiser draws from the problem's own runs.
    """

    id = "as-asked"
    sentence = "Every run is drawn with the length, the turns and the ends that the problem asks for."
    source = "the problem"
    unit = "defects"

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run; value counts what is missing or otherwise."""
        for name in survey.site.runs:
            yield self.at_most(OnRun(name), float(sum(self._defects(survey, name))), 0.0)

    def _defects(self, survey: Survey, name: str) -> Iterator[bool]:
        run, drawn = survey.run(name), survey.drawn(name)
        lifting = lifts_solids(survey, run)
        yield drawn.length_m < least_length(survey, run) - SLACK_M
        needed = survey.assembled(name).needed_m
        yield len(drawn.slots_m) != len(needed)
        yield from (
            sum(pieces) < least - SLACK_M for pieces, least in zip(drawn.slots_m, needed, strict=False)
        )
        yield Counter(turn.angle for turn in drawn.turns) != self._turns(survey, run)
        yield survey.hangs(name) > survey.drop(name) + SLACK_M
        yield from (not made_of(survey, name, turn) for turn in drawn.turns)
        yield lifting and drawn.one(Riser) is None
        yield not _at(survey, drawn.start, run.start)
        yield not _at(survey, drawn.finish, run.finish)
        if run.kind is RunKind.GRAVITY:
            stands = run.draw is Draw.STANDPIPE and run.start in survey.site.vessels
            yield (drawn.floor is not None) is not stands
            yield (drawn.outside is not None) is not (run.draw is Draw.OUTSIDE)
            yield drawn.rim is not None and run.plan is None

    def _turns(self, survey: Survey, run: Run) -> Counter[int]:
        """How often a run turns by which angle: on its way, under a riser, down over a rim."""
        drawn = survey.drawn(run.name)
        extra = Counter({90: lifts_solids(survey, run) + (drawn.rim is not None)})
        if run.plan is None:
            return Counter(run.turns) + extra
        # Between two legs there is a turn; those on the plan are the builder's own.
        between = Counter(turn.angle for turn in drawn.corners[: len(drawn.legs) - 1])
        return (between if between >= Counter(run.plan.corners) else Counter()) + extra


def lifts_solids(survey: Survey, run: Run) -> bool:
    """Whether a run rises from its vessel's floor to an open tee at the wall."""
    return (
        run.kind is RunKind.GRAVITY and run.draw is Draw.SOLIDS_LIFTING and run.start in survey.site.vessels
    )


def least_length(survey: Survey, run: Run) -> float:
    """Length of pipe [m] that the water of a run travels at least: its legs, riser inside and drop."""
    length = run.length_m if run.plan is None else along_m(survey.drawn(run.name).legs)
    length += survey.drop(run.name)
    if run.start in survey.site.vessels and run.kind is RunKind.GRAVITY:
        vessel = survey.site.vessels[run.start]
        if lifts_solids(survey, run):
            length += vessel.radius_m
        floor = survey.drawn(run.name).floor
        if run.draw not in (Draw.WALL, Draw.OUTSIDE) and (floor is None or floor.standpipe is None):
            length += vessel.least_depth_m
    return length


def made_of(survey: Survey, name: str, turn: Corner) -> bool:
    """Whether a turn's parts make its angle in its style."""
    parts = [survey.catalog.turns[part] for part in turn.pieces]
    if turn.bends:
        return not parts and survey.pipe(name).bend_radius_m > 0
    if turn.style is TurnStyle.PAIRED:
        return len(parts) == 2 and all(part.angle == 45 for part in parts)
    return [(part.angle, part.style) for part in parts] == [(turn.angle, turn.style)]


def _at(survey: Survey, end: LineEnd, asked: str) -> bool:
    """Whether an end is where it should be, and goes through the wall by a part of its own way."""
    if end.at != asked:
        return False
    if not isinstance(end, AtVessel):
        return asked in survey.site.junctions or asked in survey.drawing.pumps
    if asked in survey.site.junctions or end.centre_m is None:
        return False
    if isinstance(end, Pierced):
        return survey.catalog.penetrations[end.penetration].way is end.way
    return isinstance(end, OverRim) and end.mouth_m is not None
