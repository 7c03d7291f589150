"""One outcome made by hand, with invented parts, shops, prices and figures: two vessels, three runs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import (
    Adaptor,
    Catalog,
    End,
    Offer,
    Penetration,
    Pipe,
    Pump,
    Shop,
    Sundry,
    SundryKind,
    Turn,
    TurnStyle,
    Valve,
    Way,
)
from autoplan.drawing import CutStick, Drawing, DrawnJunction, DrawnLevel, DrawnPump, Purchase
from autoplan.fittings.base import Item, Role
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.rim import OverRim
from autoplan.fittings.valve import ValveSet
from autoplan.fittings.wall import ThroughWall
from autoplan.line.joints import Joint
from autoplan.line.laid import Laid
from autoplan.line.row import Line
from autoplan.outcome import (
    BedCycle,
    Commissioning,
    Cost,
    Design,
    Fault,
    Finding,
    LevelFacts,
    Outcome,
    OutletFacts,
    PumpFacts,
    RunFacts,
    Running,
    SolverReport,
    Status,
    SumpRange,
    Verdict,
)
from autoplan.places import InVessel, OfAll, OnRun
from autoplan.problem.brief import Assumption, Overload, Wishes
from autoplan.problem.site import Draw, Entry, Flow, Junction, Run, RunKind, Site, Vessel, VesselKind

FLOW = 0.0005  # m3/s, which is 1800 L/h and fills 10 L in 20 s


def _row(part: str, text: str, shop: str, cents: int, pack: int = 1) -> dict[str, object]:
    return {
        "id": part,
        "description": text,
        "offers": (Offer(shop, cents, pack),),
        "source": "invented",
        "place": f"{part}.csv: line 2",
    }


def _catalog() -> Catalog:
    spigot50, spigot32 = End("spigot", "metric", "50"), End("spigot", "metric", "32")
    socket50, socket32 = End("socket", "metric", "50"), End("socket", "metric", "32")
    hose, tail = End("bore", "hose", "25"), End("barb", "hose", "25")
    pipes = [
        Pipe(
            **_row("drain-50", "drain pipe 50 mm, 3 m", "reed", 750),
            end=spigot50,
            outside_m=0.05,
            bore_m=0.0464,
            rating_m=0.0,
            roughness_m=1.5e-6,
            stick_m=3.0,
            bend_radius_m=0.0,
        ),
        Pipe(
            **_row("press-32", "pressure pipe 32 mm, 5 m", "reed", 920),
            end=spigot32,
            outside_m=0.032,
            bore_m=0.0284,
            rating_m=100.0,
            roughness_m=1.5e-6,
            stick_m=5.0,
            bend_radius_m=0.0,
        ),
        Pipe(
            **_row("hose-25", "clear hose 25 mm by the metre", "reed", 140),
            end=hose,
            outside_m=0.031,
            bore_m=0.025,
            rating_m=40.0,
            roughness_m=1e-5,
            stick_m=0.0,
            bend_radius_m=0.15,
        ),
    ]
    turns = [
        Turn(
            **_row("sweep-50", "swept bend 50 mm 90 degrees", "reed", 325),
            ends=(socket50, socket50),
            angle=90,
            style=TurnStyle.SWEPT,
            radius_over_bore=1.5,
            bore_m=0.0464,
            rating_m=0.0,
        ),
        Turn(
            **_row("bend-32-45", "bend 32 mm 45 degrees", "reed", 110),
            ends=(socket32, socket32),
            angle=45,
            style=TurnStyle.TIGHT,
            radius_over_bore=1.0,
            bore_m=0.0284,
            rating_m=100.0,
        ),
    ]
    tails = Adaptor(
        **_row("tail-32-25", "hose tail 25 mm for 32 mm socket", "reed", 105),
        ends=(spigot32, tail),
        bore_m=0.02,
        rating_m=60.0,
        apart=False,
    )
    valve = Valve(
        **_row("ball-32", "ball valve 32 mm", "reed", 1240),
        ends=(socket32, socket32),
        style="ball",
        bore_m=0.028,
        kv_m3_h=None,
        rating_m=100.0,
    )
    walls = [
        Penetration(
            **_row("seal-50", "push-in rubber seal 50 mm", "reed", 660, 2),
            way=Way.SEAL,
            ends=(End("seal", "metric", "50"),) * 2,
            hole_m=0.0635,
            wall_min_m=0.003,
            wall_max_m=0.013,
            curved_ok=True,
            thin_flexing_ok=False,
            bore_m=0.0,
            head_max_m=5.0,
        ),
        Penetration(
            **_row("bulk-50", "bulkhead fitting 50 mm", "brook", 1800),
            way=Way.BULKHEAD,
            ends=(socket50, socket50),
            hole_m=0.072,
            wall_min_m=0.001,
            wall_max_m=0.03,
            curved_ok=False,
            thin_flexing_ok=True,
            bore_m=0.0464,
            head_max_m=5.0,
        ),
    ]
    pump = Pump(
        **_row("pump-3000", "pond pump 3000 L/h", "brook", 8900),
        outlet=End("male", "G", "1"),
        outlet_bore_m=0.025,
        curve=((0.0, 3.0), (0.0008, 0.5)),
        watts=35.0,
        slowable=False,
        cover_m=0.1,
    )
    sundries = [
        _sundry("cement-250", "solvent cement, tin of 250 ml", 740, SundryKind.CEMENT, 250e-6),
        _sundry("tape-12", "thread tape, roll of 12 m", 90, SundryKind.TAPE, 12.0),
        _sundry("saw-63", "hole saw 63.5 mm", 1230, SundryKind.SAW, 1.0, 0.0635),
        _sundry("stand-50", "support stand", 890, SundryKind.STAND, 1.0, 0.05),
    ]
    return Catalog(
        name="riverside",
        folder="catalogs/riverside",
        currency="EUR",
        shops={
            "reed": Shop("reed", "Reed Yard", 990, 10000),
            "brook": Shop("brook", "Brook Stores", 1500, 10000),
        },
        pipes={pipe.id: pipe for pipe in pipes},
        turns={turn.id: turn for turn in turns},
        tees={},
        adaptors={tails.id: tails},
        valves={valve.id: valve},
        penetrations={wall.id: wall for wall in walls},
        pumps={pump.id: pump},
        sundries={sundry.id: sundry for sundry in sundries},
    )


def _sundry(
    part: str, text: str, cents: int, kind: SundryKind, content: float, size_m: float | None = None
) -> Sundry:
    return Sundry(
        **_row(part, text, "reed", cents),
        kind=kind,
        content=content,
        least_m=size_m or 0.0,
        most_m=size_m or math.inf,
        thread=None,
    )


def _site() -> Site:
    tank = Vessel("fish tank", VesselKind.TANK, 0.5, 0.9, 1.2, 0.006, 0.006, True, 1.2, 1.3, 1.0, 1.5 / 3600)
    sump = Vessel("sump", VesselKind.SUMP, -0.4, 0.8, 1.0, 0.004, 0.004, False, -0.1, 0.2)
    runs = [
        Run("tank drain", "fish tank", "sump", RunKind.GRAVITY, (1.2, 0.9), (90,), "drain", draw=Draw.WALL),
        Run("pump main", "sump", "step", RunKind.PRESSURE, (0.6, 1.4), (90,), "main"),
        Run(
            "tank feed",
            "step",
            "fish tank",
            RunKind.PRESSURE,
            (1.0, 0.9),
            (90,),
            "feed",
            True,
            entry=Entry.ANY,
        ),
    ]
    return Site(
        name="courtyard tank",
        file="problems/courtyard.toml",
        catalog="riverside",
        vessels={"fish tank": tank, "sump": sump},
        junctions={"step": Junction("step")},
        runs={run.name: run for run in runs},
        flows={run.name: Flow(FLOW, FLOW) for run in runs},
        wishes=Wishes(Overload.FACTOR, 1.5, 20.0, None, 0.30, 3.0),
        assumptions=(
            Assumption("tank.turnover", "1.5/hour", "common practice, no source", "usual turnover"),
            Assumption("rules.drain-fall.reserve", "10 mm", "from memory", "fall kept over the loss"),
        ),
    )


def _drawing() -> Drawing:
    swept = Corner(90, TurnStyle.SWEPT, ("sweep-50",))
    paired = Corner(90, TurnStyle.PAIRED, ("bend-32-45", "bend-32-45"))
    bent = Corner(90, TurnStyle.BEND, ())
    runs = [
        Line(
            "tank drain",
            "drain-50",
            (
                ThroughWall("fish tank", way=Way.SEAL, penetration="seal-50", centre_m=1.2345),
                swept,
                swept,
                ThroughWall("sump", way=Way.BULKHEAD, penetration="bulk-50", centre_m=0.05),
            ),
            ((1.2,), (0.9,)),
            2.1,
        ),
        Line(
            "pump main",
            "press-32",
            (LineEnd("sump"), paired, LineEnd("step", ("tail-32-25",))),
            ((0.6,), (1.4,), (0.05,)),
            2.05,
        ),
        Line(
            "tank feed",
            "hose-25",
            (
                LineEnd("step"),
                ValveSet("ball-32", ("tail-32-25",)),
                OverRim("fish tank", corner=bent, centre_m=1.42, mouth_m=1.27),
            ),
            ((1.9,),),
            1.9,
        ),
    ]
    orders = [
        ("drain-50", "reed", 2.1, 1),
        ("press-32", "reed", 2.05, 1),
        ("hose-25", "reed", 1.9, 2),
        ("sweep-50", "reed", 2, 2),
        ("bend-32-45", "reed", 2, 2),
        ("tail-32-25", "reed", 2, 2),
        ("ball-32", "reed", 1, 1),
        ("seal-50", "reed", 1, 1),
        ("bulk-50", "brook", 1, 1),
        ("pump-3000", "brook", 1, 1),
    ]
    return Drawing(
        runs={run.run: run for run in runs},
        junctions={"step": DrawnJunction("step", None, ("pump main", "tank feed"))},
        pumps={"sump": DrawnPump("sump", "pump-3000", "throttled", 1.0)},
        levels={"fish tank": DrawnLevel("fish tank", 1.2712, 1.3105), "sump": DrawnLevel("sump", 0.1, 0.1)},
        purchases=tuple(Purchase(*order) for order in orders),
        cuts=(
            CutStick("drain-50", 3.0, (1.2, 0.9), 0.894),
            CutStick("press-32", 5.0, (1.4, 0.6, 0.05), 2.941),
        ),
    )


SPIGOT_50, SOCKET_50 = End("spigot", "metric", "50"), End("socket", "metric", "50")
SPIGOT_32, SOCKET_32 = End("spigot", "metric", "32"), End("socket", "metric", "32")
HOSE, TAIL = End("bore", "hose", "25"), End("barb", "hose", "25")


def _lines() -> dict[str, Laid]:
    drain, main, hose = (SPIGOT_50,) * 2, (SPIGOT_32,) * 2, (HOSE,) * 2
    sweep = Item("sweep-50", Role.TURN, (SOCKET_50,) * 2)
    bend = Item("bend-32-45", Role.TURN, (SOCKET_32,) * 2)
    lines = [
        Laid(
            "tank drain",
            (
                Item("drain-50", Role.PIPE, drain, 1.2, "leg 1", "seal-50"),
                sweep,
                Item("drain-50", Role.PIPE, drain, 0.9, "leg 2"),
                sweep,
                Item("bulk-50", Role.WALL, (SOCKET_50,) * 2),
            ),
            (),
            (1.2, 0.9),
        ),
        Laid(
            "pump main",
            (
                Item("press-32", Role.PIPE, main, 0.6, "leg 1"),
                bend,
                Item("press-32", Role.PIPE, main, 0.05, "between two 45s"),
                bend,
                Item("press-32", Role.PIPE, main, 1.4, "leg 2"),
            ),
            (),
            (0.6, 0.05, 1.4),
        ),
        Laid(
            "tank feed",
            (
                Item("tail-32-25", Role.ADAPTOR, (SPIGOT_32, TAIL)),
                Item("hose-25", Role.PIPE, hose, 1.9, "legs 1 to 2"),
            ),
            (),
            (1.9,),
        ),
    ]
    return {line.run: line for line in lines}


def _joints() -> tuple[Joint, ...]:
    ring = End("seal", "metric", "50")
    drain, welded = "tank drain", JointKind.WELDED
    return (
        Joint(drain, "drain-50", "seal-50", SPIGOT_50, ring, JointKind.SEAL),
        Joint(drain, "drain-50", "sweep-50", SPIGOT_50, SOCKET_50, welded),
        Joint(drain, "sweep-50", "drain-50", SOCKET_50, SPIGOT_50, welded),
        Joint("pump main", "press-32", "bend-32-45", SPIGOT_32, SOCKET_32, welded),
        Joint("tank feed", "tail-32-25", "hose-25", TAIL, HOSE, JointKind.CLAMPED),
    )


def _verdict() -> Verdict:
    duty = "The pump gives every outlet its flow."
    fall = "The fall carries each drain's flow."
    clean, energy = "Drains flow fast enough to stay clean.", "energy equation"
    return Verdict(
        findings=(
            Finding("pump-duty", duty, InVessel("fish tank"), 1.95, 1.65, 0.30, "m", True, True, energy),
            Finding("drain-fall", fall, OnRun("tank drain"), 41.25, 10.0, 31.25, "mm", True, True, energy),
            Finding("drain-fall", fall, OnRun("waste drain"), 22.5, 10.0, 12.5, "mm", True, True, energy),
            Finding(
                *("drain-velocity", clean, OnRun("tank drain")),
                *(0.29, 0.3, -0.01, "m/s", False, False, "from memory"),
            ),
            Finding(
                "budget",
                "The order stays inside the budget.",
                OfAll("order"),
                166.2,
                200.0,
                33.8,
                "money",
                True,
                True,
                "the problem",
            ),
        ),
        runs={
            "tank drain": RunFacts("tank drain", 0.0464, 2.1, FLOW, 0.2957, 0.0123, 0.0251),
            "pump main": RunFacts("pump main", 0.0284, 2.05, FLOW, 0.7893, 0.0512, 0.1),
            "tank feed": RunFacts("tank feed", 0.025, 1.9, FLOW, 1.0186, 0.0987, 0.2),
        },
        pumps={"sump": PumpFacts("sump", "pump-3000", "throttled", 1.0, FLOW, 1.95, 1.5, 35.0)},
        # 7.50 + 9.20 + 2.80 + 6.50 + 2.20 + 2.10 + 12.40 + 6.60 = 49.30 at Reed Yard, freight 9.90;
        # 18.00 + 89.00 = 107.00 at Brook Stores, free of freight from 100.00;
        # 35 W x 8760 h x 0.30 = 91.98 a year; 156.30 + 9.90 + 3 x 91.98 = 442.14.
        cost=Cost(156.30, 9.90, 91.98, 442.14, "EUR"),
        faults=(
            Fault("power cut", 0.0, 0.112, None, "high inlet", None, "sump"),
            Fault("drain half blocked", 3.0, -0.004, 12.0),
        ),
        lines=_lines(),
        joints=_joints(),
        running=(
            Running(
                "every bed full at once",
                (SumpRange("sump", -0.1, 0.1, 0.25, 0.15),),
                (BedCycle("north bed", 2.0, 1500.0, 300.0), BedCycle("south bed", 0.0, None, None)),
            ),
        ),
        commissioning=Commissioning(
            (OutletFacts("tank feed", "fish tank", FLOW, FLOW, 0.0008, "tank feed", 0.75, FLOW),),
            (LevelFacts("fish tank", 1.2712, None), LevelFacts("sump", 0.1, 0.05)),
        ),
    )


def handmade() -> Outcome:
    """A proven outcome with two designs; the second costs 20.00 more and is not proven."""
    first = Design(1, True, 166.20, 166.20, _drawing(), _verdict(), (), {"pump": "pump-3000"})
    dearer = replace(first.verdict.cost, purchase=176.30, ownership=462.14)
    second = replace(
        first,
        rank=2,
        proven=False,
        bound=180.0,
        objective=186.20,
        verdict=replace(first.verdict, cost=dearer),
        differs=("drain metric 63 for metric 50", "bulkhead fitting for push-in seal"),
    )
    solver = SolverReport(166.20, 1.25, 7, 8, {"solver": "9.15", "python": "3.11"}, rejected=1, solves=4)
    return Outcome(Status.PROVEN, _site(), _catalog(), (first, second), solver)


@pytest.fixture
def outcome() -> Outcome:
    """The hand-made outcome."""
    return handmade()
