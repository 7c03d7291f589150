"""Where vessels and lines are on the plan, and how high lines run that are known there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import Scene
from autoplan.problem.plan import TAPED_M, Outline, gap_m, in_one_another, least_apart_m, outline_of, point
from autoplan.problem.site import Draw, Run, RunKind, Vessel
from autoplan.problem.standing import OFF_WALL_M
from autoplan.problem.tables.defaults import FEEDS
from autoplan.problem.tables.values import MOST_BURIED_M, MOST_LENGTH_M
from autoplan.units import Dimension, write


def plan_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Vessels in one another, lines without room between walls, drains over their water; one per key path."""
    told: set[str] = set()
    for mistake in _all(scene):
        if mistake.place not in told:
            told.add(mistake.place)
            yield mistake


def _all(scene: Scene) -> Iterator[Mistake]:
    for vessel in scene.vessels.values():
        yield from _facing_mistakes(scene, vessel)
    for one, other in combinations(scene.vessels.values(), 2):
        yield from _overlap_mistakes(scene, one, other)
    for run in scene.runs.values():
        yield from _room_mistakes(scene, run)
        yield from _apart_mistakes(scene, run)
        yield from _deep_mistakes(scene, run)
        if run.kind is RunKind.GRAVITY:
            yield from _fall_mistakes(scene, run)


def _facing_mistakes(scene: Scene, vessel: Vessel) -> Iterator[Mistake]:
    """A round vessel is as long as wide, and faces nowhere."""
    spot = vessel.spot
    if spot is None or not vessel.curved:
        return
    for key, said in (("facing", spot.facing_deg), ("side", spot.length_m)):
        if said:
            problem = f"{vessel.name} is round, so it has no {key} of its own"
            yield scene.mistake(vessel.name, key, problem, 'write shape = "square", or take it out')


def _overlap_mistakes(scene: Scene, one: Vessel, other: Vessel) -> Iterator[Mistake]:
    """Two vessels do not stand in one place, unless one is wholly above the other."""
    first, second = outline_of(one), outline_of(other)
    if first is None or second is None or not in_one_another(one, other):
        return
    alike = scene.places[one.name] == scene.places[other.name]
    have, need = _below(abs(second.middle - first.middle)), _above(least_apart_m(first, second))
    problem = (
        f"{one.name} and {other.name} overlap on the plan: their middles are {have} apart, and with their "
        f"walls they need {need} that way"
    )
    remedy = "move one of them, or let it stand wholly above the other"
    yield scene.mistake(other.name, "step" if alike else "at", problem, remedy)


def _room_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """Fittings at a wall take room before the next wall or corner."""
    if run.plan is None:
        return
    pieces = list(run.plan.level_m)
    needs = [0.0] * len(pieces)
    for place, end in ((0, run.start), (-1, run.finish)):
        needs[place] += OFF_WALL_M if end in scene.vessels else 0.0
    for piece, need in zip(pieces, needs, strict=True):
        key = "level" if scene.places[run.name].startswith("run.") else ""
        has = f"a level piece of {run.name} is {_below(piece)} long"
        # One that has no length at all was told where it was laid.
        if 0 < piece < need - 1e-9:
            problem = f"{has}, and it needs {_above(need)}: {_above(OFF_WALL_M)} off each wall"
            yield scene.mistake(run.name, key, problem, "move what it joins further apart, or measure again")
        elif piece > MOST_LENGTH_M:
            problem = f"{has}, and more than {_length(MOST_LENGTH_M)} is a slip of the pen"
            yield scene.mistake(run.name, key, problem, "measure again")


def _outline(scene: Scene, name: str) -> Outline | None:
    """The outside of a vessel whose size and place are known, or the place of a junction."""
    vessel = scene.vessels.get(name)
    if vessel is not None:
        return None if name in scene.choices else outline_of(vessel)
    spot = scene.junctions[name].spot if name in scene.junctions else None
    return None if spot is None else Outline(point(spot))


def _apart_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """A distance that is given is no shorter than its ends are apart by their places, but for a tape's."""
    first, last = (_outline(scene, name) for name in (run.start, run.finish))
    if run.plan is None or first is None or last is None:
        return
    apart, said = gap_m(first, last), run.plan.distance_m
    if said < apart - TAPED_M:
        problem = (
            f"{run.name} goes {_below(said)} on the plan, and by their places {run.start} and "
            f"{run.finish} are {_below(apart)} apart"
        )
        remedy = "measure again, or leave the distance out and it follows from the places"
        key = "level" if scene.places[run.name].startswith("run.") else ""
        yield scene.mistake(run.name, key, problem, remedy)


