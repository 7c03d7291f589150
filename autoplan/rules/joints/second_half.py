"""What joins a spare pump with another outlet lies ready, where that is wished for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import ClassVar

from autoplan.catalog.parts import Adaptor, End, Pipe
from autoplan.drawing import DrawnSpare
from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.base import FAR, Concern, Given, ModelView, Rule
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.pressure.pump_duty import discharge_heights
from autoplan.rules.quantities import CREST, GROWN_LOSS, OVER_WATER, less
from autoplan.rules.survey import Survey
from autoplan.units import tenth_mm_down, tenth_mm_up


def _wished(site: Site, run: Run) -> bool:
    """Of runs from a pump, where it is wished for."""
    return run.kind is RunKind.PRESSURE and site.wishes.second_half


class SecondHalf(Rule):
    """The day a pump fails the shop has one with another outlet: what joins it is in the drawer.

    It is whole, from that outlet up to the part that comes apart, and its half fits the half that is on the
    line: of one kind and size, and with the same parts behind it. The strongest pump with such an outlet does
    the duty, by the margin of `pump-duty`. Halves are not sold alone, so a whole part is bought.
    """

    id = "second-half"
    sentence = "What joins a spare pump with another outlet lies ready at each pump."
    source = "common practice, no source"
    unit = "m"
    negotiable = True
    of_taste = True
    less_telling = True
    role = Concern.SECOND_HALF
    wished = "second_half"
    hint = ", or write second_half = false below [wishes]"
    borrows: ClassVar[Mapping[str, Given]] = {"roughness": Given.GROWN, "margin": Given.LIFT_MARGIN}
    reads = (less(GROWN_LOSS, _wished), less(CREST, _wished), less(OVER_WATER, _wished))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Where it is wished for."""
        return site.wishes.second_half

    def wish(self, site: Site) -> str:  # noqa: ARG002
        """The other half."""
        return "the half for a spare pump with another outlet"

    def encode(self, draft: ModelView) -> None:
        """Something lies ready, and on every path the strongest pump for it does what the duty asks."""
        spares = draft.spares()
        for spare in spares.values():
            draft.at_least(self.id, weighted([(spare.none, -1)]), 0)
        for path in draft.pressure_paths():
            first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
            if first.start not in spares:
                continue
            spare = spares[first.start]
            heads = [(var, tenth_mm_down(head)) for var, head in spare.gives()]
            head = weighted([*heads, (spare.none, FAR)])
            drawdown = tenth_mm_up(flood_drawdown(draft.site, first.start))
            lost = _with_margin(draft.path_loss(path, 1.0, grown=True), self.values["margin"])
            left = head + draft.level(first.start) - drawdown - lost
            for height in discharge_heights(draft, last):
                draft.at_least(self.id, left, height)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pump for what lies there, and one per path for the strongest pump that fits it."""
        ready = survey.drawing.spares
        if not survey.site.wishes.second_half:
            return
        for vessel, pump in survey.drawing.pumps.items():
            spare = ready.get(vessel)
            outlet = survey.catalog.pumps[pump.part].outlet
            fits = spare is not None and spare.outlet != outlet and _fits(survey, vessel, spare)
            yield self.not_under(InVessel(vessel), float(fits), 1.0, unit="halves that fit")
        for path in survey.pressure_paths:
            vessel = survey.run(path[0]).start
            if vessel not in ready:
                continue
            has = _strongest(survey, ready[vessel].outlet, survey.pump_flow(vessel))
            flows, rough = survey.flows_at(), self.values["roughness"]
            lift = survey.discharge_height(path[-1]) - survey.low_level(vessel)
            lost = survey.path_loss(path, flows, grown_m=rough)
            needs = lift + (1 + self.values["margin"]) * lost
            yield self.not_under(InVessel(survey.run(path[-1]).finish), has, needs, tolerance=1e-7)


def _with_margin(losses: Linear, margin: float) -> Linear:
    """Losses and a share more of each, rounded up [0.1 mm]."""
    terms = {var: math.ceil((1 + margin) * loss - 1e-9) for var, loss in losses.terms.items()}
    return Linear(terms, math.ceil((1 + margin) * losses.constant - 1e-9))


def _strongest(survey: Survey, outlet: End, flow_m3_s: float) -> float:
    """Most head [m] at a flow of the pumps with an outlet that are to be had; 0 where none gives it."""
    site, best = survey.site, 0.0
    for pump in survey.catalog.pumps.values():
        lacking = pump.id in site.unavailable and not site.owned.get(pump.id)
        curve = PumpCurve(pump.curve)
        if pump.outlet == outlet and not lacking and flow_m3_s <= curve.run_out_m3_s:
            best = max(best, curve.head(flow_m3_s))
    return best


def _fits(survey: Survey, vessel: str, spare: DrawnSpare) -> bool:
    """Whether all of it mates, from outlet to line, and its half is that of the line."""
    line = survey.drawn(spare.line)
    there = _half(survey, line.pipe, line.start.chain)
    mated = all(survey.joining.mates(one.left_end, one.right_end) for one in survey.spare_joints)
    return (
        line.start.at == vessel
        and mated
        and there is not None
        and there == _half(survey, line.pipe, spare.chain)
    )


def _half(survey: Survey, pipe: str, chain: Sequence[str]) -> tuple[End, tuple[str, ...]] | None:
    """Back from the pipe: the end of the first part that comes apart, and the parts between."""
    catalog, behind = survey.catalog, list[str]()
    here = catalog.pipes[pipe].end
    for part in reversed(chain):
        row: Adaptor | Pipe = catalog.adaptors[part] if part in catalog.adaptors else catalog.pipes[part]
        near, far = (row.end, row.end) if isinstance(row, Pipe) else row.ends
        if not survey.joining.mates(far, here):
            near, far = far, near
        if isinstance(row, Adaptor) and row.apart:
            return far, tuple(reversed(behind))
        behind.append(part)
        here = near
    return None
