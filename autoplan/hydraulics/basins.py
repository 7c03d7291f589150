"""Water standing in basins and running between them, walked through time.

Volumes move along links, so whatever leaves one basin arrives in another or outside: water is conserved to
rounding, whatever the length of a step. Steps are those of the linearly implicit method of L. F. Shampine and
M. W. Reichelt, "The MATLAB ODE Suite", SIAM J. Sci. Comput. 18(1), 1997 (second order, for stiff systems):
a shallow filter answers in seconds and a night has 40,000 of them. Whatever happens at a level (a siphon
primes, water reaches a rim) ends a step exactly there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf, sqrt

from autoplan.hydraulics.elimination import Elimination
from autoplan.hydraulics.passage import BellSiphon, HeadTable, Passage, Rate, rim_weir, round_rim

TOLERANCE_M = 5e-5
"""Error that a step may make in any level [m]."""

LANDED_M = 1e-10
"""How close to its level an event is brought [m]."""

FIRST_STEP_S = 1.0
SHORTEST_STEP_S = 1e-6
MOST_STEPS = 100_000

COARSER_AFTER = 4_000
"""Steps after which levels may err ten times as much, where water trembles for hours; none is lost."""

_STILL: Rate = (0.0, 0.0, 0.0)
_D = 1.0 / (2.0 + sqrt(2.0))
_E32 = 6.0 + sqrt(2.0)


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
class Link:
    """A way for water from one basin to another; None stands for outside."""

    name: str
    source: str | None
    target: str | None
    passage: Passage | BellSiphon


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
    links: Sequence[Link],
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
    return _Walk(basins, links, start, watches, tolerance_m).run(seconds)


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


@dataclass(slots=True)
class _Step:
    """A step that could be taken: volumes after it, volume moved by link, rates there, error [m]."""

    seconds: float
    volumes: list[float]
    moved: list[float]
    rates: list[Rate]
    error_m: float


@dataclass(slots=True)
class _Walk:
    basins: Sequence[Basin]
    links: Sequence[Link]
    start: Waters
    watches: Sequence[Watch]
    tolerance_m: float
    ends: list[tuple[int, int]] = field(init=False)
    rims: list[HeadTable] = field(init=False)
    shapes: list[tuple[float, float]] = field(init=False)
    volumes: list[float] = field(init=False)
    running: set[int] = field(init=False)
    brimming: set[int] = field(default_factory=set)
    now: float = 0.0

    def __post_init__(self) -> None:
        place = {basin.name: number for number, basin in enumerate(self.basins)}
        outside = -1
        self.ends = [
            (
                outside if link.source is None else place[link.source],
                outside if link.target is None else place[link.target],
            )
            for link in self.links
        ]
        self.ends += [(number, outside) for number in range(len(self.basins))]
        self.shapes = [(basin.floor_m, basin.wet_m2) for basin in self.basins]
        self.rims = [rim_weir(round_rim(basin.area_m2)) for basin in self.basins]
        self.volumes = [self.start.volumes_m3[basin.name] for basin in self.basins]
        self.running = {number for number, link in enumerate(self.links) if link.name in self.start.running}

    # --- the water at one moment -------------------------------------------------------------------------

    def levels(self, volumes: Sequence[float]) -> list[float]:
        return [floor + volume / wet for (floor, wet), volume in zip(self.shapes, volumes, strict=True)]

    def rates(self, volumes: Sequence[float]) -> list[Rate]:
        """Flow and slopes of every link, then of every rim."""
        levels = self.levels(volumes)
        found: list[Rate] = []
        for number, link in enumerate(self.links):
            source, target = self.ends[number]
            passage = link.passage
            if isinstance(passage, BellSiphon):
                passage = passage.primed if number in self.running else passage.trickle
            above = levels[source] if source >= 0 else inf
            below = levels[target] if target >= 0 else -inf
            found.append(passage.rate(above, below))
        for number, (basin, rim) in enumerate(zip(self.basins, self.rims, strict=True)):
            spills = number in self.brimming
            found.append((*rim.at(levels[number] - basin.rim_m), 0.0) if spills else _STILL)
        return found

    def gained(self, flows: Sequence[float]) -> list[float]:
        """What each basin gains from flows or volumes by link."""
        gains = [0.0] * len(self.basins)
        for (source, target), flow in zip(self.ends, flows, strict=True):
            if flow:
                if source >= 0:
                    gains[source] -= flow
                if target >= 0:
                    gains[target] += flow
        return gains

    # --- one step ----------------------------------------------------------------------------------------

    def step(self, seconds: float, rates: list[Rate]) -> _Step:
        """A step from the present volumes and their rates."""
        part = seconds * _D
        solve = Elimination(self._matrix(part, rates))
        change0 = self.gained([rate[0] for rate in rates])
        first = solve(change0)
        halfway = [v + 0.5 * seconds * k for v, k in zip(self.volumes, first, strict=True)]
        flows1 = [rate[0] for rate in self.rates(halfway)]
        change1 = self.gained(flows1)
        turn = solve([a - b for a, b in zip(change1, first, strict=True)])
        moved = [
            seconds * (flow + part * self._by_slope(number, rates[number], turn))
            for number, flow in enumerate(flows1)
        ]
        volumes = [v + gain for v, gain in zip(self.volumes, self.gained(moved), strict=True)]
        after = self.rates(volumes)
        change2 = self.gained([rate[0] for rate in after])
        third = solve(
            [
                c2 - _E32 * (k1 + t - c1) - 2.0 * (k1 - c0)
                for c0, c1, c2, k1, t in zip(change0, change1, change2, first, turn, strict=True)
            ]
        )
        error = max(
            abs(seconds / 6.0 * (k3 - k1 - 2.0 * t)) / wet
            for (_, wet), k1, t, k3 in zip(self.shapes, first, turn, third, strict=True)
        )
        return _Step(seconds, volumes, moved, after, error)

    def _by_slope(self, number: int, rate: Rate, change: Sequence[float]) -> float:
        """Change of a link's flow with a change of volumes."""
        source, target = self.ends[number]
        found = 0.0
        if rate[1] and source >= 0:
            found += rate[1] * change[source] / self.shapes[source][1]
        if rate[2] and target >= 0:
            found += rate[2] * change[target] / self.shapes[target][1]
        return found

    def _matrix(self, part: float, rates: Sequence[Rate]) -> list[list[float]]:
        """Identity less `part` times the change of gains with volumes."""
        size = len(self.basins)
        matrix = [[1.0 if row == column else 0.0 for column in range(size)] for row in range(size)]
        for (source, target), (_, by_source, by_target) in zip(self.ends, rates, strict=True):
            for at, slope in ((source, by_source), (target, by_target)):
                if slope and at >= 0:
                    weight = part * slope / self.shapes[at][1]
                    if source >= 0:
                        matrix[source][at] += weight
                    if target >= 0:
                        matrix[target][at] -= weight
        return matrix

    # --- the whole walk ----------------------------------------------------------------------------------

    def run(self, seconds: float) -> History:
        waiting = [self._watching(watch) for watch in self.watches]
        levels = self.levels(self.volumes)
        highest, lowest = list(levels), list(levels)
        moved = [0.0] * len(self.ends)
        crossed: dict[Watch, float] = {}
        switches: list[Switch] = []
        length = FIRST_STEP_S
        rates = self._settle(waiting, crossed, switches)
        for number in range(MOST_STEPS):
            if number and number % COARSER_AFTER == 0:
                self.tolerance_m *= 10.0
            left = seconds - self.now
            if left <= SHORTEST_STEP_S:
                break
            step = self.step(min(length, left), rates)
            if step.error_m > self.tolerance_m and step.seconds > SHORTEST_STEP_S:
                length = max(SHORTEST_STEP_S, step.seconds * self._growth(step, 0.2, 0.9))
                continue
            step, turns = self._landing(step, [*waiting, *self._siphons(), *self._rims()], rates)
            length = max(length if step.seconds >= left else 0.0, step.seconds * self._growth(step, 0.2, 5.0))
            for at, (_, level) in enumerate(turns):
                highest[at], lowest[at] = max(highest[at], level), min(lowest[at], level)
            for at, level in enumerate(self.levels(step.volumes)):
                highest[at], lowest[at] = max(highest[at], level), min(lowest[at], level)
            moved = [a + b for a, b in zip(moved, step.moved, strict=True)]
            self.volumes = step.volumes
            self.now += step.seconds
            before = len(switches)
            rates = self._settle(waiting, crossed, switches, step.rates)
            if len(switches) > before:
                length = min(length, FIRST_STEP_S)
        else:
            raise ArithmeticError(f"the water did not come to rest in {MOST_STEPS} steps")
        return self._history(moved, highest, lowest, crossed, switches)

    def _growth(self, step: _Step, least: float, most: float) -> float:
        """By how much the next step may be longer than this one."""
        if step.error_m == 0.0:
            return most
        return float(min(most, max(least, 0.8 * (self.tolerance_m / step.error_m) ** (1.0 / 3.0))))

    def _watching(self, watch: Watch) -> _Trigger:
        names = [basin.name for basin in self.basins]
        return _Trigger(names.index(watch.basin), watch.level_m, 1 if watch.rising else -1, None, watch)

    def _siphons(self) -> list[_Trigger]:
        """What each siphon waits for."""
        found = []
        for number, link in enumerate(self.links):
            if isinstance(link.passage, BellSiphon):
                runs = number in self.running
                level = link.passage.stop_m if runs else link.passage.start_m
                found.append(_Trigger(self.ends[number][0], level, -1 if runs else 1, number, None))
        return found

    def _rims(self) -> list[_Trigger]:
        """Rims that no water has reached: until then nothing spills, however a step is worked out."""
        return [
            _Trigger(number, basin.rim_m, 1, None, None)
            for number, basin in enumerate(self.basins)
            if number not in self.brimming
        ]

    def _settle(
        self,
        waiting: list[_Trigger],
        crossed: dict[Watch, float],
        switches: list[Switch],
        rates: list[Rate] | None = None,
    ) -> list[Rate]:
        """Let everything happen whose level has been reached; returns the rates from here on."""
        levels = self.levels(self.volumes)
        for trigger in [trigger for trigger in waiting if trigger.past(levels) >= -LANDED_M]:
            waiting.remove(trigger)
            if trigger.watch is not None:
                crossed[trigger.watch] = self.now
        for trigger in self._siphons():
            if trigger.link is not None and trigger.past(levels) >= -LANDED_M:
                self.running ^= {trigger.link}
                running = trigger.link in self.running
                switches.append(Switch(self.now, self.links[trigger.link].name, running))
                rates = None
        full = {at for at, basin in enumerate(self.basins) if levels[at] >= basin.rim_m - LANDED_M}
        if full != self.brimming:
            self.brimming, rates = full, None
        return self.rates(self.volumes) if rates is None else rates

    def _landing(
        self, step: _Step, triggers: Sequence[_Trigger], rates: list[Rate]
    ) -> tuple[_Step, list[tuple[float, float]]]:
        """The step and where levels turn in it, or a shorter one to where the first trigger is met."""
        turns = self._turns(step, rates)
        for trigger in triggers:
            turn, level = turns[trigger.basin]
            if turn < step.seconds and trigger.sign * (level - trigger.level_m) > LANDED_M:
                step = self.step(turn, rates)
                turns = self._turns(step, rates)
            if trigger.past(self.levels(step.volumes)) > LANDED_M:
                step = self._land(step, trigger, rates)
                turns = self._turns(step, rates)
        return step, turns

    def _land(self, step: _Step, trigger: _Trigger, rates: list[Rate]) -> _Step:
        """A shorter step that ends on one trigger, by false position (Illinois)."""
        low, low_past = 0.0, trigger.past(self.levels(self.volumes))
        high, high_past = step.seconds, trigger.past(self.levels(step.volumes))
        side = 0
        for _ in range(60):
            middle = high - high_past * (high - low) / (high_past - low_past)
            if not low < middle < high:
                middle = 0.5 * (low + high)
            step = self.step(middle, rates)
            past = trigger.past(self.levels(step.volumes))
            if abs(past) <= LANDED_M or high - low <= SHORTEST_STEP_S * 1e-3:
                break
            if past > 0.0:
                high, high_past = middle, past
                low_past = low_past / 2 if side == 1 else low_past
                side = 1
            else:
                low, low_past = middle, past
                high_past = high_past / 2 if side == -1 else high_past
                side = -1
        return step

    def _turns(self, step: _Step, rates: list[Rate]) -> list[tuple[float, float]]:
        """By basin, when in a step its level turned [s] and where [m]; the end where it did not turn."""
        slopes0 = self.gained([rate[0] for rate in rates])
        slopes1 = self.gained([rate[0] for rate in step.rates])
        found = []
        for at, (was, now) in enumerate(
            zip(self.levels(self.volumes), self.levels(step.volumes), strict=True)
        ):
            turn, level = step.seconds, now
            if slopes0[at] * slopes1[at] < 0.0:
                turn = step.seconds * slopes0[at] / (slopes0[at] - slopes1[at])
                level = was + 0.5 * slopes0[at] * turn / self.shapes[at][1]
            found.append((turn, level))
        return found

    def _history(
        self,
        moved: list[float],
        highest: list[float],
        lowest: list[float],
        crossed: Mapping[Watch, float],
        switches: Sequence[Switch],
    ) -> History:
        names = [basin.name for basin in self.basins]
        count = len(self.links)
        return History(
            seconds=self.now,
            waters=Waters(
                dict(zip(names, self.volumes, strict=True)),
                frozenset(self.links[number].name for number in self.running),
            ),
            moved_m3={link.name: moved[number] for number, link in enumerate(self.links)},
            spilled_m3=dict(zip(names, moved[count:], strict=True)),
            highest_m=dict(zip(names, highest, strict=True)),
            lowest_m=dict(zip(names, lowest, strict=True)),
            crossed_s=crossed,
            switches=tuple(switches),
        )
