"""How drains of one vessel part its water, solved for what is drawn: nothing is taken from the shares asked.

The water stands where all drains of the vessel together pass what comes in: each over its own invert as
drilled, or as deep as its way down to the next vessel asks for. A drain whose share is set by hand takes it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from autoplan.hydraulics.search import root
from autoplan.line.water import trim_of
from autoplan.problem.flows import shared_outlets
from autoplan.problem.site import RunKind
from autoplan.rules.survey import Survey

NEAR = 1e-12
"""Width of a search over what is found [-]."""


class Streams:
    """The streams of a drawing at design.

    Args:
        survey: the drawing measured up.

    Attributes:
        flows: of every run [m3/s].
    """

    def __init__(self, survey: Survey) -> None:
        self.survey = survey
        self.shared = shared_outlets(survey.site)
        self.flows: dict[str, float] = {}
        self._paths = {path[0]: path for path in survey.gravity_paths}
        for name in survey.site.runs:
            self._solve(name)

    def _solve(self, name: str) -> float:
        """A run's flow, once those above it are known [m3/s]."""
        survey, run = self.survey, self.survey.run(name)
        if name not in self.flows:
            asked = survey.design_flow(name)
            if run.kind is RunKind.PRESSURE or run.idle:
                self.flows[name] = asked
            elif run.start in self.shared:
                outlets = self.shared[run.start]
                whole = sum(map(survey.design_flow, outlets)) * self._came(run.start)
                self.flows |= self.parted(outlets, whole)
            else:
                self.flows[name] = asked * self._came(run.start)
        return self.flows[name]

    def _came(self, place: str) -> float:
        """What comes to a vessel or a junction, as a share of what should [-]."""
        runs = [run.name for run in self.survey.site.runs.values() if run.finish == place]
        asked = sum(map(self.survey.design_flow, runs))
        return sum(map(self._solve, runs)) / asked if asked > 0 else 1.0

    # --- one vessel -------------------------------------------------------------------------------------

    def parted(self, outlets: Sequence[str], inflow_m3_s: float) -> dict[str, float]:
        """What each drain of a vessel takes of its inflow [m3/s]: by hand its share, else by height."""
        survey, whole = self.survey, sum(map(self.survey.design_flow, outlets))
        asked = {name: survey.design_flow(name) / whole * inflow_m3_s for name in outlets}
        by_height = [name for name in outlets if name == outlets[0] or trim_of(survey.drawn(name)) is None]
        if len(by_height) > 1:
            asked |= self.by_height(by_height, sum(asked[name] for name in by_height))
        return asked

    def by_height(
        self, outlets: Sequence[str], inflow_m3_s: float, moved: Mapping[str, float] | None = None
    ) -> dict[str, float]:
        """What each takes of an inflow by the height of its invert [m3/s].

        Args:
            outlets: drains of one vessel.
            inflow_m3_s: what they pass together.
            moved: by how much a drain's hole lies over where it is drawn [m].
        """
        moved = moved or {}
        if inflow_m3_s <= 0.0:
            return dict.fromkeys(outlets, 0.0)

        def taken(level: float) -> dict[str, float]:
            return {name: self.taken(name, level - moved.get(name, 0.0), inflow_m3_s) for name in outlets}

        low = min(self.survey.control_height(name) + moved.get(name, 0.0) for name in outlets)
        high = max(self.held(name, inflow_m3_s) + moved.get(name, 0.0) for name in outlets)
        if sum(taken(high).values()) <= inflow_m3_s:
            level = high
        else:
            level = root(lambda at: sum(taken(at).values()) - inflow_m3_s, low, high, NEAR)[0]
        found = taken(level)
        passed = sum(found.values())
        return {name: flow * inflow_m3_s / passed for name, flow in found.items()}

    def held(self, name: str, flow_m3_s: float) -> float:
        """Level at which a drain passes a flow [m], as drawn; what joins it below runs at its design flow."""
        survey, path = self.survey, self._paths[name]
        own = survey.design_flow(name)
        flows = {run: survey.design_flow(run) - own + flow_m3_s for run in path}
        below = survey.receiving_level(path, survey.level(survey.run(path[-1]).finish))
        over = survey.control_height(name) + survey.inlet_head(name, flow_m3_s)
        return max(over, below + survey.path_loss(path, flows))

    def taken(self, name: str, level_m: float, most_m3_s: float) -> float:
        """Flow that a drain passes at a level [m3/s], up to a most."""
        if self.held(name, 0.0) >= level_m:
            return 0.0
        if self.held(name, most_m3_s) <= level_m:
            return most_m3_s
        return root(lambda flow: self.held(name, flow) - level_m, 0.0, most_m3_s, NEAR)[0]


@lru_cache(maxsize=8)
def streams_of(survey: Survey) -> Streams:
    """The streams of a drawing, solved once for all rules that ask."""
    return Streams(survey)
