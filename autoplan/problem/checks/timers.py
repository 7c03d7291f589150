"""What must be true of beds that a timer floods: their clock, their feed, their pump, their drain."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.holes import height_mistakes, standpipe_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.flows import pressure_paths, pumped_from
from autoplan.problem.site import BedTimer, BedWater, Run, RunKind, VesselKind
from autoplan.problem.tables.values import WIDEST_HOLE_M
from autoplan.units import Dimension, write


def timer_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Every mistake about timed beds; one for each place in the file and kind of mistake."""
    yield from once(_all(scene))


def once(mistakes: Iterator[Mistake]) -> Iterator[Mistake]:
    """Of mistakes with one remedy at one place the first."""
    told: set[tuple[str, str]] = set()
    for mistake in mistakes:
        if (mistake.place, mistake.remedy) not in told:
            told.add((mistake.place, mistake.remedy))
            yield mistake


def _all(scene: Scene) -> Iterator[Mistake]:
    timed = {name: vessel.bed for name, vessel in scene.vessels.items() if vessel.bed and vessel.bed.timer}
    for name, bed in timed.items():
        assert bed.timer is not None
        yield from _clock_mistakes(scene, name, bed, bed.timer)
        yield from _feed_mistakes(scene, name)
        yield from standpipe_mistakes(scene, name, "drain hole", "a timed bed, whose drain hole")
    if timed:
        yield from _pump_mistakes(scene, set(timed))
        yield from class_mistakes(scene, set(timed), "timed beds")


def _clock_mistakes(scene: Scene, name: str, bed: BedWater, timer: BedTimer) -> Iterator[Mistake]:
    """The valve must shut for a while in each cycle, and the bed run empty by a hole under its flood."""
    on, cycle = (write(float(f"{value:.4g}"), Dimension.TIME) for value in (timer.on_s, bed.cycle_s))
    if timer.on_s >= bed.cycle_s:
        problem = f"the valve of {name} would be open {on} of every {cycle}"
        yield scene.mistake(name, "on_time", problem, "make it shorter than the time from flood to flood")
    elif timer.hole_m > WIDEST_HOLE_M:
        shut = write(float(f"{bed.cycle_s - timer.on_s:.4g}"), Dimension.TIME)
        hole = write(timer.hole_m, Dimension.LENGTH)
        problem = f"{name} would need a drain hole of {hole} to run empty in the {shut} its valve is shut"
        yield scene.mistake(name, "on_time", problem, "make it shorter, or let the bed flood less often")
    else:
        yield from height_mistakes(scene, name, bed, timer, "drain hole")


def _feed_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    """One pump's run with a valve feeds a timed bed, so that shutting it stops the water."""
    into = scene.ending(name)
    by_gravity = [run for run in into if run.kind is RunKind.GRAVITY]
    if by_gravity:
        problem = f"{name} is fed by gravity, where a shut valve would only send its water elsewhere"
        yield scene.mistake(name, "drain", problem, "let a pump feed it, or give it another drain")
    elif len(into) > 1:
        problem = f"{len(into)} runs feed {name}, which has one timed valve"
        yield scene.mistake(name, "drain", problem, "let one run with a valve feed it")
    for run in into:
        if run.kind is RunKind.PRESSURE and not run.valve:
            problem = f"{run.name} feeds a timed bed, whose timer works its valve"
            yield scene.mistake(run.name, "valve", problem, "write valve = true")


def _pump_mistakes(scene: Scene, timed: set[str]) -> Iterator[Mistake]:
    """Some way is open to each pump whatever the clocks say, and no fish hang on theirs."""
    targets: dict[str, list[Run]] = {}
    roots = pumped_from(scene)
    for path in pressure_paths(scene):
        targets.setdefault(roots[path[-1]], []).append(scene.runs[path[-1]])
    for pumped, runs in targets.items():
        beds = [run.finish for run in runs if run.finish in timed]
        vessel = scene.vessels.get(pumped)
        if not beds or vessel is None:
            continue
        if len(beds) == len(runs):
            problem = f"the pump in {pumped} feeds nothing but timed beds, and would run against shut valves"
            remedy = "let it feed a vessel that is always open too, or give one bed another drain"
            yield scene.mistake(beds[0], "drain", problem, remedy)
        elif vessel.kind is VesselKind.TANK:
            problem = (
                f"the water of {pumped} would turn over only while the valves of its timed beds are open"
            )
            remedy = "let a pump in a sump feed them, or give them another drain"
            yield scene.mistake(beds[0], "drain", problem, remedy)


def class_mistakes(scene: Scene, beds: set[str], what: str) -> Iterator[Mistake]:
    """Runs that are built alike are all for such beds, or none of them is."""
    classes: dict[str, list[Run]] = {}
    for run in scene.runs.values():
        classes.setdefault(run.run_class, []).append(run)
    for name, members in classes.items():
        own = [bool({run.start, run.finish} & beds) for run in members]
        if any(own) and not all(own):
            odd = members[own.index(True)]
            problem = f'runs of the class "{name}" go to {what} and to others'
            yield scene.mistake(odd.name, "class", problem, f"give those of {what} a class of their own")
