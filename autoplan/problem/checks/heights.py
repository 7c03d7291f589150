"""What stands where: vessels that hold their water, drains that fall, pipes that reach."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import ALIKE, Scene
from autoplan.problem.flows import gravity_paths, pressure_paths
from autoplan.problem.site import Run, RunKind, Vessel
from autoplan.problem.tables.values import MOST_HEIGHT_M
from autoplan.sentence import Written, say
from autoplan.units import Dimension, write


def height_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Vessels that cannot hold their water, and drains that would have to climb; one per key path.

    Of a vessel that is still to be chosen nothing is said.
    """
    sized = {name: vessel for name, vessel in scene.vessels.items() if name not in scene.choices}
    scene = replace(scene, vessels=sized)
    told: set[tuple[str, ...]] = set()
    wrong: set[str] = set()
    for vessel in scene.vessels.values():
        place = scene.places[vessel.name]
        mistakes = list(_vessel_mistakes(scene, vessel))
        wrong |= {place} if mistakes else set()
        yield from mistakes if (place,) not in told else ()
        told.add((place,))
    for run in scene.runs.values():
        start, finish = scene.vessels.get(run.start), _vessel_below(scene, run)
        if run.kind is not RunKind.GRAVITY or start is None or finish is None or finish is start:
            continue
        pair = (scene.places[start.name], scene.places[finish.name])
        if pair not in told and not wrong.intersection(pair):
            told.add(pair)
            yield from _fall_mistakes(scene, start, finish)
    yield from _spread_mistakes(scene)


def _vessel_mistakes(scene: Scene, vessel: Vessel) -> Iterator[Mistake]:
    name, depth = vessel.name, _length(vessel.depth_m)
    low, high = (round(level - vessel.floor_m, 9) + 0.0 for level in (vessel.water_min_m, vessel.water_max_m))
    if vessel.bed is not None:
        if high >= vessel.depth_m:
            problem = say("{} is flooded {} deep but only {} deep itself", name, _length(high), depth)
            yield scene.mistake(name, "flood", problem, "keep the flood below the rim")
    elif high <= 0:
        dry = _length(vessel.depth_m - high)
        problem = say("a freeboard of {} leaves no water in {}, which is {} deep", dry, name, depth)
        yield scene.mistake(name, "freeboard", problem, "keep it less than the depth")
    elif high >= vessel.depth_m:
        problem = say("the water of {} may stand {} high but its rim is at {}", name, _length(high), depth)
        yield scene.mistake(name, "water_max", problem, "keep the highest water below the rim")
    elif low > high:
        words = "the lowest water of {}, {}, is above its highest, {}"
        problem = say(words, name, _length(low), _length(high))
        yield scene.mistake(name, "water_min", problem, "keep it at or below the highest")
    held = vessel.area_m2 * vessel.depth_m
    if vessel.turnover_volume_m3 > held * (1 + ALIKE):
        given, room = told_apart(vessel.turnover_volume_m3, held, Dimension.VOLUME, 4)
        problem = say(
            "{} do not fit into {}: its area times its depth is {}", Written(given), name, Written(room)
        )
        yield scene.mistake(name, "volume", problem, "give the volume to the rim, or leave the area out")


def _fall_mistakes(scene: Scene, start: Vessel, finish: Vessel) -> Iterator[Mistake]:
    """A drain needs some fall at the best of levels; a bed must run empty into the highest water below."""
    if start.bed is not None and start.floor_m < finish.water_max_m:
        problem = say(
            "the floor of {} at {} is lower than the water that it falls to, up to {} in {}",
            start.name,
            _length(start.floor_m),
            _length(finish.water_max_m),
            finish.name,
        )
        remedy = f"raise the bed or lower {finish.name}, so that the bed can run empty"
        yield scene.mistake(start.name, "floor", problem, remedy)
    elif start.water_max_m <= finish.water_min_m:
        high, low = told_apart(start.water_max_m, finish.water_min_m, Dimension.LENGTH)
        ends = say("from {}, at most at {}, to {}, at least", start.name, Written(high), finish.name)
        problem = say("water would have to climb {} at {}", ends, Written(low))
        if high == low:
            problem = say("there is no fall {} as high", ends)
        yield scene.mistake(start.name, "floor", problem, f"raise {start.name} or lower {finish.name}")


