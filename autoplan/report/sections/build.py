"""What a builder takes to the site and to the counter: cost, pump, runs, levels, assumptions, cautions."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.naming import name_of, names_of, tally
from autoplan.catalog.parts import Valve
from autoplan.drawing import DrawnJunction
from autoplan.fittings.cap import EndCap
from autoplan.fittings.kinds import TOLD
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.vent import Vent
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome, PumpFacts
from autoplan.problem.site import RunKind
from autoplan.report.alike import SECOND, THIRD, gathered
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.figures import ZERO, charge_words, end_words, money, order_lines, pipe_size, shop_orders
from autoplan.report.sections.cautions import CAUTIONS
from autoplan.report.sections.measuring import measure_of
from autoplan.report.sections.site_cautions import of_this_design
from autoplan.report.sections.ways import way_words
from autoplan.report.sections.wishes import wish_words
from autoplan.report.units import Units, fixed


def costs(outcome: Outcome, design: Design) -> Iterator[Block]:
    """What the design costs to buy and to run."""
    cost = design.verdict.cost
    years = fixed(outcome.site.wishes.ownership_years, 1).removesuffix(".0")
    orders = shop_orders(outcome.catalog, order_lines(outcome.catalog, design.drawing.purchases))
    yield Heading(f"Cost of rank {design.rank}" + (f": {design.variant}" if design.variant else ""))
    yield Para(
        f"Parts {money(cost.purchase, cost.currency)}, "
        f"{charge_words(orders)} {money(cost.freight, cost.currency)}, "
        f"together {money(cost.to_pay, cost.currency)}. "
        f"Power {money(cost.running_per_year, cost.currency)} a year; "
        f"bought and run for {years} years: {money(cost.ownership, cost.currency)}."
    )
    if design.rank == 1 and (wishes := wish_words(outcome)):
        yield Para(f"Wishes, which a system works without: {wishes}")


def pumps(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Each pump and its duty."""
    facts = design.verdict.pumps.values()
    if not facts:
        return
    yield Heading("Pump")
    head = units.head
    yield grid_of(
        facts,
        (GridColumn("stands in", 12), lambda pump: pump.vessel),
        (GridColumn("pump", 26), lambda pump: name_of(outcome.catalog, pump.part)),
        (GridColumn("how", 18), how_it_runs),
        (numbers(units.flow.title("flow"), 8), lambda pump: units.flow.text(pump.duty_flow_m3_s)),
        (numbers(head.title("head"), 6), lambda pump: head.text(pump.duty_head_m)),
        (numbers(head.title("needed"), 8), lambda pump: head.text(pump.required_head_m)),
        (numbers("power W", 7), lambda pump: fixed(pump.watts, 0)),
    )


def how_it_runs(pump: PumpFacts) -> str:
    """Whether a pump is throttled or slowed, and to what speed."""
    return f"slowed to {fixed(100 * pump.speed, 0)} %" if pump.mode == "slowed" else pump.mode


