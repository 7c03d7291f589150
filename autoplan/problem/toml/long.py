"""The long form: arrays of vessels, junctions and runs, checked one by one and together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from pydantic import Field

from autoplan.errors import Mistake
from autoplan.problem.brief import HandPumpWish
from autoplan.problem.checks.classes import alike_mistakes
from autoplan.problem.checks.connections import connection_mistakes, repeated
from autoplan.problem.checks.heights import height_mistakes, reach_mistakes
from autoplan.problem.checks.outside import outside_mistakes, siphoned_outside
from autoplan.problem.checks.places import plan_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import timer_mistakes
from autoplan.problem.checks.water import water_mistakes
from autoplan.problem.checks.weeps import weep_mistakes
from autoplan.problem.plan import Outline, in_one_another, in_the_way, outline_of, point, way_between
from autoplan.problem.site import Junction, Run, RunKind, Spot, Vessel, VesselKind
from autoplan.problem.tables.build import Ledger, choice_from, metres, run_from, turnover_of, vessel_from
from autoplan.problem.tables.defaults import FEEDS, FEEDS_OVER_RIM_M, GEOMETRY, HEIGHTS
from autoplan.problem.tables.schema import LongJunction, LongRun, LongVessel, Table
from autoplan.problem.tables.validate import validate
from autoplan.problem.tables.values import Depth, Length, closest
from autoplan.units import Dimension, quoted, write

ARRAYS: Mapping[str, type[Table]] = {"vessel": LongVessel, "junction": LongJunction, "run": LongRun}


class HandPumpTable(Table):
    """One vessel below `[hand_pumps]`."""

    lift: Depth = Field(description="height that its waste is lifted by hand")
    reach: Length = Field(description="way of the hand pump's hose")


def read_long(file: str, tables: Mapping[str, Any], ledger: Ledger) -> tuple[Scene, list[Mistake]]:
    """Read a long form.

    Args:
        file: as the user named it.
        tables: the whole file.
        ledger: where assumptions go.

    Returns:
        What could be read, and every mistake in it. Whether water can run round is only asked when all
        tables and connections are right.
    """
    mistakes: list[Mistake] = []
    read: dict[str, list[Any]] = {}
    unread: dict[str, list[str]] = {}
    for array, kind in ARRAYS.items():
        read[array], unread[array] = _items(file, tables, array, kind, mistakes)
    mistakes += _repeated(file, read)
    scene = _scene(file, read, frozenset(unread["vessel"] + unread["junction"]), ledger, mistakes)
    mistakes += connection_mistakes(scene)
    whole = not mistakes
    mistakes += height_mistakes(scene)
    if whole:
        mistakes += water_mistakes(scene)
        mistakes += reach_mistakes(scene)
        mistakes += plan_mistakes(scene)
        mistakes += timer_mistakes(scene)
        mistakes += weep_mistakes(scene)
        mistakes += outside_mistakes(scene)
    return scene, mistakes or list(alike_mistakes(scene))


def _items(
    file: str, tables: Mapping[str, Any], array: str, kind: type[Table], mistakes: list[Mistake]
) -> tuple[list[Any], list[str]]:
    """Checked tables of an array, and the names of those that have mistakes."""
    items = tables.get(array, [])
    if not isinstance(items, list):
        remedy = f"write [[{array}]] above each"
        mistakes.append(Mistake(file, array, f"{quoted(items)} is not an array of tables", remedy))
        return [], []
    if not items and array != "junction":
        mistakes.append(
            Mistake(file, array, f"there is no [[{array}]]", f"write [[{array}]] and its keys below it")
        )
    good: list[Any] = []
    bad: list[str] = []
    for number, item in enumerate(items, 1):
        name = item.get("name") if isinstance(item, Mapping) else None
        called = name if isinstance(name, str) and name else f"number {number}"
        found = validate(kind, item, file, f"{array}.{called}")
        mistakes += found.mistakes
        if found.model is None:
            bad.append(called)
        else:
            good.append(found.model)
    return good, bad


def _repeated(file: str, read: Mapping[str, list[Any]]) -> list[Mistake]:
    """Names are unique on the whole site, since reports speak of vessels, junctions and runs alike."""
    named = {array: [item.name for item in items] for array, items in read.items()}
    return [
        Mistake(
            file,
            f"{next(array for array in reversed(named) if name in named[array])}.{name}",
            f'the name "{name}" is given more than once',
            "give every vessel, junction and run a name of its own",
        )
        for name in repeated([name for names in named.values() for name in names])
    ]


def _scene(
    file: str,
    read: Mapping[str, list[Any]],
    unread: frozenset[str],
    ledger: Ledger,
    mistakes: list[Mistake],
) -> Scene:
    scene = Scene(file, unread=unread)
    pumped = {table.start for table in read["run"] if table.kind is RunKind.PRESSURE}
    for table in read["vessel"]:
        place = f"vessel.{table.name}"
        vessel = _vessel(table, place, ledger, table.name in pumped)
        scene.stand(vessel, place, choice_from(table, table.kind, place, ledger))
    for table in read["junction"]:
        spot = None if table.at is None else Spot(*table.at)
        known = table.open, table.height, spot, table.at_once
        scene.meet(table.name, f"junction.{table.name}", *known)
    kinds = {name: vessel.kind for name, vessel in scene.vessels.items()}
    outside = frozenset(siphoned_outside(scene))
    for given in read["run"]:
        place = f"run.{given.name}"
        table = _with_level(scene, given, place, ledger, mistakes)
        lost = table.level is None and table.legs is None and {table.start, table.finish} & unread
        mistakes += [] if lost else _run_keys(file, table, place, scene.junctions)
        if table.legs is not None or table.level is not None:
            scene.lay(_pumped_at(scene, run_from(table, place, kinds, ledger, outside), place, ledger), place)
    return scene


def _pumped_at(scene: Scene, run: Run, place: str, ledger: Ledger) -> Run:
    """A pump's run on the plan at a height: over the rim that it leaves by, or on at its tee."""
    if run.plan is None or run.plan.height_m is not None or run.kind is not RunKind.PRESSURE:
        return run
    vessel, junction = scene.vessels.get(run.start), scene.junctions.get(run.start)
    height, along = (None, "") if junction is None else (junction.at_m, junction.along)
    if vessel is not None:
        height, along = metres(vessel.rim_m + FEEDS_OVER_RIM_M), vessel.name
    if height is None:
        return run
    usual = HEIGHTS[FEEDS]
    ledger.note(f"{place}.height", write(height, Dimension.LENGTH), usual.mark, usual.why)
    return replace(run, plan=replace(run.plan, height_m=height, along=along))


