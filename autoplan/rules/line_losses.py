"""What lines, tees and pump outlets of a finished drawing lose at a flow, each line measured up once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from autoplan.catalog.parts import Catalog, Pipe
from autoplan.drawing import Drawing
from autoplan.fittings.passage import passage, smallest_bore
from autoplan.fittings.tee import tee_loss
from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.friction import velocity
from autoplan.hydraulics.water import Water
from autoplan.line.row import Line
from autoplan.line.water import conduit_of, site_water
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.ordered import Ordered


class LineLosses(Ordered):
    """The lines of a drawing as resistances; arguments as for `Survey`."""

    def __init__(self, site: Site, catalog: Catalog, drawing: Drawing) -> None:
        self.site = site
        self.catalog = catalog
        self.drawing = drawing
        self.water: Water = site_water(site)
        self._lines: dict[str, Conduit] = {}
        self._lost: dict[tuple[str, float, float, bool], float] = {}

    def run(self, name: str) -> Run:
        """The run as the site asks for it."""
        return self.site.runs[name]

    def drawn(self, name: str) -> Line:
        """The run as drawn."""
        return self.drawing.runs[name]

    def pipe(self, name: str) -> Pipe:
        """The pipe of a run."""
        return self.catalog.pipes[self.drawing.runs[name].pipe]

    def line(self, name: str) -> Conduit:
        """The run as a line of resistances."""
        if name not in self._lines:
            self._lines[name] = conduit_of(self.catalog, self.run(name), self.drawn(name))
        return self._lines[name]

    def design_flow(self, name: str) -> float:
        """Design flow of a run [m3/s]."""
        return self.site.flows[name].design_m3_s

    def velocity(self, name: str) -> float:
        """Velocity in the run's pipe at design flow [m/s]."""
        return velocity(self.design_flow(name), self.pipe(name).bore_m)

    def path_loss(
        self,
        path: Sequence[str],
        flows: Mapping[str, float],
        *,
        held_open: bool = False,
        grown_m: float = 0.0,
    ) -> float:
        """Loss along a path [m] at the given flows by run [m3/s], with junctions and the pump's outlet.

        With `held_open` every flap is out of the way; pipe is at least as rough as `grown_m` [m].
        """
        loss = sum(self._line_loss(name, flows[name], grown_m, held_open) for name in path)
        loss += sum(self.junction_loss(came, goes, flows) for came, goes in pairwise(path))
        outlet = self.pump_passage(path[0])
        return loss if outlet is None else loss + outlet.loss(flows[path[0]])

    def _line_loss(self, name: str, flow_m3_s: float, grown_m: float, held_open: bool) -> float:
        """Loss of one run [m], worked out once for all the paths that go by it."""
        key = name, flow_m3_s, grown_m, held_open
        if key not in self._lost:
            line = self.line(name)
            # With the flap of its check valve out of the way.
            line = line.held_open() if held_open else line
            self._lost[key] = line.loss(flow_m3_s, self.water, grown_m)
        return self._lost[key]

    def pump_passage(self, name: str) -> Resistance | None:
        """The resistance between a pump's outlet and the pipe of a run that starts at it."""
        vessel = self.run(name).start
        if self.run(name).kind is not RunKind.PRESSURE or vessel not in self.drawing.pumps:
            return None
        pump = self.catalog.pumps[self.drawing.pumps[vessel].part]
        chain = smallest_bore(self.catalog, self.drawn(name).start.chain)
        return passage(pump.outlet_bore_m, chain, self.pipe(name).bore_m)

    def junction_loss(self, came: str, goes: str, flows: Mapping[str, float]) -> float:
        """Loss [m] where run `came` meets run `goes`."""
        into, out = self.junction_passages(came, goes)
        loss = self.tee_loss(came, goes, flows)
        if into is not None:
            loss += into.loss(flows[came])
        return loss if out is None else loss + out.loss(flows[goes])

    def junction_passages(self, came: str, goes: str) -> tuple[Resistance | None, Resistance | None]:
        """What narrows or widens the way at a junction, on the flow of `came` and on that of `goes`."""
        junction = self.drawing.junctions[self.run(came).finish]
        into = smallest_bore(self.catalog, self.drawn(came).finish.chain)
        out = smallest_bore(self.catalog, self.drawn(goes).start.chain)
        before, after = self.pipe(came).bore_m, self.pipe(goes).bore_m
        if junction.tee is None:
            return None, passage(before, min(into, out), after)
        tee, at = self.catalog.tees[junction.tee], junction.ports.index
        return passage(before, into, tee.bore_at(at(came))), passage(tee.bore_at(at(goes)), out, after)

    def tee_loss(self, came: str, goes: str, flows: Mapping[str, float]) -> float:
        """Loss [m] inside the tee between run `came` and run `goes`; 0 where two runs meet without one."""
        junction = self.drawing.junctions[self.run(came).finish]
        if junction.tee is None:
            return 0.0
        tee = self.catalog.tees[junction.tee]
        smaller = goes if flows[goes] <= flows[came] else came
        return tee_loss(tee, flows[came], flows[goes], by_branch=junction.ports[2] == smaller)

    def flows_at(self, factor: float = 1.0) -> dict[str, float]:
        """Design flow of every run times a factor [m3/s]."""
        return {name: flow.design_m3_s * factor for name, flow in self.site.flows.items()}

    def drain_flows(self) -> dict[str, float]:
        """Peak flow of every run [m3/s]."""
        return {name: flow.peak_m3_s for name, flow in self.site.flows.items()}
