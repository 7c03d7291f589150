"""The rules in force for one problem: all of them, less those switched off, with their settings read."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from autoplan.catalog.joining import Need
from autoplan.errors import InputError, Mistake, QuantityError
from autoplan.problem.brief import Assumption
from autoplan.problem.site import Run, Site
from autoplan.rules.air.air_back import AirBack
from autoplan.rules.air.air_supply import AirSupply
from autoplan.rules.asked import Joined
from autoplan.rules.base import Concern, Given, Rule, Setting
from autoplan.rules.beds.air_tube import AirTube
from autoplan.rules.beds.bell_fit import BellFit
from autoplan.rules.beds.bell_made import BellMade
from autoplan.rules.beds.crest_fit import CrestFit
from autoplan.rules.beds.crest_start import CrestStart
from autoplan.rules.beds.drain_hole import DrainHole
from autoplan.rules.beds.flange_fit import FlangeFit
from autoplan.rules.beds.flood_rate import FloodRate
from autoplan.rules.beds.free_outlet import FreeOutlet
from autoplan.rules.beds.full_bed_start import FullBedStart
from autoplan.rules.beds.guard_rim import GuardRim
from autoplan.rules.beds.siphon_break import SiphonBreak
from autoplan.rules.beds.siphon_start import SiphonStart
from autoplan.rules.beds.siphon_tight import SiphonTight
from autoplan.rules.beds.spare_bed import SpareBed
from autoplan.rules.beds.timer_drain import TimerDrain
from autoplan.rules.beds.timer_fill import TimerFill
from autoplan.rules.beds.timer_shut import TimerShut
from autoplan.rules.beds.weep_empty import WeepEmpty
from autoplan.rules.beds.weep_lip import WeepLip
from autoplan.rules.joints.as_asked import AsAsked
from autoplan.rules.joints.bend_room import BendRoom
from autoplan.rules.joints.comes_apart import ComesApart
from autoplan.rules.joints.drinking_water import DrinkingWater
from autoplan.rules.joints.fish_safe import FishSafe
from autoplan.rules.joints.flexible_joint import FlexibleJoint
from autoplan.rules.joints.hose_clamps import HoseClamps
from autoplan.rules.joints.joint_fit import JointFit
from autoplan.rules.joints.riser_screw import RiserScrew
from autoplan.rules.joints.second_half import SecondHalf
from autoplan.rules.order.budget import Budget
from autoplan.rules.order.pipe_clips import PipeClips
from autoplan.rules.order.purchase_list import PurchaseList
from autoplan.rules.order.stock import Stock
from autoplan.rules.order.sundries import Sundries
from autoplan.rules.pressure.branch_valve import BranchValve
from autoplan.rules.pressure.check_valve import CheckValve
from autoplan.rules.pressure.feed_bore import FeedBore
from autoplan.rules.pressure.feed_handle import FeedHandle
from autoplan.rules.pressure.over_rim_fill import OverRimFill
from autoplan.rules.pressure.over_rim_start import OverRimStart
from autoplan.rules.pressure.pressure_rating import PressureRating
from autoplan.rules.pressure.pressure_velocity import PressureVelocity
from autoplan.rules.pressure.pump_duty import PumpDuty
from autoplan.rules.pressure.pump_spare import PumpSpare
from autoplan.rules.pressure.siphon_back import SiphonBack
from autoplan.rules.pressure.strainer import StrainerRule
from autoplan.rules.pressure.trunk_bore import TrunkBore
from autoplan.rules.pressure.valve_head import ValveHead
from autoplan.rules.walls.hole_place import HolePlace
from autoplan.rules.walls.hole_saw import HoleSaw
from autoplan.rules.walls.penetration_fit import PenetrationFit
from autoplan.rules.walls.rim_bracket import RimBracket
from autoplan.rules.walls.seal_stand import SealStand
from autoplan.rules.water.child_safe import ChildSafe
from autoplan.rules.water.collector import Collector
from autoplan.rules.water.drain_bore import DrainBore
from autoplan.rules.water.drain_down import DrainDownRule
from autoplan.rules.water.drain_fall import DrainFall
from autoplan.rules.water.drain_rigid import DrainRigid
from autoplan.rules.water.drain_surge import DrainSurge
from autoplan.rules.water.drain_turns import DrainTurns
from autoplan.rules.water.drain_velocity import DrainVelocity
from autoplan.rules.water.drain_vent import DrainVent
from autoplan.rules.water.drowned_mouth import DrownedMouth
from autoplan.rules.water.emergency_overflow import EmergencyOverflow
from autoplan.rules.water.flow_balance import FlowBalance
from autoplan.rules.water.flushing_point import FlushingPoint
from autoplan.rules.water.half_blocked import HalfBlocked
from autoplan.rules.water.level_range import LevelRange
from autoplan.rules.water.overload import OverloadRule
from autoplan.rules.water.rain_room import RainRoom
from autoplan.rules.water.route import Route
from autoplan.rules.water.screens import Screens
from autoplan.rules.water.settler_inlet import SettlerInlet
from autoplan.rules.water.share_hole import ShareHole
from autoplan.rules.water.share_trim import ShareTrim
from autoplan.rules.water.shared_drain import SharedDrain
from autoplan.rules.water.sump_high import SumpHigh
from autoplan.rules.water.sump_low import SumpLow
from autoplan.rules.water.sump_rim import SumpRim
from autoplan.rules.water.surge import Surge
from autoplan.rules.water.turnover import Turnover
from autoplan.rules.water.waste_drain import WasteDrain
from autoplan.units import read

ALL: tuple[type[Rule], ...] = (
    Turnover,
    FlowBalance,
    ShareTrim,
    ShareHole,
    AsAsked,
    Route,
    DrainFall,
    OverloadRule,
    Surge,
    EmergencyOverflow,
    HalfBlocked,
    LevelRange,
    DrainBore,
    DrainRigid,
    DrainTurns,
    DrainVelocity,
    DrainVent,
    DrainSurge,
    SettlerInlet,
    Collector,
    SharedDrain,
    SiphonStart,
    CrestStart,
    FullBedStart,
    SiphonBreak,
    FreeOutlet,
    DrownedMouth,
    FloodRate,
    CrestFit,
    BellFit,
    BellMade,
    AirTube,
    FlangeFit,
    GuardRim,
    SiphonTight,
    TimerFill,
    TimerDrain,
    DrainHole,
    TimerShut,
    WeepLip,
    WeepEmpty,
    FlushingPoint,
    DrainDownRule,
    StrainerRule,
    Screens,
    WasteDrain,
    PumpDuty,
    PumpSpare,
    FeedBore,
    TrunkBore,
    PressureVelocity,
    PressureRating,
    BendRoom,
    BranchValve,
    ValveHead,
    ChildSafe,
    FeedHandle,
    SiphonBack,
    CheckValve,
    OverRimStart,
    OverRimFill,
    SumpLow,
    SumpHigh,
    RainRoom,
    SumpRim,
    SpareBed,
    AirSupply,
    AirBack,
    PenetrationFit,
    HolePlace,
    HoleSaw,
    SealStand,
    RimBracket,
    JointFit,
    ComesApart,
    SecondHalf,
    FlexibleJoint,
    FishSafe,
    DrinkingWater,
    HoseClamps,
    RiserScrew,
    Sundries,
    PipeClips,
    PurchaseList,
    Stock,
    Budget,
)
"""Every rule there is, in the order in which a builder would read them."""


KINDS = {kind.id: kind for kind in ALL}
"""Every rule by its id."""

ROLES = {kind.role: kind.id for kind in ALL if kind.role is not None}
"""By what a rule is in a plan its id."""

_GIVEN = {setting.gives: (kind.id, setting.key) for kind in ALL for setting in kind.settings}


def _given(settings: Mapping[str, Mapping[str, float]], what: Given) -> float:
    rule_id, key = _GIVEN[what]
    return settings[rule_id][key]


@dataclass(frozen=True, slots=True)
class RuleBook:
    """The rules in force.

    Attributes:
        rules: in the order of `ALL`.
        off: ids switched off.
        assumptions: every setting that the problem left at its default.
        settings: every rule's settings in SI, also of those switched off: a number like the width of a saw
            cut is still needed where its rule is not asked for.
        weighing: the rules by whose declarations ways to build are weighed: those that the problem leaves on,
            also where some are left aside to see what comes of it. What loses by all loses by some.
    """

    rules: tuple[Rule, ...]
    off: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    settings: Mapping[str, Mapping[str, float]]
    weighing: tuple[Rule, ...]
    _answering: dict[tuple[type, ...], tuple[Rule, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def given(self, what: Given) -> float:
        """A number that some rule's setting gives, in SI."""
        return _given(self.settings, what)

    @staticmethod
    def place(what: Given) -> str:
        """Where under `[rules]` it is set."""
        return ".".join(_GIVEN[what])

    def has(self, role: Concern) -> bool:
        """Whether the rule of a role is in force."""
        return ROLES[role] not in self.off

    def answering(self, *kinds: type) -> tuple[Rule, ...]:
        """The rules that answer any of these kinds of questions (`rules.asked`), in their order.

        The others admit everything, and a draft puts its questions thousands of times.
        """
        if kinds not in self._answering:
            self._answering[kinds] = tuple(
                rule for rule in self.rules if any(kind in rule.answered for kind in kinds)
            )
        return self._answering[kinds]

    def deciding(self, *kinds: type) -> tuple[str, ...]:
        """Their ids."""
        return tuple(rule.id for rule in self.answering(*kinds))

    def refusing(self, *asked: object) -> tuple[str, ...]:
        """Ids of the rules that refuse any of some things."""
        return tuple(self._refusals(asked))

    def first_refusing(self, *asked: object) -> str | None:
        """Id of the first of them; the rest are not asked."""
        return next(self._refusals(asked), None)

    def _refusals(self, asked: Sequence[object]) -> Iterator[str]:
        kinds = tuple(dict.fromkeys(map(type, asked)))
        for rule in self.answering(*kinds):
            for one in asked:
                # As `Rule.admits`, but for the call: a draft asks many thousands of times.
                answer = rule.answered.get(type(one))
                if answer is not None and not answer(rule, one):
                    yield rule.id
                    break

    def asks_of_end(self, site: Site, run: Run, side: str) -> Need:
        """The least that all rules allow of a joint at a run's "start" or "finish"."""
        return next(
            need for need in sorted(Need) if self.first_refusing(Joined(site, run, side, need)) is None
        )

    def asks_at(self, site: Site, run: Run, junction: str) -> Need:
        """The same of a joint where a run meets others."""
        return self.asks_of_end(site, run, "start" if run.start == junction else "finish")

    def without(self, *ids: str) -> RuleBook:
        """The same book with some rules switched off."""
        kept = tuple(rule for rule in self.rules if rule.id not in ids)
        return RuleBook(kept, (*self.off, *ids), self.assumptions, self.settings, self.weighing)


