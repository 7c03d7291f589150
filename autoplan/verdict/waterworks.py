"""A finished drawing as basins and passages, ready to be walked through time.

What is taken on the safe side: drains that join run against each other as if all ran at once; a drain falls
free only where its end stands over the water below; water in pressure pipes runs back whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from autoplan.hydraulics.basins import Basin, Link, Waters
from autoplan.hydraulics.passage import SHORTAGE_M, Drain, Passage, Pumped, table_of
from autoplan.problem.graph import pumped_from
from autoplan.problem.site import Vessel
from autoplan.rules.survey import Survey

POINTS = 40
"""Points of a table of flow against head."""

FASTEST_M_S = 5.0
"""Velocity to which tables reach [m/s]; no garden drain runs faster."""

SLOWEST_SHARE = 0.002


@dataclass(frozen=True, slots=True)
class Supply:
    """What pumps deliver: by pumped vessel, flow [m3/s] by the vessel it goes to; None for outside."""

    flows_m3_s: Mapping[str, Mapping[str | None, float]]

    def passages(self, covers_m: Mapping[str, float]) -> list[Link]:
        """A link per outlet, each fading as its pump loses cover [m above the datum]."""
        return [
            Link(
                f"pump in {vessel} to {target or 'outside'}",
                vessel,
                target,
                Pumped((0.0,), (flow,), covers_m[vessel]),
            )
            for vessel, outlets in self.flows_m3_s.items()
            for target, flow in outlets.items()
            if flow > 0.0
        ]


class Waterworks:
    """Basins and passages of a drawing.

    Args:
        survey: the drawing measured.
    """

    def __init__(self, survey: Survey) -> None:
        self.survey = survey
        self.site = survey.site
        self.pumped = self.site.pumped_vessels()

    @cached_property
    def basins(self) -> tuple[Basin, ...]:
        """A basin per vessel; a bed's gravel takes its share of the volume up to the rim."""
        return tuple(_basin(vessel) for vessel in self.site.vessels.values())

    @cached_property
    def drains(self) -> dict[tuple[str, ...], Link]:
        """A passage per way by gravity from vessel to vessel, by the names of its runs."""
        return {path: self._drain(path) for path in self.survey.gravity_paths}

    def blocked(self, open_share: Mapping[str, float]) -> list[Link]:
        """The drains with some runs blocked, by the share of their flow that still passes [-]."""
        found = []
        for path, link in self.drains.items():
            share = min(open_share.get(run, 1.0) for run in path)
            passage = link.passage
            if share < 1.0 and isinstance(passage, Drain):
                link = replace(link, passage=replace(passage, open_share=share))
            found.append(link)
        return found

    @cached_property
    def covers_m(self) -> dict[str, float]:
        """Level under which each pump draws air [m]."""
        return {name: self.site.vessels[name].floor_m + self.needed_cover(name) for name in self.pumped}

    def needed_cover(self, vessel: str) -> float:
        """Water over the floor that the pump in a vessel needs [m]; never less than its flow fades over."""
        return max(SHORTAGE_M, self.survey.catalog.pumps[self.survey.drawing.pumps[vessel].part].cover_m)

    def as_designed(self) -> Supply:
        """Every outlet at its design flow, as the valves are to be set."""
        flows: dict[str, dict[str | None, float]] = {vessel: {} for vessel in self.pumped}
        for path in self.survey.pressure_paths:
            outlets = flows[self.survey.run(path[0]).start]
            last = self.survey.run(path[-1])
            outlets[last.finish] = outlets.get(last.finish, 0.0) + self.survey.design_flow(last.name)
        return Supply(flows)

    def at_design(self) -> Waters:
        """The water as drawn: every level at design, beds empty."""
        volumes = {
            basin.name: 0.0
            if self.site.vessels[basin.name].bed is not None
            else basin.volume(self.survey.level(basin.name))
            for basin in self.basins
        }
        return Waters(volumes)

    @cached_property
    def in_pipes_m3(self) -> dict[str, float]:
        """Water in the pressure pipes behind each pump, which runs back when the power fails [m3]."""
        held = dict.fromkeys(self.pumped, 0.0)
        for name, vessel in pumped_from(self.site).items():
            bore = self.survey.pipe(name).bore_m
            held[vessel] += math.pi / 4 * bore * bore * self.survey.drawn(name).length_m
        return held

    def _drain(self, path: tuple[str, ...]) -> Link:
        survey, first = self.survey, path[0]
        peaks = survey.drain_flows()
        # A drain that no water is meant for is measured with as much in every run.
        own = peaks[first] or 1.0
        bore = survey.pipe(first).bore_m
        most = FASTEST_M_S * math.pi / 4 * bore * bore
        flows = [most * SLOWEST_SHARE ** (1 - step / (POINTS - 1)) for step in range(POINTS)]

        def loss(flow: float) -> float:
            return survey.path_loss(path, {name: (peaks[name] or 1.0) * flow / own for name in path})

        end = survey.drawn(path[-1]).finish
        against = -math.inf if end.centre_m is None else end.centre_m + survey.pipe(path[-1]).outside_m / 2
        passage: Passage = Drain(
            inlet=table_of(lambda flow: survey.inlet_head(first, flow), flows),
            control_m=survey.control_height(first),
            line=table_of(loss, flows),
            against_m=against,
        )
        return Link(" + ".join(path), survey.run(first).start, survey.run(path[-1]).finish, passage)


def _basin(vessel: Vessel) -> Basin:
    share = 1.0 if vessel.bed is None else vessel.bed.void_fraction
    return Basin(vessel.name, vessel.area_m2, vessel.floor_m, vessel.rim_m, share)
