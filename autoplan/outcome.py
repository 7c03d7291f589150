"""What a call of `design` answers: status, ranked designs, solver report. Frozen; knows no solver."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeAlias

from autoplan.bed_facts import TimerFacts, WeepFacts
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.line.joints import Joint
from autoplan.line.laid import Laid
from autoplan.places import Where
from autoplan.problem.site import Site
from autoplan.sentence import Text
from autoplan.wished import WishCost

FAULT_HOURS = 12.0
"""How long a fault lasts with nobody about [h]: a night; assumed, no source."""


class Status(StrEnum):
    """Coarse answer; the values are those of the JSON contract."""

    PROVEN = "proven"
    FEASIBLE = "feasible"
    NONE = "none"
    UNDECIDED = "undecided"


class Kind(StrEnum):
    """In what two designs are not the same for a person; the next size of a main is not among it."""

    ARRANGEMENT = "arrangement"
    PUMP = "pump"
    WALLS = "walls"
    JOINTS = "joints"
    MATERIAL = "material"
    DRAIN = "drain"
    BEDS = "beds"
    GUARD = "guard"


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule judged at one place on real numbers.

    Attributes:
        rule: rule id.
        sentence: the rule in one sentence.
        place: what it speaks of.
        value, limit: in `unit`; whichever way the rule points, `margin` >= 0 means it holds.
        margin: distance from the limit, in `unit`.
        unit: unit of the three numbers.
        ok: whether the rule holds.
        hard: whether a design that breaks it is refused; a soft rule is shown as a warning.
        source: mark of the limit.
        warning: what is wrong here and what to do, in a sentence with "{value}" and "{limit}" in it; "" where
            the rule has none of its own.
        as_sold: whether a part as it is sold was judged, so that to meet the limit is no near miss.
    """

    rule: str
    sentence: str
    place: Where
    value: float
    limit: float
    margin: float
    unit: str
    ok: bool
    hard: bool
    source: Text
    warning: str = ""
    as_sold: bool = False


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What the verdict worked out for one run at design flow (SI)."""

    run: str
    bore_m: float
    length_m: float
    flow_m3_s: float
    velocity_m_s: float
    loss_m: float
    overload_loss_m: float


@dataclass(frozen=True, slots=True)
class HoleRoom:
    """How far off a hole may come before a rule breaks [m], as far as tried; that rule beyond, else ""."""

    higher_m: float
    above: str
    lower_m: float
    below: str


@dataclass(frozen=True, slots=True)
class PumpFacts:
    """What the verdict worked out for one pump (SI); required head is lift and losses, without margin."""

    vessel: str
    part: str
    mode: str
    speed: float
    duty_flow_m3_s: float
    duty_head_m: float
    required_head_m: float
    watts: float


@dataclass(frozen=True, slots=True)
class SiphonFacts:
    """One bell siphon as the verdict worked it out (SI).

    Attributes:
        bed: where it stands.
        bore_m: of the standpipe.
        inflow_m3_s, starts_m3_s: what the bed gets, and what fills the standpipe, without margin.
        fastest_m3_s, slowest_m3_s: its flow with the bed full, and down at the cut-outs.
        filling_s, emptying_s, floods_per_s: its cycle.
    """

    bed: str
    bore_m: float
    inflow_m3_s: float
    starts_m3_s: float
    fastest_m3_s: float
    slowest_m3_s: float
    filling_s: float
    emptying_s: float
    floods_per_s: float


@dataclass(frozen=True, slots=True)
class OutletFacts:
    """What comes out of one pressure run where it ends in a vessel, when the system is first run.

    Attributes:
        run, vessel: the run and where it ends.
        design_m3_s: flow asked of it [m3/s].
        flow_m3_s: flow with every balancing valve set [m3/s]; less than asked where the pump has too little.
        open_m3_s: flow with every valve wide open [m3/s].
        valve_run: the run whose valve sets it, or None.
        valve_loss_m: head that this valve then takes beyond what it takes wide open [m].
        low_m3_s: flow with the valves so set and every bed full at once, the pumped water lowest [m3/s].
    """

    run: str
    vessel: str
    design_m3_s: float
    flow_m3_s: float
    open_m3_s: float
    valve_run: str | None
    valve_loss_m: float
    low_m3_s: float


@dataclass(frozen=True, slots=True)
class LevelFacts:
    """Water to expect in a vessel with every valve set, above the datum [m].

    `low_m` is the level of a pumped vessel with every bed full at once, else None.
    """

    vessel: str
    water_m: float
    low_m: float | None


@dataclass(frozen=True, slots=True)
class Commissioning:
    """What to measure when the system is first run; see the classes of its items."""

    outlets: tuple[OutletFacts, ...]
    levels: tuple[LevelFacts, ...]


HeadFlow: TypeAlias = tuple[float, float]
"""A flow [m3/s] and a head [m]."""


@dataclass(frozen=True, slots=True)
class PumpCurves:
    """One pump drawn against its pipes.

    Attributes:
        at_speed, at_full_speed: head against flow, from shut-off on.
        system: what the pipes ask with every valve set, from the head at which the first outlet runs.
        met: where the first and the last of these meet.
    """

    at_speed: tuple[HeadFlow, ...]
    at_full_speed: tuple[HeadFlow, ...]
    system: tuple[HeadFlow, ...]
    met: HeadFlow


class TraceOf(StrEnum):
    """What a level is followed through; the values are those of the JSON contract."""

    FLOODS = "floods"
    POWER_CUT = "power cut"


@dataclass(frozen=True, slots=True)
class LevelTrace:
    """How the water of a pumped vessel moves.

    Attributes:
        what, vessel: what it is followed through, and where.
        points: times [s] and levels above the datum [m], a straight line from each to the next.
        off_s, on_s: when the power fails and comes back [s]; None where it does not fail.
    """

    what: TraceOf
    vessel: str
    points: tuple[tuple[float, float], ...]
    off_s: float | None = None
    on_s: float | None = None


@dataclass(frozen=True, slots=True)
class MovingLevel:
    """A pumped vessel's water above the datum [m]: lowest, running, and with the power off.

    Lowest is with beds full, the others with those empty that ever are.

    Once the beds were flooded the last two stand lower by `left_m` [m], for what then stays in the beds.
    """

    vessel: str
    low_m: float
    running_m: float
    high_m: float
    left_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Filling:
    """Water in the whole system as it runs [m3], beds empty that ever are, and how that in pumped ones moves.

    `left_m3` of it stay in the beds once they were flooded, under cut-outs and drain holes.
    """

    total_m3: float
    moving: tuple[MovingLevel, ...]
    left_m3: float = 0.0


@dataclass(frozen=True, slots=True)
class FishWater:
    """What a fault leaves in a fish tank that falls well under its lowest design water.

    Attributes:
        vessel: the tank.
        depth_m: least water over its floor [m].
        volume_m3: the same as a volume [m3].
        needed_m: its lowest design water over its floor [m].
        spilled_l: what would still be lost if the pump in the tank stopped there [L]; None where none runs.
    """

    vessel: str
    depth_m: float
    volume_m3: float
    needed_m: float
    spilled_l: float | None


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing going wrong.

    Attributes:
        name: what goes wrong, in words.
        spilled_l: water lost over rims, out of burst pipes and out of drains that came apart [L].
        margin_m: smallest height from the highest water to a rim [m]; negative where water runs over.
        minutes: until water is lost, a pump draws air or a fish tank falls too low [min]; None where none of
            it happens.
        saved_by: a sentence or two on what saves it, or what would.
        cure: what would save it in a few words; "" where nothing needs to.
        lowest_cover_m: smallest height of the water over what a running pump needs [m]; negative where it
            draws air, None where no pump runs.
        where: vessel that the margin speaks of.
        dry_minutes: until a pump draws air [min]; None where none does.
        fish: what is left in the fish tank that it leaves the least, or None where each keeps enough.
        alike: how many places there are where the same may go wrong; this is the worst of them.
        water_celsius: temperature of the water, where it is that that is otherwise [C].
    """

    name: str
    spilled_l: float
    margin_m: float
    minutes: float | None
    saved_by: str = ""
    lowest_cover_m: float | None = None
    where: str = ""
    dry_minutes: float | None = None
    fish: FishWater | None = None
    cure: str = ""
    alike: int = 1
    water_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class SumpRange:
    """How far the water of a pumped vessel moves [m above the datum], and its least cover of the pump [m].

    `reserve_m3` is how much water the vessel holds at its lowest over what its pump needs, in a fish tank
    also over its lowest design water; below 0 where it lacks some.
    """

    vessel: str
    lowest_m: float
    highest_m: float
    cover_m: float
    reserve_m3: float


