"""What must be true of beds that run empty by a weep hole: the hole, and the drain it is in."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import class_mistakes, once
from autoplan.problem.site import BedWater, Draw
from autoplan.problem.tables.defaults import WEEP
from autoplan.problem.tables.values import WIDEST_HOLE_M
from autoplan.problem.weep import WeepHole
from autoplan.units import Dimension, write


def weep_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Every mistake about beds with a weep hole; one for each place in the file and kind of mistake."""
    yield from once(_all(scene))


def _all(scene: Scene) -> Iterator[Mistake]:
    beds = {name: vessel.bed for name, vessel in scene.vessels.items() if vessel.bed and vessel.bed.weep}
    for name, bed in beds.items():
        assert bed.weep is not None
        yield from _hole_mistakes(scene, name, bed, bed.weep)
        yield from _drain_mistakes(scene, name)
    if beds:
        yield from class_mistakes(scene, set(beds), "beds with a weep hole")


def _hole_mistakes(scene: Scene, name: str, bed: BedWater, weep: WeepHole) -> Iterator[Mistake]:
    """The bed runs empty by a hole under its flood and over its floor."""
    if weep.hole_m > WIDEST_HOLE_M:
        hole = write(weep.hole_m, Dimension.LENGTH)
        problem = f"{name} would need a weep hole of {hole} to run empty within {WEEP['within'].text}"
        yield scene.mistake(name, "drain", problem, "make the bed smaller, or give it another drain")
    elif weep.height_m + weep.hole_m / 2 >= bed.flood_m:
        deep = write(bed.flood_m, Dimension.LENGTH)
        problem = f"the weep hole of {name} is not under its flood, which is {deep} deep"
        yield scene.mistake(name, "hole_height", problem, "put it near the floor")
    elif weep.height_m < weep.hole_m / 2:
        problem = f"the weep hole of {name} would reach under the bed's floor"
        yield scene.mistake(name, "hole_height", problem, "put its centre half its diameter up or more")


def _drain_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    """The weep hole is in a standpipe."""
    out = [run for run in scene.starting(name) if not run.idle]
    if len(out) > 1:
        problem = f"{len(out)} drains leave {name}, whose weep hole is in one standpipe"
        yield scene.mistake(name, "drain", problem, "let one drain leave it")
    for run in out[:1]:
        if run.draw is not Draw.STANDPIPE:
            problem = f"{run.name} drains a bed with a weep hole, which is in a standpipe"
            yield scene.mistake(run.name, "draw", problem, 'write draw = "standpipe"')
