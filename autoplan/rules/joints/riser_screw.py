"""A riser is held where no water runs out: fish push against pipe that is only pushed together."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import SundryKind
from autoplan.fittings.riser import Riser
from autoplan.line.needs import Want, is_listed, joint_needs
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.problem.site import Draw, Site
from autoplan.rules.base import Concern, Rule
from autoplan.rules.order.sundries import usual_amounts
from autoplan.rules.order.supply import had_of
from autoplan.rules.survey import Survey

SCREWS = Want(SundryKind.SCREW)


class RiserScrew(Rule):
    """A screw through the top of the open tee, over the water, for each riser, besides those of joints.

    So the riser can be taken out and put back, and no fish turns or lifts it. What the model needs is written
    by the orders; a price list without screws leaves them to the builder.
    """

    id = "riser-screw"
    sentence = "Each riser is held by a screw over the water, so that no fish pushes it off."
    source = "common practice, no source"
    unit = "%"
    negotiable = True
    role = Concern.RISERS
    of_money = True
    of_taste = True
    counts = frozenset((SundryKind.SCREW,))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a riser."""
        return any(run.draw is Draw.SOLIDS_LIFTING for run in site.runs.values())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding; value is how many of the screws of joints and risers are owned or ordered."""
        risers = sum(line.one(Riser) is not None for line in survey.drawing.runs.values() if not line.later)
        if not risers or not is_listed(survey.catalog, SundryKind.SCREW):
            return
        amounts = usual_amounts()
        every = (*survey.joints, *survey.spare_joints)
        joints = sum(joint_needs(survey.catalog, one, amounts).get(SCREWS, 0.0) for one in every)
        for want, had, asked in had_of(survey, {SCREWS: joints + risers}):
            yield self.not_under(OfWant(want), 100 * had / asked, 100.0, 1e-4)
