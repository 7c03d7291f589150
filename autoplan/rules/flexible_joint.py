"""Where a level is not known for certain, the drain gives a little."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.joining import Need
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.base import Rule, Setting
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

    def asks_of_end(self, site: Site, run: Run, side: str) -> Need:
        """At a gravity run's end in the wall of such a vessel the joint must give."""
        vessel = site.vessels.get(getattr(run, side))
        uncertain = vessel is not None and vessel.uncertain_m > self.values["over"] + 1e-9
        return Need.GIVE if uncertain and run.kind is RunKind.GRAVITY else Need.JOIN

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per end that asks for it; value counts its rubber couplings."""
        for name, side, end in survey.ends():
            if self.asks_of_end(survey.site, survey.run(name), side) is Need.GIVE:
                count = sum(1 for row in survey.adaptors(end) if row.flexible)
                yield self.not_under(AtEnd(name, end.at), float(count), 1.0)
