"""A collector of drains that asks for a vent has one, and it stands higher than water can."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.vent import UPRIGHT, Vent
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Site
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class DrainVent(Rule):
    """An open upright pipe at the head of the drain that asks for it, its top over the rims of all above.

    Water backs up in a blocked collector until it runs over the rim of the lowest bed; where the vent were
    lower it would run out there.
    """

    id = "drain-vent"
    sentence = "A collector of beds' drains is open to the air at its head, by a pipe that ends over their rims."
    source = "common practice, no source"
    unit = "mm"
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites where a drain asks for a vent."""
        return any(run.vent_m is not None for run in site.runs.values())

    @answers(Fitted)
    def is_vented(self, asked: Fitted) -> bool:
        """No drain that asks for a vent without one."""
        missing = asked.kind is Vent and asked.fitting is None
        return not missing or asked.run.vent_m is None

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain that asks for a vent; value is the height of its top, the datum without one."""
        for run in survey.gravity_runs():
            if run.vent_m is not None:
                above = [path[0] for path in survey.gravity_paths if run.name in path]
                rims = [survey.site.vessels[survey.run(name).start].rim_m for name in above]
                yield self.not_under(OnRun(run.name), _top(survey, run.name), max(rims), 0.5)


def _top(survey: Survey, name: str) -> float:
    """Top of a run's vent above the datum [m], as far as it is cut; where it has none that stands, its foot."""
    tee, foot = survey.drawn(name).one(Vent), survey.start_height(name)
    if tee is None or tee.tee not in survey.catalog.tees:
        return foot
    (upright,) = [side for side in survey.assembled(name).sides if side.item.place == UPRIGHT]
    mates = survey.joining.mates(survey.catalog.tees[tee.tee].ends[2], upright.item.ends[0])
    return foot + survey.pipe(name).outside_m / 2 + (upright.item.length_m or 0.0) if mates else foot
