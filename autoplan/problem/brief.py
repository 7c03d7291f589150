"""What the builder asks for, whatever stands where; and what was assumed for want of a word. SI floats."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum


class DrainJoints(StrEnum):
    """How the socket joints of drains are made."""

    ANY = "any"
    WELDED = "welded"
    SCREWED = "screwed"


class Flushing(StrEnum):
    """Which drains too slow to stay clean get a flushing point."""

    NOWHERE = "false"
    AHEAD = "ahead of a settler"
    ALL = "true"


class Survives(StrEnum):
    """What may befall the drains without anything running over."""

    HALF_BLOCKED = "half-blocked drain"
    NOTHING = "nothing"


class DrainGrade(StrEnum):
    """What the parts of drains must be sold for at least."""

    DRINKING = "drinking water"
    DRAIN = "drain"


class Mouth(StrEnum):
    """How a drain that ends over a vessel's rim hangs there."""

    FREE = "free"
    BELOW_WATER = "below water"


class SettlerInletBy(StrEnum):
    """How water that enters a settler through its wall is slowed and turned down."""

    ANY = "any"
    TURN = "turned down"
    WELL = "stilling well"


class WasteBy(StrEnum):
    """How a filter's waste gets to the garden."""

    GRAVITY = "gravity"
    HAND_PUMP = "hand pump"


class BedDrains(StrEnum):
    """How the short form's beds drain: each by itself, by a collector that they share, or the cheaper."""

    EACH = "each"
    SHARED = "shared"
    ANY = "any"


class Overload(StrEnum):
    """What the no-overflow rule calls overload."""

    FACTOR = "factor"
    PUMP = "pump"


class PrintUnits(StrEnum):
    """The units in which an answer is printed; arithmetic and JSON know only SI."""

    SI = "si"
    US = "us"


@dataclass(frozen=True, slots=True)
class HandPumpWish:
    """Sludge that is pumped out of a vessel by hand: how high over its lowest water, and how far [m]."""

    vessel: str
    lift_m: float
    reach_m: float


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that the builder did not give.

    Attributes:
        place: key path the builder could write to change it.
        text: the value with its unit, as it would be written there.
        mark: "common practice, no source", "from memory", or the published source.
        why: half a sentence on what it is.
        moot: whether it changes nothing on its site, and so is not told with the answer.
    """

    place: str
    text: str
    mark: str
    why: str
    moot: bool = False


@dataclass(frozen=True, slots=True)
class AirPoint:
    """Air wished in one vessel.

    Attributes:
        vessel: its name.
        flow_m3_s: free air [m3/s].
        depth_m: water above the diffusers [m].
        line_m: length of line from the air pump to each of them [m].
    """

    vessel: str
    flow_m3_s: float
    depth_m: float
    line_m: float


@dataclass(frozen=True, slots=True)
class AirWish:
    """Air for the whole site.

    Attributes:
        points: a vessel each; neighbours in this order may share a pump.
        above_water: whether the pumps stand above the highest water, where none can siphon back into them.
        reserve: share of a tank's air that a battery pump gives in a power cut [-]; 0 for none.
    """

    points: tuple[AirPoint, ...]
    above_water: bool = True
    reserve: float = 0.0

    def in_power_cut(self, tanks: Container[str]) -> tuple[AirPoint, ...]:
        """What a battery pump must give to the tanks."""
        points = (point for point in self.points if self.reserve and point.vessel in tanks)
        return tuple(replace(point, flow_m3_s=point.flow_m3_s * self.reserve) for point in points)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the builder asks of the whole design.

    Attributes:
        overload: what the no-overflow rule calls overload.
        overload_factor: multiple of the design flow when overload is `FACTOR` [-].
        water_celsius: water temperature for viscosity [C].
        budget: most that may be spent, in the catalogue's currency, or None.
        power_price_per_kwh: price of electricity in the catalogue's currency.
        ownership_years: years over which running cost counts in cost of ownership.
        drain_joints: how the socket joints of drains are made.
        beds_full: how many beds may be full at once, the largest of them counted; None for all.
        most_full: whether that is for the program to find: as many as the sump can fill.
        flushing_points: which drains too slow to stay clean get a flushing point.
        vents: whether a drain too full to vent itself gets a vent.
        survives: what may befall the drains without anything running over.
        frost: whether water left in a line may freeze.
        fish_kg_m3: most fish for each volume of a tank's water [kg/m3].
        drain_grade: what the parts of drains must be sold for at least.
        mouth: how drains hang that end over a rim, where a run does not say it.
        rain_m: rain that is to find room with the power off [m]; 0 under a roof.
        spare: what more than its design flow a pump can give, as a share of that [-].
        spare_bed: whether that is what the thirstiest bed takes instead.
        settler_inlet: how water that enters settlers is slowed.
        second_half: whether what joins a spare pump with another outlet is to lie ready.
    """

    overload: Overload
    overload_factor: float
    water_celsius: float
    budget: float | None
    power_price_per_kwh: float
    ownership_years: float
    drain_joints: DrainJoints = DrainJoints.ANY
    beds_full: int | None = None
    most_full: bool = False
    flushing_points: Flushing = Flushing.NOWHERE
    vents: bool = False
    survives: Survives = Survives.NOTHING
    fish_kg_m3: float = 20.0
    frost: bool = False
    drain_grade: DrainGrade = DrainGrade.DRINKING
    mouth: Mouth = Mouth.FREE
    rain_m: float = 0.0
    spare: float = 0.0
    spare_bed: bool = False
    second_half: bool = False
    settler_inlet: SettlerInletBy = SettlerInletBy.ANY


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """What is asked whatever stands where.

    Attributes:
        name: title of the problem.
        file: where it came from, as the user named it.
        catalog: name or folder of the catalogue it asks for.
        wishes: see `Wishes`.
        rule_settings: text as written under `[rules.ID]`, by rule id then key; the rules read it.
        owned: pieces already owned by part id.
        offcuts: lengths of pipe already owned [m], by the id of a row of that pipe.
        unavailable: part ids that may not be used.
        print_units: units in which the answer is printed.
    """

    name: str
    file: str
    catalog: str
    wishes: Wishes
    rule_settings: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    owned: Mapping[str, int] = field(default_factory=dict)
    offcuts: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    unavailable: frozenset[str] = frozenset()
    print_units: PrintUnits = PrintUnits.SI