@dataclass(frozen=True, slots=True)
class BedCycle:
    """Floods an hour of a bed with a siphon or a timer, and mean times [s]; None where it does not cycle."""

    bed: str
    floods_per_hour: float
    filling_s: float | None
    emptying_s: float | None


@dataclass(frozen=True, slots=True)
class Running:
    """The system running for hours, with its beds in one phase to each other."""

    phase: str
    sumps: tuple[SumpRange, ...]
    beds: tuple[BedCycle, ...]


@dataclass(frozen=True, slots=True)
class Cost:
    """Money in the catalogue's currency. `ownership` = purchase + freight + years x running."""

    purchase: float
    freight: float
    running_per_year: float
    ownership: float
    currency: str

    @property
    def to_pay(self) -> float:
        """The whole order, freight included."""
        return self.purchase + self.freight


@dataclass(frozen=True, slots=True)
class Verdict:
    """A design judged: every rule's findings, its cost, and for a design that is printed all that is told.

    Attributes:
        findings, cost, runs, pumps, faults: see their classes; runs by name, pumps by vessel. A design that
            is only searched has no more than the first two.
        lines: each run by name, put together part by part.
        joints: every joint of every line, in the order of the water.
        running: the system through hours, in each phase of its beds that matters.
        siphons, timers: each bell siphon by the name of its drain, each timed bed by its own.
        weeps: each bed with a weep hole by its name.
        filling: how much water there is, and between which levels it moves.
        commissioning: what to measure at the first run.
        curves, traces: each pump against its pipes, by vessel; levels followed through time.
        resting: water at rest by vessel, hours after the power failed, above the datum [m].
        hole_rooms: of each hole in a wall, by run and vessel.
        saw_cut_m: width of a saw cut that the sticks were laid with [m].
        unjudged: by rule, what it cannot judge since the price list does not say it, a sentence each.
    """

    findings: tuple[Finding, ...]
    cost: Cost
    runs: Mapping[str, RunFacts] = field(default_factory=dict)
    pumps: Mapping[str, PumpFacts] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    lines: Mapping[str, Laid] = field(default_factory=dict)
    joints: tuple[Joint, ...] = ()
    running: tuple[Running, ...] = ()
    siphons: Mapping[str, SiphonFacts] = field(default_factory=dict)
    timers: Mapping[str, TimerFacts] = field(default_factory=dict)
    weeps: Mapping[str, WeepFacts] = field(default_factory=dict)
    filling: Filling | None = None
    commissioning: Commissioning | None = None
    curves: Mapping[str, PumpCurves] = field(default_factory=dict)
    traces: tuple[LevelTrace, ...] = ()
    resting: Mapping[str, float] = field(default_factory=dict)
    hole_rooms: Mapping[tuple[str, str], HoleRoom] = field(default_factory=dict)
    saw_cut_m: float = 0.0
    unjudged: Mapping[str, tuple[Text, ...]] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        """Whether every hard rule holds."""
        return all(finding.ok for finding in self.findings if finding.hard)


