"""What must be true of a site before anyone designs for it: names, connections, heights, and water's way.

Every check yields `Mistake`s; `Scene` says where in the file each thing stands. Checks come in rounds:
`connection_mistakes` on the runs alone, `height_mistakes` on what stands where, and `water_mistakes` and
`reach_mistakes`, which need the first round to be clean.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from autoplan.errors import Mistake
from autoplan.problem.graph import flows, gravity_graph, gravity_paths, pressure_paths
from autoplan.problem.problem import VesselChoice
from autoplan.problem.site import Draw, Entry, Flow, Guard, HandPumpWish, Junction, Run, RunKind, Vessel
from autoplan.problem.values import MOST_HEIGHT_M, closest
from autoplan.units import Dimension, write

ALIKE = 1e-6
"""Relative difference below which two flows or volumes are the same."""


@dataclass(slots=True)
class Scene:
    """A layout as it grows out of a file, and is checked.

    Attributes:
        file: as the user named it.
        vessels, junctions, runs: those that could be read.
        places: key path of each vessel and run by name ("vessel.tank", "beds"); junctions by name too.
        unread: names of vessels and junctions whose tables have mistakes; nothing more is said of them.
        hand_pumps: vessels whose waste is pumped out by hand.
        choices: what is to be chosen, by vessel.
    """

    file: str
    vessels: dict[str, Vessel] = field(default_factory=dict)
    junctions: dict[str, Junction] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    hand_pumps: list[HandPumpWish] = field(default_factory=list)
    choices: dict[str, VesselChoice] = field(default_factory=dict)

    def stand(self, vessel: Vessel, place: str, choice: VesselChoice | None = None) -> None:
        """One more vessel, from the key path of its table."""
        self.vessels[vessel.name] = vessel
        self.places[vessel.name] = place
        if choice is not None:
            self.choices[vessel.name] = choice

    def meet(self, name: str, place: str, open_m: float | None = None) -> None:
        """One more junction, or open end."""
        self.junctions[name] = Junction(name, open_m)
        self.places[name] = place

    def lay(self, run: Run, place: str) -> None:
        """One more run, from the key path that gives its length; one of a bed to come later is its own."""
        spare = any(end in self.vessels and self.vessels[end].spare for end in (run.start, run.finish))
        self.runs[run.name] = replace(run, spare=spare)
        self.places[run.name] = place

    def mistake(self, name: str, key: str, problem: str, remedy: str) -> Mistake:
        """A mistake at one key of a vessel, junction or run."""
        place = self.places[name]
        return Mistake(self.file, f"{place}.{key}" if key else place, problem, remedy)

    def starting(self, place: str) -> list[Run]:
        """Runs that start there."""
        return [run for run in self.runs.values() if run.start == place]

    def ending(self, place: str) -> list[Run]:
        """Runs that end there."""
        return [run for run in self.runs.values() if run.finish == place]


def connection_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Runs to nowhere, wrong counts of legs, shares, junctions that cannot be built."""
    known = [*scene.vessels, *scene.junctions, *sorted(scene.unread)]
    for run in scene.runs.values():
        for key, place in (("from", run.start), ("to", run.finish)):
            if place not in known:
                problem = f'no vessel or junction is called "{place}"'
                yield scene.mistake(
                    run.name, key, problem, closest(place, known, f"known are {', '.join(known)}")
                )
        if run.start == run.finish:
            yield scene.mistake(
                run.name, "to", f'the run ends where it starts, at "{run.start}"', "name another end"
            )
        if len(run.legs_m) != len(run.turns) + 1:
            problem = f"{_count(len(run.legs_m), 'leg')} cannot go with {_count(len(run.turns), 'turn')}"
            remedy = "give one leg more than there are turns"
            yield scene.mistake(run.name, "legs", problem, remedy)
        if run.share is not None and not (run.kind is RunKind.GRAVITY and run.start in scene.vessels):
            problem = "only a gravity run that starts at a vessel has a share"
            yield scene.mistake(run.name, "share", problem, "take the share out")
        if run.screen and (run.kind is not RunKind.GRAVITY or run.start in scene.junctions or run.overflow):
            problem = (
                "only a drain that starts at a vessel has a screen, and an overflow has none to block it"
            )
            yield scene.mistake(run.name, "screen", problem, "take the screen out")
        if run.overflow:
            yield from _overflow_mistakes(scene, run)
        yield from _guard_mistakes(scene, run)
        yield from _waste_mistakes(scene, run)
    for vessel in scene.vessels:
        yield from _share_mistakes(scene, vessel)
    for vessel in scene.vessels:
        yield from _spare_mistakes(scene, vessel)
    for junction in scene.junctions:
        yield from _junction_mistakes(scene, junction)


