"""A siphon starts too as its bed stands full and the pumped water is low."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import ClassVar

from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.sinking import head_lacking, own_head_asked, share_left
from autoplan.hydraulics.siphon import start_flow
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import gravity_paths, pressure_paths
from autoplan.problem.site import Site
from autoplan.rules.asked import Starting, StartingAmply
from autoplan.rules.balance import flood_drawdown, least_lift, pumped_flow
from autoplan.rules.base import Given, Mend, ModelView, PumpChoice, Rule, Setting, answers
from autoplan.rules.linear import Var, weighted
from autoplan.rules.pressure.pump_duty import discharge_heights, duty_head
from autoplan.rules.quantities import (
    CREST,
    FLARED,
    LOSS_AT_DESIGN,
    OVER_CREST,
    OVER_WATER,
    PLAIN,
    STANDPIPE_TOP,
    drains,
    less,
    pumped,
)
from autoplan.rules.siphoned import outside_siphons
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

ALL_OF_IT = 0.99
"""Share of the inflow over which a standpipe counts as asking for all of it, which is never left [-]."""

AMPLE = 0.8
"""Share of the inflow up to which a plain top is offered without its flare; common practice, no source [-].

Outlets keep more than that in sound systems. Where one does not, the flare is not weighed.
"""

Top = tuple[float, float]
"""Bore [m] of a standpipe or of a siphon pipe outside, and `FLARED`, `PLAIN` or `OVER_CREST`."""


class FullBedStart(Rule):
    """Inflow x share left >= (1 + margin) x the flow from which the standpipe surely fills.

    Valves are set with the beds empty. A siphon must start when its bed is full, and at worst so are all that
    may be full at once: the pumped water has sunk by what stands in them, and every outlet gets less. How
    much is left at least follows from the pump's curve and from the head that was over the outlet behind its
    last junction (`hydraulics.sinking`). Water that comes to a bed by gravity is taken to keep the share
    that the vessel above it gets. A bed gets more than is so found: little margin is asked for.
    """

    id = "full-bed-start"
    sentence = "Each siphon still gets enough to start when its bed is full and the pumped water low."
    source = "energy equation; limit: as the rule siphon-start's, or crest-start's; margin: from memory"
    unit = "L/h"
    negotiable = True
    less_telling = True
    mended_by = frozenset((Mend.HEIGHTS, Mend.SUMP, Mend.INFLOW))
    borrows: ClassVar[Mapping[str, Given]] = {
        "froude": Given.PRIMING,
        "flare": Given.FLARED,
        "crest": Given.CREST,
    }
    so_that = "so that a siphon starts with the beds full"
    hint = ", or let fewer beds be full at once (beds_full)"
    settings = (Setting("margin", Dimension.NUMBER, "2 %", "from memory", "inflow kept over the limit"),)
    reads = (
        less(STANDPIPE_TOP, drains),
        *(less(quantity, pumped) for quantity in (LOSS_AT_DESIGN, CREST, OVER_WATER)),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon."""
        return any(vessel.bed is not None and vessel.bed.siphon for vessel in site.vessels.values())

    @answers(Starting)
    def starts(self, asked: Starting) -> bool:
        """No tops that ask for all of their inflow, of which something always lacks once the water sinks."""
        if asked.end.siphon is None:
            return True
        top = asked.end.stood(asked.catalog, asked.pipe).bore_m, float(asked.end.siphon.flare is None)
        if self._asked(top) <= ALL_OF_IT * asked.site.flows[asked.run.name].design_m3_s:
            return True
        paths = (path for drain, path in _ways(asked.site) if drain == asked.run.name)
        return all(flood_drawdown(asked.site, asked.site.runs[path[0]].start) <= 0.0 for path in paths)

    @answers(StartingAmply)
    def starts_amply(self, asked: StartingAmply) -> bool:
        """Only tops that ask for so little of the inflow that a flare would not be needed."""
        if asked.end.siphon is None:
            return True
        top = (
            asked.end.stood(asked.catalog, asked.pipe).bore_m,
            PLAIN if asked.end.siphon.flare is None else FLARED,
        )
        return self._asked(top) <= AMPLE * asked.site.flows[asked.run.name].design_m3_s

    def _asked(self, top: Top) -> float:
        """Inflow [m3/s] that starts a standpipe, the margin included."""
        bore, made = top
        flare = self.values["flare"] if made == FLARED else 1.0
        froude = self.values["crest" if made == OVER_CREST else "froude"]
        return (1 + self.values["margin"]) * start_flow(bore, froude, flare)

    def encode(self, draft: ModelView) -> None:
        """Head over the outlet behind its last junction >= what lacks / (1 - share^1.75), for each top.

        What lacks hangs on the pump, the share on the standpipe: so there is a row for each standpipe, in
        which what lacks counts as much as for that one. With one that asks for less the row asks that the
        head be no less than 0, which is less than that one's own row asks.
        """
        gains: dict[str, list[tuple[Var, PumpChoice, float]]] = {}
        for drain, path in _ways(draft.site):
            vessel, last = draft.site.runs[path[0]].start, draft.site.runs[path[-1]]
            sunk = flood_drawdown(draft.site, vessel)
            if sunk <= 0.0:
                continue
            if vessel not in gains:
                gains[vessel] = list(_gains(draft, vessel, sunk))
            before = draft.path_loss(path, 1.0) - draft.run_loss(last.name)
            level, heights = draft.level(vessel), discharge_heights(draft, last)
            for factor, ways in self._by_top(draft, drain, sunk):
                head = weighted(
                    (var, tenth_mm_down(choice.head_m + gain * factor)) for var, choice, gain in gains[vessel]
                )
                for height in heights:
                    draft.at_least(self.id, head + level - before - height, weighted(ways))

    def _by_top(
        self, draft: ModelView, drain: str, sunk_m: float
    ) -> Iterator[tuple[float, list[tuple[Var, int]]]]:
        """For each standpipe by how much what lacks counts, and what is asked of head.

        Those that ask for less of their inflow ask for nothing there, those that ask for more for the same.
        """
        inflow, ways = draft.site.flows[drain].design_m3_s, draft.each(STANDPIPE_TOP, drain)
        shares = [(var, 0.0 if top is None else self._asked(top) / inflow) for var, top in ways]
        for share in sorted({share for _, share in shares if share > 0.0}):
            factor = own_head_asked(1.0, share)
            asked = tenth_mm_up(factor * sunk_m)
            yield factor, [(var, asked if other >= share else 0) for var, other in shares]

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per siphon that a pump feeds; value is what its bed gets at least when full."""
        shares: dict[str, list[float]] = {}
        ways = [(drain, path, survey.run(path[0]).start) for drain, path in _ways(survey.site)]
        lacking = {pump: _lacking(survey, pump) for pump in {pump for _, _, pump in ways}}
        for drain, path, pump in ways:
            shares.setdefault(drain, []).append(_share(survey, path, *lacking[pump]))
        limits = [
            (name, end.at, self.values["froude"], 1.0 if siphon.flare is None else self.values["flare"])
            for name, end, siphon in survey.siphons()
        ]
        crest = self.values["crest"]
        limits += [(name, start.at, crest, 1.0) for name, start in outside_siphons(survey)]
        for name, bed, froude, flare in limits:
            if name in shares:
                starts = start_flow(survey.standpipe(name).bore_m, froude, flare)
                left = min(shares[name]) * survey.design_flow(name)
                yield self.not_under(InVessel(bed), left, (1 + self.values["margin"]) * starts, 0.01)


def _ways(site: Site) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each drain of a bed with a siphon, with each way from a pump by which its water comes."""
    for run in site.runs.values():
        bed = None if run.start not in site.vessels else site.vessels[run.start].bed
        if bed is None or not bed.siphon or run.idle:
            continue
        above = _above(site, run.start)
        for path in pressure_paths(site):
            if site.runs[path[-1]].finish in above:
                yield run.name, path


