"""What a builder measures when the system is first run: flow of each outlet, water in each vessel."""

from __future__ import annotations

from autoplan.outcome import Commissioning, LevelFacts, OutletFacts
from autoplan.rules.survey import Survey
from autoplan.units import TENTH_MM
from autoplan.verdict.steady.network import Steady, ValveSetting, steady


def commission(survey: Survey, balanced: Steady) -> Commissioning:
    """Flows and levels to expect, with every valve set for the design flows and with every valve open.

    Valves are set with the beds empty; as the beds fill the pumped water falls, and each outlet gives less.
    The feed of a bed that comes later is capped: it is not measured, and lets nothing through.

    Args:
        survey: the drawing; the pumped vessels stand at their drawn levels, which is with every bed empty.
        balanced: its steady flow with the valves set, all beds built.

    Raises:
        NetworkError, ValueError: as `steady`.
    """
    site = survey.site
    capped = [run.name for run in survey.pressure_runs() if survey.drawn(run.name).later]
    if capped:
        balanced = steady(survey, balanced=True, shut=capped)
    wide_open = steady(survey, shut=capped)
    pumped = site.pumped_vessels()
    lowest = {name: survey.low_level(name) for name in pumped}
    low = steady(survey, settings=balanced.valves, levels=lowest, shut=capped)
    return Commissioning(
        outlets=tuple(
            _outlet(survey, path, balanced, wide_open, low)
            for path in survey.pressure_paths
            if path[-1] not in capped
        ),
        levels=tuple(
            LevelFacts(name, _as_drawn(survey.level(name), balanced.levels[name]), lowest.get(name))
            for name, vessel in site.vessels.items()
            if not vessel.spare
        ),
    )


def _as_drawn(drawn_m: float, found_m: float) -> float:
    """A level found [m]; as drawn where they differ by no more than drawn levels are rounded.

    Else the two, told in whole millimetres, may be one apart on one sheet.
    """
    return drawn_m if abs(found_m - drawn_m) < TENTH_MM else found_m


def _outlet(
    survey: Survey, path: tuple[str, ...], balanced: Steady, wide_open: Steady, low: Steady
) -> OutletFacts:
    last = path[-1]
    valve_run = next((name for name in reversed(path) if name in balanced.valves), None)
    setting = ValveSetting(0.0, 0.0) if valve_run is None else balanced.valves[valve_run]
    return OutletFacts(
        run=last,
        vessel=survey.run(last).finish,
        design_m3_s=survey.design_flow(last),
        flow_m3_s=balanced.flows[last],
        open_m3_s=wide_open.flows[last],
        valve_run=valve_run,
        valve_loss_m=setting.loss_m,
        low_m3_s=low.flows[last],
    )