def _guard_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """Nothing but an air gap where water goes up and down; no hole in a pipe that comes through the wall."""
    if run.siphon_back is Guard.AIR_GAP:
        return
    vessel = scene.vessels.get(run.finish)
    remedy = 'write siphon_back = "air gap" or take it out'
    if run.kind is not RunKind.PRESSURE or vessel is None:
        if run.finish not in scene.unread:
            problem = "only a pressure run that ends at a vessel can siphon back"
            yield scene.mistake(run.name, "siphon_back", problem, "take it out")
    elif run.siphon_back is not Guard.ANY and any(
        other.kind is RunKind.PRESSURE for other in scene.starting(run.finish)
    ):
        problem = f"the water in {run.finish} goes up and down as it is pumped, so its inlet opens above it"
        yield scene.mistake(run.name, "siphon_back", problem, remedy)
    elif vessel.bed is not None:
        problem = "a bed's water goes up and down, so its inlet opens above it"
        yield scene.mistake(run.name, "siphon_back", problem, remedy)
    elif run.siphon_back is Guard.HOLE and run.entry is Entry.WALL:
        problem = "a pipe that comes through the wall has no upright for a siphon-break hole"
        yield scene.mistake(
            run.name, "siphon_back", problem, 'write entry = "over the rim", or another siphon_back'
        )


def _overflow_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """An overflow falls from the wall of a vessel that drains by gravity straight into another vessel."""
    others = [other for other in scene.starting(run.start) if not other.idle]
    if run.kind is not RunKind.GRAVITY or run.start in scene.junctions or run.finish in scene.junctions:
        problem = "an overflow is a gravity run from one vessel straight to another"
        yield scene.mistake(run.name, "overflow", problem, "let it start and end at a vessel")
    elif run.draw is not Draw.WALL or run.share is not None:
        key = "share" if run.share is not None else "draw"
        problem = "an overflow takes water from the wall, and no share of it at design"
        yield scene.mistake(run.name, key, problem, 'write draw = "wall" and no share')
    elif any(other.kind is RunKind.PRESSURE for other in others):
        problem = f"{run.start} is emptied by a pump and not by drains"
        yield scene.mistake(run.name, "overflow", problem, "give the overflow to a vessel above it")


def _waste_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """A waste drain falls from a vessel to an open end, and nothing else ends at one."""
    end = scene.junctions.get(run.finish)
    ends_open = end is not None and end.open_m is not None
    if not run.waste:
        if ends_open:
            problem = f"{run.finish} is an open end, where water is lost"
            yield scene.mistake(run.name, "to", problem, "write waste = true, or let it end elsewhere")
    elif run.kind is not RunKind.GRAVITY or run.start not in scene.vessels or not ends_open:
        problem = "a waste drain is a gravity run from a vessel to an open end"
        remedy = 'let it end at a junction with a height, e.g. open = "100 mm"'
        yield scene.mistake(run.name, "waste", problem, remedy)
    elif run.draw is not Draw.WALL or run.share is not None or run.screen or run.overflow:
        problem = "a waste drain starts at the foot of the wall, without share, screen or overflow"
        yield scene.mistake(run.name, "waste", problem, 'write draw = "wall" and nothing of the others')


def _share_mistakes(scene: Scene, vessel: str) -> Iterator[Mistake]:
    """Shares of one vessel's drains must leave something for each, and add up to all of it."""
    out = [run for run in scene.starting(vessel) if run.kind is RunKind.GRAVITY and not run.idle]
    given = [run.share for run in out if run.share is not None]
    if not given:
        return
    whole = sum(given)
    if whole > 1 + ALIKE:
        problem = f"the shares of what leaves {vessel} add up to {whole:.4g}"
        yield scene.mistake(out[-1].name, "share", problem, "let them add up to 1")
    elif len(given) == len(out) and whole < 1 - ALIKE:
        problem = f"the shares of what leaves {vessel} add up to only {whole:.4g}"
        yield scene.mistake(out[-1].name, "share", problem, "let them add up to 1, or leave one share out")
    elif len(given) < len(out) and whole > 1 - ALIKE:
        problem = f"the shares of what leaves {vessel} leave nothing for its other drains"
        yield scene.mistake(out[-1].name, "share", problem, "give each drain a share above zero")


def _spare_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    """A bed to come later is fed from a junction, where its feed is capped, and has a drain of its own."""
    if not scene.vessels[name].spare:
        return
    into, out = scene.ending(name), scene.starting(name)
    fed = len(into) == 1 and into[0].kind is RunKind.PRESSURE and into[0].start in scene.junctions
    if not fed or len(out) != 1 or out[0].finish not in scene.vessels:
        problem = "a bed to come later has one feed from a junction and one drain to a vessel"
        yield scene.mistake(name, "spare", problem, "give it both, or take spare out")


