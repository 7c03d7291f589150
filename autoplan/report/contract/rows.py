"""The shape of an answer's JSON, stated once: it is written, checked and read back by these rows.

A key is filled from the attribute of its name, or from the quantity in SI that its ending stands for
(`base.ENDINGS`). `Unread` keys are for other programs: no page and no drawing asks for them.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from autoplan.report.contract.base import From, JsonRow, Known, Number, Text, Texts, Unread, Whole, Yes
from autoplan.report.contract.built import (
    AirRow,
    CutRow,
    HoleRow,
    JunctionRow,
    PartRow,
    PieceRow,
    RimRow,
    RunRow,
    SpareRow,
    VesselRow,
)
from autoplan.report.contract.water import (
    CommissioningRow,
    FaultRow,
    FillingRow,
    LevelRow,
    PumpRow,
    RunningRow,
    SiphonRow,
    TimerRow,
    TraceRow,
    WeepRow,
)


class AssumptionRow(JsonRow):
    """What the problem does not say."""

    place: Text
    text: Text
    mark: Text
    why: Text


class CostRow(JsonRow):
    """Money."""

    purchase: Unread[Number] = None
    freight: Number
    running_per_year: Number
    ownership: Number
    currency: Text
    to_pay: Number


class RuleToldRow(JsonRow):
    """What the units asked for say of a rule in other words."""

    place: Text
    source: Text


class RuleRow(JsonRow):
    """A rule judged at one place."""

    id: Annotated[Text, From("rule")]
    sentence: Text
    place: Text
    value: Number
    limit: Number
    unit: Text
    margin: Number
    ok: Yes
    hard: Yes
    source: Text
    told: RuleToldRow | None = None


class GainRow(JsonRow):
    """What a rank is better or worse in than rank 1."""

    what: Text
    unit: Text
    first: Number
    this: Number
    better: Yes
    text: Text


class PurchaseRow(JsonRow):
    """A line of the order."""

    part: Text
    description: Text
    quantity: Number
    unit: Text
    packs: Whole
    sold_as: Text
    unit_price: Number
    shop: Text | None
    line_cost: Number


class GrowthPartRow(JsonRow):
    """What a bed more takes of a part."""

    part: Text
    quantity: Unread[Number] = None
    packs: Whole
    cost: Number


class GrowthRow(JsonRow):
    """Beds to come later, and what the first of them takes."""

    spare_beds: Unread[Texts] = None
    next: Unread[Text] = None
    cost: Unread[Number] = None
    parts: tuple[GrowthPartRow, ...]


class ToldRow(JsonRow):
    """The sentences of each section."""

    rank: Texts
    warnings: Texts
    not_judged: Texts = Field((), alias="not-judged")
    levels: Texts
    junctions: Texts
    holes: Texts
    siphons: Texts
    timers: Texts
    weeps: Texts = ()
    air: Texts
    cut: Texts
    joints: Texts
    spare_pump: Texts = Field((), alias="spare-pump")
    fill: Texts
    first_run: Texts = Field(alias="first-run")
    growth: Texts
    hours: Texts
    cautions: Texts = ()


class ChoreRow(JsonRow):
    """Something to do again and again."""

    what: Text
    often: Text
    where: Texts


class OrderRow(JsonRow):
    """A shop's order."""

    shop: Text
    name: Text
    goods: Number
    charge: Number
    charge_for: Text
    total: Number
    told: Text


class StageRow(JsonRow):
    """A stage of the work."""

    title: Text
    steps: Texts


class DesignRow(JsonRow):
    """A ranked design."""

    rank: Whole
    proven: Yes
    bound: Unread[Known] = None
    objective: Unread[Number] = None
    cost: CostRow
    margin: Unread[RuleRow] = None
    kept_margin_mm: Annotated[Unread[Whole], From("kept_mm")] = None
    differs: Unread[Texts] = None
    traits: dict[Text, Text]
    kind: Unread[Text] = None
    gets: Unread[tuple[GainRow, ...]] = None
    pump: Unread[PumpRow] = None
    pumps: tuple[PumpRow, ...]
    air: tuple[AirRow, ...]
    hand_pumps: Unread[dict[Text, Text]] = None
    spares: Unread[dict[Text, SpareRow]] = None
    runs: tuple[RunRow, ...]
    junctions: tuple[JunctionRow, ...] = ()
    levels: tuple[LevelRow, ...]
    purchase: tuple[PurchaseRow, ...]
    growth: GrowthRow | None
    cuts: tuple[CutRow, ...]
    rules: tuple[RuleRow, ...]
    filling: FillingRow | None
    siphons: tuple[SiphonRow, ...]
    timers: tuple[TimerRow, ...]
    weeps: tuple[WeepRow, ...] = ()
    faults: tuple[FaultRow, ...]
    running: tuple[RunningRow, ...]
    commissioning: CommissioningRow | None
    vessels: tuple[VesselRow, ...]
    holes: tuple[HoleRow, ...]
    rims: tuple[RimRow, ...] = ()
    parts: dict[Text, PartRow]
    saw_cut_mm: Number
    from_roll: tuple[PieceRow, ...]
    traces: tuple[TraceRow, ...]
    told: ToldRow
    orders: tuple[OrderRow, ...]
    build_order: tuple[StageRow, ...]
    upkeep: tuple[ChoreRow, ...] = ()
    variant: Text | None = None
    assumptions: tuple[AssumptionRow, ...] | None = None


class SolverRow(JsonRow):
    """How the answer was found."""

    bound: Unread[Known] = None
    wall_s: Unread[Number] = None
    seed: Unread[Whole] = None
    workers: Unread[Whole] = None
    versions: dict[Text, Text]
    rejected: Unread[Whole] = None
    solves: Unread[Whole] = None
    interrupted: Unread[Yes] = None


class ClashRow(JsonRow):
    """Why there is no design."""

    rules: Texts
    sentences: Texts


class WishRow(JsonRow):
    """What a wish costs: so much, or where that is not `exact` so much at most."""

    wish: Text
    rule: Text
    words: Text
    dearer: Number
    exact: Yes


class AnswerRow(JsonRow):
    """The whole answer."""

    FORMAT: ClassVar = "autoplan-outcome"
    VERSION: ClassVar = 1

    format: Unread[Text] = None
    version: Unread[Whole] = None
    status: Unread[Text] = None
    problem: Text
    problem_file: Text
    catalog: Text
    units: Text
    rank_by: Unread[Text] = None
    differ: Unread[Texts] = None
    solver: SolverRow
    assumptions: tuple[AssumptionRow, ...]
    designs: tuple[DesignRow, ...]
    clash: Unread[ClashRow] = None
    notes: Texts
    wishes: Unread[tuple[WishRow, ...]] = None
    cautions: Texts
    answer: Texts
    ownership_years: Number
    shops: Unread[dict[Text, Text]] = None
