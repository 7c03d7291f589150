"""Every drain's losses fit into its fall."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OnPath
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import Site, VesselKind
from autoplan.rules.base import Concern, Mend, ModelView, Rule, Setting, Shared
from autoplan.rules.heights import DATUM, ROUNDED, AtLeast, WaterOf, height, in_whole_mm
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import CROWN, LOSS, drains, less
from autoplan.rules.survey import Survey
from autoplan.sentence import say
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class DrainFall(Rule):
    """Level above, less level below, is at least the loss at the drain's peak flow and a reserve.

    A bed's drain is driven from the bed's floor, for the bed must empty to it.
    """

    id = "drain-fall"
    sentence = "The fall from level to level carries each drain's flow with the reserve to spare."
    source = "energy equation, level to level; reserve: from memory"
    unit = "mm"
    negotiable = True
    role = Concern.FALL
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.FLOW,
        )
    )
    spares = True
    shares = Shared.ALL
    settings = (
        Setting("reserve", Dimension.LENGTH, "10 mm", "from memory", "fall kept over the computed loss"),
    )
    reads = (less(LOSS, drains), less(CROWN, drains))

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:
        """The fall and its reserve, from level to level; from a bed's floor."""
        reserve = tenth_mm_up(self.values["reserve"])
        because = say("{} in reserve", height(reserve))
        for path in gravity_paths(site):
            above, below = site.vessels[site.runs[path[0]].start], WaterOf(site.runs[path[-1]].finish)
            floor = tenth_mm_down(above.floor_m)
            if above.kind is VesselKind.BED:
                said = say("{} under the floor of {} at {}", because, above.name, height(floor))
                yield AtLeast(self.id, DATUM, below, reserve - floor, said)
            else:
                yield AtLeast(self.id, WaterOf(above.name), below, reserve, because)

    def encode(self, draft: ModelView) -> None:
        """Level above - level below - loss >= reserve, on every path by gravity."""
        reserve = tenth_mm_up(self.values["reserve"]) + draft.reserve
        for path in draft.gravity_paths():
            above = draft.site.vessels[draft.site.runs[path[0]].start]
            drive = draft.level(above.name) - (ROUNDED if in_whole_mm(above) else 0)
            if above.kind is VesselKind.BED:
                drive = Linear(constant=tenth_mm_down(above.floor_m))
            loss = draft.drain_loss(path)
            for below in draft.receiving_levels(path):
                draft.at_least(self.id, drive - below - loss, reserve)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per path; value is the fall left over after the loss."""
        for path in survey.gravity_paths:
            below = survey.receiving_level(path, survey.level(survey.run(path[-1]).finish))
            fall = survey.drive_level(survey.run(path[0]).start) - below
            spare = fall - survey.path_loss(path, survey.drain_flows())
            yield self.not_under(OnPath(path), spare, self.values["reserve"], 1e-6)