def _with_level(scene: Scene, run: LongRun, place: str, ledger: Ledger, mistakes: list[Mistake]) -> LongRun:
    """A run with its level pieces and corners by where its ends are, if nothing else says its way."""
    if run.level is not None or run.legs is not None:
        return run
    start, finish = (_outline(scene, name) for name in (run.start, run.finish))
    if start is None or finish is None:
        if {run.start, run.finish} & scene.unread:
            # Where that stands could not be read.
            return run
        remedy = 'write e.g. level = "2.5 m" from wall to wall, or the legs one by one'
        mistakes.append(Mistake(scene.file, f"{place}.level", "is missing", remedy))
        return run
    way = way_between(start, finish, others=in_the_way(scene.vessels, run.start, run.finish))
    remedy = "give its level distance too"
    if way is None:
        ends = [scene.vessels[name] for name in (run.start, run.finish) if name in scene.vessels]
        if len(ends) > 1 and in_one_another(*ends):
            return run
        problem = "by their places there is no way from wall to wall with one corner or none"
        mistakes.append(Mistake(scene.file, f"{place}.level", problem, remedy))
        return run
    if run.corners not in (None, way.corners):
        problem = (
            f"by their places its corners are {list(way.corners)}, and {list(run.corners or ())} are given"
        )
        mistakes.append(Mistake(scene.file, f"{place}.corners", problem, remedy))
    level = way.in_tenths()
    text = ", ".join(write(piece, Dimension.LENGTH) for piece in level)
    ledger.note(f"{place}.level", f"[{text}]", GEOMETRY, "level distance by their places")
    return run.model_copy(update={"level": level, "corners": way.corners})


