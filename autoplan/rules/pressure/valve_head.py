"""No balancing valve burns most of what its pump gives."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.base import FAR, ModelView, Rule, Setting
from autoplan.rules.heights import ROUNDED, STEPS_IN_A_M, in_whole_mm
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.rules.quantities import CREST, LOSS_AT_DESIGN, OVER_WATER, more
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down


def _leads_past_a_valve(site: Site, run: Run) -> bool:
    """Of the runs on a way from a pump that has a valve."""
    return any(run.name in path for path in _valved(site))


class ValveHead(Rule):
    """A valve that must take most of the pump's head is nearly shut: touchy to set, and the first to clog.

    What it takes at design flow is the pump's head less lift and losses of its way, from the water that the
    pump stands in as it runs. Past `most` a design is refused, from `tell` on it is warned of: the weakest
    pump of a shop may be too strong, and beds far below their tank leave head over whatever is built. The
    model leaves out what tees and joints lose, for it knows only the most that this may be.
    """

    id = "valve-head"
    sentence = "No balancing valve burns more than the stated share of its pump's head."
    source = "from memory"
    unit = "m"
    negotiable = True
    of_taste = True
    hint = ", or add a weaker pump to the price list, or one that can be slowed"
    settings = (
        Setting(
            "most",
            Dimension.NUMBER,
            "60 %",
            "from memory",
            "share of its pump's head that a balancing valve may burn",
        ),
        Setting(
            "tell",
            Dimension.NUMBER,
            "50 %",
            "from memory",
            "share of its pump's head from which it is told what a balancing valve burns",
        ),
    )
    reads = (
        more(LOSS_AT_DESIGN, _leads_past_a_valve),
        more(CREST, _leads_past_a_valve),
        more(OVER_WATER, _leads_past_a_valve),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a valve on a run under pressure."""
        return any(run.kind is RunKind.PRESSURE and run.valve for run in site.runs.values())

    def encode(self, draft: ModelView) -> None:
        """On each way with a valve: lift and losses >= (1 - most) x the pump's head."""
        for path in _valved(draft.site):
            first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
            kept = 1.0 - self.values["most"]
            head = weighted(
                (var, math.ceil(kept * choice.head_m * STEPS_IN_A_M - 1e-9))
                for var, choice in draft.pumps(first.start)
            )
            lost = total(draft.run_loss(name) for name in path) - len(path)
            for height in _lifted(draft, last):
                draft.at_least(self.id, height - draft.level(first.start) + lost, head)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per way with a valve, at the run of its last one; value is the head that this burns."""
        flows = survey.flows_at()
        for path in pressure_paths(survey.site):
            valved = [name for name in path if survey.drawn(name).one(ValveSet)]
            vessel = survey.run(path[0]).start
            curve, flow = survey.pump_curve(vessel), survey.pump_flow(vessel)
            if not valved or flow > curve.run_out_m3_s:
                continue
            gives, lift = curve.head(flow), survey.discharge_height(path[-1]) - survey.level(vessel)
            burnt = max(0.0, gives - lift - survey.path_loss(path, flows))
            found = self.at_most(OnRun(valved[-1]), burnt, self.values["most"] * gives, 1e-6)
            told = self.at_most(OnRun(valved[-1]), burnt, self.values["tell"] * gives, 1e-6)
            if found.ok and not told.ok:
                found = replace(told, hard=False, warning=_warning(valved[-1]))
            yield found


def _valved(site: Site) -> list[tuple[str, ...]]:
    """The ways from a pump on which a valve is wanted."""
    return [path for path in pressure_paths(site) if any(site.runs[name].valve for name in path)]


def _lifted(draft: ModelView, last: Run) -> Iterator[Linear]:
    """What a pressure run surely lifts to [0.1 mm, down]: over a rim, through a wall, to the water over it.

    Each is its height where it is built so, and far higher where it is not.
    """
    over: list[tuple[Var, int]] = []
    through: list[tuple[Var, int]] = []
    under: list[tuple[Var, int]] = []
    sunk = ROUNDED if in_whole_mm(draft.site.vessels[last.finish]) else 0
    crests, walls = draft.each(CREST, last.name), draft.each(OVER_WATER, last.name)
    for (var, crest), (_, above) in zip(crests, walls, strict=True):
        over.append((var, FAR if crest is None else tenth_mm_down(crest)))
        through.append((var, FAR if above is None else tenth_mm_down(above) - ROUNDED))
        under.append((var, -sunk if crest is None and above is None else FAR))
    for base, ways in (
        (Linear(), over),
        (draft.overload_level(last.finish), through),
        (draft.level(last.finish), under),
    ):
        if any(height != FAR for _, height in ways):
            yield base + weighted(ways)


def _warning(run: str) -> str:
    """What is wrong with a valve that is nearly shut, and what to do."""
    return (
        f"the valve on {run} burns {{value}} of its pump's head, more than {{limit}}: nearly shut, it is "
        "touchy to set and the first to clog. A weaker pump, a slowed one or narrower pipe mends it."
    )