def _spread_mistakes(scene: Scene) -> Iterator[Mistake]:
    vessels = scene.vessels.values()
    if not vessels:
        return
    top, bottom = max(vessels, key=lambda at: at.rim_m), min(vessels, key=lambda at: at.floor_m)
    spread = top.rim_m - bottom.floor_m
    if spread > MOST_HEIGHT_M:
        problem = say("the rim of {} is {} above the floor of {}", top.name, _length(spread), bottom.name)
        remedy = f"check floor and ground: a site may be at most {_length(MOST_HEIGHT_M).text} high"
        yield scene.mistake(top.name, "floor", problem, remedy)


def reach_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Measured legs too short for the height between what is at their ends; one per key path.

    On the plan uprights follow from heights.
    Brief of a scene whose connections are right. Of a vessel that is still to be chosen nothing is said.
    """
    told: set[str] = set()
    single = ((name,) for name, run in scene.runs.items() if {run.start, run.finish} & {*scene.junctions})
    for path in (*gravity_paths(scene), *pressure_paths(scene), *single):
        first, last = scene.runs[path[0]], scene.runs[path[-1]]
        ends = [_standing(scene, name) for name in (first.start, last.finish)]
        if any(scene.runs[name].plan is not None for name in path) or None in ends:
            continue
        low, high = sorted((end for end in ends if end is not None), key=lambda end: end.low_m)
        between = high.low_m - low.high_m
        long = sum(scene.runs[name].length_m for name in path)
        place = scene.places[last.name]
        # More than the most height is told as one that no site has.
        if long >= between - ALIKE or between > MOST_HEIGHT_M or place in told:
            continue
        told.add(place)
        has, needs = told_apart(long, between, Dimension.LENGTH)
        problem = (
            f"{has} of pipe cannot lead from {first.start} to {last.finish}: {high.lowest} is {needs} above "
            f"{low.highest}"
        )
        remedy = f"make it {needs} at least, uprights included, or check the heights"
        yield scene.mistake(last.name, "", problem, remedy)


@dataclass(frozen=True, slots=True)
class _Standing:
    """Between which heights a pipe may end [m] at a vessel or a junction, and what is at either."""

    low_m: float
    high_m: float
    lowest: str
    highest: str


def _standing(scene: Scene, name: str) -> _Standing | None:
    """None of a junction without a height, or a vessel that is still to be chosen."""
    if name in scene.junctions:
        at = scene.junctions[name].at_m
        return None if at is None else _Standing(at, at, name, name)
    vessel = scene.vessels[name]
    if name in scene.choices:
        return None
    return _Standing(vessel.floor_m, vessel.rim_m, f"the floor of {name}", f"the rim of {name}")


def _vessel_below(scene: Scene, run: Run) -> Vessel | None:
    """The vessel that a drain ends in, if it can be followed."""
    seen: set[str] = set()
    while run.finish in scene.junctions and run.name not in seen:
        seen.add(run.name)
        onward = scene.starting(run.finish)
        if len(onward) != 1:
            return None
        run = onward[0]
    return scene.vessels.get(run.finish)


def told_apart(one: float, other: float, dimension: Dimension, digits: int = 6) -> tuple[str, str]:
    """Two values in as many digits as tell one from the other, at least so many; alike if they are one."""
    texts = [
        [write(float(f"{value:.{many}g}"), dimension) for value in (one, other)] for many in range(digits, 13)
    ]
    first, second = next((both for both in texts if both[0] != both[1]), texts[0])
    return first, second


def _length(value: float) -> Written:
    return Written(write(float(f"{value:.6g}"), Dimension.LENGTH))