def _outline(scene: Scene, name: str) -> Outline | None:
    """The outside of a vessel whose place is known, or the place of a junction."""
    if name in scene.vessels:
        return outline_of(scene.vessels[name])
    spot = scene.junctions[name].spot if name in scene.junctions else None
    return None if spot is None else Outline(point(spot))


def read_hand_pumps(
    file: str, tables: object, vessels: Mapping[str, Vessel]
) -> tuple[tuple[HandPumpWish, ...], list[Mistake]]:
    """The wishes below `[hand_pumps]`, a table for each vessel, and every mistake in them."""
    if not isinstance(tables, Mapping):
        remedy = "write [hand_pumps.NAME] with lift and reach below it"
        return (), [Mistake(file, "hand_pumps", f"{quoted(tables)} is not a table", remedy)]
    wishes: list[HandPumpWish] = []
    mistakes: list[Mistake] = []
    for name, table in tables.items():
        place = f"hand_pumps.{name}"
        found = validate(HandPumpTable, table, file, place)
        mistakes += found.mistakes
        if name not in vessels:
            remedy = closest(name, list(vessels), "name a vessel")
            mistakes.append(Mistake(file, place, f'no vessel is called "{name}"', remedy))
        elif found.model is not None:
            wishes.append(HandPumpWish(name, found.model.lift, found.model.reach))
    return tuple(wishes), mistakes


def _vessel(table: LongVessel, place: str, ledger: Ledger, pumped: bool) -> Vessel:
    turnover = table.turnover or 0.0
    if table.kind is VesselKind.TANK:
        turnover = turnover_of(table.turnover, f"{place}.turnover", ledger)
    return vessel_from(table, table.name, table.kind, place, ledger, turnover, pumped=pumped)


def _run_keys(file: str, run: LongRun, place: str, junctions: Mapping[str, Junction]) -> list[Mistake]:
    """Keys of one run that do not go together."""
    found: list[Mistake] = []

    def say(key: str, problem: str, remedy: str) -> None:
        found.append(Mistake(file, f"{place}.{key}", problem, remedy))

    if run.level is not None:
        for key in ("legs", "turns"):
            if getattr(run, key) is not None:
                say(key, f"both level and {key} are given", "give one of them")
        found += _plan_keys(file, run, place, junctions)
    elif run.legs is not None:
        for key in ("corners", "height"):
            if getattr(run, key) is not None:
                say(key, f"only a run with its level distance has {key}", "take it out, or write its level")
    if run.draw is not None and (run.kind is not RunKind.GRAVITY or run.start in junctions):
        say("draw", "only a gravity run that starts at a vessel has a draw", "take it out")
    falls = run.kind is RunKind.GRAVITY and run.level is None
    if run.entry is not None and (falls or run.finish in junctions):
        say("entry", "only a run on the plan or of a pump that ends at a vessel has an entry", "take it out")
    return found


def _plan_keys(file: str, run: LongRun, place: str, junctions: Mapping[str, Junction]) -> Iterator[Mistake]:
    """Corners that its level pieces do not go with, and junctions of which nobody knows the height."""
    corners, level = run.corners, run.level or ()
    if corners is not None and len(level) not in (1, len(corners) + 1):
        problem = f"{len(level)} level pieces do not go with the corners {list(corners)}"
        remedy = "give one piece more than there are corners, or the whole distance"
        yield Mistake(file, f"{place}.level", problem, remedy)
    for end in (run.start, run.finish):
        if end in junctions and junctions[end].at_m is None:
            problem = f"nobody knows how high {end} is, where a run on the plan meets"
            yield Mistake(file, f"junction.{end}.height", problem, 'write e.g. height = "250 mm"')
