"""Water standing in basins and running between them, walked through time.

Step by step (`stepping`), each as long as the error allows. Whatever happens at a level (a siphon primes,
water reaches a rim) ends a step exactly there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

from autoplan.hydraulics import cubic
from autoplan.hydraulics.elimination import pattern_of
from autoplan.hydraulics.manifold import Manifold, Way
from autoplan.hydraulics.passage import SHORTAGE_M, Drain, Passage, Pumped, Rim, SiphonFlow
from autoplan.hydraulics.stepping import Step, Stepper

TOLERANCE_M = 5e-5
"""Error that a step may make in any level [m]."""

LANDED_M = 1e-9
"""How far past its level an event is let happen at most [m]."""

FIRST_STEP_S = 1.0
SHORTEST_STEP_S = 1e-6
MOST_STEPS = 100_000

COARSER_AFTER = 4_000
"""Steps after which levels may err ten times as much, where water trembles for hours; none is lost."""

LONGER, SHORTER = 5.0, 0.2
"""By how much a step may be longer, or shorter, than the one before it [-]."""

NEAREST = 1e-3
"""Share of a step that erred too much within which a kink is too near to be its only fault [-]."""

SEEN_M = 1e-4
"""How far beyond the levels before and after a step one in between may be told to have been [m]."""

PAST_M = 1e-6
"""How far past the level of a kink a step is meant to end where one across it errs too much [m]."""


@dataclass(frozen=True, slots=True)
class Basin:
    """A vessel with upright walls.

    Attributes:
        name: unique among the basins.
        area_m2: area inside the walls, more than 0 [m2].
        floor_m, rim_m: above the datum [m]; the rim over the floor.
        water_share: share of the volume that is water, the rest being gravel; more than 0 and up to 1 [-].

    Raises:
        ValueError: a dimension out of its range.
    """

    name: str
    area_m2: float
    floor_m: float
    rim_m: float
    water_share: float = 1.0

    def __post_init__(self) -> None:
        if not self.area_m2 > 0.0:
            raise ValueError(f"{self.name}: area must be positive, not {self.area_m2:g} m2")
        if not self.rim_m > self.floor_m:
            raise ValueError(f"{self.name}: the rim must be over the floor")
        if not 0.0 < self.water_share <= 1.0:
            raise ValueError(f"{self.name}: share of water must be over 0 and up to 1")

    @property
    def wet_m2(self) -> float:
        """Water per metre of depth [m2]."""
        return self.area_m2 * self.water_share

    def level(self, volume_m3: float) -> float:
        """Level [m] of so much water [m3]."""
        return self.floor_m + volume_m3 / self.wet_m2

    def volume(self, level_m: float) -> float:
        """Water [m3] up to a level [m]."""
        return (level_m - self.floor_m) * self.wet_m2


@dataclass(frozen=True, slots=True)
class Channel:
    """A way for water from one basin to another; None stands for outside."""

    name: str
    source: str | None
    target: str | None
    passage: Passage | SiphonFlow


@dataclass(frozen=True, slots=True)
class Watch:
    """A level of a basin whose first crossing, upwards or downwards, is to be timed."""

    basin: str
    level_m: float
    rising: bool


@dataclass(frozen=True, slots=True)
class Switch:
    """A siphon that primed or broke: when [s], which link, and whether it runs from then on."""

    seconds: float
    link: str
    running: bool


@dataclass(frozen=True, slots=True)
class Waters:
    """Where the water is: volume by basin [m3], and the links whose siphons run."""

    volumes_m3: Mapping[str, float]
    running: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class History:
    """What happened over a time.

    Attributes:
        seconds: how long it was [s].
        waters: how it ended.
        moved_m3: by link, what passed [m3].
        spilled_m3: by basin, what ran over its rim and is lost [m3].
        highest_m, lowest_m: by basin, extreme levels [m].
        crossed_s: when each watch was first met [s]; those never met are missing.
        switches: of siphons, in order.
    """

    seconds: float
    waters: Waters
    moved_m3: Mapping[str, float]
    spilled_m3: Mapping[str, float]
    highest_m: Mapping[str, float]
    lowest_m: Mapping[str, float]
    crossed_s: Mapping[Watch, float]
    switches: tuple[Switch, ...]


def walk(
    basins: Sequence[Basin],
    links: Sequence[Channel],
    start: Waters,
    seconds: float,
    watches: Sequence[Watch] = (),
    tolerance_m: float = TOLERANCE_M,
) -> History:
    """Let the water run for a time.

    Every basin spills over its rim when it is full to it.

    Args:
        basins: what stands where; names unique.
        links: how the water passes between them; names unique.
        start: where the water is at first, a volume for every basin [m3].
        seconds: how long, 0 or more [s].
        watches: levels whose first crossing is to be timed; one that starts beyond its level counts at once.
        tolerance_m: error that a step may make in any level [m].

    Returns:
        What happened.

    Raises:
        ValueError: negative time.
        ArithmeticError: a walk that does not come to its end, which no sound basins do.
    """
    if not seconds >= 0.0:
        raise ValueError(f"time must be 0 or more, not {seconds:g} s")
    return Walk(basins, links, start, watches, tolerance_m).run(seconds)


@dataclass(slots=True)
class _Trigger:
    """A level at which something happens to a basin: sign +1 when rising past it, -1 when falling."""

    basin: int
    level_m: float
    sign: int
    link: int | None
    watch: Watch | None

    def past(self, levels: Sequence[float]) -> float:
        """How far beyond its level the basin is [m]."""
        return self.sign * (levels[self.basin] - self.level_m)


Turn: TypeAlias = tuple[float, float]
"""When in a step a level turned [s], and where [m]."""


class Walk:
    """The water on its way.

    Attributes:
        volumes, levels, rates, gains: of the water at the moment, as for `stepping.Step`.
        running: links whose siphons run. brimming: basins whose water has reached the rim.
    """

    def __init__(
        self,
        basins: Sequence[Basin],
        links: Sequence[Channel],
        start: Waters,
        watches: Sequence[Watch],
        tolerance_m: float,
    ) -> None:
        place: dict[str | None, int] = {basin.name: number for number, basin in enumerate(basins)}
        size = len(basins)
        self.basins = basins
        self.links = links
        self.tolerance_m = tolerance_m
        self.now = 0.0
        above = {**place, None: size}
        below = {**place, None: size + 1}
        self.ends = [(above[link.source], below[link.target]) for link in links]
        self.pattern = pattern_of(size, tuple(pair for pair in self.ends if max(pair) < size))
        self.volumes = [start.volumes_m3[basin.name] for basin in basins]
        self.running = {number for number, link in enumerate(links) if link.name in start.running}
        self.brimming: set[int] = set()
        self.waiting = [
            _Trigger(place[watch.basin], watch.level_m, 1 if watch.rising else -1, None, watch)
            for watch in watches
        ]
        self.crossed: dict[Watch, float] = {}
        self.switches: list[Switch] = []
        self.moved = [0.0] * (len(links) + size)
        self.kinks = self._kinks()
        self._open()
        self.levels = self.stepper.levels(self.volumes)
        self.highest, self.lowest = self.levels[:size], self.levels[:size]

    # --- the ways of the water as siphons and rims are ----------------------------------------------------

    def _open(self) -> None:
        """Set out the ways that there are with these siphons running and these basins brimming."""
        ways: list[Way] = []
        numbers: list[int] = []
        for number, (link, (above, below)) in enumerate(zip(self.links, self.ends, strict=True)):
            passage = link.passage
            if isinstance(passage, SiphonFlow):
                passage = passage.primed if number in self.running else passage.trickle
            if isinstance(passage, Drain) and passage.open_share <= 0.0:
                continue
            ways.append((passage, above, below))
            numbers.append(number)
        for at in sorted(self.brimming):
            # Until water has reached a rim nothing spills there, however a step is worked out.
            basin = self.basins[at]
            ways.append((Rim(basin.area_m2, basin.rim_m), at, len(self.basins) + 1))
            numbers.append(len(self.links) + at)
        floors, wet = [one.floor_m for one in self.basins], [one.wet_m2 for one in self.basins]
        manifold = Manifold(ways, len(self.basins))
        self.numbers = [numbers[place] for place in manifold.order]
        self.stepper = Stepper(floors, wet, manifold, self.pattern)
        self._wait()

    def _wait(self) -> None:
        """Set out the levels at which something happens next: all, and by basin the nearest either way."""
        self.triggers = [*self.waiting, *self._siphons(), *self._rims()]
        self.ceilings = [inf] * len(self.basins)
        self.grounds = [-inf] * len(self.basins)
        for trigger in self.triggers:
            at = trigger.basin
            if trigger.sign > 0:
                self.ceilings[at] = min(self.ceilings[at], trigger.level_m)
            else:
                self.grounds[at] = max(self.grounds[at], trigger.level_m)

    def _siphons(self) -> list[_Trigger]:
        """What each siphon waits for."""
        found = []
        for number, link in enumerate(self.links):
            if isinstance(link.passage, SiphonFlow):
                runs = number in self.running
                level = link.passage.stop_m if runs else link.passage.start_m
                found.append(_Trigger(self.ends[number][0], level, -1 if runs else 1, number, None))
        return found

    def _rims(self) -> list[_Trigger]:
        """Rims that no water has reached."""
        return [
            _Trigger(number, basin.rim_m, 1, None, None)
            for number, basin in enumerate(self.basins)
            if number not in self.brimming
        ]

    def _kinks(self) -> list[tuple[int, float]]:
        """Basins and their levels where a pump begins or ends to fade, by no step to be crossed at ease."""
        found = {
            (at, level)
            for link, (at, _) in zip(self.links, self.ends, strict=True)
            if isinstance(link.passage, Pumped)
            for level in (link.passage.cover_m, link.passage.cover_m - SHORTAGE_M)
        }
        return sorted(found)

    # --- the whole walk ----------------------------------------------------------------------------------

    def run(self, seconds: float) -> History:
        """Let the water run for so long [s]."""
        self._settle()
        self._ask()
        length = seconds if self._rests(seconds) else FIRST_STEP_S
        for number in range(MOST_STEPS):
            if number and number % COARSER_AFTER == 0:
                self.tolerance_m *= 10.0
            left = seconds - self.now
            if left <= SHORTEST_STEP_S:
                break
            step = self._step(min(length, left))
            if step.error_m > self.tolerance_m and step.seconds > SHORTEST_STEP_S:
                shorter = self._to_kink(step) or step.seconds * self._growth(step, SHORTER, 0.9)
                length = max(SHORTEST_STEP_S, shorter)
                continue
            turns = self._turns(step)
            if turns and step.seconds > SHORTEST_STEP_S and self._unsure(step, turns):
                length = max(SHORTEST_STEP_S, step.seconds * SHORTER)
                continue
            step = self._landing(step, turns)
            length = max(
                length if step.seconds >= left else 0.0, step.seconds * self._growth(step, SHORTER, LONGER)
            )
            if self._take(step):
                length = min(length, FIRST_STEP_S)
            if self._rests(seconds - self.now):
                length = seconds
        else:
            raise ArithmeticError(f"the water did not come to rest in {MOST_STEPS} steps")
        return self._history()

    def _ask(self) -> None:
        """Work out how the water runs at the moment."""
        self.rates, self.gains = self.stepper.manifold.rates(self.levels)

    def _rests(self, left: float) -> bool:
        """Whether the water moves so little that one step may do for all the time left [s]."""
        slopes = zip(self.gains, self.stepper.per_m2, strict=True)
        return all(abs(gain) * each * left <= self.tolerance_m for gain, each in slopes)

    def _step(self, seconds: float) -> Step:
        return self.stepper.step(seconds, self.volumes, self.rates, self.gains)

    def _growth(self, step: Step, least: float, most: float) -> float:
        """By how much the next step may be longer than this one."""
        if step.error_m == 0.0:
            return most
        return float(min(most, max(least, 0.8 * (self.tolerance_m / step.error_m) ** (1.0 / 3.0))))

    def _to_kink(self, step: Step) -> float:
        """Time until the first kink inside a step that erred too much is passed [s]; 0 if there is none."""
        soonest = inf
        for at, level in self.kinks:
            way, slope = level - self.levels[at], self.gains[at] * self.stepper.per_m2[at]
            if way * slope > 0.0:
                soonest = min(soonest, way / slope + PAST_M / abs(slope))
        return soonest if NEAREST * step.seconds < soonest < step.seconds else 0.0

    def _take(self, step: Step) -> bool:
        """Let a step happen, and whatever it leads to; whether a siphon primed or broke."""
        for at, level in enumerate(step.levels[: len(self.basins)]):
            if level > self.highest[at]:
                self.highest[at] = level
            elif level < self.lowest[at]:
                self.lowest[at] = level
        for number, volume in zip(self.numbers, step.moved, strict=True):
            self.moved[number] += volume
        self.volumes, self.levels, self.rates, self.gains = step.volumes, step.levels, step.rates, step.gains
        self.now += step.seconds
        before = len(self.switches)
        if self._settle():
            self._ask()
        return len(self.switches) > before

    def _settle(self) -> bool:
        """Let everything happen whose level has been reached; whether the water then runs otherwise."""
        levels = self.levels
        fell = {at for at in self.brimming if levels[at] < self.basins[at].rim_m - LANDED_M}
        if not fell and not self._beyond(levels, -LANDED_M):
            return False
        met = [trigger for trigger in self.triggers if trigger.past(levels) >= -LANDED_M]
        for trigger in met:
            if trigger.watch is not None:
                self.waiting.remove(trigger)
                self.crossed[trigger.watch] = self.now
            elif trigger.link is not None:
                self.running ^= {trigger.link}
                running = trigger.link in self.running
                self.switches.append(Switch(self.now, self.links[trigger.link].name, running))
        rose = {trigger.basin for trigger in met if trigger.watch is None and trigger.link is None}
        self.brimming = (self.brimming | rose) - fell
        if fell or any(trigger.watch is None for trigger in met):
            self._open()
            return True
        self._wait()
        return False

    # --- landing on a level ------------------------------------------------------------------------------

    def _unsure(self, step: Step, turns: Mapping[int, Turn]) -> bool:
        """Whether a level turned so far beyond all that it was before and after that nobody saw it there."""
        return any(
            level > max(self.highest[at], step.levels[at]) + SEEN_M
            or level < min(self.lowest[at], step.levels[at]) - SEEN_M
            for at, (_, level) in turns.items()
        )

    def _landing(self, step: Step, turns: dict[int, Turn]) -> Step:
        """The step, or a shorter one to where the first trigger is met; levels that turned are noted."""
        if self._passes(step, turns):
            for trigger in self.triggers:
                at = trigger.basin
                if at in turns and trigger.sign * (turns[at][1] - trigger.level_m) > LANDED_M:
                    step = self._step(turns[at][0])
                    turns = self._turns(step)
                if trigger.past(step.levels) > LANDED_M:
                    step = self._land(step, trigger)
                    turns = self._turns(step)
        for at, (_, level) in turns.items():
            self.highest[at] = max(self.highest[at], level)
            self.lowest[at] = min(self.lowest[at], level)
        return step

    def _passes(self, step: Step, turns: Mapping[int, Turn]) -> bool:
        """Whether a step goes past any level at which something happens."""
        return self._beyond(step.levels, LANDED_M) or any(
            level > self.ceilings[at] + LANDED_M or level < self.grounds[at] - LANDED_M
            for at, (_, level) in turns.items()
        )

    def _beyond(self, levels: Sequence[float], margin_m: float) -> bool:
        """Whether any level is that far past one at which something happens, or less far before it."""
        for level, ground, ceiling in zip(levels, self.grounds, self.ceilings, strict=False):
            if level >= ceiling + margin_m or level <= ground - margin_m:
                return True
        return False

    def _land(self, step: Step, trigger: _Trigger) -> Step:
        """A shorter step that ends on one trigger or just past it, by Newton's method between brackets.

        It begins where a cubic with the step's two levels and slopes says that the level is met.
        """
        at, aim = trigger.basin, 0.5 * LANDED_M
        per_m2 = trigger.sign * self.stepper.per_m2[at]
        low, high = 0.0, step.seconds
        seconds = high * cubic.met(
            trigger.past(self.levels) - aim,
            trigger.past(step.levels) - aim,
            self.gains[at] * per_m2 * high,
            step.gains[at] * per_m2 * high,
        )
        for _ in range(60):
            if not low < seconds < high:
                seconds = 0.5 * (low + high)
            step = self._step(seconds)
            over = trigger.past(step.levels) - aim
            if abs(over) <= aim or high - low <= SHORTEST_STEP_S * 1e-3:
                break
            low, high = (low, seconds) if over > 0.0 else (seconds, high)
            slope = step.gains[at] * per_m2
            seconds = seconds - over / slope if slope > 0.0 else low
        return step

    def _turns(self, step: Step) -> dict[int, Turn]:
        """When and where in a step the levels of some basins turned, by their numbers.

        As a cubic with the step's levels and slopes has it.
        """
        found = {}
        for at, (was, now) in enumerate(zip(self.gains, step.gains, strict=True)):
            if was * now < 0.0:
                whole = step.seconds * self.stepper.per_m2[at]
                rise = step.levels[at] - self.levels[at]
                part, turned = cubic.turn(was * whole, now * whole, rise)
                found[at] = part * step.seconds, self.levels[at] + turned
        return found

    def _history(self) -> History:
        names = [basin.name for basin in self.basins]
        count = len(self.links)
        return History(
            seconds=self.now,
            waters=Waters(
                dict(zip(names, self.volumes, strict=True)),
                frozenset(self.links[number].name for number in self.running),
            ),
            moved_m3={link.name: self.moved[number] for number, link in enumerate(self.links)},
            spilled_m3=dict(zip(names, self.moved[count:], strict=True)),
            highest_m=dict(zip(names, self.highest, strict=True)),
            lowest_m=dict(zip(names, self.lowest, strict=True)),
            crossed_s=self.crossed,
            switches=tuple(self.switches),
        )