def _above(site: Site, bed: str) -> frozenset[str]:
    """A bed and the vessels whose water comes to it by gravity, up to the next pump."""
    found, before, pumped_from = {bed}, set[str](), set(site.pumped_vessels())
    while found != before:
        before = set(found)
        for path in gravity_paths(site):
            start, finish = site.runs[path[0]].start, site.runs[path[-1]].finish
            if finish in before and start not in pumped_from:
                found.add(start)
    return frozenset(found)


def _gains(draft: ModelView, vessel: str, sunk_m: float) -> Iterator[tuple[Var, PumpChoice, float]]:
    """Each pump with the head [m] that it gives more, at least, once its water has sunk."""
    flow, lift = pumped_flow(draft.site, vessel), least_lift(draft.site, vessel)
    for var, choice in draft.pumps(vessel):
        curve = PumpCurve(choice.pump.curve).at_speed(choice.speed)
        lost = max(1e-3, choice.head_m - lift)
        yield var, choice, sunk_m - head_lacking(curve, flow, lost, sunk_m)


def _lacking(survey: Survey, vessel: str) -> tuple[float, float]:
    """How high a pump pushes at its duty, and what of it is lacking with as many beds full as may be [m]."""
    top = survey.level(vessel) + duty_head(survey, vessel)
    ends = [path[-1] for path in survey.pressure_paths if survey.run(path[0]).start == vessel]
    lost = max(top - survey.discharge_height(end) for end in ends)
    sunk = survey.level(vessel) - survey.low_level(vessel)
    return top, head_lacking(survey.pump_curve(vessel), survey.pump_flow(vessel), lost, sunk)


def _share(survey: Survey, path: Sequence[str], top_m: float, lacking_m: float) -> float:
    """Share of its flow that an outlet keeps at least, as many beds full as may be [-]."""
    flows = survey.flows_at()
    before = survey.path_loss(path, flows) - survey.line(path[-1]).loss(flows[path[-1]], survey.water)
    return share_left(lacking_m, top_m - before - survey.discharge_height(path[-1]))
