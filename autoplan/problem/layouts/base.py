"""What every arrangement of the short form has: its vessels, its lines, and how each is laid."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, ClassVar

from autoplan.errors import Mistake
from autoplan.problem.brief import HandPumpWish
from autoplan.problem.checks.scene import Scene
from autoplan.problem.site import (
    Arrangement,
    BedDrains,
    Draw,
    Guard,
    OnPlan,
    Run,
    RunKind,
    VesselKind,
    WasteBy,
)
from autoplan.problem.tables.build import (
    DRAWS,
    Ledger,
    choice_from,
    metres,
    turnover_of,
    vessel_from,
)
from autoplan.problem.tables.defaults import (
    COLLECTOR,
    FEEDS,
    FEEDS_OVER_RIM_M,
    GUARD,
    HEIGHTS,
    LINES,
    MEMORY,
    ON_GROUND_M,
    PRACTICE,
    SCREEN,
    SHARED,
    UNDER_BED_M,
    VENT_OVER_RIM_M,
    WASTE,
    Default,
)
from autoplan.problem.tables.schema import WishesTable
from autoplan.problem.tables.values import Lie, RunsAt
from autoplan.units import Dimension, read, write

FILTERS = ("settler", "biofilter")

TO_COLLECTOR = "bed_to_collector"
"""Key of what lies between a bed and the collector of its drain."""

PUMPED = (
    "sump_to_split",
    "sump_to_tank",
    "sump_to_first_bed",
    "tank_to_first_bed",
    "between_beds",
    "trunk_to_bed",
)
"""Lines of a pump, which all run at one height."""


@dataclass(frozen=True, slots=True)
class GivenLines:
    """Level distances [m], corners and heights of the short form's lines, given or assumed."""

    lengths: Mapping[str, float]
    bends: Mapping[str, tuple[int, ...]]
    heights: Mapping[str, RunsAt]
    ledger: Ledger

    def length(self, key: str) -> float:
        """Level distance of a line from wall to wall [m]."""
        if key not in self.lengths:
            text, why = LINES[key].length, LINES[key].why
            self.ledger.note(f"distances.{key}", text, MEMORY, f"level distance {why}")
            return read(text, Dimension.LENGTH)
        return self.lengths[key]

    def corners(self, key: str) -> tuple[int, ...]:
        """Changes of direction of a line on the plan [degrees]."""
        if key not in self.bends:
            corners = LINES[key].corners
            self.ledger.note(
                f"corners.{key}", str(list(corners)), MEMORY, "corners on the plan, as far from each other"
            )
            return corners
        return self.bends[key]

    def feeds(self) -> RunsAt:
        """Where the pump's lines lie."""
        if FEEDS not in self.heights:
            usual = HEIGHTS[FEEDS]
            self.ledger.note(f"heights.{FEEDS}", usual.text, usual.mark, usual.why)
        return self.heights.get(FEEDS, RunsAt(Lie.RIM))