def read_rules(site: Site) -> RuleBook:
    """The rule book of a problem.

    Raises:
        InputError: unknown rules or keys under `[rules]`, values that cannot be read; all at once.
    """
    known = list(KINDS)
    mistakes = [
        _unknown(site, f"rules.{rule_id}", rule_id, known, "rule")
        for rule_id in site.rule_settings
        if rule_id not in known
    ]
    kinds: list[type[Rule]] = []
    off: list[str] = []
    assumed: list[Assumption] = []
    settings: dict[str, Mapping[str, float]] = {}
    for kind in ALL:
        given = site.rule_settings.get(kind.id, {})
        values = _values(site, kind, given, mistakes, assumed if kind.concerns(site) else [])
        settings[kind.id] = values
        if _switched_off(site, kind.id, given, mistakes):
            off.append(kind.id)
        else:
            kinds.append(kind)
    if mistakes:
        raise InputError(mistakes)
    borrowed = [{key: _given(settings, what) for key, what in kind.borrows.items()} for kind in kinds]
    rules = tuple(kind({**settings[kind.id], **more}) for kind, more in zip(kinds, borrowed, strict=True))
    return RuleBook(rules, tuple(off), tuple(assumed), settings, rules)


def _values(
    site: Site,
    kind: type[Rule],
    given: Mapping[str, object],
    mistakes: list[Mistake],
    assumed: list[Assumption],
) -> dict[str, float]:
    keys = ["off", *(setting.key for setting in kind.settings)]
    mistakes.extend(
        _unknown(site, f"rules.{kind.id}.{key}", key, keys, "setting") for key in given if key not in keys
    )
    values: dict[str, float] = {}
    for setting in kind.settings:
        place = f"rules.{kind.id}.{setting.key}"
        if setting.key not in given:
            assumed.append(Assumption(place, setting.default, setting.mark, setting.why))
        values[setting.key] = _read(site, place, setting, given, mistakes)
    return values


