"""Where a level is not known for certain, the drain gives a little."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.joining import Need
from autoplan.fittings.rim import OverRim
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import Joined
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class FlexibleJoint(Rule):
    """A stand that settles, or a height that was guessed, breaks a stiff joint or leaves it short.

    Gravity only: rubber couplings hold no pump's head.
    """

    id = "flexible-joint"
    sentence = "A drain at a vessel whose height is uncertain is joined to it by a flexible rubber coupling."
    source = "common practice, no source"
    unit = "rubber couplings"
    negotiable = True
    settings = (
        Setting(
            "over",
            Dimension.LENGTH,
            "10 mm",
            "common practice, no source",
            "uncertainty of a vessel's height from which its drains get a flexible joint",
        ),
    )

    @answers(Joined)
    def gives(self, asked: Joined) -> bool:
        """At a gravity run's end in the wall of such a vessel only joints that give."""
        return asked.need >= Need.GIVE or not self._moves(asked.site, asked.run, asked.side)

    def _moves(self, site: Site, run: Run, side: str) -> bool:
        """Whether the vessel at one end of a gravity run stands at an uncertain height."""
        vessel = site.vessels.get(getattr(run, side))
        uncertain = vessel is not None and vessel.uncertain_m > self.values["over"] + 1e-9
        return uncertain and run.kind is RunKind.GRAVITY

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per end that asks for it; value counts its rubber couplings."""
        for name, side, end in survey.ends():
            # Over a rim it lifts out, and nothing binds it to the vessel.
            if not isinstance(end, OverRim) and self._moves(survey.site, survey.run(name), side):
                count = sum(1 for row in survey.adaptors(end) if row.flexible)
                yield self.not_under(AtEnd(name, end.at), float(count), 1.0)
