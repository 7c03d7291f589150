"""A yard in which single runs are put together: tank, bed and sump, parts of the metric price list."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import pytest

import autoplan
from autoplan.catalog.joining import Joining
from autoplan.catalog.parts import Catalog, TurnStyle, Way
from autoplan.fittings.base import Fitting, Opening, Role
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import ValveSet
from autoplan.fittings.wall import ThroughWall
from autoplan.line.joints import Joint, joints_of
from autoplan.line.laid import Bench, Laid, assemble
from autoplan.line.row import Line
from autoplan.problem.brief import Overload, Wishes
from autoplan.problem.flows import Reach
from autoplan.problem.site import Draw, Flow, Junction, Run, RunKind, Site, Vessel, VesselKind
from tests.lines import line, put

ACROSS_M = 0.6
"""Half the width of the round tank [m]."""


def vessel(name: str, kind: VesselKind, floor_m: float, wall_m: float) -> Vessel:
    """A round vessel 0.8 m deep whose water stands 0.6 to 0.7 m deep."""
    area = math.pi * ACROSS_M**2
    low, high = floor_m + 0.6, floor_m + 0.7
    return Vessel(name, kind, floor_m, 0.8, area, wall_m, 0.008, True, low, high)


RUNS = (
    Run("drain", "tank", "sump", RunKind.GRAVITY, (1.0, 1.2), (90,), "drain"),
    Run("bed drain", "bed", "sump", RunKind.GRAVITY, (0.9, 0.8), (90,), "bed drain", draw=Draw.STANDPIPE),
    Run("main", "sump", "split", RunKind.PRESSURE, (0.8, 0.9), (90,), "main"),
    Run("feed", "split", "tank", RunKind.PRESSURE, (1.1, 0.7), (90,), "feed", valve=True),
    Run("bed feed", "split", "bed", RunKind.PRESSURE, (1.3, 0.6), (90,), "bed feed", valve=True),
)


@dataclass(frozen=True)
class Yard:
    """A site and a price list; every change answers a new yard."""

    site: Site
    catalog: Catalog

    @property
    def bench(self) -> Bench:
        """What runs are put together with."""
        return Bench(self.catalog, Joining(self.catalog))

    def run(self, name: str, **changes: Any) -> Yard:
        """One run of the site asked for otherwise."""
        runs = {**self.site.runs, name: replace(self.site.runs[name], **changes)}
        return replace(self, site=replace(self.site, runs=runs))

    def only(self, *names: str) -> Yard:
        """The site with these runs and no others."""
        return replace(self, site=replace(self.site, runs={name: self.site.runs[name] for name in names}))

    def laid(self, line: Line, start: Opening | None = None, finish: Opening | None = None) -> Laid:
        """A line put together, its pieces as long as they must be where it gives none."""
        return assemble(self.bench, self.site, line, start, finish)

    def joints(self, laid: Laid, reach: Reach = Reach.NOWHERE, *, screwed: bool = False) -> list[Joint]:
        """The joints of a line."""
        return list(joints_of(laid, Joining(self.catalog), reach, screwed=screwed))

    def opening(self, part: str, own: int = 0, other: int = 1) -> Opening:
        """A pump or tee as what a run starts or finishes at."""
        if part in self.catalog.pumps:
            outlet = self.catalog.pumps[part].outlet
            return Opening(part, Role.PUMP, outlet, outlet)
        if part in self.catalog.pipes:
            return Opening(part, Role.PIPE, self.catalog.pipes[part].end, self.catalog.pipes[part].end)
        ends = self.catalog.tees[part].ends
        return Opening(part, Role.TEE, ends[own], ends[other])


def swept(part: str) -> Corner:
    """A swept 90."""
    return Corner(90, TurnStyle.SWEPT, (part,))


def paired(part: str) -> Corner:
    """Two 45s in place of a 90."""
    return Corner(90, TurnStyle.PAIRED, (part, part))


def tight(part: str) -> Corner:
    """A tight 90."""
    return Corner(90, TurnStyle.TIGHT, (part,))


def over(corner: Corner, mouth_m: float = 0.65) -> OverRim:
    """An end over the tank's rim that turns down so."""
    return OverRim(at="tank", centre_m=0.8, corner=corner, mouth_m=mouth_m)


BEND = Corner(90, TurnStyle.BEND, ())
SEAL = ThroughWall(at="tank", way=Way.SEAL, penetration="seal-50", centre_m=0.62, chain=("coupling-50",))
STOPPED = replace(SEAL, inner_chain=("coupling-50",))
INTO_SUMP = replace(STOPPED, at="sump", centre_m=0.1)
ELBOW, ELBOW_25 = tight("elbow-32-90"), tight("elbow-25-90")
BARE_M = 0.8 - (0.6 * 0.0212 + 0.0185)
"""Ends and turns that several runs have, and the mouth of a turn with nothing below it."""


