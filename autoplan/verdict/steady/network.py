"""A drawing's steady flow: its pumps at their speed against the whole tree of pipes, and what follows below.

Unlike the rules, which ask whether the design flow fits, this finds the flow that there is: valves open or
set, a valve shut, a run come apart, other levels. Each part on the way costs what it costs in the rules.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.fittings import EXIT_K, RE_ENTRANT_K
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.network import Fixed, Free, Link, Solution, solve
from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.water import Water
from autoplan.problem.flows import gravity_graph, outlet_shares
from autoplan.problem.site import Guard, Run, RunKind
from autoplan.rules.survey import Survey

SETTLED_M = 1e-9
"""Change of a tee's loss from one round to the next that no longer matters [m]."""

SHUT_K = 1e9
"""K of a valve on a run that is to carry nothing: less than 1 L/h in any pipe of such a system [-]."""

MOST_ROUNDS = 80
ROUNDS_AT_WILL = 50
MIXED = 6
"""Rounds of tee losses in all, those before the larger of two is taken, and those mixed to pick the next."""


@dataclass(frozen=True, slots=True)
class ValveSetting:
    """How far a valve is closed: the head it takes [m], and K [-] on the velocity head in its run's pipe."""

    loss_m: float
    k: float


@dataclass(frozen=True, slots=True)
class Duty:
    """What a pump gives: flow [m3/s], and the head it lifts by [m]."""

    flow_m3_s: float
    head_m: float


@dataclass(frozen=True, slots=True)
class Steady:
    """Steady flow in a whole drawing.

    Attributes:
        flows: by run [m3/s]; below 0 where water runs back through an inlet that is under water.
        heads: by junction of the pressure side, above the datum [m].
        pumps: by vessel, running pumps only.
        levels: by vessel [m]: as given or drawn where a pump draws or a level is given, elsewhere the level
            at which the inflow passes on; infinite where every way out is shut.
        valves: by run, the valves that are set; K 0 where one stands wide open.
        spilled_m3_s: what runs out of the run that came apart [m3/s].
    """

    flows: Mapping[str, float]
    heads: Mapping[str, float]
    pumps: Mapping[str, Duty]
    levels: Mapping[str, float]
    valves: Mapping[str, ValveSetting]
    spilled_m3_s: float


def steady(
    survey: Survey,
    *,
    levels: Mapping[str, float] | None = None,
    shut: Collection[str] = (),
    burst: str | None = None,
    burst_m: float | None = None,
    balanced: bool = False,
    settings: Mapping[str, ValveSetting] | None = None,
    stopped: Collection[str] = (),
    flat_out: bool = False,
    curves: Mapping[str, PumpCurve] | None = None,
    unfilled: Collection[str] = (),
    water: Water | None = None,
    near: Mapping[str, float] | None = None,
    pressure_only: bool = False,
) -> Steady:
    """Find the steady flow of a drawing.

    Pressure runs flow as the pumps drive them; gravity runs pass on what arrives. An outlet above the water
    of its vessel lets nothing back; one under water does. What a tee costs depends on how its flow divides,
    and is found by going round until it no longer changes; should it swing between two values, as Crane's
    tables can make it, the larger is taken.

    Args:
        survey: the drawing.
        levels: water by vessel above the datum [m] where it is not as drawn.
        shut: runs that let nothing through.
        burst: a run that has come apart at its start: what comes there runs out, and it carries nothing. Out
            of a run that starts at a pump it runs back into the pumped vessel.
        burst_m: height above the datum at which that water runs out [m]; by default the water of the pumped
            vessel, so that the pump need not lift it at all.
        balanced: set each balancing valve so that its run carries no more than its design flow; with a pump
            that has too little they stand open as far as that helps.
        settings: valves as set, by run, from the `valves` of an earlier answer; the others stand open.
        stopped: vessels whose pump stands still; water can run back through it.
        flat_out: whether slowed pumps run at full speed.
        curves: by vessel, another pump's curve in place of the drawn one's.
        unfilled: inlets over a rim whose down-leg holds air yet, so that they lift to their crest.
        water: water at another temperature than the site's.
        near: flows by run [m3/s] to begin from, such as those a moment before; quicker, with the same answer.
        pressure_only: leave out what follows below: gravity runs have no flow told, and vessels no level.

    Returns:
        Flows, heads, duties, levels, settings and what is spilled.

    Raises:
        NetworkError: no steady flow; not for a sound drawing.
        ValueError: a run or vessel not on the site, or a drawing without a height or with sizes out of range.
    """
    runs = {*shut, *unfilled, *(settings or {}), *(() if burst is None else (burst,))}
    vessels = {*(levels or {}), *stopped, *(curves or {})}
    if unknown := (runs - set(survey.site.runs)) | (vessels - set(survey.site.vessels)):
        raise ValueError(f"the site has no {', '.join(sorted(unknown))}")
    begin = {**survey.flows_at(), **(near or {})}
    case = _Case(
        *(survey, levels or {}, frozenset(shut), burst, burst_m, balanced, settings or {}),
        *(frozenset(stopped), flat_out, curves or {}, frozenset(unfilled), water or survey.water, begin),
    )
    return case.answer(pressure_only=pressure_only)


