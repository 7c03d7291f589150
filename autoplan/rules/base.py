"""What a rule is, and what it may ask of the model it is written into.

A rule has two halves that never call each other: the first speaks to the optimiser (which options are
admitted, which inequalities hold between integers rounded against the designer), the second judges a
finished drawing on real numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, ClassVar, Protocol, TypeVar

from autoplan.catalog.parts import Catalog, Pump, SundryKind
from autoplan.outcome import Finding
from autoplan.places import Where
from autoplan.problem.site import Run, Site
from autoplan.rules.heights import AtLeast
from autoplan.rules.linear import Linear, Var
from autoplan.rules.quantities import Better, Quantity, Read, Value
from autoplan.rules.survey import Survey
from autoplan.sentence import Text
from autoplan.units import Dimension


class Concern(Enum):
    """What a rule is in a plan, by which others speak of it without knowing its name."""

    ORDER = "what is ordered"
    SUNDRIES = "what joints take"
    BUDGET = "what may be spent"
    STOCK = "what is to be had"
    JOINTS = "what joins what"
    LEVELS = "where water may stand"
    LIFT = "what pumps lift"
    COVER = "what covers pumps"
    FALL = "what drains fall"
    ROUTE = "how lines go from height to height"
    RISERS = "what holds risers"
    SECOND_HALF = "what lies ready for another pump"


class Given(Enum):
    """A number that a rule's setting gives to whoever draws or counts, also where the rule is off."""

    SAW_CUT = "width of a saw cut"
    WASTE = "length bought over what is cut"
    EACH = "length left of each stick that is cut up"
    STRIP = "wall left beside a hole"
    OVERFLOW_GAP = "overflow over the overload level"
    CUT_OUT = "top of a bell's cut-outs"
    AIR_MOUTH = "mouth of the air tube of a siphon pipe outside a bed"
    CREST = "Froude number from which such a pipe fills at its crest"
    CREST_MARGIN = "inflow kept over what fills such a pipe"
    PRIMING = "Froude number from which a standpipe fills"
    FLARED = "share of that with a flared top"
    PRIMING_MARGIN = "inflow kept over that"
    LEAST_STANDPIPE = "least bore of a siphon's standpipe"
    FREEBOARD = "dry wall at overload"
    AIR_GAP = "air under an inlet"
    FREE_OUTLET = "air under a drain's mouth"
    MOUTH_DEPTH = "lowest water over a drain's mouth that hangs in it"
    MOUTH_OFF_FLOOR = "from the floor to that mouth"
    AIR_HOLE_DEPTH = "water over a siphon-break hole"
    AIR_HOLE = "least siphon-break hole"
    AIR_HOLE_SHARE = "the same as a share of the bore"
    AIR_HOLE_COVER = "from that hole to the mouth"
    LIFT_MARGIN = "head kept over what is required"
    GROWN = "roughness of pipe from pumps after a year"
    STANDS_UNDER = "wall that carries a pipe by itself"
    SHARE_OFF = "how far off a share may be"
    TRIM = "how much lower a hole with a trim is drilled"
    WELL_UNDER = "from a settler's inlet down to the foot of its stilling well"
    TILT = "fall of a pipe that is neither level nor upright"


class Mend(Enum):
    """What may mend a design that a rule forbids, besides giving way on it."""

    HEIGHTS = "vessels that stand higher or lower"
    SUMP = "a larger sump"
    FLOW = "less water"
    INFLOW = "more water to beds"


class Shared(Enum):
    """Which of a rule's rows have a reserve that is shared out among them all where levels are settled."""

    NONE = "none"
    RIMS = "those of rims"
    ROOM = "a few millimetres of what there is"
    ALL = "all"


MOST_OF = {Dimension.LENGTH: 10.0, Dimension.NUMBER: 1000.0}
"""Beyond these a setting is a slip of the pen [SI]: ten metres, a thousandfold."""


