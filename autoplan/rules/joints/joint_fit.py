"""Every part joins the next."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.rules.base import Concern, Rule
from autoplan.rules.survey import Survey


class JointFit(Rule):
    """Each pair of neighbouring ends mates, all the way along each run.

    Nothing is encoded: the optimiser builds only from parts that mate and from chains of adaptors.
    """

    id = "joint-fit"
    sentence = "Every end mates with its neighbour's, in kind, system and size."
    source = "mating rules of the price list's systems"
    unit = "joints that do not fit"
    role = Concern.JOINTS

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per run; value counts the joints that do not fit."""
        for name in survey.drawing.runs:
            bad = sum(1 for joint in survey.joints if joint.run == name and joint.kind is None)
            yield self.at_most(OnRun(name), float(bad), 0.0)
