"""Water stands where the problem allows it, and where the outlets hold it."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import flows_at, gravity_paths
from autoplan.problem.site import Site, Vessel
from autoplan.rules.base import Concern, Mend, ModelView, Rule
from autoplan.rules.heights import DATUM, DOWN, ROUNDED, AtLeast, WaterOf, in_whole_mm
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import CROWN, LOSS_AT_DESIGN, drains, less
from autoplan.rules.survey import Survey
from autoplan.units import tenth_mm_down, tenth_mm_up

AGREE_M = 0.001
"""How closely the drawn level and the level that the outlets hold must agree [m]."""


class LevelRange(Rule):
    """Design level inside the range that the problem gives, and equal to what the outlets hold."""

    id = "level-range"
    sentence = "Every vessel's water stands inside its allowed range, held there by its outlet."
    source = "the problem"
    unit = "mm"
    negotiable = True
    role = Concern.LEVELS
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.FLOW,
        )
    )
    reads = (less(LOSS_AT_DESIGN, drains), less(CROWN, drains))

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:
        """Bounds on every level, and that water runs downwards."""
        for vessel in site.vessels.values():
            low, high, running = vessel.water_min_m, vessel.water_max_m, WaterOf(vessel.name)
            yield AtLeast(self.id, running, DATUM, tenth_mm_up(low), "its lowest water")
            yield AtLeast(self.id, DATUM, running, -tenth_mm_down(high), "its highest water")
        for path in gravity_paths(site):
            above, below = site.runs[path[0]].start, site.runs[path[-1]].finish
            if above not in site.pumped_vessels():
                yield AtLeast(self.id, WaterOf(above), WaterOf(below), 0, DOWN)

    def encode(self, draft: ModelView) -> None:
        """Bounds on every level, and no level under what pushes the flow down to the next vessel."""
        pumped = draft.site.pumped_vessels()
        flows = flows_at(draft.site, 1.0)
        for path in draft.open_paths():
            start = draft.site.runs[path[0]].start
            if start not in pumped:
                loss = draft.path_loss(path, 1.0) + _lower(draft.site.vessels[start])
                for below in draft.against(path, flows):
                    draft.at_least(self.id, draft.level(start), below + loss)
        for name, vessel in draft.site.vessels.items():
            lower = 0 if name in pumped else _lower(vessel)
            draft.at_least(self.id, draft.level(name), tenth_mm_up(vessel.water_min_m) + lower)
            draft.at_least(self.id, Linear(constant=tenth_mm_down(vessel.water_max_m)), draft.level(name))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per vessel: the range, and the agreement with the outlets."""
        for name, vessel in survey.site.vessels.items():
            water, floor = survey.level(name), vessel.floor_m
            low, high = vessel.water_min_m, vessel.water_max_m
            if water - low <= high - water:
                yield self.not_under(InVessel(name), water - floor, low - floor, 0.051)
            else:
                yield self.at_most(InVessel(name), water - floor, high - floor, 0.051)
            held = survey.standing_level(name, 1.0)
            yield self.at_most(InVessel(name, "level against outlet"), abs(water - held), AGREE_M)


def _lower(vessel: Vessel) -> int:
    """How much lower its water may come to stand than it is worked out [0.1 mm]."""
    return ROUNDED if in_whole_mm(vessel) else 0
