"""Looking after what was built: what to do, how often and where. Common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from autoplan.catalog.mating import JointKind
from autoplan.fittings.drain_down import DrainDown
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.strainer import Strainer
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import Site, VesselKind
from autoplan.report.alike import together
from autoplan.report.blocks import Block, GridColumn, Heading, grid_of

DAYS = "every few days"
WEEKLY, MONTHLY, QUARTERLY, YEARLY = "weekly", "monthly", "every 3 months", "yearly"
OFTEN = (DAYS, WEEKLY, MONTHLY, QUARTERLY, YEARLY)


@dataclass(frozen=True, slots=True)
class Chore:
    """One thing to do again and again: what, how often, and the names of the runs or vessels where."""

    what: str
    often: str
    where: tuple[str, ...]


def chores(outcome: Outcome, design: Design) -> list[Chore]:
    """Everything that a design asks for, the most frequent first."""
    built = [line for line in design.drawing.runs.values() if not line.later]
    told = (
        *_in_vessels(outcome.site, built),
        *_on_lines(outcome.site, built),
        *_of_joints(design),
        *_of_power(design),
    )
    return sorted((chore for chore in told if chore.where), key=lambda chore: OFTEN.index(chore.often))


def upkeep(outcome: Outcome, design: Design) -> Iterator[Block]:
    """A row for each."""
    yield Heading("Looking after it")
    yield grid_of(
        chores(outcome, design),
        (GridColumn("how often", 14), lambda chore: chore.often),
        (GridColumn("what", 48), lambda chore: chore.what),
        (GridColumn("where", 34), lambda chore: together(chore.where)),
    )


def _in_vessels(site: Site, built: Sequence[Line]) -> Iterator[Chore]:
    def of(kind: VesselKind) -> tuple[str, ...]:
        return tuple(name for name, vessel in site.vessels.items() if vessel.kind is kind)

    floors = [end for line in built if (end := line.floor) is not None]
    yield Chore("draw off the sludge until the water comes clear", DAYS, of(VesselKind.SETTLER))
    yield Chore(
        "brush the screen",
        WEEKLY,
        _starts(site, [line for line in built if line.one(InletScreen) is not None and not line.outside]),
    )
    outside = tuple(line.outside.at for line in built if line.outside is not None)
    yield Chore("rinse the air tube of the siphon pipe outside", MONTHLY, outside)
    yield Chore("dig the screen of the siphon pipe outside free, and brush it", QUARTERLY, outside)
    yield Chore(
        "see that the hole in the standpipe is open",
        WEEKLY,
        tuple(end.at for end in floors if end.drain_hole is not None),
    )
    yield Chore(
        "lift the bell, rinse it and its air tube",
        QUARTERLY,
        tuple(end.at for end in floors if end.siphon is not None),
    )
    yield Chore("take out old roots; rinse media that hold sludge", YEARLY, of(VesselKind.BED))


def _on_lines(site: Site, built: Sequence[Line]) -> Iterator[Chore]:
    def with_any(*kinds: type[Riser | FlushTee | Strainer | ValveSet]) -> list[Line]:
        return [line for line in built if any(line.one(kind) is not None for kind in kinds)]

    def names(lines: Sequence[Line]) -> tuple[str, ...]:
        return tuple(line.run for line in lines)

    yield Chore("before the first frost: pump out, open the drain cock", YEARLY, names(with_any(DrainDown)))
    waste = [line for line in built if site.runs[line.run].waste]
    holes = [line for line in built if (rim := line.rim) is not None and rim.air_hole_m is not None]
    yield Chore("open the waste valve wide until the water comes clear", DAYS, names(waste))
    yield Chore("open the flushing point and flush the drain", WEEKLY, names(with_any(FlushTee)))
    yield Chore("see that the siphon-break hole spouts", WEEKLY, names(holes))
    yield Chore("brush the strainer", MONTHLY, names(with_any(Strainer)))
    yield Chore("turn the valve a quarter and back, or it seizes", MONTHLY, names(with_any(ValveSet)))
    yield Chore("look down the open tee; rod it if water stands in it", MONTHLY, names(with_any(Riser)))
    yield Chore(
        "pump off: see that the check valve holds the water back", MONTHLY, names(with_any(CheckValveSet))
    )


def _of_joints(design: Design) -> Iterator[Chore]:
    held = (JointKind.RUBBER, JointKind.CLAMPED)
    runs = dict.fromkeys(joint.run for joint in design.verdict.joints if joint.kind in held)
    yield Chore("tighten every clamp; feel for drips under the joints", YEARLY, tuple(runs))


def _starts(site: Site, lines: Sequence[Line]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(site.runs[line.run].start for line in lines))


def _of_power(design: Design) -> Iterator[Chore]:
    pumps = tuple(design.drawing.pumps)
    battery = tuple(line.vessel for pump in design.drawing.air if pump.battery for line in pump.lines)
    yield Chore("test the residual-current device; unplug, rinse the pump's strainer", MONTHLY, pumps)
    yield Chore("run the battery air pump for an hour, charge it again", MONTHLY, battery)
    yield Chore(
        "pull the plug with everything running: the water must stay under the rim, and all start again",
        YEARLY,
        pumps,
    )
