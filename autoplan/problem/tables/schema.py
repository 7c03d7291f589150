"""The tables of a problem file as pydantic models, and what is wrong with one in the builder's words.

Every quantity is text with its unit in the file and an SI float in the model. None means not given.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from autoplan.problem.brief import BedDrains
from autoplan.problem.site import BedDrain, VesselKind
from autoplan.problem.tables.defaults import (
    GUARD,
    OFFERED,
    OVERFLOW,
    SHARED,
    TIMER,
    TURNOVER,
    VESSEL,
    WASTE,
    WISHES,
    Default,
)
from autoplan.problem.tables.values import (
    MOST_BEDS,
    Area,
    At,
    BedDrainsWord,
    BedDrainWord,
    BedsFull,
    BellWord,
    Celsius,
    Choose,
    Depth,
    DrawWord,
    EntryWord,
    Facing,
    Fall,
    Floods,
    FlushingWord,
    GradeWord,
    GuardWord,
    Height,
    Hole,
    HoleHeight,
    JointsWord,
    KindWord,
    Legs,
    Length,
    Level,
    Minutes,
    Money,
    MouthWord,
    Name,
    Overflows,
    OverloadValue,
    Peak,
    Price,
    Rain,
    RunKindWord,
    ScreenWord,
    SettlerInletWord,
    ShapeWord,
    Share,
    Spare,
    Stocking,
    SurvivesWord,
    TankDrawWord,
    Thickness,
    TopUp,
    Turnover,
    Turns,
    Void,
    Volume,
    WasteWord,
    Water,
    Years,
    wrong,
)


class Table(BaseModel):
    """What all tables have in common: no unknown keys, no silent conversion.

    Attributes:
        gone: keys that there were once, each with why it went and what to write instead.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    gone: ClassVar[Mapping[str, tuple[str, str]]] = {}


def key(meaning: str, otherwise: str = "", examples: list[str] | None = None) -> Any:
    """A key that may be left out.

    Args:
        meaning: half a sentence on what it is.
        otherwise: what stands in for it; empty where nothing does, or where `defaults.VESSEL` says it by
            kind of vessel.
        examples: how a value is written, where its type does not say so.
    """
    extra: dict[str, Any] = {OTHERWISE: otherwise}
    return Field(default=None, description=meaning, examples=examples, json_schema_extra=extra)


def flag(meaning: str, otherwise: str = "false") -> Any:
    """A key that is true or false and may be left out; arguments as for `key`."""
    return key(meaning, otherwise, ["true"])


def filled(gap: Default, examples: list[str] | None = None) -> Any:
    """A key that may be left out, by its default."""
    return key(gap.why, gap.text, examples)


OTHERWISE = "otherwise"
"""Where a field keeps what stands in for a key that is left out."""

_ANY, _BED = VESSEL[VesselKind.TANK], VESSEL[VesselKind.BED]


class VesselTable(Table):
    """What may be said of any vessel; heights are above the ground there."""

    area: Area | None = key("water surface, or length times width", "volume over depth")
    depth: Depth | None = key(_ANY["depth"].why)
    wall: Thickness | None = key(_ANY["wall"].why)
    base: Thickness | None = key(_ANY["base"].why)
    shape: ShapeWord | None = key(
        "shape of the walls seen from above: round ones curve, square ones are flat"
    )
    uncertain: Water | None = key(
        "how far its height may turn out otherwise; its drains then get a flexible coupling", "0 mm"
    )
    floor: Height | None = key(_ANY["floor"].why)
    ground: Height | None = key(_ANY["ground"].why)
    at: At | None = key(
        "its middle on the plan, along and across from a point of your own; distances and corners between "
        "vessels that have it follow from it where they are not given",
        "not known",
    )
    facing: Facing | None = key(
        "direction of a square one's side on the plan, in degrees from along to across", "0"
    )
    side: Length | None = key(
        "inside length of the side along which a square one faces; the other follows from its area",
        "as long as the other",
    )

    @model_validator(mode="after")
    def _placed(self) -> Self:
        for key in ("facing", "side") if self.at is None else ():
            if getattr(self, key) is not None:
                raise wrong(f"{key} is given but not where it stands", "write at too, or take it out", "at")
        return self


