"""The long form: arrays of vessels, junctions and runs, checked one by one and together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import Field

from autoplan.errors import Mistake
from autoplan.problem.brief import HandPumpWish
from autoplan.problem.checks.connections import connection_mistakes, repeated
from autoplan.problem.checks.heights import height_mistakes, reach_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import timer_mistakes
from autoplan.problem.checks.water import water_mistakes
from autoplan.problem.site import Junction, RunKind, Vessel, VesselKind
from autoplan.problem.tables.build import Ledger, choice_from, run_from, turnover_of, vessel_from
from autoplan.problem.tables.schema import LongJunction, LongRun, LongVessel, Table, validate
from autoplan.problem.tables.values import Depth, Length, closest
from autoplan.units import quoted

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
        mistakes += timer_mistakes(scene)
    return scene, mistakes


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
        scene.meet(table.name, f"junction.{table.name}", table.open, table.height, table.at_once)
    kinds = {name: vessel.kind for name, vessel in scene.vessels.items()}
    for table in read["run"]:
        place = f"run.{table.name}"
        mistakes += _run_keys(file, table, place, scene.junctions)
        if any(given is not None for given in (table.legs, table.length, table.level)):
            scene.lay(run_from(table, place, kinds, ledger), place)
    return scene


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

    if run.legs is None and run.length is None and run.level is None:
        say("level", "is missing", 'write e.g. level = "2.5 m" from wall to wall, or the legs one by one')
    if run.legs is not None and run.length is not None:
        say("length", "both legs and length are given", "give one of them")
    if run.level is not None:
        for key in ("legs", "length", "turns"):
            if getattr(run, key) is not None:
                say(key, f"both level and {key} are given", "give one of them")
        found += _plan_keys(file, run, place, junctions)
    else:
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
    corners, level = run.corners or (), run.level or ()
    if len(level) not in (1, len(corners) + 1):
        problem = f"{len(level)} level pieces cannot go with {len(corners)} corners"
        remedy = "give one piece more than there are corners, or the whole distance"
        yield Mistake(file, f"{place}.level", problem, remedy)
    for end in (run.start, run.finish):
        if end in junctions and junctions[end].at_m is None:
            problem = f"nobody knows how high {end} is, where a run on the plan meets"
            yield Mistake(file, f"junction.{end}.height", problem, 'write e.g. height = "250 mm"')