def _read(
    site: Site, place: str, setting: Setting, given: Mapping[str, object], mistakes: list[Mistake]
) -> float:
    try:
        value = read(given.get(setting.key, setting.default), setting.dimension)
    except QuantityError as error:
        mistakes.append(Mistake(site.file, place, error.problem, error.remedy))
        return read(setting.default, setting.dimension)
    wrong = setting.wrong(value)
    if wrong:
        text = given[setting.key]
        mistakes.append(Mistake(site.file, place, f"{text!r} {wrong}", f"write e.g. {setting.default!r}"))
    return value


def _switched_off(site: Site, rule_id: str, given: Mapping[str, object], mistakes: list[Mistake]) -> bool:
    value = given.get("off", False)
    if not isinstance(value, bool):
        mistakes.append(
            Mistake(
                site.file, f"rules.{rule_id}.off", f"{value!r} is neither true nor false", "write off = true"
            )
        )
        return False
    return value


def _unknown(site: Site, place: str, word: str, known: list[str], what: str) -> Mistake:
    close = difflib.get_close_matches(word, known, n=1)
    remedy = f"did you mean {close[0]!r}?" if close else f"known are {', '.join(known)}"
    return Mistake(site.file, place, f"no {what} is called {word!r}", remedy.rstrip("?") if close else remedy)