def stations(yard: Yard) -> dict[str, tuple[Yard, Line, Opening | None, Opening | None]]:
    """One line of every kind, with what it starts and finishes at."""
    lifting = yard.run("drain", draw=Draw.SOLIDS_LIFTING)
    pump, tee = yard.opening("pump-3000"), yard.opening("tee-32-25", 2, 0)
    sweep = swept("sweep-50-90")
    riser = Riser(sweep, "tee-50")
    low = ThroughWall(at="sump", way=Way.BULKHEAD, penetration="bulkhead-50", centre_m=0.1)
    bulkhead = replace(low, at="tank", centre_m=0.62, inner_chain=("pn10-50-metre",))
    floor = ThroughFloor(
        at="bed",
        way=Way.BULKHEAD,
        penetration="bulkhead-25",
        centre_m=0.0,
        chain=("bush-25-20",),
        inner_chain=("bush-25-20",),
        standpipe_top_m=0.55,
    )
    sump_20 = replace(INTO_SUMP, penetration="seal-20", chain=("coupling-20",), inner_chain=("coupling-20",))
    stepped = ("pn16-25-metre", "bush-32-25", "coupling-32")
    at_pump = LineEnd("sump", ("union-female-32-1",))
    from_tee = LineEnd("split")
    rim, valve = over(ELBOW_25), ValveSet("ball-25")
    feed = line("feed", "pn16-25-3m", from_tee, rim, ELBOW_25, valve)
    drain = line("drain", "pn10-50-3m", STOPPED, INTO_SUMP)
    of_32 = line("feed", "pn10-32-3m", from_tee, over(ELBOW), ELBOW)
    hose = line("feed", "hose-25-metre", LineEnd("sump", ("hose-nut-1-25",)), over(BEND), BEND)
    return {
        "solids-lifting, seals": (lifting, put(drain, riser, sweep).with_ends(SEAL, INTO_SUMP), None, None),
        "solids-lifting, bulkheads": (lifting, put(drain, riser, sweep).with_ends(bulkhead, low), None, None),
        "plain wall": (yard, put(drain, sweep), None, None),
        "paired 45s": (yard, put(drain, paired("elbow-50-45")), None, None),
        "standpipe": (
            yard,
            line("bed drain", "pn16-20-3m", floor, sump_20, tight("elbow-20-90")),
            None,
            None,
        ),
        "pump to tee": (
            yard,
            line("main", "pn10-32-3m", at_pump, LineEnd("split"), ELBOW),
            pump,
            yard.opening("tee-32-25"),
        ),
        "tee over the rim": (yard, feed, tee, None),
        "bare turn over the rim": (yard, feed.with_ends(from_tee, over(ELBOW_25, BARE_M)), tee, None),
        "valve with adaptors": (
            yard,
            put(of_32, ValveSet("ball-25", (*stepped, *stepped))),
            yard.opening("tee-32", 1, 0),
            None,
        ),
        "hose": (yard.run("feed", start="sump"), put(hose, ValveSet("ball-hose-25")), pump, None),
    }


@pytest.fixture(scope="session")
def yard() -> Yard:
    """The yard as it stands."""
    vessels = {
        "tank": vessel("tank", VesselKind.TANK, 0.0, 0.006),
        "bed": vessel("bed", VesselKind.BED, 0.0, 0.006),
        "sump": vessel("sump", VesselKind.SUMP, -0.9, 0.010),
    }
    site = Site(
        name="yard",
        file="yard.toml",
        catalog="metric",
        vessels=vessels,
        junctions={"split": Junction("split")},
        runs={run.name: run for run in RUNS},
        flows={run.name: Flow(2e-4, 2e-4) for run in RUNS},
        wishes=Wishes(Overload.FACTOR, 1.5, 20.0, None, 0.3, 3.0),
    )
    return Yard(site, autoplan.load_catalog("metric"))


@dataclass(frozen=True)
class Built:
    """A line with what it starts and finishes at, on its yard."""

    yard: Yard
    line: Line
    start: Opening | None
    finish: Opening | None

    def laid(self) -> Laid:
        """The line put together."""
        return self.yard.laid(self.line, self.start, self.finish)

    def changed(self, **changes: Any) -> Built:
        """The line with its own fields changed."""
        return replace(self, line=replace(self.line, **changes))

    def put(self, *fittings: Fitting) -> Built:
        """The line with other fittings of their kinds."""
        return replace(self, line=put(self.line, *fittings))

    def between(self, start: LineEnd, finish: LineEnd) -> Built:
        """The line between other ends."""
        return replace(self, line=self.line.with_ends(start, finish))


@pytest.fixture(scope="session")
def built(yard: Yard) -> dict[str, Built]:
    """One line of every kind."""
    return {kind: Built(*parts) for kind, parts in stations(yard).items()}