@dataclass(frozen=True, slots=True)
class Setting:
    """A number of a rule that the problem file may change under `[rules.ID]`.

    Attributes:
        key: its name there.
        dimension: what it measures.
        default: as it would be written there.
        mark: where the default comes from.
        why: half a sentence on what it is.
        gives: what it is to others.
        above: whether it is to be more than 0.
        most: the most that it may be, in SI; None for `MOST_OF` its dimension.
    """

    key: str
    dimension: Dimension
    default: str
    mark: str
    why: str
    gives: Given | None = None
    above: bool = False
    most: float | None = None

    def wrong(self, value: float) -> str:
        """What is wrong with a value [SI], in words; empty where nothing is."""
        if value < 0:
            return "is below zero"
        if self.above and value == 0:
            return "is too small"
        most = MOST_OF.get(self.dimension, math.inf) if self.most is None else self.most
        return "is too large" if value > most else ""


@dataclass(frozen=True, slots=True)
class PumpChoice:
    """One way to fill a pumped vessel's need: a pump, throttled or slowed.

    Attributes:
        pump: the part.
        mode: "throttled" or "slowed".
        speed: share of full speed [-].
        head_m: head at the design flow [m].
        shut_off_m: head against a closed valve [m].
        watts: electric power [W].
    """

    pump: Pump
    mode: str
    speed: float
    head_m: float
    shut_off_m: float
    watts: float


@dataclass(frozen=True, slots=True)
class OverloadCase:
    """One overload to survive: flows grow by `factor`; only where `when` is chosen, or always if None."""

    factor: float
    when: Var | None


class LiesReady(Protocol):
    """What may lie ready at a pump for one with another outlet; exactly one choice is made."""

    @property
    def none(self) -> Var:
        """That nothing does."""

    def gives(self) -> Sequence[tuple[Var, float]]:
        """Each other choice with the head that the strongest such pump has at the design flow [m]."""


class ModelView(Protocol):
    """The model as a rule sees it: named queries and one way to require something.

    Heights and losses are in tenths of a millimetre, money in cents. Losses are rounded up, heads down.
    """

    @property
    def site(self) -> Site:
        """The problem."""

    @property
    def catalog(self) -> Catalog:
        """The price list."""

    def pressure_paths(self) -> Sequence[tuple[str, ...]]:
        """Every way under pressure from a pump to a vessel, as run names."""

    def level(self, vessel: str) -> Linear:
        """Design water level above the datum."""

    def open_paths(self) -> Sequence[tuple[str, ...]]:
        """Every way by gravity from a vessel to where water is open to the air, as run names.

        That is the next vessel, and on the way each junction where a vent or a resting bed lets air in.
        """

    def open_pieces(self) -> Sequence[tuple[str, ...]]:
        """Every way by gravity from one place where water is open to the air to the next."""

    def against(
        self, path: Sequence[str], flows: Mapping[str, float], *, overloaded: bool = False
    ) -> Sequence[Linear]:
        """What one of `open_paths` runs against at its end, at flows by run [m3/s]; the highest counts.

        At a junction: crown and velocity head of the pipe that leaves it, and what its tee takes.
        """

    def head_in_air(self, drain: str, flows: Mapping[str, float]) -> Linear:
        """Crown of a drain that leaves a junction which is open to the air, with its velocity head."""

    def receiving_levels(self, path: Sequence[str], *, overloaded: bool = False) -> Sequence[Linear]:
        """What a path by gravity runs against at its end; the highest counts.

        The level of the vessel it falls to, and the crown of its end where that is drilled high in a sump.
        """

    def overload_level(self, vessel: str) -> Linear:
        """Water level allowed for at overload, above the datum."""

    def overloads(self) -> Sequence[OverloadCase]:
        """Every overload that the design must survive."""

    def each(self, quantity: Quantity[Value], run: str) -> Sequence[tuple[Var, Value]]:
        """Of every way to build a run's class a quantity of the run; exactly one way is chosen."""

    def pumps(self, vessel: str) -> Sequence[tuple[Var, PumpChoice]]:
        """The pumps for a pumped vessel; exactly one is chosen."""

    def path_loss(self, path: Sequence[str], factor: float, *, grown: bool = False) -> Linear:
        """Loss along runs and what lies between them at `factor` x design flow.

        With `grown` their pipe is at least as rough as it is after a year (`Given.GROWN`).
        """

    def loss_at(self, path: Sequence[str], flows: Mapping[str, float]) -> Linear:
        """Loss along runs and what lies between them at the given flows by run [m3/s]."""

    def one_of(self, *names: str) -> Sequence[Var]:
        """New choices of which exactly one is made."""

    def run_loss(self, run: str, *, grown: bool = False) -> Linear:
        """Loss along one run at design flow, without what happens at its ends."""

    def drain_loss(self, path: Sequence[str]) -> Linear:
        """Loss along gravity runs and what lies between them at their peak flow."""

    def inlet_rise(self, run: str, factor: float) -> Linear:
        """How much higher a gravity run's inlet holds its vessel at `factor` x design flow than at design."""

    def spares(self) -> Mapping[str, LiesReady]:
        """By pumped vessel what may lie ready for a pump with another outlet, where that is wished for."""

    def joints(self) -> Mapping[str, Sequence[Sequence[tuple[Var, float]]]]:
        """By pumped vessel and junction, groups of choices with their least rating [m of water].

        Of each group one choice is made: the tee, the adaptors to each run.
        """

    def uses(self) -> Mapping[str, Linear]:
        """Pieces of each part that the choices use, by part id."""

    def may_run_short(self, part: str) -> bool:
        """Whether some answer might want more of a part than a shop says that it has."""

    @property
    def reserve(self) -> int:
        """What is kept over every limit of `rules.margin` besides, where designs are ranked by margin."""

    def spending(self) -> Linear:
        """Purchase and freight."""

    def at_least(self, rule: str, left: Linear, right: Linear | int, when: Var | None = None) -> None:
        """Require left >= right, where `when` is chosen or always."""


