"""A siphon out-runs its inflow down to its lowest water, so that it breaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import ClassVar

from autoplan.catalog.parts import Pipe
from autoplan.hydraulics.conduit import Conduit
from autoplan.hydraulics.gravity import self_venting_flow
from autoplan.hydraulics.water import Water
from autoplan.line.water import foot_of, inlet_line, site_water
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import flows_at
from autoplan.problem.site import BedDrain, Site
from autoplan.rules.asked import LetIn
from autoplan.rules.base import Given, ModelView, Rule, Setting, answers
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import CROWN, LOSS, drains, less
from autoplan.rules.siphoned import breaking
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down


class SiphonBreak(Rule):
    """With the bed down at the bell's cut-outs the siphon still carries (1 + margin) x the inflow.

    If it did not, the water would hang at that level and the siphon would trickle for ever. The flow is that
    of the full energy equation from the cut-outs to where the drain ends, or comes to the air. Of a siphon
    pipe outside a bed the mouth of its air tube stands for the cut-outs. Where the
    drain below is so wide that it does not run full, the fall below the floor pulls nothing, and the
    standpipe alone must do it from the depth of the cut-outs.
    """

    id = "siphon-break"
    sentence = "Each siphon out-runs its inflow at its lowest water, so that air gets in and it stops."
    source = "energy equation; margin, cut-outs: from memory"
    unit = "L/h"
    negotiable = True
    hint = ', or write drain = "standpipe" for a bed whose inflow suits no siphon'
    borrows: ClassVar[Mapping[str, Given]] = {"air": Given.AIR_MOUTH}
    settings = (
        Setting("margin", Dimension.NUMBER, "50 %", "from memory", "siphon's flow over the inflow"),
        Setting(
            "cut_out",
            Dimension.LENGTH,
            "25 mm",
            "from memory",
            "top of the bell's cut-outs over the floor",
            Given.CUT_OUT,
        ),
    )
    reads = (less(LOSS, drains), less(CROWN, drains))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon."""
        return any(vessel.bed is not None and vessel.bed.siphon for vessel in site.vessels.values())

    def _flow(self, inflow_m3_s: float) -> float:
        return (1 + self.values["margin"]) * inflow_m3_s

    @answers(LetIn)
    def breaks(self, asked: LetIn) -> bool:
        """Not a standpipe too narrow for the head of the cut-outs where its drain would not run full."""
        if asked.end.siphon is None:
            return True
        flow = self._flow(asked.site.flows[asked.run.name].design_m3_s)
        if runs_full(asked.pipe, flow):
            return True
        line = inlet_line(
            asked.catalog, asked.pipe, asked.end, asked.site.vessels[asked.run.start], asked.screen
        )
        return line.loss(flow, site_water(asked.site)) <= asked.end.siphon.cut_out_m + 1e-9

    def encode(self, draft: ModelView) -> None:
        """Lowest water - level below - loss at (1 + margin) x inflow >= 0, on every path from a siphon."""
        factor = 1 + self.values["margin"]
        flows = flows_at(draft.site, factor)
        for path in draft.open_paths():
            bed = draft.site.vessels[draft.site.runs[path[0]].start]
            if bed.bed is None or not bed.bed.siphon:
                continue
            low = self.values["air" if bed.bed.drain is BedDrain.OUTSIDE else "cut_out"]
            drive = Linear(constant=tenth_mm_down(bed.floor_m + low))
            loss = draft.path_loss(path, factor)
            for below in draft.against(path, flows):
                draft.at_least(self.id, drive - below - loss, 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per siphon; value is its flow at its lowest water."""
        for name, bed, depth in breaking(survey):
            inflow = survey.design_flow(name)
            flow = survey.siphon_flow(name, survey.site.vessels[bed].floor_m + depth)
            full = runs_full(survey.pipe(name), self._flow(inflow))
            if not full and survey.drawn(name).outside is None:
                flow = min(flow, _standpipe(survey, name).flow(depth, survey.water))
            needed = self._flow(inflow)
            yield self.not_under(InVessel(bed), flow, needed, 0.01)


def runs_full(pipe: Pipe, flow_m3_s: float) -> bool:
    """Whether a drain carries its air away at a flow and so runs full."""
    return flow_m3_s >= self_venting_flow(pipe.bore_m)


def fills_drain(pipe: Pipe, standpipe: Conduit, flood_m: float, inflow_m3_s: float, water: Water) -> bool:
    """Whether a siphon that starts fills the drain below, so that the whole fall pulls while it runs.

    It does where its first water carries the air away: what the standpipe alone, open at its foot, passes
    with the bed full, or the inflow. From then on no air gets in but under the bell.
    """
    venting = self_venting_flow(pipe.bore_m)
    return inflow_m3_s >= venting or standpipe.loss(venting, water) <= flood_m


def drain_fills(survey: Survey, name: str) -> bool:
    """Whether a drawn siphon fills its drain as it starts.

    Outside a bed it is one pipe from the hole to its end, and fills whole or not at all.
    """
    if survey.drawn(name).outside is not None:
        return True
    bed = survey.site.vessels[survey.run(name).start].bed
    assert bed is not None
    inflow = survey.design_flow(name)
    return fills_drain(survey.pipe(name), _standpipe(survey, name), bed.flood_m, inflow, survey.water)


def running_flow(survey: Survey, name: str) -> Callable[[float], float]:
    """Flow [m3/s] of a drawn siphon that runs, by the depth of water over its bed's floor [m].

    That of the whole fall; where the drain does not fill, no more than the standpipe alone passes.
    """
    vessel = survey.site.vessels[survey.run(name).start]

    def whole(depth_m: float) -> float:
        return survey.siphon_flow(name, vessel.floor_m + depth_m)

    if drain_fills(survey, name):
        return whole
    standpipe = _standpipe(survey, name)
    return lambda depth: min(whole(depth), standpipe.flow(depth, survey.water))


def _standpipe(survey: Survey, name: str) -> Conduit:
    """The standpipe alone under its bell, open to the air at its foot."""
    drawn = survey.drawn(name)
    return foot_of(survey.catalog, drawn, survey.site.vessels[drawn.start.at])
