"""In which order to build: vessels first, then holes, drains, beds, the pumped side, air, and a trial."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from autoplan.catalog.mating import JointKind
from autoplan.catalog.naming import name_of, names_of, times
from autoplan.catalog.parts import Catalog
from autoplan.fittings.cap import EndCap
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import RunKind
from autoplan.report.alike import SECOND, THIRD, gathered
from autoplan.report.blocks import Block, Heading, Points
from autoplan.report.figures import ZERO
from autoplan.report.sections.drilling import holes_of
from autoplan.report.sections.joints import joints_of, kind_words
from autoplan.report.units import Units


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work and its steps, a sentence or two each."""

    title: str
    steps: tuple[str, ...]


def build_order(outcome: Outcome, design: Design, units: Units) -> list[Stage]:
    """The stages that this design has, in the order in which they are best done (common practice)."""
    stages = (
        ("Stand the vessels", _vessels(outcome, units)),
        ("Drill and fit what goes through walls", _walls(outcome, design, units)),
        ("Lay the drains", _lay(outcome, design, RunKind.GRAVITY)),
        ("Set up the beds", _beds(design)),
        ("Set the pump and lay what it feeds", _pumped(outcome, design)),
        ("Hang the air", _air(design)),
        ("Try it with water, before there are fish", _trial(outcome, design, units)),
    )
    made = [Stage(title, tuple(steps)) for title, steps in stages]
    return [stage for stage in made if stage.steps]


def order_of_work(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The stages one under the other."""
    yield Heading("Order of work")
    yield Points(
        tuple(
            f"{number}. {stage.title}: {' '.join(stage.steps)}"
            for number, stage in enumerate(build_order(outcome, design, units), start=1)
        )
    )


def _vessels(outcome: Outcome, units: Units) -> Iterator[str]:
    """Where each floor stands: everything else is measured from there."""
    said = ((vessel.floor_m, vessel.name) for vessel in outcome.site.vessels.values())
    floors = gathered(((name,), _height(floor, units)) for floor, name in said)
    yield (
        f"Mark {ZERO} where it cannot move, and carry heights from it "
        "with a level or a hose full of water. Floors inside, before anything is drilled:"
    )
    yield f"{'; '.join(floors)}."
    loose = [vessel for vessel in outcome.site.vessels.values() if vessel.uncertain_m > 0.0]
    for vessel in loose:
        yield f"{vessel.name} may come out up to {units.height.said(vessel.uncertain_m)} higher or lower."


def _height(floor_m: float, units: Units) -> str:
    if units.height.steps(floor_m) == 0:
        return "at 0"
    side = "above" if floor_m > 0 else "below"
    return f"{units.height.said(abs(floor_m))} {side} it"


def _walls(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    """How many holes of which size, and what is pushed or screwed into them."""
    drilled = [hole for hole in holes_of(outcome, design) if hole.place in ("wall", "floor")]
    if not drilled:
        return
    sizes = Counter(units.hole.said(hole.hole_m) for hole in drilled)
    yield (
        f"Mark every hole from the vessel's own floor, check it against the pipe that comes there, then "
        f"drill {', '.join(f'{count} of {size}' for size, count in sizes.items())}."
    )
    yield from gathered(
        ((vessel,), f"{'; '.join(names_of(outcome.catalog, parts))}.")
        for vessel in outcome.site.vessels
        if (parts := [hole.part for hole in drilled if hole.vessel == vessel])
    )


def _lay(outcome: Outcome, design: Design, kind: RunKind) -> Iterator[str]:
    """Each run of a kind with its pieces and joints; those made alike together."""
    mine = [run for run in outcome.site.runs.values() if run.kind is kind]
    drawn = [design.drawing.runs[run.name] for run in mine]
    built = [run for run in drawn if not run.later]
    if built:
        yield (
            "Cut the pieces of a run, push it together dry in the order of the water, mark every joint, then "
            "take it apart and make the joints for good."
        )
    yield from gathered(
        ((run.run, run.start.at, run.finish.at), _run_words(outcome.catalog, design, run)) for run in built
    )
    for run in drawn:
        if run.later:
            cap = run.one(EndCap)
            yield f"{run.run}: to come later." + (
                f" Cap it with {name_of(outcome.catalog, cap.part)}." if cap else ""
            )


def _run_words(catalog: Catalog, design: Design, run: Line) -> str:
    pieces = len(run.pieces_m)
    kinds = Counter(kind_words(joint) for joint in joints_of(design).get(run.run, ()))
    made = ", ".join(times(count, kind) for kind, count in kinds.items()) or "none"
    cut = f"{pieces} piece{'' if pieces == 1 else 's'} of {name_of(catalog, run.pipe)}"
    return f"start at {SECOND}, end at {THIRD}; a run takes {cut}; its joints: {made}."


def _beds(design: Design) -> Iterator[str]:
    """What stands over each bed's outlet before the media go in."""
    ends = [run.floor for run in design.drawing.runs.values() if not run.later and run.floor is not None]
    bells = [end.at for end in ends if end.siphon is not None]
    clocks = [end.at for end in ends if end.drain_hole is not None]
    if bells:
        yield f"{_named(bells)}: standpipe, bell, air tube and guard, in this order."
    if clocks:
        yield f"{_named(clocks)}: standpipe with its drain hole, then the guard round it."
    lines = design.drawing.runs.values()
    outside = [run.outside.at for run in lines if run.outside is not None and not run.later]
    if outside:
        yield (
            f"{_named(outside)}: the screen on the siphon pipe's inner end, its air tube at the crest and "
            "over the rim. Run water through it until it has started and stopped by itself; then fill in the "
            "media, washed, the coarsest round the screen."
        )
    if bells or clocks:
        yield (
            "Run water through each outlet before the media go in; wash the media and fill them in round "
            "the guard."
        )


def _named(beds: list[str]) -> str:
    return next(iter(gathered(((bed,), "") for bed in beds))).removesuffix(": ")


def _pumped(outcome: Outcome, design: Design) -> Iterator[str]:
    """Each pump, then every run under pressure."""
    for pump in design.drawing.pumps.values():
        yield (
            f"Set {name_of(outcome.catalog, pump.part)} into {pump.vessel}, unplugged, its "
            "plug where no drip from the cable reaches it."
        )
    yield from _lay(outcome, design, RunKind.PRESSURE)


def _air(design: Design) -> Iterator[str]:
    fed = list(dict.fromkeys(line.vessel for pump in design.drawing.air for line in pump.lines))
    if fed:
        yield f"Lay the air lines to {', '.join(fed)}, diffusers in, pumps not yet plugged in."


def _trial(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    """Water before power, power before fish."""
    if any(joint.kind is JointKind.WELDED for joint in design.verdict.joints):
        yield "Let every glued joint cure as long as its tin says."
    yield (
        "Fill vessel by vessel to over its holes and look at every wall part and joint: dry them and look "
        "again."
    )
    yield "Never test with air: plastic pipe under air bursts into splinters."
    if design.drawing.pumps:
        yield "Fill as told under Filling, switch on, and set the valves as told under First run."
    filling = design.verdict.filling
    if filling is not None and filling.moving:
        vessels = (design.site or outcome.site).vessels
        highest = ", ".join(
            f"{moving.vessel} rises at the most to "
            f"{units.height.said(moving.high_m - vessels[moving.vessel].floor_m)} above its floor"
            for moving in filling.moving
        )
        yield f"Then pull the plug once and watch: {highest}."