class OpenTable(VesselTable):
    """What may be said of a vessel whose level the design chooses; water is above its floor."""

    volume: Volume | None = key(_ANY["volume"].why)
    freeboard: Water | None = key(_ANY["freeboard"].why)
    water_min: Water | None = key("lowest design water above its floor")
    water_max: Water | None = key("highest design water above its floor", "depth less freeboard")
    top_up: TopUp | None = key("most that a float valve lets in to make up for what is lost", "no such valve")
    cover: bool | None = flag("whether a lid lies on it that a child can neither lift nor fall through")

    @model_validator(mode="after")
    def _one_highest(self) -> Self:
        if self.freeboard is not None and self.water_max is not None:
            raise wrong("both freeboard and water_max are given", "give one of them")
        return self


class ChosenTable(OpenTable):
    """A vessel that may be chosen from those of the price list."""

    choose: Choose | None = key(
        'vessels of the price list to choose a sump from, or "any" of them; then no size is given'
    )

    @model_validator(mode="after")
    def _size_of_the_list(self) -> Self:
        for key in ("volume", "area", "depth", "wall", "base", "shape") if self.choose is not None else ():
            if getattr(self, key) is not None:
                raise wrong(f"both choose and {key} are given", f"take {key} out: the price list says it")
        if self.choose is not None and self.at is not None:
            raise wrong(
                "nobody knows where the walls are of what is still to be chosen",
                "take at out, and give the distances to it",
            )
        return self


HOLE_KEYS = ("hole", "hole_height")
"""What may be said of a bed alone that runs empty by a hole in its standpipe."""

ONLY_BEDS = ("flood", "void", "floods", "drain_peak", "drain", "bell", "spare", "on_time", *HOLE_KEYS)
NEVER_BEDS = ("volume", "freeboard", "water_min", "water_max", "turnover", "top_up", "cover")
"""Keys of a `[[vessel]]` that only a bed has, and that a bed never has."""


class BedTable(VesselTable):
    """What may be said of a bed."""

    flood: Depth | None = key(_BED["flood"].why)
    void: Void | None = key(_BED["void"].why)
    floods: Floods | None = key(f"{_BED['floods'].why}, or the least and the most of them in a list")
    drain_peak: Peak | None = key(_BED["drain_peak"].why)
    drain: BedDrainWord | None = key(
        "how a bed lets its water go: a bell siphon, a standpipe that keeps it full, floods by a timer, a "
        "standpipe with a weep hole, by which it runs empty when the pump stops, or a siphon pipe outside it"
    )
    bell: BellWord | None = key("what a siphon's bell may be made of: pipe (or bought), a bottle, or any")
    on_time: Minutes | None = filled(TIMER["on_time"])
    hole: Hole | None = key(
        "hole in the standpipe of a bed with a timer or a weep hole", "the smallest that empties it in time"
    )
    hole_height: HoleHeight | None = filled(TIMER["hole_height"])

    @model_validator(mode="after")
    def _bell_of_a_siphon(self) -> Self:
        if self.bell is not None and self.drain not in (None, BedDrain.SIPHON):
            raise wrong('"bell" is for a bed with a siphon', 'write drain = "siphon" too, or take bell out')
        return self

    @model_validator(mode="after")
    def _by_the_clock(self) -> Self:
        if self.drain is BedDrain.TIMER:
            if isinstance(self.floods, tuple):
                raise wrong(
                    "a timed bed floods by the clock, not within a range", 'write e.g. floods = "2/hour"'
                )
            return self
        if getattr(self, "kind", VesselKind.BED) is not VesselKind.BED:
            return self
        if self.on_time is not None:
            raise wrong('"on_time" is for a timed bed', 'write drain = "timer" too, or take on_time out')
        for key in HOLE_KEYS if self.drain is not BedDrain.WEEP else ():
            if getattr(self, key) is not None:
                other = f'write drain = "timer" or drain = "weep hole" too, or take {key} out'
                raise wrong(f'"{key}" is for a bed that runs empty by a hole in its standpipe', other)
        return self


CONE = "how far a cone reaches down below the floor, from whose tip the waste leaves"
CONES = (VesselKind.SETTLER, VesselKind.BIOFILTER)
"""Vessels that may end in one."""


class LongVessel(BedTable, ChosenTable):
    """One `[[vessel]]`."""

    name: Name = Field(description="what the vessel is called, by which runs refer to it")
    kind: KindWord = Field(description="what the vessel is for")
    turnover: Turnover | None = key(TURNOVER.why, f"{TURNOVER.text} of a tank, else none")
    cone: Depth | None = key(CONE, "a flat floor")
    spare: bool | None = flag("whether the bed comes later: planned for, but not built now")

    @model_validator(mode="after")
    def _keys_of_kind(self) -> Self:
        for key in NEVER_BEDS if self.kind is VesselKind.BED else ONLY_BEDS:
            if getattr(self, key) is not None:
                raise wrong(f'a {self.kind} has no "{key}"', "take it out")
        if self.cone is not None and self.kind not in CONES:
            raise wrong(f'a {self.kind} has no "cone"', "take it out: only a settler or a biofilter has one")
        if self.choose is not None and self.kind is not VesselKind.SUMP:
            raise wrong(f"a {self.kind} cannot be chosen", "take it out: only a sump can")
        return self


