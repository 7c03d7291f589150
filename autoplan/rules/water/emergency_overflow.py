"""With every other drain blocked, a vessel's overflow keeps it from running over the rim."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, Site
from autoplan.rules.base import Given, ModelView, Rule, Setting
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import CROWN, INVERT, LOSS, PEAK_HEAD, less, overflows
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class EmergencyOverflow(Rule):
    """An overflow's inlet stays dry up to overload, and carries all that the vessel gets at design.

    The level that this takes is that over its inlet, or that which pushes the flow through the pipe to the
    vessel below at its overload level, whichever is higher; it stays below the rim. The gap is built into
    where the optimiser places the hole.
    """

    id = "emergency-overflow"
    sentence = "Dry up to overload, an overflow carries the whole inflow with every other drain blocked."
    source = "energy equation and part-full inlet control; freeboard and gap: from memory"
    unit = "mm"
    negotiable = True
    settings = (
        Setting("freeboard", Dimension.LENGTH, "10 mm", "from memory", "dry wall left while it runs"),
        Setting(
            "gap",
            Dimension.LENGTH,
            "5 mm",
            "from memory",
            "overflow's inlet above the overload level",
            Given.OVERFLOW_GAP,
        ),
    )
    reads = tuple(less(quantity, overflows) for quantity in (INVERT, PEAK_HEAD, LOSS, CROWN))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with an overflow."""
        return any(run.overflow for run in site.runs.values())

    def encode(self, draft: ModelView) -> None:
        """Overload level + gap + inlet head <= rim - freeboard; so is the level that pushes it through."""
        for run in draft.site.runs.values():
            if not run.overflow:
                continue
            vessel = draft.site.vessels[run.start]
            highest = Linear(constant=tenth_mm_down(vessel.rim_m - self.values["freeboard"]))
            both = zip(draft.each(INVERT, run.name), draft.each(PEAK_HEAD, run.name), strict=True)
            heads = [(var, invert + tenth_mm_up(head)) for (var, invert), (_, head) in both]
            draft.at_least(self.id, highest, draft.overload_level(run.start) + weighted(heads))
            for below in draft.receiving_levels((run.name,), overloaded=True):
                draft.at_least(self.id, highest, below + draft.drain_loss((run.name,)))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per overflow: dry wall left while it runs, and its inlet over the overload level."""
        for run in survey.site.runs.values():
            if run.overflow:
                flow = survey.site.flows[run.name].peak_m3_s
                rim = survey.site.vessels[run.start].rim_m
                dry = rim - self._running_level(survey, run, flow)
                yield self.not_under(OnRun(run.name), dry, self.values["freeboard"], 1e-6)
                overload = survey.standing_level(run.start, survey.overload_factor(), clogged=True)
                gap = survey.control_height(run.name) - overload
                yield self.not_under(OnRun(run.name, "inlet"), gap, self.values["gap"], 0.11)

    def _running_level(self, survey: Survey, run: Run, flow_m3_s: float) -> float:
        """Level [m] at which the overflow carries a flow [m3/s]."""
        over_inlet = survey.control_height(run.name) + survey.inlet_head(run.name, flow_m3_s)
        water = survey.standing_level(run.finish, survey.overload_factor(), clogged=True)
        below = survey.receiving_level((run.name,), water)
        return max(over_inlet, below + survey.line(run.name).loss(flow_m3_s, survey.water))