@dataclass(slots=True)
class Topology:
    """One arrangement of the tables of a short form.

    Attributes:
        tables: "tank", and where there are some "settler", "biofilter", "beds", "sump".
        scene: grows as it is laid.
        lines: lengths and turns.
        together: whether its beds drain by one collector.
        word: how the file names it.
        needs: tables that it cannot do without, beside the tank's.
    """

    tables: Mapping[str, Any]
    scene: Scene
    lines: GivenLines
    together: bool = False
    word: ClassVar[Arrangement]
    needs: ClassVar[tuple[str, ...]]

    def line_keys(self) -> list[str]:
        """Keys of all its lines."""
        raise NotImplementedError

    def drain_keys(self) -> list[str]:
        """Keys of those that run by gravity, whose heights may be given."""
        return [key for key in self.line_keys() if key not in (*PUMPED, TO_COLLECTOR)]

    def lay(self, wishes: WishesTable) -> None:
        """Stand its vessels, and lay its lines in the scene."""
        raise NotImplementedError

    def too_short(self) -> Iterator[Mistake]:
        """Lengths that do not go together."""
        yield from ()

    def misfits(self, given: frozenset[str], *, one_of_many: bool) -> Iterator[Mistake]:  # noqa: ARG002
        """What it lacks, and tables of the file (`given`) that it has no place for.

        Where it is `one_of_many`, the tables are for other arrangements too.
        """
        for place in self.needs:
            if place not in self.tables:
                yield self._mistake(place, f"there is no [{place}]", f"write [{place}] and its keys below it")
        if "beds" in self.needs and "beds" in self.tables and not self.tables["beds"].count:
            problem = f'without beds "{self.word}" is no arrangement'
            yield self._mistake("beds.count", problem, "write a count of 1 or more")
        if self.together:
            yield from self._unshared()

    def _unshared(self) -> Iterator[Mistake]:
        """Why its beds cannot drain by one collector."""
        remedy = 'write bed_drains = "each" or take it out'
        if self.beds < 2:
            yield self._mistake("beds.bed_drains", "there are no two beds to share a drain", remedy)
        elif self.tables["beds"].spare_beds:
            problem = "a bed to come later has a drain of its own, and spare_beds asks for one"
            yield self._mistake("beds.bed_drains", problem, remedy)
        elif (self.tables["beds"].empty_at_once or 0) > self.beds:
            problem = f"there are only {self.beds} beds to run empty at once"
            yield self._mistake("beds.empty_at_once", problem, f"write {self.beds} or less, or take it out")

    def _mistake(self, place: str, problem: str, remedy: str) -> Mistake:
        return Mistake(self.scene.file, place, problem, remedy)

    @property
    def ledger(self) -> Ledger:
        """Where assumptions go."""
        return self.lines.ledger

    @property
    def beds(self) -> int:
        """How many beds there are, those to come later too."""
        beds = self.tables.get("beds")
        return 0 if beds is None else beds.count + (beds.spare_beds or 0)

    @property
    def chain(self) -> tuple[str, ...]:
        """The tank and the filters after it."""
        return ("tank", *(name for name in FILTERS if name in self.tables))

    @property
    def between(self) -> list[str]:
        """Key of what lies between beds, if anything."""
        return ["between_beds"] if self.beds > 1 else []

    @property
    def to_collector(self) -> list[str]:
        """Key of what lies between a bed and the collector of its drain, where there may be one."""
        beds = self.tables.get("beds")
        may = beds is not None and beds.bed_drains in (BedDrains.SHARED, BedDrains.ANY)
        return [TO_COLLECTOR] if may else []

    @property
    def idle(self) -> list[str]:
        """Keys of the lines that carry no water at design."""
        wastes = [f"{name}_waste" for name in self.chain[1:] if self.tables[name].waste]
        return [*(["tank_overflow"] if self.tables["tank"].overflow else []), *wastes]

    # --- vessels ---------------------------------------------------------------------------------------

    def stand(self, wishes: WishesTable) -> None:
        """Its vessels; without a sump the pump stands in the tank, and there are no filters."""
        sump = "sump" in self.needs
        turnover = turnover_of(wishes.turnover, "wishes.turnover", self.ledger)
        self._stand("tank", VesselKind.TANK, turnover, pumped=not sump)
        for name in self.chain[1:] if sump else ():
            self._stand(name, VesselKind(name))
        for number in range(1, self.beds + 1):
            self._stand(
                "beds", VesselKind.BED, name=f"bed {number}", spare=number > self.tables["beds"].count
            )
        if sump:
            self._stand("sump", VesselKind.SUMP)

    def _stand(
        self,
        place: str,
        kind: VesselKind,
        turnover: float = 0.0,
        *,
        name: str = "",
        pumped: bool = False,
        spare: bool = False,
    ) -> None:
        table, ledger = self.tables[place], self.ledger
        vessel = vessel_from(table, name or place, kind, place, ledger, turnover, pumped=pumped)
        choice = choice_from(table, kind, place, ledger)
        self.scene.stand(replace(vessel, spare=spare), place, choice)

    # --- lines by gravity ------------------------------------------------------------------------------

    def fall(self, name: str, start: str, finish: str, key: str, further_m: float = 0.0, **more: Any) -> None:
        """A line by gravity, longer than its key says by `further_m`; `more` as of a `Run`."""
        runs_at = self.lines.heights.get(key)
        height = None if runs_at is None else self._height(runs_at, start)
        plan = self._plan(self.lines.length(key) + further_m, key, height)
        run = Run(name, start, finish, RunKind.GRAVITY, (), (), plan=plan, **{"run_class": name} | more)
        self.scene.lay(run, f"distances.{key}")

    def _plan(self, level_m: float, key: str, height_m: float | None) -> OnPlan:
        """A line on the plan, its corners as far from each other as from its ends."""
        corners = self.lines.corners(key)
        return OnPlan((metres(level_m / (len(corners) + 1)),) * (len(corners) + 1), corners, height_m)

    def _height(self, runs_at: RunsAt, start: str) -> float:
        """The height at which a line runs [m] that starts at a vessel and lies so."""
        if runs_at.lie is Lie.HEIGHT:
            return runs_at.metres
        if runs_at.lie is Lie.RIM:
            return metres(self.scene.vessels[start].rim_m + FEEDS_OVER_RIM_M)
        if runs_at.lie is Lie.BEDS and self.beds:
            bed = self.scene.vessels["bed 1"]
            return metres(bed.floor_m - bed.base_m - UNDER_BED_M)
        ground = min(table.ground or 0.0 for table in self.tables.values())
        return metres(ground - runs_at.metres if runs_at.lie is Lie.BURIED else ground + ON_GROUND_M)

    def drains(self, chain: tuple[str, ...]) -> None:
        """A drain from each vessel of a chain to the next."""
        for above, below in pairwise(chain):
            draw, key = self.draw(above), f"{above}_to_{below}"
            self.fall(f"{above} drain", above, below, key, draw=draw)
            drain = self.scene.runs[f"{above} drain"]
            self.scene.runs[drain.name] = replace(drain, screen=self.screen(above))

    def draw(self, above: str) -> Draw:
        """From where a vessel's drain takes its water."""
        if above != "tank":
            return DRAWS.get(VesselKind(above), Draw.WALL)
        why = "the drain's inlet: an open pipe from the floor's centre up to the outlet in the wall"
        usual = Default(str(DRAWS[VesselKind.TANK]), PRACTICE, why)
        return Draw(self.ledger.said(self.tables["tank"].draw, "tank.draw", usual))

    def screen(self, above: str) -> bool:
        """Whether a vessel's drain has a screen on its inlet."""
        given: bool | None = self.tables[above].screen
        return (
            self.ledger.said(given, "biofilter.screen", SCREEN) if above == "biofilter" else given
        ) is True

    def to_each_bed(
        self, what: str, key: str, draw: Draw, *, above: str = "", below: str = "", screen: bool
    ) -> None:
        """A line by gravity to or from each bed, longer by the beds' distance from one to the next."""
        for number in range(1, self.beds + 1):
            ends = (above or f"bed {number}", below or f"bed {number}")
            self.lines.corners(key)
            further = (number - 1) * self.lines.length("between_beds") if number > 1 else 0.0
            self.fall(f"{what} {number}", *ends, key, further, run_class=what, draw=draw, screen=screen)

    def bed_drains(self, below: str) -> None:
        """A drain from each bed, by a collector or by itself."""
        screen = bool(self.tables["beds"].screen) if self.beds else False
        if self.beds > 1:
            self.ledger.said(self.tables["beds"].bed_drains, "beds.bed_drains", SHARED["bed_drains"])
        if self.together and self.beds > 1:
            self._collect(below, screen=screen)
            return
        self.to_each_bed("bed drain", f"bed_to_{below}", Draw.STANDPIPE, below=below, screen=screen)

    def _collect(self, below: str, *, screen: bool) -> None:
        """A collector past all beds from the farthest to the first, open to the air at its head.

        Each bed's drain comes down beside it to a tee of its own.
        """
        beds, key, between = self.tables["beds"], f"bed_to_{below}", self.lines.length("between_beds")
        fall = self.ledger.value(
            beds.collector_fall, "beds.collector_fall", SHARED["collector_fall"], Dimension.NUMBER
        )
        at_once = self.ledger.said(beds.empty_at_once, "beds.empty_at_once", SHARED["empty_at_once"])
        heights = self._tees(key, fall * between)
        for number in range(self.beds, 0, -1):
            tee, most = self._tee(number), self.beds - number + 1
            fewer = at_once if isinstance(at_once, int) and at_once < most else None
            self.scene.meet(tee, f"heights.{key}", height_m=heights[number - 1], at_once=fewer)
        for number in range(1, self.beds + 1):
            ends = f"bed {number}", self._tee(number), TO_COLLECTOR
            more: dict[str, Any] = {"run_class": "bed drain", "draw": Draw.STANDPIPE, "screen": screen}
            self.fall(f"bed drain {number}", *ends, **more)
        vent = metres(self.scene.vessels["bed 1"].rim_m + VENT_OVER_RIM_M)
        for number in range(self.beds, 1, -1):
            first, above, under = number == self.beds, self._tee(number), self._tee(number - 1)
            plan, name = OnPlan((between,)), "collector head" if first else "collector"
            run = Run(f"collector {number}", above, under, RunKind.GRAVITY, (), (), name, plan=plan)
            self.scene.lay(replace(run, vent_m=vent if first else None), "distances.between_beds")
        plan = self._plan(self.lines.length(key), key, None)
        run = Run("collector 1", self._tee(1), below, RunKind.GRAVITY, (), (), "collector end", plan=plan)
        self.scene.lay(run, f"distances.{key}")

    def _tee(self, number: int) -> str:
        """Where a bed's drain comes to the collector; the farthest bed's is its head."""
        return "collector head" if number == self.beds else f"collector tee {number}"

    def _tees(self, key: str, step_m: float) -> list[float]:
        """Height of each place where a bed's drain comes to the collector [m], of the first bed's first.

        Under the beds its head lies, else its lowest tee.
        """
        if key not in self.lines.heights:
            self.ledger.note(f"heights.{key}", COLLECTOR.text, COLLECTOR.mark, COLLECTOR.why)
        runs_at = self.lines.heights.get(key, RunsAt(Lie.BEDS))
        lowest = self._height(runs_at, "bed 1")
        if runs_at.lie is Lie.BEDS:
            lowest -= step_m * (self.beds - 1)
        return [metres(round(lowest + step_m * number, 3)) for number in range(self.beds)]

    def overflow_and_wastes(self) -> None:
        """The tank's emergency overflow straight to the sump, and each filter's way for its sludge."""
        if self.tables["tank"].overflow:
            self.fall("tank overflow", "tank", "sump", "tank_overflow", overflow=True)
        for name in self.chain[1:]:
            if self.tables[name].waste:
                self._waste(name)

    def _waste(self, name: str) -> None:
        """A filter's waste: by a drain of its own where there is fall enough, else pumped by hand."""
        table, vessel, key = self.tables[name], self.scene.vessels[name], f"{name}_waste"
        default = WASTE["height"]
        if table.ground is not None:
            default = replace(default, text=write(table.ground, Dimension.LENGTH))
        height = self.ledger.value(table.waste_height, f"{name}.waste_height", default, Dimension.LENGTH)
        enough = vessel.water_min_m - height >= read(WASTE["fall"].text, Dimension.LENGTH)
        why = f"gravity needs {WASTE['fall'].text} from lowest water to the open end"
        usual = Default(WasteBy.GRAVITY if enough else WasteBy.HAND_PUMP, WASTE["fall"].mark, why)
        by = self.ledger.said(table.waste_by, f"{name}.waste_by", usual)
        if by == WasteBy.HAND_PUMP:
            lift = metres(max(height, vessel.rim_m) - vessel.water_min_m)
            self.scene.hand_pumps.append(HandPumpWish(name, lift, self.lines.length(key)))
            return
        end = f"{name} waste end"
        self.scene.meet(end, "distances", metres(height))
        self.fall(f"{name} waste", name, end, key, valve=True, waste=True)

    # --- lines of a pump -------------------------------------------------------------------------------

    def press(
        self, name: str, start: str, finish: str, length_m: float, key: str, run_class: str = ""
    ) -> None:
        """A line of a pump whose corners stand under `key`, with a valve where it ends in a vessel."""
        plan, valve = self._plan(length_m, key, self.feeds_m), finish in self.scene.vessels
        run = Run(name, start, finish, RunKind.PRESSURE, (), (), run_class or name, valve=valve, plan=plan)
        self.scene.lay(run, f"distances.{key}")

    @property
    def feeds_m(self) -> float:
        """Height at which the pump's lines run [m]."""
        return self._height(self.lines.feeds(), "sump" if "sump" in self.needs else "tank")

    def split(self, name: str) -> None:
        """A tee on the pump's lines."""
        self.scene.meet(name, "distances", height_m=self.feeds_m)

    def guard_tank(self) -> None:
        """What keeps the tank from siphoning back through its inlet."""
        guard = self.ledger.said(self.tables["tank"].siphon_back, "tank.siphon_back", GUARD)
        for name, run in self.scene.runs.items():
            if run.kind is RunKind.PRESSURE and run.finish == "tank":
                self.scene.runs[name] = replace(run, siphon_back=Guard(guard))

    def trunk(self, start: str, first_m: float, key: str) -> None:
        """A trunk with a tee for all but the last bed, which takes what goes straight on at the last tee.

        Out of a vessel the first piece is the pump's main.
        """
        aside, above, piece = self.lines.length("trunk_to_bed"), start, first_m
        for number in range(1, self.beds):
            tee = f"bed tee {number}"
            self.split(tee)
            name = "main" if above in self.scene.vessels else f"trunk {number}"
            self.press(name, above, tee, piece, key)
            self._bed_feed(number, tee, aside)
            above, piece, key = tee, self.lines.length("between_beds"), "between_beds"
        self._bed_feed(self.beds, above, piece + aside)

    def _bed_feed(self, number: int, start: str, length_m: float) -> None:
        self.press(f"bed feed {number}", start, f"bed {number}", length_m, "trunk_to_bed", "bed feed")
