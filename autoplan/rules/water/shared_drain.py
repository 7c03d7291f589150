"""Siphons that share a drain: air comes in by the bed that rests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import rests
from autoplan.problem.site import RunKind, Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class SharedDrain(Rule):
    """Where the drains of beds with siphons meet, the height is known to which each of them falls.

    While one bed rests its standpipe lets air into what it shares, so the other siphon is pulled by the fall
    to where they meet. At a junction of no known height the whole fall is taken, as if it ran full.
    """

    id = "shared-drain"
    sentence = "Where siphons share a drain, the height of the junction says how far each of them falls."
    source = "air at the junction: the energy equation ends there"
    unit = "unknown"
    hard = False

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites where drains of siphons meet."""
        return any(_siphons(site, name) > 1 for name in site.junctions)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per junction at which siphons meet: whether its height is unknown."""
        for name, junction in survey.site.junctions.items():
            if _siphons(survey.site, name) > 1:
                unknown = 0.0 if junction.height_m is not None else 1.0
                found = self.at_most(InVessel(name), unknown, 0.0)
                warning = (
                    f"{name} is shared by siphons and nobody knows its height: a bed that rests lets air in "
                    f"there, so less than the whole fall may pull. Give it a height."
                )
                yield replace(found, warning=warning)


def _siphons(site: Site, junction: str) -> int:
    """How many siphons come down to a junction, straight or by others."""
    into = [run for run in site.runs.values() if run.finish == junction and run.kind is RunKind.GRAVITY]
    found = 0
    for run in into:
        if rests(site, run):
            bed = site.vessels[run.start].bed
            found += bed is not None and bed.siphon
        elif run.start in site.junctions:
            found += _siphons(site, run.start)
    return found
