"""What every arrangement of the short form has: its vessels, its lines, and how each is laid."""

from __future__ import annotations

import cmath
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, ClassVar

from autoplan.errors import Mistake
from autoplan.problem.brief import BedDrains, HandPumpWish, WasteBy
from autoplan.problem.checks.scene import Scene
from autoplan.problem.layouts.lines import GivenLines, Level, joined, lies
from autoplan.problem.layouts.outlets import outlet_of
from autoplan.problem.layouts.overflows import lay_overflow, overflow_keys
from autoplan.problem.plan import (
    Outline,
    WallToWall,
    in_one_another,
    in_the_way,
    outline_of,
    point,
    way_between,
)
from autoplan.problem.site import (
    Arrangement,
    Draw,
    Guard,
    OnPlan,
    Run,
    RunKind,
    Spot,
    VesselKind,
)
from autoplan.problem.tables.build import (
    DRAWS,
    Ledger,
    choice_from,
    metres,
    spot_from,
    turnover_of,
    vessel_from,
)
from autoplan.problem.tables.defaults import (
    COLLECTOR,
    DOWN_AGAIN_M,
    GUARD,
    PRACTICE,
    SCREEN,
    SHARED,
    VENT_OVER_RIM_M,
    WASTE,
    Default,
)
from autoplan.problem.tables.schema import WishesTable
from autoplan.problem.tables.values import FRY, Lie, RunsAt
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