def _deep_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """No line lies deeper in the ground than anyone digs a trench for in a garden."""
    height = None if run.plan is None else run.plan.height_m
    ground = min((vessel.ground_m for vessel in scene.vessels.values()), default=0.0)
    if height is not None and height < ground - MOST_BURIED_M - 1e-9:
        problem = (
            f"{run.name} would lie {_length(ground - height)} under the ground, and deeper than "
            f"{_length(MOST_BURIED_M)} no trench is planned here"
        )
        yield Mistake(scene.file, _height_of(scene, run), problem, "let it run higher")


def _height_of(scene: Scene, run: Run) -> str:
    """The key that says at what height a run lies."""
    place = scene.places[run.name]
    if place.startswith("run."):
        return f"{place}.height"
    return place.replace("distances.", "heights.", 1) if run.kind is RunKind.GRAVITY else f"heights.{FEEDS}"


def _fall_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """A drain runs and ends lower than the water leaves its start, and higher than the floor it ends over."""
    leaves, end = _leaves(scene, run), scene.junctions.get(run.finish)
    height = None if run.plan is None else run.plan.height_m
    if height is not None and leaves is not None and height >= leaves:
        problem = f"{run.name} would run at {_length(height)}, and leaves {run.start} under {_length(leaves)}"
        yield Mistake(scene.file, _height_of(scene, run), problem, "let it run lower")
    if run.waste and end is not None and end.open_m is not None and run.start in scene.vessels:
        yield from _waste_mistakes(scene, run, end.open_m)
    if end is not None and end.height_m is not None and leaves is not None and end.height_m > leaves:
        problem = f"{run.name} leaves {run.start} at {_length(leaves)} at most, and {end.name} is at "
        long = scene.places[end.name].startswith("junction.")
        if long or end.height_m == _highest(scene, scene.places[end.name]):
            key = "height" if long else ""
            yield scene.mistake(end.name, key, f"{problem}{_length(end.height_m)}", "let it be lower")
    begins, finish = scene.junctions.get(run.start), scene.vessels.get(run.finish)
    if begins is None or begins.height_m is None or finish is None or finish.name in scene.choices:
        return
    if begins.height_m <= finish.floor_m:
        floor = f"the floor of {finish.name} is at {_length(finish.floor_m)}"
        problem = f"{begins.name} is at {_length(begins.height_m)}, and {floor}"
        yield scene.mistake(begins.name, "height", problem, "let it be higher")


def _waste_mistakes(scene: Scene, run: Run, end_m: float) -> Iterator[Mistake]:
    """A waste drain on the plan leaves at its vessel's foot, or the tip of its cone, and never rises."""
    vessel = scene.vessels[run.start]
    if run.plan is not None and vessel.name not in scene.choices and end_m > vessel.lowest_m + 1e-9:
        foot = "the tip of its cone" if vessel.cone_m else "its floor"
        problem = f"{run.name} ends at {_length(end_m)}, and leaves {vessel.name} by {foot} at "
        long = scene.places[run.name].startswith("run.")
        remedy = "let it end lower, stand the vessel higher, or pump its waste by hand"
        place, key = (run.finish, "open") if long else (vessel.name, "waste_height")
        yield scene.mistake(place, key, f"{problem}{_length(vessel.lowest_m)}", remedy)


def _highest(scene: Scene, place: str) -> float:
    """Height of the highest junction that one key of the short form lays [m]."""
    laid = (joint for name, joint in scene.junctions.items() if scene.places[name] == place)
    return max(joint.height_m for joint in laid if joint.height_m is not None)


def _leaves(scene: Scene, run: Run) -> float | None:
    """Height at which water leaves the start of a drain at most [m]; None where that is not known."""
    if run.start in scene.junctions:
        return scene.junctions[run.start].height_m
    vessel = scene.vessels[run.start]
    if vessel.name in scene.choices:
        return None
    return vessel.floor_m - vessel.base_m if run.draw is Draw.STANDPIPE else vessel.water_max_m


def _length(value: float) -> str:
    return write(float(f"{value:.6g}"), Dimension.LENGTH)


def _below(value: float) -> str:
    """A length in whole millimetres, rounded down."""
    return write(math.floor(value * 1000 + 1e-6) / 1000, Dimension.LENGTH)


def _above(value: float) -> str:
    """A length in whole millimetres, rounded up."""
    return write(math.ceil(value * 1000 - 1e-2) / 1000, Dimension.LENGTH)
