"""The pump can give more than the design flow, as much as is wished."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import ClassVar

from autoplan.catalog.parts import Pump
from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.balance import flood_drawdown, pumped_flow, spare_share
from autoplan.rules.base import Given, Mend, ModelView, Rule
from autoplan.rules.heights import AtLeast
from autoplan.rules.linear import weighted
from autoplan.rules.pressure.pump_duty import discharge_heights, lifted_at_once
from autoplan.rules.quantities import CREST, OVER_WATER, SPARE_LOSS, less
from autoplan.rules.survey import Survey
from autoplan.units import tenth_mm_down, tenth_mm_up


def _spares(site: Site, run: Run) -> bool:
    """Of runs from a pump, where a spare is wished."""
    return run.kind is RunKind.PRESSURE and bool(site.wishes.spare or site.wishes.spare_bed)


class PumpSpare(Rule):
    """Head at (1 + spare) x the design flow >= lift from low water + losses at that flow, on every path.

    A pump that is slowed counts at full speed, for it can be turned up. Lift and pipe are those of
    `pump-duty`; its margin on losses is left out, for the spare is one itself. What more the pump gives is
    shared out over all that it feeds; for a bed more, whose feed is not drawn, that is on the safe side in
    feeds and as it will be in the main.
    """

    id = "pump-spare"
    sentence = "The pump can give as much more as is wished, at the losses that this makes."
    source = "energy equation; 10 to 20 % are usual: common practice, no source"
    unit = "m"
    negotiable = True
    of_taste = True
    less_telling = True
    wished = "spare"
    hint = ', or write spare = "none" below [wishes]'
    mended_by = frozenset((Mend.HEIGHTS, Mend.FLOW))
    borrows: ClassVar[Mapping[str, Given]] = {"roughness": Given.GROWN}
    reads = (less(SPARE_LOSS, _spares), less(CREST, _spares), less(OVER_WATER, _spares))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Where a spare is wished."""
        return bool(site.wishes.spare or site.wishes.spare_bed)

    def wish(self, site: Site) -> str:
        """So much more, or a bed."""
        if site.wishes.spare_bed:
            return "spare of the pump for a bed more"
        return f"spare of the pump of {100 * site.wishes.spare:g} %"

    def pumps_at_once(self, site: Site, vessel: str, pumps: Sequence[Pump]) -> Iterator[AtLeast]:
        """No pump lifts water from further down than its head at the flow with its spare."""
        share = spare_share(site, vessel)
        if share == 0.0:
            return
        flow = (1.0 + share) * pumped_flow(site, vessel)
        heads = ((_head(pump, flow), pump.id) for pump in pumps)
        yield from lifted_at_once(self.id, site, vessel, flow, *max(heads))

    def encode(self, draft: ModelView) -> None:
        """Inequalities per path, as those of the duty."""
        for path in draft.pressure_paths():
            first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
            factor = 1.0 + spare_share(draft.site, first.start)
            if factor == 1.0:
                continue
            flow = factor * pumped_flow(draft.site, first.start)
            pumps = draft.pumps(first.start)
            head = weighted((var, tenth_mm_down(_head(choice.pump, flow))) for var, choice in pumps)
            drawdown = tenth_mm_up(flood_drawdown(draft.site, first.start))
            left = head + draft.level(first.start) - drawdown - draft.path_loss(path, factor, grown=True)
            for height in discharge_heights(draft, last):
                draft.at_least(self.id, left, height)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per path; value is the head that the pump has at the flow with its spare."""
        for path in survey.pressure_paths:
            vessel, wishes = survey.run(path[0]).start, survey.site.wishes
            whole, beds = survey.pump_flow(vessel), _bed_flows(survey, vessel)
            more = max(beds, default=0.0) if wishes.spare_bed else wishes.spare * whole
            if more == 0.0:
                continue
            curve = PumpCurve(survey.catalog.pumps[survey.drawing.pumps[vessel].part].curve)
            has = curve.head(whole + more) if whole + more <= curve.run_out_m3_s else 0.0
            lift = survey.discharge_height(path[-1]) - survey.low_level(vessel)
            flows, rough = survey.flows_at(1.0 + more / whole), self.values["roughness"]
            needs = lift + survey.path_loss(path, flows, grown_m=rough)
            yield self.not_under(InVessel(survey.run(path[-1]).finish), has, needs, tolerance=1e-7)


def _head(pump: Pump, flow_m3_s: float) -> float:
    """Head of a pump at full speed [m], 0 past its run-out."""
    curve = PumpCurve(pump.curve)
    return curve.head(flow_m3_s) if flow_m3_s <= curve.run_out_m3_s else 0.0


def _bed_flows(survey: Survey, vessel: str) -> list[float]:
    """What each bed takes of a vessel's pump [m3/s]."""
    paths = (path for path in survey.pressure_paths if survey.run(path[0]).start == vessel)
    fed = (path[-1] for path in paths if survey.site.vessels[survey.run(path[-1]).finish].bed is not None)
    return [survey.design_flow(name) for name in fed]
