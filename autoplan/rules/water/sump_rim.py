"""The rim of a vessel that is dug in stands over the ground: no run-off comes in, and no child falls in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site, Vessel
from autoplan.rules.base import Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import Dimension

DUG_IN_M = 0.001
"""How far a floor lies under the ground where a vessel counts as dug in [m]."""


class SumpRim(Rule):
    """How high a rim stands over the ground beside it: two warnings, for earth can be banked and lids bought.

    Water that runs over ground in a downpour carries what lies on it; a child that leans over a low rim
    falls in head first.
    """

    id = "sump-rim"
    sentence = "The rim of a vessel that is dug in keeps run-off out, and children, unless it is covered."
    source = "common practice, no source"
    unit = "mm"
    hard = False
    settings = (
        Setting(
            "run_off",
            Dimension.LENGTH,
            "100 mm",
            "common practice, no source",
            "rim of a vessel that is dug in over the ground beside it, against run-off",
        ),
        Setting(
            "child",
            Dimension.LENGTH,
            "600 mm",
            "from memory",
            "rim of a vessel that is dug in over the ground beside it, against children, without a cover",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a vessel that is dug in."""
        return any(map(dug_in, site.vessels.values()))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per vessel that is dug in, one of it if it has a cover; value is its rim's height."""
        for vessel in filter(dug_in, survey.site.vessels.values()):
            rim = vessel.rim_m - vessel.ground_m
            found = self.not_under(InVessel(vessel.name, "run-off"), rim, self.values["run_off"], 1e-6)
            yield replace(found, warning=_run_off(vessel.name))
            if not vessel.cover:
                found = self.not_under(InVessel(vessel.name, "children"), rim, self.values["child"], 1e-6)
                yield replace(found, warning=_child(vessel.name))


def dug_in(vessel: Vessel) -> bool:
    """Whether a vessel stands in a pit."""
    return vessel.floor_m < vessel.ground_m - DUG_IN_M


def _run_off(name: str) -> str:
    return (
        f"the rim of {name} stands {{value}} over the ground, and under {{limit}} run-off comes in: raise "
        "it, or bank earth so that water runs away from it."
    )


def _child(name: str) -> str:
    return (
        f"the rim of {name} stands {{value}} over the ground, and under {{limit}} a child falls in: lay a "
        "lid on it that no child lifts and write cover = true, or fence it."
    )
