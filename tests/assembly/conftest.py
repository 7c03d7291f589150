"""A yard in which single runs are put together: tank, bed and sump, parts of the metric price list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest

import autoplan
from autoplan.assembly.joints import Joint, joints_of
from autoplan.assembly.line import Bench, Line, Opening, Role, assemble
from autoplan.catalog.joining import Joining
from autoplan.catalog.parts import Catalog, TurnStyle, Way
from autoplan.drawing import DrawnEnd, DrawnRun, DrawnTurn
from autoplan.problem.brief import Overload, Wishes
from autoplan.problem.flows import Reach
from autoplan.problem.site import Draw, Flow, Junction, Run, RunKind, Site, Vessel, VesselKind

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

    def line(self, drawn: DrawnRun, start: Opening | None = None, finish: Opening | None = None) -> Line:
        """A drawn run put together."""
        return assemble(self.bench, self.site, drawn, start, finish)

    def joints(self, line: Line, reach: Reach = Reach.NOWHERE, *, screwed: bool = False) -> list[Joint]:
        """The joints of a line."""
        return list(joints_of(line, Joining(self.catalog), reach, screwed=screwed))

    def draw(self, *how: Any, **rest: Any) -> DrawnRun:
        """A drawn run whose pieces are as long as they must be; see `draw`."""
        return draw(*how, **rest)

    def opening(self, part: str, own: int = 0, other: int = 1) -> Opening:
        """A pump or tee as what a run starts or finishes at."""
        if part in self.catalog.pumps:
            outlet = self.catalog.pumps[part].outlet
            return Opening(part, Role.PUMP, outlet, outlet)
        if part in self.catalog.pipes:
            return Opening(part, Role.PIPE, self.catalog.pipes[part].end, self.catalog.pipes[part].end)
        ends = self.catalog.tees[part].ends
        return Opening(part, Role.TEE, ends[own], ends[other])


def draw(
    run: str,
    pipe: str,
    start: DrawnEnd,
    finish: DrawnEnd,
    turns: Sequence[DrawnTurn] = (),
    **rest: Any,
) -> DrawnRun:
    """A drawn run whose pieces are as long as they must be."""
    values: dict[str, Any] = {
        "slots_m": (),
        "length_m": 0.0,
        "open_tee": None,
        "coupling": (),
        "valve": None,
        "valve_chain": (),
    }
    return DrawnRun(run=run, pipe=pipe, turns=tuple(turns), start=start, finish=finish, **{**values, **rest})


def swept(part: str) -> DrawnTurn:
    """A swept 90."""
    return DrawnTurn(90, TurnStyle.SWEPT, (part,))


def paired(part: str) -> DrawnTurn:
    """Two 45s in place of a 90."""
    return DrawnTurn(90, TurnStyle.PAIRED, (part, part))


BEND = DrawnTurn(90, TurnStyle.BEND, ())
SEAL = DrawnEnd("tank", Way.SEAL, "seal-50", 0.62, chain=("coupling-50",))
INTO_SUMP = DrawnEnd("sump", Way.SEAL, "seal-50", 0.1, chain=("coupling-50",), inner_chain=("coupling-50",))
RIM = DrawnEnd("tank", Way.OVER_RIM, None, 0.8, mouth_m=0.65)
BARE = replace(RIM, mouth_m=0.8 - (0.6 * 0.0212 + 0.0185))
"""Ends that several runs have."""


def stations(yard: Yard) -> dict[str, tuple[Yard, DrawnRun, Opening | None, Opening | None]]:
    """One run of every kind, with what it starts and finishes at."""
    lifting = yard.run("drain", draw=Draw.SOLIDS_LIFTING)
    pump, tee = yard.opening("pump-3000"), yard.opening("tee-32-25", 2, 0)
    sweeps = [swept("sweep-50-90")] * 2
    bulkhead = DrawnEnd("tank", Way.BULKHEAD, "bulkhead-50", 0.62, inner_chain=("pn10-50-metre",))
    low = DrawnEnd("sump", Way.BULKHEAD, "bulkhead-50", 0.1)
    floor = DrawnEnd(
        "bed",
        Way.BULKHEAD,
        "bulkhead-25",
        0.0,
        in_floor=True,
        chain=("bush-25-20",),
        inner_chain=("bush-25-20",),
        standpipe_top_m=0.55,
    )
    sump_20 = DrawnEnd("sump", Way.SEAL, "seal-20", 0.1, chain=("coupling-20",), inner_chain=("coupling-20",))
    stepped = ("pn16-25-metre", "bush-32-25", "coupling-32")
    at_pump = DrawnEnd("sump", chain=("union-female-32-1",))
    elbow = DrawnTurn(90, TurnStyle.TIGHT, ("elbow-32-90",))
    elbow_20 = DrawnTurn(90, TurnStyle.TIGHT, ("elbow-20-90",))
    return {
        "solids-lifting, seals": (
            lifting,
            draw("drain", "pn10-50-3m", SEAL, INTO_SUMP, sweeps, open_tee="tee-50"),
            None,
            None,
        ),
        "solids-lifting, bulkheads": (
            lifting,
            draw("drain", "pn10-50-3m", bulkhead, low, sweeps, open_tee="tee-50"),
            None,
            None,
        ),
        "plain wall": (
            yard,
            draw("drain", "pn10-50-3m", replace(SEAL, inner_chain=("coupling-50",)), INTO_SUMP, sweeps[:1]),
            None,
            None,
        ),
        "paired 45s": (
            yard,
            draw(
                "drain",
                "pn10-50-3m",
                replace(SEAL, inner_chain=("coupling-50",)),
                INTO_SUMP,
                [paired("elbow-50-45")],
            ),
            None,
            None,
        ),
        "standpipe": (yard, draw("bed drain", "pn16-20-3m", floor, sump_20, [elbow_20]), None, None),
        "pump to tee": (
            yard,
            draw("main", "pn10-32-3m", at_pump, DrawnEnd("split"), [elbow]),
            pump,
            yard.opening("tee-32-25"),
        ),
        "tee over the rim": (
            yard,
            draw("feed", "pn16-25-3m", DrawnEnd("split"), RIM, [elbow_25(), elbow_25()], valve="ball-25"),
            tee,
            None,
        ),
        "bare turn over the rim": (
            yard,
            draw("feed", "pn16-25-3m", DrawnEnd("split"), BARE, [elbow_25(), elbow_25()], valve="ball-25"),
            tee,
            None,
        ),
        "valve with adaptors": (
            yard,
            draw(
                "feed",
                "pn10-32-3m",
                DrawnEnd("split"),
                RIM,
                [elbow, elbow],
                valve="ball-25",
                valve_chain=(*stepped, *stepped),
            ),
            yard.opening("tee-32", 1, 0),
            None,
        ),
        "hose": (
            yard.run("feed", start="sump"),
            draw(
                "feed",
                "hose-25-metre",
                DrawnEnd("sump", chain=("hose-nut-1-25",)),
                RIM,
                [BEND, BEND],
                valve="ball-hose-25",
            ),
            pump,
            None,
        ),
    }


def elbow_25() -> DrawnTurn:
    """A tight 90 in 25 mm."""
    return DrawnTurn(90, TurnStyle.TIGHT, ("elbow-25-90",))


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
    """A drawn run with what it starts and finishes at, on its yard."""

    yard: Yard
    drawn: DrawnRun
    start: Opening | None
    finish: Opening | None

    def line(self) -> Line:
        """The run put together."""
        return self.yard.line(self.drawn, self.start, self.finish)

    def changed(self, **changes: Any) -> Built:
        """The run drawn otherwise."""
        return replace(self, drawn=replace(self.drawn, **changes))


@pytest.fixture(scope="session")
def built(yard: Yard) -> dict[str, Built]:
    """One run of every kind."""
    return {kind: Built(*parts) for kind, parts in stations(yard).items()}