def runs(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Each run: first its figures, then its fittings from start to end, then the way it goes."""
    yield Heading("Runs")
    yield Grid(
        (
            GridColumn("run", 13),
            GridColumn("from - to", 13),
            GridColumn("kind", 8),
            GridColumn("pipe", 13),
            numbers(units.bore.title("bore"), 5),
            numbers(units.way.title("length"), 11),
            numbers(units.flow.title("flow"), 6),
            numbers(units.speed.title("velocity"), 8),
            numbers(units.small.title("loss"), 6),
        ),
        tuple(_run_figures(outcome, design, name, units) for name in design.drawing.runs),
    )
    yield Points(tuple(gathered(_run_fittings(outcome, design, name, units) for name in design.drawing.runs)))
    joined = junctions(outcome, design, units)
    if joined:
        yield Points(tuple(joined))
    ways = [
        ((name,), f"{way}.") for name in design.drawing.runs if (way := _way(outcome, design, name, units))
    ]
    if ways:
        yield Para(
            "How each run goes, in the direction of its water: lengths from corner to corner along its "
            f"middle, heights above {ZERO}."
        )
        yield Points(tuple(gathered(ways)))


def junctions(outcome: Outcome, design: Design, units: Units) -> list[str]:
    """What each junction is made of, how high a drain's lies, and what is pumped out by hand."""
    joined = [_junction_words(outcome, junction, units) for junction in design.drawing.junctions.values()]
    return joined + [
        f"Waste of {vessel}: pumped out by hand over the rim with {name_of(outcome.catalog, part)}."
        for vessel, part in design.drawing.hand_pumps.items()
    ]


def run_words(outcome: Outcome, design: Design, name: str, units: Units) -> str:
    """One run from start to end: what it is joined to, its turns, valves and whatever else sits on it."""
    drawn = design.drawing.runs[name]
    text = _fitting_words(outcome, design, name, units)
    text = text.replace(SECOND, drawn.start.at).replace(THIRD, drawn.finish.at)
    way = _way(outcome, design, name, units)
    return f"{text} Its way: {way}." if way else text


def _way(outcome: Outcome, design: Design, name: str, units: Units) -> str:
    """How a run goes that is built now."""
    drawn = design.drawing.runs[name]
    return "" if drawn.later else way_words(outcome.site, drawn, units)


def _junction_words(outcome: Outcome, junction: DrawnJunction, units: Units) -> str:
    at, runs = outcome.site.junctions[junction.junction].height_m, outcome.site.runs
    high = ""
    if at is not None and runs[junction.ports[0]].kind is RunKind.GRAVITY:
        high = f", its middle {units.height.said(at)} above {ZERO}"
    if junction.tee is None:
        return f"Junction {junction.junction}: {' and '.join(junction.ports)} in line{high}."
    first, second, branch = junction.ports
    made = f"{name_of(outcome.catalog, junction.tee)}, straight through {first} and {second}, branch {branch}"
    return f"Junction {junction.junction}: {made}{high}."


def _run_figures(outcome: Outcome, design: Design, name: str, units: Units) -> tuple[str, ...]:
    run, drawn, facts = outcome.site.runs[name], design.drawing.runs[name], design.verdict.runs[name]
    return (
        name,
        f"{run.start} - {run.finish}",
        str(run.kind),
        pipe_size(outcome.catalog.pipes[drawn.pipe]),
        units.bore.text(facts.bore_m),
        units.way.text(facts.length_m),
        units.flow.text(facts.flow_m3_s),
        units.speed.text(facts.velocity_m_s),
        units.small.text(facts.loss_m),
    )


def _run_fittings(
    outcome: Outcome, design: Design, name: str, units: Units
) -> tuple[tuple[str, str, str], str]:
    """A run with where it starts and ends, and its fittings from one to the other."""
    drawn = design.drawing.runs[name]
    return (name, drawn.start.at, drawn.finish.at), _fitting_words(outcome, design, name, units)


def _fitting_words(outcome: Outcome, design: Design, name: str, units: Units) -> str:
    drawn, catalog = design.drawing.runs[name], outcome.catalog
    if drawn.later:
        cap = drawn.one(EndCap)
        at = (
            f"capped now behind {SECOND} by {name_of(outcome.catalog, cap.part)}"
            if cap
            else "nothing of it is built now"
        )
        return f"to come later; {at}."
    pumped = outcome.site.runs[name].kind is RunKind.PRESSURE and drawn.start.at in design.drawing.pumps
    start = f"the pump in {SECOND}" if pumped else SECOND
    said = [
        f"start at {end_words(catalog, drawn.start, start)}",
        "turns: " + (", ".join(tally(turn.words(catalog) for turn in drawn.turns)) or "none"),
    ]
    for kind in TOLD:
        for one in drawn.fittings:
            if type(one) is kind:
                said += one.told(catalog)
                top = outcome.site.runs[name].vent_m
                if isinstance(one, Vent):
                    over = f"over the rim of {SECOND}"
                    at = over if top is None else f"{units.height.said(top)} above {ZERO}"
                    said.append(f"its top {at}")
                if isinstance(one, ValveSet):
                    said += _to_set(outcome, design, drawn, catalog.valves[one.valve], units)
        if kind is CheckValveSet and outcome.site.runs[name].waste:
            said.append("valve shut, its handle taken off, but to flush")
    if drawn.couplings:
        said.append(f"couplings: {', '.join(names_of(catalog, drawn.couplings))}")
    end = outcome.site.junctions.get(drawn.finish.at)
    if end is not None and end.open_m is not None:
        height = units.height.said(end.open_m)
        return "; ".join([*said, f"end in the open, {height} above {ZERO}"]) + "."
    return "; ".join([*said, f"end at {end_words(catalog, drawn.finish, THIRD)}"]) + "."


def _to_set(outcome: Outcome, design: Design, drawn: Line, valve: Valve, units: Units) -> Iterator[str]:
    """How a valve is set: to its run's flow where that ends."""
    flow = design.verdict.runs[drawn.run].flow_m3_s
    if valve.style != "check" and flow > 0:
        stop = " by the hand-set stop for its opening" if valve.style == "timed" else ""
        measure = measure_of(outcome.site, design, drawn, flow)
        yield f"set the valve{stop} so that {measure.set_to(flow, units, drawn.finish.at)}"


def levels(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Each vessel's heights, above the one that the problem counts from and above its own floor."""
    yield Heading("Water levels")
    yield Para(
        f"{units.lengths} above {ZERO}; in brackets above the vessel's own floor inside. {units.rounding}"
    )
    rows, show = [], units.height.text
    for level in design.drawing.levels.values():
        vessel = outcome.site.vessels[level.vessel]
        heights = (vessel.floor_m, level.design_m, level.overload_m, vessel.rim_m)
        rows.append(
            (level.vessel, *(f"{show(at)} ({show(at - vessel.floor_m)})" for at in heights)),
        )
    titles = ("floor", "water", "at overload", "rim")
    yield Grid((GridColumn("vessel", 20), *(numbers(title, 18) for title in titles)), tuple(rows))


def assumptions(outcome: Outcome, units: Units) -> Iterator[Block]:
    """Every value the builder did not give, with its mark."""
    told = [assumed for assumed in outcome.site.assumptions if not assumed.moot]
    if not told:
        return
    yield Heading("Assumed, because the problem does not say")
    yield Points(
        tuple(
            f"{assumed.place} = {units.written(assumed.text)}: {assumed.why} ({assumed.mark})."
            for assumed in told
        )
    )


def cautions(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The cautions of every design, and those of this one."""
    yield Heading("Cautions")
    yield Points(CAUTIONS)
    yield Heading("Cautions of this design")
    yield Points(tuple(of_this_design(outcome, design, units)))