Own = TypeVar("Own")
Asked = TypeVar("Asked")


def answers(kind: type[Asked]) -> Callable[[Callable[[Own, Asked], bool]], Callable[[Own, Asked], bool]]:
    """Marks a method of a rule that says whether it allows what is asked, a class of `rules.asked`."""

    def marked(answer: Callable[[Own, Asked], bool]) -> Callable[[Own, Asked], bool]:
        answer.asked = kind  # type: ignore[attr-defined]
        return answer

    return marked


@dataclass(frozen=True, slots=True)
class Rule:
    """The common half of every rule; a rule overrides what it needs.

    Attributes:
        values: its settings in SI, by key, and those of other rules that it borrows.
        answered: its methods that answer a question, by what is asked.
        reads: what `encode` reads of how runs are built.
        borrows: what other rules give and it needs, by the key among its own values.
        id, sentence, source, unit: name, one sentence, mark of the limit, unit of its findings.
        hard: whether a design that breaks it is refused.
        negotiable: whether a builder could give way on it.
        wished: the key below `[wishes]` by which a builder asks for it and may do without it; "" of a rule
            that no wish stands for.
        by_overflow: whether emergency overflows are another way to what is wished; of no other rule may a
            row be lost where one is taken out.
        local: whether a finding hangs on nothing but how the run at its place is built; its place is the run,
            an end of it, or the bed that the run drains.
        as_sold: whether it judges what parts are sold as, so that to meet its limit is no near miss.
        counts: sundries that are counted and ordered for it, by rows of the orders and not by `encode`.
        of_money: whether its rows speak of all that is bought together.
        of_taste: whether a builder may give way on it and still have a system that works.
        of_one_vessel: whether it has rows that speak of how one vessel alone is built, and move with it.
        of_outlets: whether its rows hold what a drain's water stands at under heights of where it starts.
        less_telling: whether it asks for what another rule asks for anyway, and more: that one is named.
        role: what it is in the plan.
        mended_by: what may mend a design that it forbids.
        so_that: what its rows on levels are for, where a level that they ask for does not say so.
        hint: what else a builder may do about it, after "change ...".
        spares: whether its margins are heights of water that choices can widen.
        shares: which of its rows share out their reserve.
    """

    values: Mapping[str, float]
    id: ClassVar[str]
    sentence: ClassVar[str]
    source: ClassVar[Text] = "common practice, no source"
    unit: ClassVar[str] = ""
    hard: ClassVar[bool] = True
    negotiable: ClassVar[bool] = False
    counts: ClassVar[frozenset[SundryKind]] = frozenset()
    of_money: ClassVar[bool] = False
    of_taste: ClassVar[bool] = False
    of_one_vessel: ClassVar[bool] = False
    of_outlets: ClassVar[bool] = False
    less_telling: ClassVar[bool] = False
    role: ClassVar[Concern | None] = None
    mended_by: ClassVar[frozenset[Mend]] = frozenset()
    so_that: ClassVar[str] = ""
    hint: ClassVar[str] = ""
    spares: ClassVar[bool] = False
    shares: ClassVar[Shared] = Shared.NONE
    wished: ClassVar[str] = ""
    by_overflow: ClassVar[bool] = False
    local: ClassVar[bool] = False
    as_sold: ClassVar[bool] = False
    settings: ClassVar[tuple[Setting, ...]] = ()
    borrows: ClassVar[Mapping[str, Given]] = {}
    reads: ClassVar[tuple[Read, ...]] = ()
    answered: ClassVar[Mapping[type, Callable[[Any, Any], bool]]] = {}

    @classmethod
    def concerns(cls, site: Site) -> bool:  # noqa: ARG003
        """Whether the rule has anything to say of a site; if not, its settings are no assumptions."""
        return True

    def __init_subclass__(cls) -> None:
        marked = {getattr(method, "asked", None): method for method in vars(cls).values()}
        cls.answered = {
            **cls.answered,
            **{kind: answer for kind, answer in marked.items() if kind is not None},
        }

    def admits(self, asked: object) -> bool:
        """Whether the rule allows what is asked of it (`rules.asked`); what it has no answer to it allows."""
        answer = self.answered.get(type(asked))
        return answer is None or answer(self, asked)

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:  # noqa: ARG002
        """What the rule asks of levels, whatever is built."""
        yield from ()

    def pumps_at_once(self, site: Site, vessel: str, pumps: Sequence[Pump]) -> Iterator[AtLeast]:  # noqa: ARG002
        """What it asks of a pumped vessel's level, with whichever of these pumps asks least."""
        yield from ()

    def told_at_once(self, site: Site) -> Iterator[Text]:  # noqa: ARG002
        """What it asks for in a builder's figures, where the heights that it asks for do not say it."""
        yield from ()

    def declares(self, site: Site, run: Run) -> Iterator[tuple[Quantity[Any], Better]]:
        """What `encode` reads of how a run is built, and of what less, or more, is never worse to it."""
        yield from ((read.quantity, read.better) for read in self.reads if read.on(site, run))

    def told_without(self, survey: Survey) -> Iterator[Text]:  # noqa: ARG002
        """What a builder must know of a design that is made without the rule."""
        yield from ()

    def wish(self, site: Site) -> str:  # noqa: ARG002
        """What is wished for, in a few words, where the rule stands for a wish."""
        return self.wished

    def unjudged(self, survey: Survey) -> Iterator[Text]:  # noqa: ARG002
        """What it cannot judge of a design since the price list does not say it, a sentence each."""
        yield from ()

    def encode(self, draft: ModelView) -> None:
        """Write the rule into the model, rounded against the designer."""

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Judge a finished design on real numbers, a finding per place."""
        raise NotImplementedError

    def at_most(
        self, place: Where, value: float, limit: float, tolerance: float = 1e-9, unit: str = ""
    ) -> Finding:
        """A finding that holds when value <= limit, both in SI; the tolerance is in the finding's unit."""
        return self._finding(place, value, limit, -1, tolerance, unit or self.unit)

    def not_under(
        self, place: Where, value: float, limit: float, tolerance: float = 1e-9, unit: str = ""
    ) -> Finding:
        """A finding that holds when value >= limit, both in SI; the tolerance is in the finding's unit."""
        return self._finding(place, value, limit, 1, tolerance, unit or self.unit)

    def _finding(
        self, place: Where, value: float, limit: float, way: int, tolerance: float, unit: str
    ) -> Finding:
        value, limit = (number * PER_SI.get(unit, 1.0) for number in (value, limit))
        margin = way * (value - limit)
        return Finding(
            rule=self.id,
            sentence=self.sentence,
            place=place,
            value=value,
            limit=limit,
            margin=margin,
            unit=unit,
            ok=margin >= -tolerance,
            hard=self.hard,
            source=self.source,
            as_sold=self.as_sold,
        )


PER_SI = {"mm": 1000.0, "L": 1000.0, "L/h": 3_600_000.0, "1/h": 3600.0, "min": 1 / 60}
"""How many of a finding's unit are one in SI; 1 of the others."""

FAR = 300_000
"""More than any two heights on a site differ [0.1 mm]: frees options that a requirement does not concern."""
