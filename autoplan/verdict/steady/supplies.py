"""What the pumps deliver as the water that they draw from rises and falls, with the valves as set."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cached_property
from typing import Any

from autoplan.hydraulics.water import Water
from autoplan.rules.survey import Survey
from autoplan.verdict.hours.waterworks import PumpSupply, Waterworks
from autoplan.verdict.steady.network import Steady, ValveSetting, steady


class Supplies:
    """The pumps of a drawing against its whole tree of pipes.

    The valves are set once, for the design flows at the drawn levels, as the builder sets them. How flow
    changes with the level is worked out for the system as it should run, and carried over to faults in
    proportion.

    Args:
        works: the drawing as basins and passages.
        settings: valves as set on another measure of the same drawing; by default set on this one.
        still: runs whose valves are shut in all that is asked, once the others are set.
    """

    def __init__(
        self,
        works: Waterworks,
        settings: Mapping[str, ValveSetting] | None = None,
        still: Collection[str] = (),
    ) -> None:
        self.works = works
        self.still = frozenset(still)
        self._known: dict[frozenset[str], PumpSupply] = {}
        self._answers: dict[frozenset[str], Steady] = {}
        self.survey: Survey = works.survey
        if settings is None:
            settings = steady(self.survey, balanced=True, pressure_only=True).valves
        self.settings = settings

    @cached_property
    def as_set(self) -> PumpSupply:
        """With the valves as set and nothing wrong."""
        answers = [
            self._steady(levels={name: self.levels[name][at] for name in self.levels}) for at in range(3)
        ]
        by_level = [self._outlets(answer) for answer in answers]
        flows = {
            vessel: {target: tuple(outlets[vessel][target] for outlets in by_level) for target in targets}
            for vessel, targets in by_level[0].items()
        }
        return PumpSupply(self.levels, flows)

    @cached_property
    def levels(self) -> dict[str, tuple[float, float, float]]:
        """Levels at which flows are worked out: pump just covered, as drawn, at the rim [m]."""
        found = {}
        for name in self.works.pumped:
            low, rim = self.works.covers_m[name], self.survey.site.vessels[name].rim_m
            drawn = min(max(self.survey.level(name), low + 0.1 * (rim - low)), rim - 0.1 * (rim - low))
            found[name] = (low, drawn, rim)
        return found

    @cached_property
    def quiet(self) -> Supplies:
        """The same with every timed valve shut."""
        quiet = Supplies(self.works, self.settings, self.survey.timed_feeds().values())
        quiet._answers = self._answers
        return quiet

    def with_shut(self, runs: frozenset[str]) -> PumpSupply:
        """With the valves of some runs shut, worked out once; of none as set."""
        if not runs:
            return self.as_set
        if runs not in self._known:
            self._known[runs] = self.shut(runs)
        return self._known[runs]

    def shut(self, runs: Collection[str]) -> PumpSupply:
        """With the valves of some runs shut."""
        asked = self.still.union(runs)
        if asked not in self._answers:
            self._answers[asked] = self._steady(shut=asked)
        return self._carried(self._answers[asked])

    def unfilled(self, run: str) -> PumpSupply:
        """With the down-leg of an inlet over a rim full of air, so that it lifts to the crest."""
        return self._carried(self._steady(unfilled=(run,)))

    def flat_out(self) -> PumpSupply:
        """At full speed with every valve open."""
        return self._carried(self._steady(settings=None, flat_out=True))

    def burst(self, run: str) -> PumpSupply:
        """With a run come apart near its start, its water lost at the height of the water that is pumped."""
        return self._carried(self._steady(burst=run), burst=run)

    def at(self, water: Water) -> PumpSupply:
        """With water at another temperature."""
        return self._carried(self._steady(water=water))

    def _steady(self, **otherwise: Any) -> Steady:
        """Steady flow under pressure with the valves as set, or with something otherwise."""
        asked = {"settings": self.settings, "shut": self.still, **otherwise}
        return steady(self.survey, pressure_only=True, **asked)

    def _carried(self, answer: Steady, burst: str | None = None) -> PumpSupply:
        """One answer for the drawn levels, carried over to the others as the flow of the whole pump goes."""
        outlets = self._outlets(answer)
        if burst is not None:
            (path,) = [path for path in self.survey.pressure_paths if burst in path][:1]
            outlets[self.survey.run(path[0]).start][None] = answer.spilled_m3_s
        flows: dict[str, dict[str | None, tuple[float, ...]]] = {}
        for vessel, targets in outlets.items():
            whole = [sum(flow) for flow in zip(*self.as_set.flows_m3_s[vessel].values(), strict=True)]
            ratios = [flow / whole[1] if whole[1] > 0.0 else 1.0 for flow in whole]
            flows[vessel] = {
                target: tuple(flow * ratio for ratio in ratios) for target, flow in targets.items()
            }
        return PumpSupply(self.levels, flows)

    def _outlets(self, answer: Steady) -> dict[str, dict[str | None, float]]:
        """Flow by pumped vessel and the vessel that it goes to [m3/s]; what runs back counts as none."""
        outlets: dict[str, dict[str | None, float]] = {vessel: {} for vessel in self.works.pumped}
        for path in self.survey.pressure_paths:
            vessel, last = self.survey.run(path[0]).start, path[-1]
            target = self.survey.run(last).finish
            outlets[vessel][target] = outlets[vessel].get(target, 0.0) + max(0.0, answer.flows[last])
        return outlets