Count = Annotated[int, Field(ge=1, le=MOST_BEDS, examples=["2"])]


class LongJunction(Table):
    """One `[[junction]]`; one that is the open end of a waste drain has a height above the datum."""

    name: Name = Field(description="what the junction is called, by which runs refer to it")
    open: Height | None = key("height above 0 where it is the open end of a waste drain", "a tee")
    height: Height | None = key("height of the tee above 0", "not known: no run on the plan may meet there")
    at_once: Count | None = key(SHARED["empty_at_once"].why, "all of them")
    at: At | None = key("its place on the plan, as of a vessel", "not known")


class LongRun(Table):
    """One `[[run]]`."""

    gone: ClassVar[Mapping[str, tuple[str, str]]] = {
        "length": (
            "pieces of equal legs are of no line that anyone builds",
            'write level = "2.5 m" from wall to wall and its corners, or the legs one by one',
        )
    }
    name: Name = Field(description="what the run is called")
    kind: RunKindWord = Field(description="whether gravity or a pump moves its water")
    start: Name = Field(alias="from", description="vessel or junction that its water comes from")
    finish: Name = Field(alias="to", description="vessel or junction that its water goes to")
    level: Level | None = key(
        "level distance from wall to wall, or its pieces from corner to corner",
        "by where both its ends are on the plan",
    )
    corners: Turns | None = key(
        "changes of direction on the plan in degrees, or how many of 90", "90 between its pieces"
    )
    height: Height | None = key("height above 0 at which it runs", "that of its end")
    legs: Legs | None = key(
        "its straight pieces as measured, in the order of the water; in place of level",
        "its level and heights",
    )
    turns: Turns | None = key(
        "changes of direction between measured legs in degrees, or how many of 90", "90 between its legs"
    )
    run_class: Name | None = Field(
        default=None,
        alias="class",
        description="runs of the same class are built alike",
        json_schema_extra={OTHERWISE: "its name"},
    )
    valve: bool | None = flag("whether it has a valve", "true for a pumped run into a vessel")
    draw: DrawWord | None = key(
        "from where in its vessel a drain takes water",
        "solids-lifting of a tank, outside siphon of a bed with one, standpipe of another bed, else wall",
    )
    entry: EntryWord | None = key("how a pumped run, or a drain on the plan, may enter its vessel", "any")
    share: Share | None = key("its share of what its vessel drains", "equal shares")
    overflow: Overflows | None = key(
        f"whether it is an emergency overflow, dry until other drains are blocked; {OFFERED}", "false"
    )
    screen: ScreenWord | None = flag('whether its inlet gets a screen; "fry" for a fine mesh')
    waste: bool | None = flag("whether it drains a filter's sludge")
    siphon_back: GuardWord | None = filled(GUARD)
    mouth: MouthWord | None = key(
        "how a drain that ends over a rim hangs there: free of the water, or below it", "as wished"
    )
    vent: Height | None = key(
        "height above 0 of the top of an open pipe that lets air into its start", "none"
    )


class ShortVessel(OpenTable):
    """`[sump]` of the short form."""

    volume: Volume = Field(description=_ANY["volume"].why)


class ShortSump(ChosenTable):
    """`[sump]` of the short form, chosen from the price list."""

    choose: Choose = Field(description=str(ChosenTable.model_fields["choose"].description))


class ShortFilter(ShortVessel):
    """`[tank]`, `[settler]` or `[biofilter]` of the short form."""

    screen: ScreenWord | None = flag('whether its drain\'s inlet gets a screen; "fry" for a fine mesh')


class ShortWaste(ShortFilter):
    """`[settler]` or `[biofilter]` of the short form, which may have a waste drain."""

    cone: Depth | None = key(CONE, "a flat floor")
    waste: bool | None = flag("whether its sludge gets a way to the garden")
    waste_height: Height | None = filled(WASTE["height"])
    waste_by: WasteWord | None = key(
        "how its sludge goes", f"gravity with a fall of {WASTE['fall'].text} or more, else hand pump"
    )


