"""What must be true of a bed that runs empty by a hole in its standpipe, whether a timer floods it or not."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import Scene
from autoplan.problem.site import BedTimer, BedWater, Draw
from autoplan.problem.weep import WeepHole
from autoplan.units import Dimension, write


def height_mistakes(
    scene: Scene, name: str, bed: BedWater, hole: BedTimer | WeepHole, word: str
) -> Iterator[Mistake]:
    """The hole is under the bed's flood and over its floor."""
    if hole.height_m + hole.hole_m / 2 >= bed.flood_m:
        deep = write(bed.flood_m, Dimension.LENGTH)
        problem = f"the {word} of {name} is not under its flood, which is {deep} deep"
        yield scene.mistake(name, "hole_height", problem, "put it near the floor")
    elif hole.height_m < hole.hole_m / 2:
        problem = f"the {word} of {name} would reach under the bed's floor"
        yield scene.mistake(name, "hole_height", problem, "put its centre half its diameter up or more")


def standpipe_mistakes(scene: Scene, name: str, word: str, drained: str) -> Iterator[Mistake]:
    """The hole is in the standpipe of the bed's one drain.

    Args:
        scene: what stands there.
        name: of the bed.
        word: what the hole is called.
        drained: what is said of a drain from another place than a standpipe, after "drains".
    """
    out = [run for run in scene.starting(name) if not run.idle]
    if len(out) > 1:
        problem = f"{len(out)} drains leave {name}, whose {word} is in one standpipe"
        yield scene.mistake(name, "drain", problem, "let one drain leave it")
    for run in out[:1]:
        if run.draw is not Draw.STANDPIPE:
            problem = f"{run.name} drains {drained} is in a standpipe"
            yield scene.mistake(run.name, "draw", problem, 'write draw = "standpipe"')
