"""With any drain half blocked no vessel runs over."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.brief import Survives
from autoplan.problem.flows import peaks
from autoplan.problem.site import Run, Site
from autoplan.rules.base import Mend, ModelView, OverloadCase, Rule, Setting
from autoplan.rules.beds.timer_shut import open_outlets
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import CROWN, INLET, INVERT, LOSS, PEAK_HEAD, drains, less, overflows
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

TWICE = 2.0
"""Half of a drain's area lets half of the flow by at any level, so the design flow asks for the level of
twice as much [-]; what is half blocked is the worst that is plausible, no source."""

MOST_SPILLED = 1.5
"""Times its design flow up to which an overflow has no more to take than that, half of the drain open [-]."""


def working(site: Site, run: Run) -> bool:
    """Of drains that carry water at design."""
    return drains(site, run) and not run.idle


class HalfBlocked(Rule):
    """Leaves, a fish or growth close half of a drain before anyone looks: it carries its water all the same.

    A vessel rises to the level at which its drain would pass twice the flow when clean, with the vessel below
    as it runs: the design flow still comes down to it. What is fed while timed valves are shut gets up to its
    overload flow then, so twice that counts. What has an emergency overflow may let the rest go by it: half
    of the drain still passes half of the design flow, and the overflow is made for all of it.
    """

    id = "half-blocked"
    sentence = "With its drain half blocked every vessel still passes on its water below its rim."
    source = "worst plausible, no source; energy equation at twice the flow; freeboard: from memory"
    unit = "mm"
    wished = "survives"
    by_overflow = True
    negotiable = True
    mended_by = frozenset((Mend.HEIGHTS, Mend.FLOW))
    spares = True
    of_outlets = True
    settings = (
        Setting(
            "freeboard", Dimension.LENGTH, "10 mm", "from memory", "dry wall left with a drain half blocked"
        ),
    )
    reads = (
        less(LOSS, drains),
        less(INLET, working),
        less(CROWN, drains),
        *(less(quantity, overflows) for quantity in (INVERT, PEAK_HEAD)),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites where it is wished, which they are unless the builder says otherwise."""
        return site.wishes.survives is Survives.HALF_BLOCKED

    def wish(self, site: Site) -> str:  # noqa: ARG002
        """What becomes of it."""
        return "nothing runs over with a drain half blocked"

    def encode(self, draft: ModelView) -> None:
        """Level below + loss at twice the flow, and the inlet's at that, <= rim - freeboard."""
        site, once = draft.site, (OverloadCase(1.0, None),)
        if not self.concerns(site):
            return
        fed_more, pumped = fed_while_shut(site), site.pumped_vessels()
        for path in draft.open_paths():
            start = site.runs[path[0]].start
            for case in draft.overloads() if start in fed_more else once:
                if start not in pumped and not self._spills(draft, start, case):
                    self._passes(draft, path, case)

    def _passes(self, draft: ModelView, path: tuple[str, ...], case: OverloadCase) -> None:
        """A way by gravity takes twice what comes at the most."""
        own, times = draft.site.flows[path[0]], TWICE * case.factor
        share = times * own.design_m3_s / own.peak_m3_s
        flows = {name: peak * share for name, peak in peaks(draft.site).items()}
        start = draft.site.runs[path[0]].start
        highest = self._highest(draft, start)
        for below in draft.against(path, flows):
            draft.at_least(self.id, highest, below + draft.loss_at(path, flows), case.when)
        held = draft.level(start) + draft.inlet_rise(path[0], times)
        draft.at_least(self.id, highest, held, case.when)

    def _highest(self, draft: ModelView, vessel: str) -> Linear:
        """As high as a vessel's water may come [0.1 mm]."""
        rim = draft.site.vessels[vessel].rim_m
        return Linear(constant=tenth_mm_down(rim - self.values["freeboard"]) - draft.reserve)

    def _spills(self, draft: ModelView, vessel: str, case: OverloadCase) -> bool:
        """Whether a vessel has an overflow for what its drain leaves, which then keeps it under its rim."""
        if case.factor > MOST_SPILLED:
            return False
        spills = [run for run in draft.site.runs.values() if run.overflow and run.start == vessel]
        for run in spills:
            highest = self._highest(draft, vessel)
            both = zip(draft.each(INVERT, run.name), draft.each(PEAK_HEAD, run.name), strict=True)
            heads = [(var, invert + tenth_mm_up(head)) for (var, invert), (_, head) in both]
            draft.at_least(self.id, highest, draft.overload_level(vessel) + weighted(heads), case.when)
            for below in draft.receiving_levels((run.name,)):
                draft.at_least(self.id, highest, below + draft.drain_loss((run.name,)), case.when)
        return bool(spills)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel that drains by gravity; value is the dry wall left."""
        if not self.concerns(survey.site):
            return
        pumped, fed_more = survey.site.pumped_vessels(), fed_while_shut(survey.site)
        for name, vessel in survey.site.vessels.items():
            out = [run for run in survey.gravity_runs() if run.start == name]
            working = [run for run in out if not run.idle]
            if name in pumped or not working:
                continue
            more = survey.overload_factor() if name in fed_more else 1.0
            level = max(_blocked_level(survey, run, more) for run in working)
            spills = [_running_level(survey, run) for run in out if run.overflow and more <= MOST_SPILLED]
            yield self.not_under(
                InVessel(name), vessel.rim_m - min([level, *spills]), self.values["freeboard"], 1e-6
            )


def fed_while_shut(site: Site) -> frozenset[str]:
    """The vessels that get more while timed valves are shut: what else the pump feeds, and what is below."""
    found, left = set[str](), [site.runs[path[-1]].finish for path, _ in open_outlets(site)]
    while left:
        place = left.pop()
        if place not in found and place not in site.pumped_vessels():
            found.add(place)
            left += [run.finish for run in site.runs.values() if run.start == place]
    return frozenset(found)


def _blocked_level(survey: Survey, run: Run, more: float) -> float:
    """Level [m] at which half of a drain passes so many times its design flow, other vessels as they run.

    What joins it on its way runs in step with it, as much as it ever does.
    """
    share = TWICE * more * survey.design_flow(run.name) / survey.drain_flows()[run.name]
    flows = {name: peak * share for name, peak in survey.drain_flows().items()}
    others = {name: survey.level(name) for name in survey.site.vessels if name != run.start}
    return survey.level_at(run.start, flows, others, clogged=True)


def _running_level(survey: Survey, run: Run) -> float:
    """Level [m] at which an overflow passes all that comes to its vessel."""
    flow = survey.site.flows[run.name].peak_m3_s
    over_inlet = survey.control_height(run.name) + survey.inlet_head(run.name, flow)
    below = survey.receiving_level((run.name,), survey.level(run.finish))
    return max(over_inlet, below + survey.line(run.name).loss(flow, survey.water))
