"""What must be true of beds that run empty by a weep hole: the hole, and the drain it is in."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.holes import height_mistakes, standpipe_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import class_mistakes, once
from autoplan.problem.site import BedWater
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
        yield from standpipe_mistakes(scene, name, "weep hole", "a bed with a weep hole, which")
    if beds:
        yield from class_mistakes(scene, set(beds), "beds with a weep hole")


def _hole_mistakes(scene: Scene, name: str, bed: BedWater, weep: WeepHole) -> Iterator[Mistake]:
    """The bed runs empty by a hole under its flood and over its floor."""
    if weep.hole_m > WIDEST_HOLE_M:
        hole = write(weep.hole_m, Dimension.LENGTH)
        problem = f"{name} would need a weep hole of {hole} to run empty within {WEEP['within'].text}"
        yield scene.mistake(name, "drain", problem, "make the bed smaller, or give it another drain")
    else:
        yield from height_mistakes(scene, name, bed, weep, "weep hole")
