"""When the power fails, what runs back stays in the sump."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import drained_to, pumped_from, running_drains
from autoplan.problem.site import RunKind, Site, Vessel
from autoplan.rules.base import Mend, ModelView, Rule, Setting, Shared
from autoplan.rules.heights import ROUNDED, STEPS_IN_A_M, AtLeast, WaterOf, under_rim
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.rules.quantities import (
    BARED,
    DRAINED,
    HEAD,
    HELD,
    drains,
    holds_water,
    less,
    pumped,
    stands_over,
)
from autoplan.rules.survey import Survey
from autoplan.rules.water.run_back import backdrain_volume
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class SumpHigh(Rule):
    """Running level (beds empty that ever are) plus what runs back from vessels and pipes is under the rim.

    In the model drains run back whole; in the check less what stays in them under the water they end in.
    """

    id = "sump-high"
    sentence = "With the power off and everything run back, the sump does not run over."
    source = "water balance"
    unit = "mm"
    negotiable = True
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.SUMP,
        )
    )
    spares = True
    shares = Shared.ALL
    of_one_vessel = True
    settings = (
        Setting("freeboard", Dimension.LENGTH, "20 mm", "from memory", "dry wall left with the power off"),
    )
    reads = (
        less(HELD, holds_water),
        less(BARED, pumped),
        less(DRAINED, drains),
        less(HEAD, stands_over),
    )

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:
        """The dry wall that is left with the power off, even where nothing runs back."""
        for name in site.pumped_vessels():
            yield under_rim(self.id, site.vessels[name], WaterOf(name), self.values["freeboard"])

    def encode(self, draft: ModelView) -> None:
        """Level + rise of each candidate's share of the run-back <= rim - freeboard."""
        site, roots = draft.site, pumped_from(draft.site)
        running = running_drains(site)
        for name in site.pumped_vessels():
            vessel = site.vessels[name]
            dry = tenth_mm_down(vessel.rim_m - self.values["freeboard"])
            highest = Linear(constant=dry - draft.reserve)
            pipes = total(
                _rise(vessel, draft.each(HELD, run.name))
                for run in site.runs.values()
                if roots.get(run.name) == name
                or (run.name in running and name in drained_to(site, run.finish))
            )
            pipes += total(self._over_lips(draft, vessel))
            # A vessel that falls through its drains and through its inlet falls as far as the lower lets it.
            ways = [list(self._falls(draft, vessel, above)) for above in site.vessels.values()]
            for falls in product(*(way for way in ways if way)):
                draft.at_least(self.id, highest, draft.level(name) + pipes + total(falls))

    def _over_lips(self, draft: ModelView, vessel: Vessel) -> Iterator[Linear]:
        """What beds that stand full let go, down to their lips, which are drilled at whole millimetres."""
        site = draft.site
        for run in site.runs.values():
            if stands_over(site, run) and vessel.name in drained_to(site, run.start):
                area = site.vessels[run.start].water_area_m2
                yield _rise(vessel, draft.each(HEAD, run.name), area, ROUNDED)

    def _falls(self, draft: ModelView, vessel: Vessel, above: Vessel) -> Iterator[Linear]:
        """What one vessel adds to a pumped one, through its drains or through its inlets."""
        site = draft.site
        if above.bed is not None or above.name in site.pumped_vessels():
            return
        drains, roots = vessel.name in drained_to(site, above.name), pumped_from(site)
        for kind in RunKind:
            rises = [
                _rise(
                    vessel, draft.each(DRAINED if kind is RunKind.GRAVITY else BARED, run.name), above.area_m2
                )
                for run in site.runs.values()
                if run.kind is kind
                and (
                    (run.start == above.name and drains and not run.idle)
                    if kind is RunKind.GRAVITY
                    else (run.finish == above.name and roots[run.name] == vessel.name)
                )
            ]
            if any(rise.terms for rise in rises):
                yield total(rises)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pumped vessel; value is the dry wall left."""
        for name in survey.site.pumped_vessels():
            vessel = survey.site.vessels[name]
            highest = survey.level(name) + backdrain_volume(survey, name) / vessel.area_m2
            dry = vessel.rim_m - highest
            yield self.not_under(InVessel(name), dry, self.values["freeboard"], 1e-6)


def _rise(
    vessel: Vessel, held: Iterable[tuple[Var, float | None]], area_m2: float = 1.0, more: int = 0
) -> Linear:
    """How much a vessel rises by what is held over an area, and so much more [0.1 mm] of it, way by way."""
    share, more_m = area_m2 / vessel.area_m2, more / STEPS_IN_A_M
    return weighted((var, tenth_mm_up(((high or 0.0) + more_m) * share)) for var, high in held)
