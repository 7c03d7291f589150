"""What must be true of beds with a siphon pipe outside: one drain each, which begins and ends so."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import class_mistakes, once
from autoplan.problem.site import BedDrain, Draw, Run

WRITE = 'write draw = "outside siphon"'


def siphoned_outside(scene: Scene) -> list[str]:
    """The beds with a siphon pipe outside."""
    beds = ((name, vessel.bed) for name, vessel in scene.vessels.items())
    return [name for name, bed in beds if bed is not None and bed.drain is BedDrain.OUTSIDE]


def outside_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Every mistake about siphon pipes outside beds; one for each place in the file and kind of mistake."""
    yield from once(_all(scene))


def _all(scene: Scene) -> Iterator[Mistake]:
    beds = siphoned_outside(scene)
    for name in beds:
        out = [run for run in scene.starting(name) if not run.idle]
        if len(out) > 1:
            problem = f"{len(out)} drains leave {name}, which a siphon pipe outside is to empty"
            yield scene.mistake(name, "drain", problem, "let one drain leave it")
        for run in out[:1]:
            if run.draw is not Draw.OUTSIDE:
                problem = f"{run.name} drains a bed with a siphon pipe outside, and does not begin so"
                yield scene.mistake(run.name, "draw", problem, f"{WRITE}, or give {name} another drain")
    for run in scene.runs.values():
        if run.draw is Draw.OUTSIDE:
            yield from _run_mistakes(scene, run, beds)
    if beds:
        yield from class_mistakes(scene, set(beds), "beds with a siphon pipe outside")


def _run_mistakes(scene: Scene, run: Run, beds: list[str]) -> Iterator[Mistake]:
    """It starts at such a bed, has a screen, is known on the plan and falls free to a vessel."""
    if run.start not in beds:
        problem = f"{run.name} begins as a siphon pipe outside, and {run.start} is no bed with one"
        yield scene.mistake(run.name, "draw", problem, 'write drain = "outside siphon" of its bed')
    if run.finish not in scene.vessels:
        problem = f"{run.name} is a siphon pipe, whose end hangs free over a vessel's water"
        yield scene.mistake(run.name, "to", problem, "let it end at a vessel, and not where drains meet")
    if run.plan is None:
        problem = f"{run.name} is a siphon pipe, whose uprights follow from its hole, its crest and its end"
        yield scene.mistake(run.name, "legs", problem, "give its level distance in place of legs and turns")
    if not run.screen:
        problem = f"{run.name} is a siphon pipe, which draws through the gravel of its bed"
        yield scene.mistake(run.name, "screen", problem, "write screen = true")