@dataclass(slots=True)
class Topology:
    """One arrangement of the tables of a short form.

    Attributes:
        tables: "tank", and where there are some "settler", "biofilter", "beds", "sump".
        scene: grows as it is laid.
        lines: what is known of its lines.
        wrong: grows as it is laid: lines that do not go together.
        together: whether its beds drain by one collector.
        word: how the file names it.
        needs: tables that it cannot do without, beside the tank's.
    """

    tables: Mapping[str, Any]
    scene: Scene
    lines: GivenLines
    wrong: list[Mistake] = field(default_factory=list)
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
        return [*overflow_keys(self.tables), *wastes]

    # --- vessels ---------------------------------------------------------------------------------------

    def stand(self, wishes: WishesTable) -> None:
        """Its vessels; without a sump the pump stands in the tank, and there are no filters."""
        sump = "sump" in self.needs
        turnover = turnover_of(wishes.turnover, "wishes.turnover", self.ledger)
        self._stand("tank", VesselKind.TANK, turnover, pumped=not sump)
        for name in self.chain[1:] if sump else ():
            self._stand(name, VesselKind(name))
        for number in range(1, self.beds + 1):
            spare = number > self.tables["beds"].count
            self._stand("beds", VesselKind.BED, number=number, spare=spare)
        if sump:
            self._stand("sump", VesselKind.SUMP)

    def _stand(
        self,
        place: str,
        kind: VesselKind,
        turnover: float = 0.0,
        *,
        number: int = 0,
        pumped: bool = False,
        spare: bool = False,
    ) -> None:
        table, ledger = self.tables[place], self.ledger
        name = f"bed {number}" if number else place
        vessel = vessel_from(table, name, kind, place, ledger, turnover, pumped=pumped)
        choice = choice_from(table, kind, place, ledger)
        self.scene.stand(replace(vessel, spare=spare, spot=spot_from(table, number or 1)), place, choice)

    # --- ways on the plan -------------------------------------------------------------------------------

    def outline(self, name: str) -> Outline | None:
        """The outside of one of its vessels, if it is known where it stands; of an open end it is not."""
        vessel = self.scene.vessels.get(name)
        return None if vessel is None else outline_of(vessel)

    def between_walls(self, key: str, start: str, finish: str) -> WallToWall | None:
        """How a line goes from one of its vessels to another, as `way`; of two in one another none."""
        if {start, finish} <= {*self.scene.vessels}:
            one, other = (self.scene.vessels[name] for name in (start, finish))
            if in_one_another(one, other):
                return None
        return self.way(key, self.outline(start), self.outline(finish), (start, finish))

    def way(
        self,
        key: str,
        start: Outline | None,
        finish: Outline | None,
        names: tuple[str, str] = ("", ""),
        frame: complex | None = None,
    ) -> WallToWall | None:
        """How a line goes by where its ends are; None where that is not known, or its distance is given."""
        if start is None or finish is None or key in self.lines.levels:
            return None
        way = way_between(start, finish, frame, in_the_way(self.scene.vessels, *names))
        if way is None:
            self._wrong(key, "by their places there is no way from wall to wall with one corner or none")
        elif self.lines.bends.get(key, way.corners) != way.corners:
            given, found = (list(corners) for corners in (self.lines.bends[key], way.corners))
            self._wrong(key, f"by their places its corners are {found}, and {given} are given")
        return way

    def _wrong(self, key: str, problem: str) -> None:
        self.wrong.append(self._mistake(f"distances.{key}", problem, "give its level distance too"))

    def level(self, key: str, way: WallToWall | None, further_m: float = 0.0) -> Level:
        """A line by where its ends are; else as given or assumed, and longer by so much."""
        return self.lines.level(key, further_m) if way is None else self.lines.by_places(key, way)

    # --- lines by gravity ------------------------------------------------------------------------------

    def fall(self, name: str, start: str, finish: str, key: str, further_m: float = 0.0, **more: Any) -> None:
        """A line by gravity, longer than its key says by `further_m`; `more` as of a `Run`."""
        runs_at = self.lines.heights.get(key)
        height, along = (None, "") if runs_at is None else self._lies(runs_at, start)
        plan = OnPlan(*self.level(key, self.between_walls(key, start, finish), further_m), height, along)
        run = Run(name, start, finish, RunKind.GRAVITY, (), (), plan=plan, **{"run_class": name} | more)
        self.scene.lay(run, f"distances.{key}")

    def _lies(self, runs_at: RunsAt, start: str) -> tuple[float, str]:
        """The height at which a line runs [m] that starts at a vessel; the vessel it keeps it to, if any."""
        ground = min(table.ground or 0.0 for table in self.tables.values())
        return lies(runs_at, start, self.scene.vessels, ground)

    def drains(self, chain: tuple[str, ...]) -> None:
        """A drain from each vessel of a chain to the next."""
        for above, below in pairwise(chain):
            draw, key = self.draw(above), f"{above}_to_{below}"
            self.fall(f"{above} drain", above, below, key, draw=draw)
            drain = self.scene.runs[f"{above} drain"]
            self.scene.runs[drain.name] = self.screened(above, drain)

    def draw(self, above: str) -> Draw:
        """From where a vessel's drain takes its water."""
        if above != "tank":
            return DRAWS.get(VesselKind(above), Draw.WALL)
        why = "the drain's inlet: an open pipe from the floor's centre up to the outlet in the wall"
        usual = Default(str(DRAWS[VesselKind.TANK]), PRACTICE, why)
        return Draw(self.ledger.said(self.tables["tank"].draw, "tank.draw", usual))

    def screened(self, above: str, drain: Run) -> Run:
        """A vessel's drain with the screen that it has on its inlet, if any."""
        given = self.tables[above].screen
        asked = self.ledger.said(given, "biofilter.screen", SCREEN) if above == "biofilter" else given
        return replace(drain, screen=asked in (True, FRY), fry=asked == FRY)

    def to_each_bed(
        self, what: str, key: str, draw: Draw, *, above: str = "", below: str = "", screen: bool = False
    ) -> None:
        """A line by gravity to or from each bed, longer by the beds' distance from one to the next."""
        for number in range(1, self.beds + 1):
            ends = (above or f"bed {number}", below or f"bed {number}")
            further = 0.0
            if number > 1 and self.between_walls(key, *ends) is None:
                further = (number - 1) * sum(self.between_level()[0])
            self.fall(f"{what} {number}", *ends, key, further, run_class=what, draw=draw, screen=screen)

    def bed_drains(self, below: str) -> None:
        """A drain from each bed, by a collector or by itself."""
        draw, screen = outlet_of(self.tables["beds"]) if self.beds else (Draw.STANDPIPE, False)
        if self.beds > 1:
            self.ledger.said(self.tables["beds"].bed_drains, "beds.bed_drains", SHARED["bed_drains"])
        if self.together and self.beds > 1:
            self._collect(below, screen=screen)
            return
        self.to_each_bed("bed drain", f"bed_to_{below}", draw, below=below, screen=screen)

    def _collect(self, below: str, *, screen: bool) -> None:
        """A collector past all beds from the farthest to the first, open to the air at its head.

        Each bed's drain comes down beside it to a tee of its own.
        """
        beds, key, between = self.tables["beds"], f"bed_to_{below}", self.between_level()
        fall = self.ledger.value(
            beds.collector_fall, "beds.collector_fall", SHARED["collector_fall"], Dimension.NUMBER
        )
        at_once = self.ledger.said(beds.empty_at_once, "beds.empty_at_once", SHARED["empty_at_once"])
        heights, along = self._tees(key, fall * sum(between[0]))
        for number in range(self.beds, 0, -1):
            tee, most = self._tee(number), self.beds - number + 1
            fewer = at_once if isinstance(at_once, int) and at_once < most else None
            height = heights[number - 1]
            self.scene.meet(tee, f"heights.{key}", height_m=height, at_once=fewer, along=along)
        for number in range(1, self.beds + 1):
            ends = f"bed {number}", self._tee(number), TO_COLLECTOR
            more: dict[str, Any] = {"run_class": "bed drain", "draw": Draw.STANDPIPE, "screen": screen}
            self.fall(f"bed drain {number}", *ends, **more)
        vent = metres(self.scene.vessels["bed 1"].rim_m + VENT_OVER_RIM_M)
        for number in range(self.beds, 1, -1):
            first, above, under = number == self.beds, self._tee(number), self._tee(number - 1)
            along = "bed 1" if first else ""  # As its vent does.
            plan, name = OnPlan(*between, along=along), "collector head" if first else "collector"
            run = Run(f"collector {number}", above, under, RunKind.GRAVITY, (), (), name, plan=plan)
            self.scene.lay(replace(run, vent_m=vent if first else None), "distances.between_beds")
        plan = OnPlan(*self.level(key, self.between_walls(key, "bed 1", below)))
        run = Run("collector 1", self._tee(1), below, RunKind.GRAVITY, (), (), "collector end", plan=plan)
        self.scene.lay(run, f"distances.{key}")

    def _tee(self, number: int) -> str:
        """Where a bed's drain comes to the collector; the farthest bed's is its head."""
        return "collector head" if number == self.beds else f"collector tee {number}"

    def _tees(self, key: str, step_m: float) -> tuple[list[float], str]:
        """Height of each place where a bed's drain comes to the collector [m], of the first bed's first.

        And the vessel that they keep it to, if any.

        Under the beds its head lies, else its lowest tee.
        """
        if key not in self.lines.heights:
            self.ledger.note(f"heights.{key}", COLLECTOR.text, COLLECTOR.mark, COLLECTOR.why)
        runs_at = self.lines.heights.get(key, RunsAt(Lie.BEDS))
        lowest, along = self._lies(runs_at, "bed 1")
        if runs_at.lie is Lie.BEDS:
            lowest -= step_m * (self.beds - 1)
        return [metres(round(lowest + step_m * number, 3)) for number in range(self.beds)], along

    def overflow_and_wastes(self) -> None:
        """The tank's emergency overflow straight to the sump, and each filter's way for its sludge."""
        lay_overflow(self)
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

    def press(self, name: str, start: str, finish: str, level: Level, key: str, run_class: str = "") -> None:
        """A line of a pump, with a valve where it ends in a vessel."""
        height, along = self.feeds
        plan, valve = OnPlan(*level, height, along), finish in self.scene.vessels
        run = Run(name, start, finish, RunKind.PRESSURE, (), (), run_class or name, valve=valve, plan=plan)
        self.scene.lay(run, f"distances.{key}")

    @property
    def feeds(self) -> tuple[float, str]:
        """Height at which the pump's lines run [m], and the vessel that they keep it to, if any.

        What would lie little lower than the rim that they leave by runs on over it: down again there is no
        room for two turns.
        """
        start = "sump" if "sump" in self.needs else "tank"
        asked, over = self._lies(self.lines.feeds(), start), self._lies(RunsAt(Lie.RIM), start)
        return over if over[0] - DOWN_AGAIN_M < asked[0] < over[0] else asked

    def split(self, name: str, at: complex | None = None) -> None:
        """A tee on the pump's lines, at a place on the plan where that is known."""
        spot = None if at is None else Spot(metres(at.real), metres(at.imag))
        height, along = self.feeds
        self.scene.meet(name, "distances", height_m=height, spot=spot, along=along)

    def main_to_tank(self) -> None:
        """The pump's one line, straight to the tank."""
        key = "sump_to_tank"
        level = self.level(key, self.between_walls(key, "sump", "tank"))
        self.press("main", "sump", "tank", level, key)

    def guard_tank(self) -> None:
        """What keeps the tank from siphoning back through its inlet."""
        guard = self.ledger.said(self.tables["tank"].siphon_back, "tank.siphon_back", GUARD)
        for name, run in self.scene.runs.items():
            if run.kind is RunKind.PRESSURE and run.finish == "tank":
                self.scene.runs[name] = replace(run, siphon_back=Guard(guard))

    def trunk(self, start: str, begins: Outline | None, key: str, first_m: float = 0.0) -> None:
        """A trunk with a tee for all but the last bed, at which it turns to that bed.

        Out of a vessel the first piece is the pump's main. Of a single bed the trunk goes straight on to it.

        Args:
            start: name of its start.
            begins: where that is on the plan, if it is known.
            key: of its first piece, which in what is given begins with `first_m` to a tee.
        """
        aside = self.lines.level("trunk_to_bed")
        way, tees = self._trunk_way(start, begins, key, sum(aside[0]))
        level = self.behind(key, way, first_m)
        if self.beds == 1:
            to_bed = level if way is not None else joined(level, aside, None)
            self._bed_feed(1, start, to_bed)
            return
        above = start
        for number in range(1, self.beds):
            tee = f"bed tee {number}"
            self.split(tee, tees[number - 1] if tees else None)
            name = "main" if above in self.scene.vessels else f"trunk {number}"
            self.press(name, above, tee, level, key)
            self._bed_feed(number, tee, aside)
            above, level, key = tee, self.between_level(), "between_beds"
        self._bed_feed(self.beds, above, joined(level, aside, 90))

    def _bed_feed(self, number: int, start: str, level: Level) -> None:
        self.press(f"bed feed {number}", start, f"bed {number}", level, "trunk_to_bed", "bed feed")

    def behind(self, key: str, way: WallToWall | None, first_m: float) -> Level:
        """A line behind its first part that leads to a tee [m]."""
        if way is not None:
            return self.lines.by_places(key, way, first_m)
        level = self.lines.level(key, -first_m)
        if level[0][0] <= 0:
            given = self.lines.levels.get(key, (self.lines.length(key),))
            whole, first = (write(length, Dimension.LENGTH) for length in (given[0], first_m))
            problem = f"the whole way from the pump is {whole}, of which {first} lead to the split"
            self.wrong.append(self._mistake(f"distances.{key}", problem, "make it longer than sump_to_split"))
        return level

    def _row(self) -> complex | None:
        """From each bed to the next on the plan; None where that is not known."""
        if self.beds < 2 or self.tables["beds"].at is None:
            return None
        one, other = (self.scene.vessels[f"bed {number}"].spot for number in (1, 2))
        return None if one is None or other is None else point(other) - point(one)

    def between_level(self) -> Level:
        """The trunk from one bed's feed to the next: as far as the beds are from each other."""
        row = self._row()
        if row is None or "between_beds" in self.lines.levels:
            return self.lines.level("between_beds")
        return self.lines.by_places("between_beds", WallToWall((abs(row),), (), 0, 1))

    def _trunk_way(
        self, start: str, begins: Outline | None, key: str, aside_m: float
    ) -> tuple[WallToWall | None, list[complex]]:
        """The trunk's first piece by where things stand, and where its tees are; None and none if unknown.

        The trunk goes along the row of beds on the side of its start, as far from their walls as a bed's feed
        is long, with a tee before the middle of each bed.
        """
        bed = self.outline("bed 1")
        if begins is None or bed is None:
            return None, []
        row = self._row()
        if row is None:
            return self.way(key, begins, bed, (start, "bed 1")), []
        along = row / abs(row)
        side = along * cmath.rect(1.0, cmath.pi / 2)
        if ((begins.middle - bed.middle) * side.conjugate()).real < 0:
            side = -side
        first = bed.middle + side * ((bed.reach_m(side) or 0.0) + aside_m)
        way = self.way(key, begins, Outline(first), (start, ""), side)
        return way, [] if way is None else [first + row * number for number in range(self.beds - 1)]