def _junction_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    """Two or three runs of one kind; drains join, pressure divides."""
    into, out = scene.ending(name), scene.starting(name)
    kinds = {run.kind for run in (*into, *out)}
    if scene.junctions[name].open_m is not None:
        if len(into) + len(out) != 1:
            problem = f"{_count(len(into) + len(out), 'run')} meet at the open end {name}"
            yield scene.mistake(name, "", problem, "let one waste drain end there")
    elif len(into) + len(out) not in (2, 3):
        problem = f"{_count(len(into) + len(out), 'run')} meet at {name}"
        yield scene.mistake(name, "", problem, "let two or three runs meet at a junction")
    elif not into or not out:
        way = "out of" if into else "into"
        yield scene.mistake(name, "", f"no run leads {way} {name}", "let water come in and go out")
    elif len(kinds) > 1:
        problem = f"gravity and pressure runs meet at {name}"
        yield scene.mistake(name, "", problem, "let them meet in a vessel")
    elif kinds == {RunKind.PRESSURE} and len(into) > 1:
        problem = f"two pressure runs lead into {name}, so two pumps would work against each other"
        yield scene.mistake(name, "", problem, "lead each pump's run to its vessels by itself")
    elif kinds == {RunKind.GRAVITY} and len(out) > 1:
        problem = f"a drain divides at {name}, where nothing says how much goes where"
        yield scene.mistake(name, "", problem, "let both drains start at the vessel, each with its share")


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
            problem = f"{name} is flooded {_length(high)} deep but only {depth} deep itself"
            yield scene.mistake(name, "flood", problem, "keep the flood below the rim")
    elif high <= 0:
        dry = _length(vessel.depth_m - high)
        problem = f"a freeboard of {dry} leaves no water in {name}, which is {depth} deep"
        yield scene.mistake(name, "freeboard", problem, "keep it less than the depth")
    elif high >= vessel.depth_m:
        problem = f"the water of {name} may stand {_length(high)} high but its rim is at {depth}"
        yield scene.mistake(name, "water_max", problem, "keep the highest water below the rim")
    elif low > high:
        problem = f"the lowest water of {name}, {_length(low)}, is above its highest, {_length(high)}"
        yield scene.mistake(name, "water_min", problem, "keep it at or below the highest")
    held = vessel.area_m2 * vessel.depth_m
    if vessel.turnover_volume_m3 > held * (1 + ALIKE):
        given, room = (
            write(float(f"{value:.4g}"), Dimension.VOLUME) for value in (vessel.turnover_volume_m3, held)
        )
        problem = f"{given} do not fit into {name}: its area times its depth is {room}"
        yield scene.mistake(name, "volume", problem, "give the volume to the rim, or leave the area out")


def _fall_mistakes(scene: Scene, start: Vessel, finish: Vessel) -> Iterator[Mistake]:
    """A drain needs some fall at the best of levels; a bed must run empty into the highest water below."""
    if start.bed is not None and start.floor_m < finish.water_max_m:
        problem = (
            f"the floor of {start.name} at {_length(start.floor_m)} is lower than the water "
            f"that it falls to, up to {_length(finish.water_max_m)} in {finish.name}"
        )
        remedy = f"raise the bed or lower {finish.name}, so that the bed can run empty"
        yield scene.mistake(start.name, "floor", problem, remedy)
    elif start.water_max_m <= finish.water_min_m:
        problem = (
            f"water would have to climb from {start.name}, at most at {_length(start.water_max_m)}, "
            f"to {finish.name}, at least at {_length(finish.water_min_m)}"
        )
        yield scene.mistake(start.name, "floor", problem, f"raise {start.name} or lower {finish.name}")


def _spread_mistakes(scene: Scene) -> Iterator[Mistake]:
    vessels = scene.vessels.values()
    if not vessels:
        return
    top, bottom = max(vessels, key=lambda at: at.rim_m), min(vessels, key=lambda at: at.floor_m)
    spread = top.rim_m - bottom.floor_m
    if spread > MOST_HEIGHT_M:
        problem = f"the rim of {top.name} is {_length(spread)} above the floor of {bottom.name}"
        remedy = f"check floor and ground: a site may be at most {_length(MOST_HEIGHT_M)} high"
        yield scene.mistake(top.name, "floor", problem, remedy)


