"""A shower on all open water finds room with the power off, or the builder is told how much does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import drained_to
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey
from autoplan.rules.water.run_back import backdrain_volume


class RainRoom(Rule):
    """What rain brings to a pumped vessel in a power cut fits between its highest water and its rim.

    Rain on a bed or a vessel of which every drain leads there comes to it, and what falls on itself: a
    warning, since a cover or an overflow to where water may go is soon made.
    """

    id = "rain-room"
    sentence = "With the power off and everything run back, a shower on all vessels finds room."
    source = "water balance; the shower: from memory"
    unit = "L"
    hard = False

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites that rain falls on."""
        return site.wishes.rain_m > 0.0

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pumped vessel; value is the room over its highest water."""
        if not self.concerns(survey.site):
            return
        for name in survey.site.pumped_vessels():
            room = room_m3(survey, name)
            found = self.not_under(InVessel(name), room, rain_m3(survey.site, name), 1e-6)
            yield replace(found, warning=_warning(name))


def room_m3(survey: Survey, name: str) -> float:
    """Room in a pumped vessel over its highest water with the power off [m3]."""
    vessel = survey.site.vessels[name]
    return (vessel.rim_m - survey.level(name)) * vessel.area_m2 - backdrain_volume(survey, name)


def rain_m3(site: Site, name: str) -> float:
    """What a shower brings to a pumped vessel [m3]; of what drains to several each counts all of it."""
    above = (vessel for vessel in site.vessels.values() if name in drained_to(site, vessel.name))
    return site.wishes.rain_m * sum(vessel.area_m2 for vessel in above)


def _warning(name: str) -> str:
    """What is wrong with a vessel that is too small for rain, and what to do."""
    return (
        f"with the power off {name} has room for {{value}} of rain, and a shower brings {{limit}}: give it "
        "an overflow to where water may go, less water or more room; under a roof say so by rain below "
        "[wishes]."
    )