@dataclass(frozen=True, slots=True)
class _Case:
    survey: Survey
    levels: Mapping[str, float]
    shut: frozenset[str]
    burst: str | None
    burst_m: float | None
    balanced: bool
    settings: Mapping[str, ValveSetting]
    stopped: frozenset[str]
    flat_out: bool
    curves: Mapping[str, PumpCurve]
    unfilled: frozenset[str]
    water: Water
    near: Mapping[str, float]

    def answer(self, *, pressure_only: bool) -> Steady:
        nodes, links = self._nodes(), self._links()
        solution = self._settle(nodes, links)
        flows = {name: solution.flows[name] for name in links if name in self.survey.site.runs}
        spilled = solution.flows.get(_BURST, 0.0)
        spilled_below, levels = 0.0, dict[str, float]()
        site, heads = self.survey.site, solution.heads
        if not pressure_only:
            flows, spilled_below = self._below(flows)
            levels = {name: self._level_after(name, flows) for name in site.vessels}
        return Steady(
            flows={name: flows[name] for name in site.runs if name in flows},
            heads={name: heads[name] for name in site.junctions if name in heads},
            pumps=dict(self._duties(links, solution)),
            levels=levels,
            valves=self._valves(solution),
            spilled_m3_s=spilled + spilled_below,
        )

    # --- the network ------------------------------------------------------------------------------------

    def _level(self, vessel: str) -> float:
        return self.levels[vessel] if vessel in self.levels else self.survey.level(vessel)

    def _nodes(self) -> dict[str, Fixed | Free]:
        """Water of pumped vessels, outlets of their pumps, junctions, ends of pressure runs."""
        site = self.survey.site
        nodes: dict[str, Fixed | Free] = {}
        for vessel in site.pumped_vessels():
            nodes[vessel] = Fixed(self._level(vessel))
            nodes[_pump(vessel)] = Free()
        for run in self.survey.pressure_runs():
            if run.finish in site.vessels:
                nodes[_outlet(run.name)] = Fixed(max(self._outlet(run), self._level(run.finish)))
            else:
                nodes[run.finish] = Free()
        if self.burst is not None and self.survey.run(self.burst).kind is RunKind.PRESSURE:
            lowest = min(self._level(vessel) for vessel in site.pumped_vessels())
            nodes[_BURST] = Fixed(lowest if self.burst_m is None else self.burst_m)
        return nodes

    def _links(self) -> dict[str, Link]:
        links = {_pump(vessel): self._pump_link(vessel) for vessel in self.survey.site.pumped_vessels()}
        for run in self.survey.pressure_runs():
            start, finish = self._start(run.name), run.finish
            falls_free = False
            if finish in self.survey.site.vessels:
                checked = self.survey.drawn(run.name).guard is Guard.CHECK_VALVE
                falls_free = self._level(finish) < self._outlet(run) or checked
                falls_free |= self._level(finish) == self._outlet(run) and not self._full(run)
                finish = _outlet(run.name)
            links[run.name] = Link(
                start,
                finish,
                (self._line(run.name),),
                one_way=falls_free,
                shut=run.name in self.shut or run.name == self.burst,
                most_m3_s=self.survey.design_flow(run.name) if self._limits(run.name) else inf,
            )
            if run.name == self.burst:
                bore = self.survey.pipe(run.name).bore_m
                opening = Conduit(bore, 0.0, 0.0, (*self._before(run.name), Resistance(EXIT_K, bore)))
                links[_BURST] = Link(start, _BURST, (opening,), one_way=True)
        return links

    def _full(self, run: Run) -> bool:
        """Whether an inlet hangs down under water and is full of it."""
        guard = self.survey.drawn(run.name).guard
        return guard is not Guard.AIR_GAP and run.name not in self.unfilled

    def _outlet(self, run: Run) -> float:
        """Height [m] to which an inlet lifts: its crest, or where it is full to its mouth the water there."""
        if not self._full(run):
            return self.survey.crest(run.name)
        return self.survey.discharge_height(run.name, self._level(run.finish))

    def _start(self, name: str) -> str:
        start = self.survey.run(name).start
        return _pump(start) if start in self.survey.drawing.pumps else start

    def _pump_link(self, vessel: str) -> Link:
        part = self.survey.catalog.pumps[self.survey.drawing.pumps[vessel].part]
        if vessel in self.stopped:
            through = Resistance(RE_ENTRANT_K + EXIT_K, part.outlet_bore_m)
            return Link(vessel, _pump(vessel), (Conduit(part.outlet_bore_m, 0.0, 0.0, (through,)),))
        curve = PumpCurve(part.curve) if self.flat_out else self.survey.pump_curve(vessel)
        return Link(vessel, _pump(vessel), pump=self.curves.get(vessel, curve.carried_on()))

    def _line(self, name: str) -> Conduit:
        """A run with what happens at its two ends and in its valve as set, all but flaps on one bore."""
        line = self.survey.line(name)
        more = [*self._before(name), *self._after(name)]
        if name in self.settings:
            more.append(Resistance(self.settings[name].k, line.bore_m))
        flaps = [r for r in line.resistances if r.lifts_m_s > 0.0]
        fixed = [r for r in line.resistances if r.lifts_m_s == 0.0]
        k = sum(r.k * (line.bore_m / r.bore_m) ** 4 for r in (*fixed, *more))
        return Conduit(line.bore_m, line.roughness_m, line.length_m, (Resistance(k, line.bore_m), *flaps))

    def _before(self, name: str) -> Iterator[Resistance]:
        """What narrows or widens the way into a run."""
        came = self._came(name)
        found = (
            self.survey.pump_passage(name) if came is None else self.survey.junction_passages(came, name)[1]
        )
        if found is not None:
            yield found

    def _after(self, name: str) -> Iterator[Resistance]:
        """What narrows or widens the way out of a run into a tee."""
        for goes in self.survey.pressure_runs():
            if goes.start == self.survey.run(name).finish and goes.start in self.survey.site.junctions:
                found = self.survey.junction_passages(name, goes.name)[0]
                if found is not None:
                    yield found
                return

    def _came(self, name: str) -> str | None:
        """The run that leads to the junction at which a run starts."""
        start = self.survey.run(name).start
        if start not in self.survey.site.junctions:
            return None
        return next((run.name for run in self.survey.pressure_runs() if run.finish == start), None)

    def _limits(self, name: str) -> bool:
        """Whether a run's valve is the last that can set the flow of something behind it."""
        if not self.balanced or self.survey.drawn(name).one(ValveSet) is None:
            return False
        below = [path[path.index(name) + 1 :] for path in self.survey.pressure_paths if name in path]
        return any(all(self.survey.drawn(after).one(ValveSet) is None for after in rest) for rest in below)

    # --- what tees cost ---------------------------------------------------------------------------------

    def _settle(self, nodes: Mapping[str, Fixed | Free], links: Mapping[str, Link]) -> Solution:
        """Solve round after round, each with what the tees take at the flows of the last."""
        flows = self.near
        drops = self._drops(flows)
        rounds = _Rounds()
        for number in range(MOST_ROUNDS):
            dropped = {
                name: replace(link, drop_m=drops[name]) if name in drops else link
                for name, link in links.items()
            }
            solution = solve(nodes, dropped, self.water, flows)
            flows = solution.flows
            found = self._drops(flows)
            if all(abs(found[name] - drops[name]) <= SETTLED_M for name in drops):
                break
            if number < ROUNDS_AT_WILL:
                drops = rounds.after(drops, found)
            else:
                drops = {name: max(drop, drops[name]) for name, drop in found.items()}
        return solution

    def _drops(self, flows: Mapping[str, float]) -> dict[str, float]:
        """What tees take [m] at the given flows, by the link behind them."""
        at = {name: max(0.0, flow) for name, flow in flows.items()}
        if self.burst is not None:
            at[self.burst] = at.get(_BURST, 0.0)
        meeting = dict.fromkeys(pair for path in self.survey.pressure_paths for pair in pairwise(path))
        return {
            _BURST if goes == self.burst else goes: self.survey.tee_loss(came, goes, at)
            for came, goes in meeting
        }

    # --- what comes of it -------------------------------------------------------------------------------

    def _duties(self, links: Mapping[str, Link], solution: Solution) -> Iterator[tuple[str, Duty]]:
        for vessel in self.survey.site.pumped_vessels():
            pump = links[_pump(vessel)].pump
            if pump is not None:
                flow = solution.flows[_pump(vessel)]
                yield vessel, Duty(flow, pump.head(flow))

    def _valves(self, solution: Solution) -> dict[str, ValveSetting]:
        if not self.balanced:
            return dict(self.settings)
        found = {}
        for run in self.survey.pressure_runs():
            if self._limits(run.name):
                loss = solution.throttled.get(run.name, 0.0)
                flow = solution.flows[run.name]
                head = velocity_head(velocity(flow, self.survey.pipe(run.name).bore_m)) if flow > 0.0 else 0.0
                closed = SHUT_K if self.survey.design_flow(run.name) == 0.0 else 0.0
                found[run.name] = ValveSetting(loss, loss / head if head > 0.0 else closed)
        return found

    def _below(self, flows: Mapping[str, float]) -> tuple[dict[str, float], float]:
        """Flows with those by gravity, and what a drain that came apart spills [m3/s]."""
        import networkx as nx

        site, flows, spilled = self.survey.site, dict(flows), 0.0
        drains = self.survey.gravity_runs()
        for place in nx.topological_sort(gravity_graph(site)):
            out = [run.name for run in drains if run.start == place and not run.idle]
            flows |= {run.name: 0.0 for run in drains if run.start == place and run.idle}
            if not out:
                continue
            inflow = max(0.0, sum(flows[run.name] for run in site.runs.values() if run.finish == place))
            split = outlet_shares(site, place) if place in site.vessels else [1.0]
            shares = [0.0 if name in self.shut else share for name, share in zip(out, split, strict=True)]
            if not sum(shares):
                # With every drain shut an emergency overflow carries all of it.
                spare = [run.name for run in drains if run.start == place and run.overflow]
                out, shares = [*out, *spare], [*shares, *(float(name not in self.shut) for name in spare)]
            for name, share in zip(out, shares, strict=True):
                flows[name] = inflow * share / sum(shares) if share > 0.0 else 0.0
                if name == self.burst:
                    spilled, flows[name] = flows[name], 0.0
        return flows, spilled

    def _level_after(self, vessel: str, flows: Mapping[str, float]) -> float:
        out = [run.name for run in self.survey.gravity_runs() if run.start == vessel and not run.waste]
        arrives = any(flows[run.name] > 0.0 for run in self.survey.site.runs.values() if run.finish == vessel)
        if vessel not in self.levels and out and arrives and self.shut.issuperset(out):
            return inf
        return self.survey.level_at(vessel, flows, self.levels)


