"""Two beds that drain together, by trying everything: a collector's pipes, its tee, its vent, to the cent."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import product

import pytest

import autoplan
from autoplan.catalog.joining import Need
from autoplan.catalog.parts import Catalog, SundryKind
from autoplan.drawing import Drawing, DrawnJunction, DrawnPump
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.vent import Vent
from autoplan.fittings.wall import Pierced
from autoplan.line.row import Line
from autoplan.outcome import Status
from autoplan.problem.brief import DrainJoints, Overload, Wishes
from autoplan.problem.flows import flows
from autoplan.problem.site import (
    BedWater,
    Draw,
    Entry,
    Junction,
    Run,
    RunKind,
    Site,
    Vessel,
    VesselKind,
)
from autoplan.rules.survey import Survey
from tests.lines import put
from tests.optimiser import everything as everything_of
from tests.optimiser.everything import Everything, checked
from tests.optimiser.ways import NothingHoldsError, Option

SHELF = """
    pn16-25-3m pn10-40-3m drain-40-3m drain-50-2m drain-50-3m elbow-25-45 drain-sweep-50-90 drain-sweep-40-90
    drain-tee-40 drain-tee-50 tee-25 tee-40 tee-40-25 bush-50-25 bush-40-25 bush-50-40 drain-coupling-40
    drain-coupling-50 coupling-25 bulkhead-25 seal-40 seal-50 union-female-25-34 ball-25 pump-2200
"""
"""A shelf for a collector of 40 or 50 mm below beds' drains of 25 mm or wider."""


class Collected(Everything):
    """Every design of a site whose pump feeds beds that drain by one collector."""

    def ways(self, run: Run) -> Iterator[Line]:
        """With each tee for the vent that is asked for, and its upright cut."""
        if run.vent_m is None:
            yield from super().ways(run)
            return
        for drawn in dict.fromkeys(replace(line, slots_m=(), coupling=()) for line in super().ways(run)):
            pipe = self.catalog.pipes[drawn.pipe]
            for tee in self.catalog.tees.values():
                if all(self.joining.mates(end, pipe.end) for end in tee.ends):
                    yield from self.cut(run, pipe, put(drawn, Vent(tee.id)))

    def option(
        self,
        runs: Mapping[str, Line],
        pumps: Mapping[str, DrawnPump],
        tees: Mapping[str, DrawnJunction],
    ) -> Option:
        """The tees of vents too."""
        made = super().option(runs, pumps, tees)
        vents = [vent.tee for run in runs.values() for vent in run.all(Vent)]
        parts = made.parts.copy()
        parts.update(vents)
        return replace(made, parts=parts, shape=(made.shape, tuple(vents)))

    def options(self) -> list[list[Option]]:
        """All drains together, since they meet, and all that hangs on the pump."""
        classes = {run.run_class: run for run in self.site.runs.values()}
        ways = {name: list(self.ways(run)) for name, run in classes.items()}
        found = []
        for kind, join in ((RunKind.GRAVITY, self.collected), (RunKind.PRESSURE, self.pumped)):
            names = [run.name for run in self.site.runs.values() if run.kind is kind]
            of = list(dict.fromkeys(self.site.runs[name].run_class for name in names))
            made: list[Option] = []
            for chosen in product(*(ways[name] for name in of)):
                by_class = dict(zip(of, chosen, strict=True))
                made += join({n: self.member(by_class[self.site.runs[n].run_class], n) for n in names})
            if not made:
                raise NothingHoldsError(kind)
            found.append(made)
        return found

    def pumped(self, runs: Mapping[str, Line]) -> Iterator[Option]:
        """The pump's lines with every pump, tee and adaptors."""
        main = next(name for name in runs if self.site.runs[name].start == "sump")
        for pump in self.catalog.pumps.values():
            for chain in self.chains(True, pump.outlet, self.end_of(runs[main]), Need.COME_APART, 4):
                start = replace(runs[main].start, chain=chain)
                on_pump = {**runs, main: runs[main].with_ends(start, runs[main].finish)}
                for tees, teed in self.teed(on_pump, ["split"]):
                    yield self.option(teed, {"sump": DrawnPump("sump", pump.id, "throttled", 1.0)}, tees)

    def collected(self, runs: Mapping[str, Line]) -> Iterator[Option]:
        """The drains in line at the collector's head, and at every tee further down, whichever way round."""
        head, end = runs["head"], runs["end"]
        for chain in self.chains(False, self.end_of(runs["drain 2"]), self.end_of(head), Need.JOIN, 3):
            in_line = head.with_ends(replace(head.start, chain=chain), head.finish)
            first = DrawnJunction("top", None, ("drain 2", "head"))
            for tee in self.catalog.tees.values():
                if not self.joining.mates(tee.ends[0], self.end_of(end)):
                    continue
                lines = {**runs, "head": in_line}
                for straight, branch in (("head", "drain 1"), ("drain 1", "head")):
                    steps = (
                        self.step_down(tee.ends[1], self.end_of(lines[straight])),
                        self.step_down(tee.ends[2], self.end_of(lines[branch])),
                    )
                    tees = {"top": first, "low": DrawnJunction("low", tee.id, ("end", straight, branch))}
                    for chains in product(*steps):
                        new = {
                            name: lines[name].with_ends(
                                lines[name].start, replace(lines[name].finish, chain=made)
                            )
                            for name, made in zip((straight, branch), chains, strict=True)
                        }
                        yield self.option({**lines, **new}, {}, tees)

    def holed(self, drawing: Drawing) -> Drawing:
        """Standpipes whose lips hold the beds' water, the collector's end under the tank's."""
        runs, survey = dict(drawing.runs), Survey(self.site, self.catalog, drawing)
        for run in survey.gravity_runs():
            start, finish = runs[run.name].ends
            if isinstance(start, ThroughFloor):
                head = survey.inlet_head(run.name, survey.design_flow(run.name))
                floor = self.site.vessels[run.start].floor_m
                start = replace(start, centre_m=floor, standpipe_top_m=survey.level(run.start) - head)
            if isinstance(finish, Pierced):
                half = survey.pipe(run.name).outside_m / 2
                finish = replace(finish, centre_m=survey.level(run.finish) - half)
            runs[run.name] = runs[run.name].with_ends(start, finish)
        return replace(drawing, runs=runs)