class ShortTank(ShortFilter):
    """`[tank]` of the short form."""

    siphon_back: GuardWord | None = filled(GUARD)
    draw: TankDrawWord | None = key("from where its drain takes water", "solids-lifting")
    overflow: Overflows | None = filled(OVERFLOW)


class ShortBeds(BedTable):
    """`[beds]` of the short form, all alike."""

    screen: bool | None = flag("whether its drain's inlet gets a screen")
    count: Annotated[
        int, Field(ge=0, le=MOST_BEDS, examples=["4"], description="how many beds there are, all alike")
    ]
    area: Area = Field(description="area of one bed, or its length times its width")
    spare_beds: Annotated[int, Field(ge=0, le=MOST_BEDS, examples=["1"])] | None = key(
        "beds to come later: planned for, but not built now", "0"
    )
    bed_drains: BedDrainsWord | None = filled(SHARED["bed_drains"])
    collector_fall: Fall | None = filled(SHARED["collector_fall"])
    empty_at_once: Count | None = filled(SHARED["empty_at_once"])
    at: At | None = key(
        "middle of the first bed on the plan, along and across from a point of your own; the trunk goes "
        "along the row on the pump's side, trunk_to_bed off the beds",
        "not known",
    )
    step: At | None = key(
        "from the middle of each bed to that of the next, along and across, where at is given",
        "must be given with at where there are several",
    )

    @model_validator(mode="after")
    def _collected(self) -> Self:
        for key in ("collector_fall", "empty_at_once"):
            if getattr(self, key) is not None and self.bed_drains in (None, BedDrains.EACH):
                raise wrong(
                    f'"{key}" is for a collector that beds share',
                    f'write bed_drains = "shared" or "any" too, or take {key} out',
                )
        return self

    @model_validator(mode="after")
    def _siphoned_outside(self) -> Self:
        if self.drain is BedDrain.OUTSIDE and self.bed_drains not in (None, BedDrains.EACH):
            raise wrong(
                "a siphon pipe outside a bed falls free to a vessel, not to a collector that beds share",
                'write bed_drains = "each" or take it out',
            )
        if self.drain is BedDrain.OUTSIDE and self.screen is False:
            raise wrong(
                "a siphon pipe outside a bed draws through the gravel, and needs a screen on its inlet",
                "write screen = true or take it out",
            )
        return self

    @model_validator(mode="after")
    def _in_a_row(self) -> Self:
        several = self.count + (self.spare_beds or 0) > 1
        if self.at is not None and self.step is None and several:
            raise wrong(
                "at says where the first bed is, and nothing where the next is",
                'write step too, e.g. step = ["1.5 m", "0 m"]',
                "step",
            )
        if self.step is not None and self.at is None:
            remedy = "write at too, or take it out"
            raise wrong("step is given but not where the first bed is", remedy, "at")
        if self.step == (0.0, 0.0):
            raise wrong("a step of nothing leaves every bed in one place", 'write e.g. ["1.5 m", "0 m"]')
        return self


class WishesTable(Table):
    """`[wishes]`."""

    turnover: Turnover | None = filled(TURNOVER)
    overload: OverloadValue | None = key(
        f'{WISHES["overload"].why}, or "pump" for all that the pump can give', WISHES["overload"].text
    )
    budget: Money | None = key("most to spend, in the price list's currency")
    water: Celsius | None = filled(WISHES["water"])
    power_price: Price | None = filled(WISHES["power_price"])
    frost: bool | None = filled(WISHES["frost"], ["true"])
    fish: Stocking | None = filled(WISHES["fish"])
    years: Years | None = filled(WISHES["years"])
    drain_joints: JointsWord | None = filled(WISHES["drain_joints"])
    beds_full: BedsFull | None = key(
        f'{WISHES["beds_full"].why}: a number, "all", or "most" for as many as it has water for',
        WISHES["beds_full"].text,
    )
    flushing_points: FlushingWord | None = filled(WISHES["flushing_points"])
    vents: bool | None = filled(WISHES["vents"], ["false"])
    settler_inlet: SettlerInletWord | None = filled(WISHES["settler_inlet"])
    second_half: bool | None = filled(WISHES["second_half"], ["true"])
    survives: SurvivesWord | None = filled(WISHES["survives"])
    drain_grade: GradeWord | None = filled(WISHES["drain_grade"])
    mouth: MouthWord | None = filled(WISHES["mouth"], ["below water"])
    rain: Rain | None = filled(WISHES["rain"])
    spare: Spare | None = key(
        f'{WISHES["spare"].why}: a share of it, "a bed" for as much as the thirstiest bed takes, or "none"',
        WISHES["spare"].text,
    )
