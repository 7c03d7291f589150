"""Drains turn gently."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import TurnStyle
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import RunKind
from autoplan.rules.asked import Turned
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class DrainTurns(Rule):
    """No tight 90 in a gravity run: a swept bend or two 45s, which pass solids and can be rodded."""

    id = "drain-turns"
    sentence = "Drains turn by swept bends or paired 45s, never by a tight 90."
    source = "common practice, no source"
    unit = "tight turns"
    local = True
    negotiable = True
    of_taste = True

    @answers(Turned)
    def is_gentle(self, asked: Turned) -> bool:
        """Whatever is not a tight right angle in a drain."""
        return not (asked.run.kind is RunKind.GRAVITY and asked.angle > 45 and asked.style is TurnStyle.TIGHT)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per gravity run that turns."""
        for run in survey.gravity_runs():
            turns = survey.drawn(run.name).turns
            if turns:
                tight = sum(turn.angle > 45 and turn.style is TurnStyle.TIGHT for turn in turns)
                yield self.at_most(OnRun(run.name), float(tight), 0.0)