def site_of(fall_m: float = 0.02, flow_l_h: float = 250.0, between_m: float = 1.2) -> Site:
    """A tank with a pump in it that feeds two beds; these fall back by a collector with a vent."""
    flow = flow_l_h / 3.6e6
    sump = Vessel("sump", VesselKind.SUMP, 0.0, 0.75, 1.5, 0.006, 0.006, False, 0.40, 0.40)
    water = BedWater(0.25, 0.4, flow / (0.3 * 0.25 * 0.4), 2.0)
    beds = [
        Vessel(f"bed {n}", VesselKind.BED, 0.9, 0.32, 0.3, 0.006, 0.006, False, 1.15, 1.15, bed=water)
        for n in (1, 2)
    ]
    pressed, falls = RunKind.PRESSURE, RunKind.GRAVITY
    runs = [
        Run("main", "sump", "split", pressed, (0.9,), (), "main"),
        *(
            Run(f"feed {n}", "split", f"bed {n}", pressed, (0.6,), (), "feed", True, entry=Entry.OVER_RIM)
            for n in (1, 2)
        ),
        Run("drain 1", "bed 1", "low", falls, (0.5,), (), "drain", draw=Draw.STANDPIPE),
        Run("drain 2", "bed 2", "top", falls, (0.5,), (), "drain", draw=Draw.STANDPIPE),
        Run("head", "top", "low", falls, (between_m,), (), "head", vent_m=1.24),
        Run("end", "low", "sump", falls, (1.1,), (), "end"),
    ]
    site = Site(
        name="collector",
        file="collector.toml",
        catalog="metric",
        vessels={vessel.name: vessel for vessel in (sump, *beds)},
        junctions={
            "split": Junction("split"),
            "top": Junction("top", height_m=0.60 + fall_m),
            "low": Junction("low", height_m=0.60),
        },
        runs={run.name: run for run in runs},
        flows={},
        wishes=Wishes(Overload.FACTOR, 1.5, 20.0, None, 0.30, 3.0, DrainJoints.WELDED),
    )
    return replace(site, flows=flows(site))


@pytest.fixture
def shelf(shelf_of: Callable[..., Catalog]) -> Catalog:
    """The shelf, without brackets for the rims that feeds pass over: they are counted elsewhere."""
    catalog = shelf_of(SHELF)
    kept = {key: row for key, row in catalog.sundries.items() if row.kind is not SundryKind.BRACKET}
    return replace(catalog, sundries=kept)


@pytest.fixture
def everything(monkeypatch: pytest.MonkeyPatch) -> None:
    """The enumeration knows collectors."""
    monkeypatch.setattr(everything_of, "Everything", Collected)


@pytest.mark.usefixtures("everything")
@pytest.mark.parametrize(("fall_m", "pipe"), [(0.030, "drain-40"), (0.004, "drain-50")], ids=str)
def test_collector(shelf: Catalog, fall_m: float, pipe: str) -> None:
    """With much fall from the head to the tee a narrow pipe is cheapest, with little a wider one."""
    outcome, drawing, _ = checked(site_of(fall_m), shelf)
    for made in (outcome.designs[0].drawing, drawing):
        assert made.runs["head"].pipe.startswith(pipe)
        assert made.runs["head"].one(Vent) is not None
        assert made.junctions["low"].ports == ("end", "head", "drain 1")


def test_too_flat(shelf: Catalog) -> None:
    """With 2 mm from the head to the tee nothing holds, by search and by trying everything; with 4 some."""
    for fall, status in ((0.002, Status.NONE), (0.004, Status.PROVEN)):
        site = site_of(fall)
        everything = Collected(site, shelf)
        holds = any(everything.holds(drawing) for _, drawing in everything.by_cost())
        assert holds is (status is Status.PROVEN)
        assert autoplan.design(site, shelf, top=1).status is status