class _Rounds:
    """Picks what to try next where each round answers a try: Anderson's mixing (J. ACM 12, 1965)."""

    def __init__(self) -> None:
        self.tried: list[list[float]] = []
        self.found: list[list[float]] = []

    def after(self, tried: Mapping[str, float], found: Mapping[str, float]) -> dict[str, float]:
        """The mix of all rounds so far whose misses, mixed alike, come nearest to nothing."""
        import numpy as np

        self.tried.append(list(tried.values()))
        self.found.append([found[name] for name in tried])
        if len(self.tried) == 1:
            return {name: max(0.0, found[name]) for name in tried}
        tries, answers = np.array(self.tried[-MIXED:]), np.array(self.found[-MIXED:])
        misses = answers - tries
        share, *_ = np.linalg.lstsq(np.diff(misses, axis=0).T, misses[-1], rcond=1e-10)
        mixed = answers[-1] - share @ np.diff(answers, axis=0)
        return dict(zip(tried, np.maximum(mixed, 0.0).tolist(), strict=True))


_BURST = "burst\n"
"""The place where a run came apart, and the way out there; no run or vessel can have a name with a break."""


def _pump(vessel: str) -> str:
    """The node at a pump's outlet, and the link that is the pump."""
    return f"pump\n{vessel}"


def _outlet(run: str) -> str:
    """The node at the open end of a run."""
    return f"outlet\n{run}"