def reach_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Pipes too short for the height between the vessels at their ends; one per key path.

    Brief of a scene whose connections are right. Of a vessel that is still to be chosen nothing is said.
    """
    told: set[str] = set()
    for path in (*gravity_paths(scene), *pressure_paths(scene)):
        first, last = scene.runs[path[0]], scene.runs[path[-1]]
        ends = (scene.vessels[first.start], scene.vessels[last.finish])
        low, high = sorted(ends, key=lambda vessel: vessel.floor_m)
        between = high.floor_m - low.rim_m
        long = sum(scene.runs[name].length_m for name in path)
        place = scene.places[last.name]
        # More than the most height is told as one that no site has.
        reaches = long >= between - ALIKE or between > MOST_HEIGHT_M
        if reaches or place in told or any(vessel.name in scene.choices for vessel in ends):
            continue
        told.add(place)
        problem = (
            f"{_length(long)} of pipe cannot lead from {first.start} to {last.finish}: the floor of "
            f"{high.name} is {_length(between)} above the rim of {low.name}"
        )
        remedy = f"make it {_length(between)} at least, uprights included, or check floor and ground"
        yield scene.mistake(last.name, "", problem, remedy)


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


def water_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Vessels that fill or empty for ever, drains in a circle, runs that no water reaches."""
    circle = _circle(scene)
    if circle:
        problem = f"water cannot fall in a circle: {', '.join((*circle, circle[0]))}"
        yield scene.mistake(
            _first_run(scene, circle), "to", problem, "let a pump lift it somewhere on the way"
        )
    for name in scene.vessels:
        yield from _through_mistakes(scene, name)
    yield from _pump_mistakes(scene)


def _through_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    into = [run for run in scene.ending(name) if not run.idle]
    out = [run for run in scene.starting(name) if not run.idle]
    if not into and not out:
        yield scene.mistake(name, "", f"no run leads to or from {name}", "connect it or take it out")
    elif not out:
        yield scene.mistake(
            name, "", f"water runs into {name} but no run leads out of it", "add a run from it"
        )
    elif not into:
        yield scene.mistake(name, "", f"water runs out of {name} but no run leads into it", "add a run to it")
    elif len({run.kind for run in out}) > 1:
        problem = f"both a pump and a drain take water from {name}, so nothing says how much falls"
        yield scene.mistake(name, "", problem, "take it by the pump alone or by gravity alone")
    elif out[0].kind is RunKind.PRESSURE and len(out) > 1:
        problem = f"{len(out)} pressure runs start at {name}, which has one pump"
        yield scene.mistake(name, "", problem, "let one run start there and divide at a junction")


def _pump_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Pressure runs that lead round in a circle of junctions without a pump."""
    reached = {name for path in pressure_paths(scene) for name in path}
    for run in scene.runs.values():
        if run.kind is RunKind.PRESSURE and run.name not in reached and run.start in scene.junctions:
            problem = f"no pump feeds {run.name}"
            yield scene.mistake(run.name, "from", problem, "let a pressure run lead there from a vessel")


def flow_mistakes(scene: Scene, found: Mapping[str, Flow]) -> Iterator[Mistake]:
    """Runs that nothing asks to carry water, and pumped vessels that would run dry or over."""
    dry = [name for name, flow in found.items() if flow.design_m3_s <= 0 and not scene.runs[name].idle]
    for name in dry:
        problem = f"no water runs in {name}, since nothing that it feeds asks for any"
        yield scene.mistake(name, "", problem, "give the vessel it feeds a turnover, or take the run out")
    if dry:
        return
    for name in dict.fromkeys(run.start for run in scene.runs.values() if run.kind is RunKind.PRESSURE):
        if name not in scene.vessels:
            continue
        came = sum(found[run.name].design_m3_s for run in scene.ending(name))
        goes = sum(found[run.name].design_m3_s for run in scene.starting(name))
        if abs(came - goes) > ALIKE * max(came, goes):
            into, out = (write(float(f"{flow:.4g}"), Dimension.FLOW) for flow in (came, goes))
            problem = f"{into} run into {name} but its pump takes {out}"
            yield scene.mistake(name, "", problem, "lead back to it what its pump takes out")


def sound_flows(scene: Scene) -> tuple[dict[str, Flow], list[Mistake]]:
    """Flows of a scene that passed all other checks, and what is wrong with them."""
    found = flows(scene)
    return found, list(flow_mistakes(scene, found))


def repeated(names: Sequence[str]) -> list[str]:
    """Names that occur more than once, in the order of the file."""
    return [name for name, count in Counter(names).items() if count > 1]


def _circle(scene: Scene) -> list[str]:
    """Vessels and junctions of one circle of drains, or nothing."""
    import networkx as nx

    try:
        edges = nx.find_cycle(gravity_graph(scene))
    except nx.NetworkXNoCycle:
        return []
    return [edge[0] for edge in edges]


def _first_run(scene: Scene, circle: Sequence[str]) -> str:
    return next(
        run.name
        for run in scene.runs.values()
        if run.start == circle[0] and run.finish == circle[1 % len(circle)] and run.kind is RunKind.GRAVITY
    )


def _length(value: float) -> str:
    return write(float(f"{value:.6g}"), Dimension.LENGTH)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