@dataclass(frozen=True, slots=True)
class Design:
    """One ranked design.

    Attributes:
        rank: from 1.
        proven: whether its cost is proven least among all designs not ranked before it.
        bound: proven lower bound on the objective of this rank, in the currency.
        objective: what was minimised, in the currency.
        drawing, verdict: the design and its judgement.
        differs: what a builder would notice against rank 1, a phrase each; empty for rank 1.
        traits: what ranks are told apart by, name to value.
        site: the site that it is for, where the problem stands for several; else None.
        variant: what tells that site from the others, in a line.
        margin: the least height to spare over what the rules ask, and where.
        kept_mm: where margin ranks, the margin that its search kept [mm]; else None.
    """

    rank: int
    proven: bool
    bound: float
    objective: float
    drawing: Drawing
    verdict: Verdict
    differs: tuple[str, ...] = ()
    traits: Mapping[str, str] = field(default_factory=dict)
    site: Site | None = None
    variant: str = ""
    margin: Finding | None = None
    kept_mm: int | None = None


@dataclass(frozen=True, slots=True)
class SolverReport:
    """How the answer was found. `rejected` counts designs that the verdict refused."""

    bound: float | None
    wall_s: float
    seed: int
    workers: int
    versions: Mapping[str, str]
    rejected: int = 0
    solves: int = 0
    interrupted: bool = False


@dataclass(frozen=True, slots=True)
class Clash:
    """Why there is no design: rules that cannot hold together, and what would mend it.

    Attributes:
        rules: ids; giving way on any one would leave a design, unless a sentence says that time was short.
        sentences: one sentence per rule or per remedy, for the builder.
    """

    rules: tuple[str, ...]
    sentences: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """The whole answer; `site` is the problem's first, `wishes` of rank 1, `differ` the kinds asked for.

    `unweighed` says that designs with an emergency overflow, which was only offered, were not looked at.
    """

    status: Status
    site: Site
    catalog: Catalog
    designs: tuple[Design, ...]
    solver: SolverReport
    rank_by: str = "purchase"
    clash: Clash | None = None
    notes: tuple[Text, ...] = ()
    differ: Sequence[Kind] = ()
    wishes: Sequence[WishCost] = ()
    unweighed: bool = False

    def about(self, design: Design) -> Outcome:
        """The answer as far as it concerns one design: with the site that this design is for."""
        return self if design.site is None else replace(self, site=design.site)
