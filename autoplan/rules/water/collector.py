"""A collector of beds' drains runs straight on, and is open to the air at its head."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.vent import UPRIGHT, Vent
from autoplan.fittings.wall import Pierced
from autoplan.outcome import Finding
from autoplan.places import InVessel, OnRun
from autoplan.problem.flows import rests, vented
from autoplan.problem.site import RunKind, Site
from autoplan.rules.asked import Fitted, OnBranch
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class Collector(Rule):
    """Beds' drains come to it from the side, and where it asks for a vent there is one, high enough.

    That is an open upright pipe, its top over the rims of all beds above: water backs up in a blocked
    collector until it runs over the lowest rim, and where the vent were lower it would run out there.
    """

    id = "collector"
    sentence = (
        "A collector of beds' drains runs straight, open to the air at its head by a pipe over their rims."
    )
    source = "common practice, no source"
    unit = "mm"
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with junctions of drains that are open to the air."""
        return bool(vented(site)) or any(run.vent_m is not None for run in site.runs.values())

    @answers(Fitted)
    def is_vented(self, asked: Fitted) -> bool:
        """No drain that asks for a vent without one."""
        missing = asked.kind is Vent and asked.fitting is None
        return not missing or asked.run.vent_m is None

    @answers(OnBranch)
    def comes_from_the_side(self, asked: OnBranch) -> bool:
        """Of a bed's drain and another that meet in the open, the bed's alone on the branch."""
        if asked.junction not in vented(asked.site):
            return True
        beside = _from_the_side(asked.site, asked.junction)
        return beside is None or asked.run.name == beside

    def check(self, survey: Survey) -> Iterator[Finding]:
        """For each drain that asks for a vent the height of its top, the datum without one; tees turned."""
        for run in survey.gravity_runs():
            if run.vent_m is not None:
                above = [path[0] for path in survey.gravity_paths if run.name in path]
                rims = [survey.site.vessels[survey.run(name).start].rim_m for name in above]
                yield self.not_under(OnRun(run.name), vent_top(survey, run.name), max(rims), 0.5)
        for name in survey.site.junctions:
            beside = _from_the_side(survey.site, name) if name in survey.falls.in_air else None
            if beside is not None:
                turned = 0.0 if survey.drawing.junctions[name].ports[2] == beside else 1.0
                yield self.at_most(InVessel(name), turned, 0.0, unit="turned")


def _from_the_side(site: Site, junction: str) -> str | None:
    """The one bed's drain that comes to a junction where another drain goes on, if there is just one."""
    into = [run for run in site.runs.values() if run.finish == junction and run.kind is RunKind.GRAVITY]
    beds = [run.name for run in into if rests(site, run)]
    return beds[0] if len(into) == 2 and len(beds) == 1 else None


def vent_top(survey: Survey, name: str) -> float:
    """Top of a run's vent above the datum [m], as far as it is cut; without one that stands its foot."""
    tee, begins = survey.drawn(name).one(Vent), survey.site.junctions.get(survey.run(name).start)
    start = survey.drawn(name).start
    foot = 0.0 if begins is None else begins.height_m or 0.0
    if isinstance(start, Pierced) and start.centre_m is not None:
        foot = start.centre_m
    if tee is None or tee.tee not in survey.catalog.tees:
        return foot
    (upright,) = [side for side in survey.assembled(name).sides if side.item.place == UPRIGHT]
    mates = survey.joining.mates(survey.catalog.tees[tee.tee].ends[2], upright.item.ends[0])
    return foot + survey.pipe(name).outside_m / 2 + (upright.item.length_m or 0.0) if mates else foot
