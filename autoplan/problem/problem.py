"""An open problem: what the builder asks for, with the choices that it leaves to the program.

Five things may be open: how the vessels stand to each other, whether beds share a drain, which vessel is
bought, how often beds flood, and whether there is an emergency overflow. `layouts` and `choices` expand it
into sites, of which each has all of them made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from autoplan.problem.brief import AirWish, Assumption, BedDrains, Brief, HandPumpWish
from autoplan.problem.site import Arrangement, Flow, Junction, Run, Site, Vessel
from autoplan.sentence import Text


@dataclass(frozen=True, slots=True)
class VesselChoice:
    """A vessel that is chosen from those of the price list; heights are above its own floor.

    Attributes:
        place: key path of the choice in the file.
        among: ids of the price list; empty for any that it has.
        water_min_m: lowest design water [m].
        water_max_m: highest design water [m], or None where the freeboard says it.
        freeboard_m: dry wall above the highest design water [m].
    """

    place: str
    among: tuple[str, ...]
    water_min_m: float
    water_max_m: float | None
    freeboard_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arranged:
    """One way in which the vessels of a problem stand to each other.

    Attributes:
        vessels: in the order of the file, as all else; one that is still to be chosen is of a size that
            stands in, and a bed with a range of floods is at its least.
        junctions, runs, air, hand_pumps: as of a `Site`; among the runs those that are only offered.
        flows: those of these vessels.
        assumptions: every value the builder did not give.
        choices: what is to be chosen, by vessel.
        arrangement: which of several this is, where the problem leaves that open; else None.
        bed_drains: how the beds drain, where the problem leaves that open; else None.
    """

    vessels: Mapping[str, Vessel]
    junctions: Mapping[str, Junction]
    runs: Mapping[str, Run]
    flows: Mapping[str, Flow]
    air: AirWish | None = None
    hand_pumps: tuple[HandPumpWish, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    choices: Mapping[str, VesselChoice] = field(default_factory=dict)
    arrangement: Arrangement | None = None
    bed_drains: BedDrains | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem(Brief):
    """A whole problem as it is asked.

    Attributes:
        layouts: each way in which its vessels may stand; none where nothing but what is asked could be read.
        left_out: a sentence for each arrangement that cannot be built.
    """

    layouts: tuple[Arranged, ...] = ()
    left_out: tuple[Text, ...] = ()

    def site_of(self, layout: Arranged) -> Site:
        """One of its layouts as a site, without what is only offered; what is open is as it stands there."""
        runs = {name: run for name, run in layout.runs.items() if run.offered is None}
        flows = {name: flow for name, flow in layout.flows.items() if name in runs}
        return Site(**_shared(Site, replace(layout, runs=runs, flows=flows)), **_shared(Brief, self))

    def assuming(self, *more: Assumption) -> Problem:
        """The problem with more that was assumed, however its vessels stand."""
        layouts = (replace(each, assumptions=(*each.assumptions, *more)) for each in self.layouts)
        return replace(self, layouts=tuple(layouts))

    @property
    def outline(self) -> Site:
        """Its first layout as a site: what it is about. Where nothing is open that is the site itself."""
        return self.site_of(next(iter(self.layouts), Arranged(vessels={}, junctions={}, runs={}, flows={})))


def problem_of(asked: Problem | Site) -> Problem:
    """A site as a problem that leaves nothing open; a problem as it is."""
    if isinstance(asked, Problem):
        return asked
    return Problem(**_shared(Brief, asked), layouts=(Arranged(**_shared(Arranged, asked)),))


def _shared(kind: type[Brief | Arranged], source: object) -> dict[str, Any]:
    """The fields of a class that something has too."""
    names = [each.name for each in fields(kind)]
    return {name: getattr(source, name) for name in names if hasattr(source, name)}
