"""Runs and junctions by themselves: what meets where, and what goes together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from autoplan.errors import Mistake
from autoplan.problem.brief import Mouth
from autoplan.problem.checks.scene import ALIKE, Scene
from autoplan.problem.site import Draw, Entry, Guard, Run, RunKind
from autoplan.problem.tables.values import closest
from autoplan.units import Dimension, write


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
        if run.plan is None and len(run.legs_m) != len(run.turns) + 1:
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
        yield from _mouth_mistakes(scene, run)
        yield from _waste_mistakes(scene, run)
        yield from _vent_mistakes(scene, run)
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


def _mouth_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """Only a drain on the plan can end over a rim, and only where water stands all the time under it."""
    if run.mouth is None or run.finish in scene.unread:
        return
    vessel = scene.vessels.get(run.finish)
    if run.kind is not RunKind.GRAVITY or run.plan is None or vessel is None:
        problem = "only a drain on the plan that ends at a vessel has a mouth over a rim"
        yield scene.mistake(run.name, "mouth", problem, "take it out")
    elif run.entry is Entry.WALL:
        problem = "a drain that comes through the wall has no mouth over a rim"
        yield scene.mistake(run.name, "mouth", problem, 'take it out, or write entry = "over the rim"')
    elif vessel.bed is not None and run.mouth is Mouth.BELOW_WATER:
        problem = "the water in a bed goes up and down, so that no mouth stays under it"
        yield scene.mistake(run.name, "mouth", problem, 'write mouth = "free" or take it out')


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


def _vent_mistakes(scene: Scene, run: Run) -> Iterator[Mistake]:
    """A vent stands on a drain that starts at a junction of known height, and rises from there."""
    if run.vent_m is None or run.start in scene.unread:
        return
    foot = scene.junctions[run.start].height_m if run.start in scene.junctions else None
    if run.kind is not RunKind.GRAVITY or foot is None:
        problem = "only a drain that starts at a junction whose height is known has a vent"
        yield scene.mistake(run.name, "vent", problem, "give that junction its height, or take the vent out")
    elif run.vent_m <= foot:
        top, low = (write(height, Dimension.LENGTH) for height in (run.vent_m, foot))
        problem = f"the vent ends at {top}, and the pipe that it stands on lies at {low}"
        yield scene.mistake(run.name, "vent", problem, "let it end over the rims of the beds above")


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


def repeated(names: Sequence[str]) -> list[str]:
    """Names that occur more than once, in the order of the file."""
    return [name for name, count in Counter(names).items() if count > 1]


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
