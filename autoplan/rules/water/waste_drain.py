"""A filter's waste gets out: by a drain that falls enough to take the sludge along, or by a hand pump."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.fittings.ends import AtVessel
from autoplan.hydraulics.conduit import Conduit
from autoplan.hydraulics.friction import velocity_head
from autoplan.line.water import site_water
from autoplan.outcome import Finding
from autoplan.places import InVessel, OnRun
from autoplan.problem.site import Run, Site
from autoplan.rules.asked import ByHand
from autoplan.rules.base import ModelView, Rule, Setting, answers
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import LOSS, flushes, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_up

TIP_M = 0.001
"""How high over the tip of a cone a drain leaves by it at most, a whole millimetre as it is marked [m]."""


class WasteDrain(Rule):
    """With its valve open the fall from the filter's water to the open end drives the pipe at flushing speed.

    The valve is shut otherwise, and the flow is no part of the balance.
    """

    id = "waste-drain"
    sentence = "A waste drain falls enough to flush the sludge out; a hand pump lifts and reaches far enough."
    source = "energy equation; flushing speed: from memory"
    unit = "mm"
    negotiable = True
    settings = (
        Setting(
            "speed", Dimension.VELOCITY, "0.6 m/s", "from memory", "speed that takes settled sludge along"
        ),
    )
    reads = (less(LOSS, flushes),)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a waste drain; a hand pump has no setting."""
        return any(run.waste for run in site.runs.values())

    @answers(ByHand)
    def lifts(self, asked: ByHand) -> bool:
        """Only pumps that lift high and reach far enough."""
        return (
            asked.pump.lift_m >= asked.wish.lift_m - 1e-9 and asked.pump.reach_m >= asked.wish.reach_m - 1e-9
        )

    def encode(self, draft: ModelView) -> None:
        """Level - open end >= head that each candidate takes at flushing speed."""
        for run in draft.site.runs.values():
            if run.waste:
                heads = [
                    (var, tenth_mm_up(self._head(draft, line))) for var, line in draft.each(LOSS, run.name)
                ]
                end = Linear(constant=tenth_mm_up(open_end(draft.site, run)))
                draft.at_least(self.id, draft.level(run.start), end + weighted(heads))

    def _head(self, draft: ModelView, line: Conduit) -> float:
        """Head [m] that a line takes at flushing speed in its pipe, the jet at its open end included."""
        speed = self.values["speed"]
        flow = math.pi / 4 * line.bore_m**2 * speed
        return line.loss(flow, site_water(draft.site)) + velocity_head(speed)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per waste drain, two out of a cone; two per hand pump, its lift and its hose.

        The second of a cone is how high over its tip the drain leaves it.
        """
        for run in survey.site.runs.values():
            if run.waste:
                fall = survey.level(run.start) - open_end(survey.site, run)
                bore, speed = survey.pipe(run.name).bore_m, self.values["speed"]
                loss = survey.line(run.name).loss(math.pi / 4 * bore**2 * speed, survey.water)
                needed = loss + velocity_head(speed)
                yield self.not_under(OnRun(run.name), fall, needed, 1e-6)
                vessel, start = survey.site.vessels[run.start], survey.drawn(run.name).start
                if vessel.cone_m and isinstance(start, AtVessel) and start.centre_m is not None:
                    over = start.centre_m - vessel.lowest_m
                    yield self.at_most(OnRun(run.name, "over the tip of its cone"), over, TIP_M, 1e-6)
        for wish in survey.site.hand_pumps:
            part = survey.drawing.hand_pumps.get(wish.vessel)
            pump = None if part is None else survey.catalog.fixtures[part]
            lift, reach = (0.0, 0.0) if pump is None else (pump.lift_m, pump.reach_m)
            yield self.not_under(InVessel(wish.vessel, "lift by hand"), lift, wish.lift_m, 1e-6)
            yield self.not_under(InVessel(wish.vessel, "hose"), reach, wish.reach_m, 1e-6)


def open_end(site: Site, run: Run) -> float:
    """Height of a waste drain's open end above the datum [m]."""
    height = site.junctions[run.finish].open_m
    if height is None:
        raise ValueError(f"{run.name} does not end in the open")
    return height
