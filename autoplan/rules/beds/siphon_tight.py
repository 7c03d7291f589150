"""What runs under suction below a bell siphon is glued or threaded, not taped and screwed."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.mating import JointKind
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import under_suction
from autoplan.problem.site import Site
from autoplan.rules.asked import Taped
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class SiphonTight(Rule):
    """From the standpipe's joint at the bed's floor to where its drain is open to the air a siphon pulls.

    Tape and a screw hold water in a drain that runs by gravity; air drawn in through them stops a siphon.
    """

    id = "siphon-tight"
    sentence = "Below a bell siphon every socket joint is glued, up to where the drain is open to the air."
    source = "common practice, no source"
    unit = "joints with tape and a screw"

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon."""
        return bool(under_suction(site))

    @answers(Taped)
    def may_be_taped(self, asked: Taped) -> bool:
        """Not what a siphon sucks at."""
        return asked.run.name not in under_suction(asked.site)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain that is under suction; value counts its joints with tape and a screw."""
        for name in under_suction(survey.site):
            taped = (one for one in survey.joints if one.run == name and one.kind is JointKind.SCREWED)
            yield self.at_most(OnRun(name), float(sum(1 for _ in taped)), 0.0)
