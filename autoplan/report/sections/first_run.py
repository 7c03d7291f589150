"""What to measure when the system is first run: the flow at each outlet, the water in each vessel."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.outcome import Design, Outcome, OutletFacts
from autoplan.problem.site import RunKind
from autoplan.report.alike import SECOND, gathered
from autoplan.report.blocks import Block, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.figures import ZERO
from autoplan.report.sections.measuring import By, Timing, measure_of
from autoplan.report.units import LEAST_FLOW_M3_S, Units

SHORT = 0.995
"""Share of the design flow under which an outlet counts as short [-]; a bucket shows no less."""


def first_run(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """What to time at each outlet, levels to expect, and which outlets stay short."""
    facts = design.verdict.commissioning
    if facts is None:
        return
    yield Heading("First run")
    yield Para(
        "Open every valve, then close them bit by bit until what is timed takes the time given; go round "
        "until nothing changes, for each valve changes the others. Wide open is what to see before that: "
        "much longer means that something is blocked, kinked or drawing air."
    )
    flow = units.flow

    def measure(outlet: OutletFacts) -> Timing:
        """By what an outlet is measured."""
        return measure_of(outcome.site, design, design.drawing.runs[outlet.run], outlet.flow_m3_s)

    yield grid_of(
        facts.outlets,
        (GridColumn("outlet at", 16), lambda outlet: outlet.vessel),
        (GridColumn("valve on", 16), lambda outlet: outlet.valve_run or "-"),
        (numbers(flow.title("flow"), 8), lambda outlet: flow.text(outlet.flow_m3_s)),
        (GridColumn("timed", 16), lambda outlet: measure(outlet).words(units)),
        (numbers("in", 7), lambda outlet: measure(outlet).in_words(outlet.flow_m3_s, units)),
        (numbers(flow.title("wide open"), 9), lambda outlet: flow.text(outlet.open_m3_s)),
        (numbers("in", 7), lambda outlet: measure(outlet).in_words(outlet.open_m3_s, units)),
    )
    how = tuple(gathered(_how(outcome, design, outlet, measure(outlet), units) for outlet in facts.outlets))
    if how:
        yield Points(how)
    short = tuple(_short(outlet, units) for outlet in facts.outlets if _is_short(outlet))
    if short:
        yield Points(short)
    if any(outlet.low_m3_s < SHORT * outlet.flow_m3_s for outlet in facts.outlets):
        less = ", ".join(_at_lowest(outlet, units) for outlet in facts.outlets)
        yield Para(
            "With every bed full at once the pumped water is lowest, and valves set with the beds empty let "
            f"less through: {less}. {_when_to_set(outcome)}"
        )
    yield Para(
        f"{units.lengths} above {ZERO}; in brackets above the vessel's own floor inside. A bed "
        "stands so when it is full and passes its inflow on."
    )
    yield grid_of(
        facts.levels,
        (GridColumn("vessel", 20), lambda level: level.vessel),
        (numbers("water", 18), lambda level: _over(outcome, level.vessel, level.water_m, units)),
        (numbers("every bed full", 18), lambda level: _over(outcome, level.vessel, level.low_m, units)),
    )


def _when_to_set(outcome: Outcome) -> str:
    """At which water valves are best set.

    Beside timed beds not at the lowest: a valve set there is wider open, and once the timed ones shut its
    outlet gets more than the rule `timer-shut`, which reckons with it as set at the drawn level, has checked.
    """
    if not outcome.site.timed_beds():
        return "Set them with the beds full to have the full flow even then."
    return (
        "Leave it at that, and do not set them with the beds full: wider open, the valves of outlets without "
        "a timer could let through more than they may once the timed ones shut. Set them "
        "with the pumped water as high as told here under 'water' and the timed beds still near empty; when "
        "those fill up first, stop the pump, let them run empty and go on."
    )


def _how(
    outcome: Outcome, design: Design, outlet: OutletFacts, measure: Timing, units: Units
) -> tuple[tuple[str, str], str]:
    """A vessel and its outlet, and how that is measured; rise = flow x time / area."""
    if measure.by is By.BUCKET:
        said = f"{SECOND} leaves room for a bucket under its mouth."
    elif measure.by is By.JUG:
        said = f"no bucket fits under {SECOND}: hold a jug of {units.jug} to its mouth."
    else:
        rise = units.piece.said(units.rise_m)
        drained = any(
            run.start == outlet.vessel and run.kind is RunKind.GRAVITY for run in outcome.site.runs.values()
        )
        stop = "stop every drain of it for a moment and " if drained else ""
        why = f"the mouth of {SECOND} is under water"
        if not _is_drowned(design, outlet):
            why = f"no bucket fits under {SECOND}"
        said = f"{why}: {stop}time how long the water takes to rise {rise} by this inlet alone."
    return (outlet.vessel, outlet.run), said


def _is_drowned(design: Design, outlet: OutletFacts) -> bool:
    """Whether an outlet ends under its vessel's water."""
    end = design.drawing.runs[outlet.run].finish
    mouth = end.mouth_m if isinstance(end, OverRim) else None
    if mouth is None and isinstance(end, AtVessel):
        mouth = end.centre_m
    return mouth is not None and mouth < design.drawing.levels[outlet.vessel].design_m


def _is_short(outlet: OutletFacts) -> bool:
    return outlet.flow_m3_s < SHORT * outlet.design_m3_s


def _short(outlet: OutletFacts, units: Units) -> str:
    flow, asked = units.flow.text(outlet.flow_m3_s), units.flow.said(outlet.design_m3_s)
    return f"{outlet.vessel}: {outlet.run} gives {flow} of the {asked} asked."


def _at_lowest(outlet: OutletFacts, units: Units) -> str:
    share = (
        f" ({100 * outlet.low_m3_s / outlet.flow_m3_s:.0f} %)" if outlet.flow_m3_s > LEAST_FLOW_M3_S else ""
    )
    return f"{outlet.vessel} {units.flow.said(outlet.low_m3_s)}{share}"


def _over(outcome: Outcome, vessel: str, at_m: float | None, units: Units) -> str:
    """A height above the datum, in brackets above a vessel's floor."""
    if at_m is None:
        return "-"
    show = units.height.text
    return f"{show(at_m)} ({show(at_m - outcome.site.vessels[vessel].floor_m)})"
