"""Every drain's losses fit into its fall."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from autoplan.outcome import Finding
from autoplan.places import OnPath
from autoplan.problem.flows import gravity_paths, peaks
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

    A bed's drain is driven from the bed's floor, for the bed must empty to it. Where air comes in at a
    junction of drains the fall is counted to the crown of the pipe that leaves it, and on from there: a
    collector is wide enough and falls enough to run no more than full. A full round pipe carries what one
    filled to four fifths of its bore carries, so between such junctions there is no reserve besides.
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
        site, flows = draft.site, peaks(draft.site)
        for path in draft.open_pieces():
            start, finish = site.runs[path[0]].start, site.runs[path[-1]].finish
            loss = draft.drain_loss(path)
            for below in draft.against(path, flows):
                kept = reserve if start in site.vessels or finish in site.vessels else draft.reserve
                draft.at_least(self.id, self._drive(draft, path[0], flows) - below - loss, kept)

    def _drive(self, draft: ModelView, drain: str, flows: Mapping[str, float]) -> Linear:
        """The height that drives a drain from a vessel or an open junction."""
        above = draft.site.vessels.get(draft.site.runs[drain].start)
        if above is None:
            return draft.head_in_air(drain, flows)
        if above.kind is VesselKind.BED:
            return Linear(constant=tenth_mm_down(above.floor_m))
        return draft.level(above.name) - (ROUNDED if in_whole_mm(above) else 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per path; value is the fall left over after the loss."""
        vessels, flows = survey.site.vessels, survey.drain_flows()
        for path in survey.falls.pieces:
            start, finish = survey.run(path[0]).start, survey.run(path[-1]).finish
            drive = survey.drive_level(start) if start in vessels else survey.falls.head_in_air(start, flows)
            spare = drive - survey.falls.against(path, flows) - survey.path_loss(path, flows)
            reserve = self.values["reserve"] if start in vessels or finish in vessels else 0.0
            yield self.not_under(OnPath(path), spare, reserve, 1e-6)
