"""Runs of one class, which are built alike and so must be able to be."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import Scene
from autoplan.problem.site import BedDrain, Run, RunKind

Said = Callable[[Scene, Run], str]
"""What a run is, in words that follow its name."""


def _start(scene: Scene, run: Run) -> str:
    return "starts at a junction" if run.start in scene.junctions else "starts at a vessel"


def _finish(scene: Scene, run: Run) -> str:
    return "ends at a junction" if run.finish in scene.junctions else "ends at a vessel"


def _step(scene: Scene, run: Run) -> str:
    """Whether a pump's line runs at its tee's height: where it does not there are uprights to build."""
    tee = scene.junctions.get(run.start)
    height = None if run.plan is None else run.plan.height_m
    runs_on = run.kind is RunKind.GRAVITY or tee is None or height is None or height == tee.at_m
    return "runs on at the height of its start" if runs_on else "runs at another height than its start"


def _bed(scene: Scene, run: Run) -> str:
    bed = scene.vessels[run.start].bed if run.start in scene.vessels else None
    siphon = bed is not None and bed.drain is BedDrain.SIPHON and not run.idle
    return "empties a bed by a siphon" if siphon else "has no siphon at its start"


ALIKE: tuple[Said, ...] = (
    lambda _, run: "runs by gravity" if run.kind is RunKind.GRAVITY else "is pumped",
    _start,
    _finish,
    lambda _, run: "is an overflow" if run.overflow else "is no overflow",
    lambda _, run: "drains waste" if run.waste else "drains no waste",
    lambda _, run: f'takes its water by draw = "{run.draw}"',
    lambda _, run: "has a valve" if run.valve else "has no valve",
    lambda _, run: f'enters by entry = "{run.entry}"',
    _bed,
    _step,
)
"""What all runs of a class must have in common."""


def alike_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Runs that cannot be built as the first of their class is; one for each, by what differs first."""
    classes: dict[str, Run] = {}
    for run in scene.runs.values():
        first = classes.setdefault(run.run_class, run)
        apart = ((said(scene, first), said(scene, run)) for said in ALIKE)
        found = next((both for both in apart if both[0] != both[1]), None)
        if found is not None:
            problem = (
                f'runs of the class "{run.run_class}" are built alike, but {first.name} {found[0]}, '
                f"and {run.name} {found[1]}"
            )
            yield scene.mistake(run.name, "class", problem, "give it a class of its own")
