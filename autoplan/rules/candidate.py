"""One way to build a class of runs, as the optimiser offers it and the rules weigh it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from autoplan.catalog.parts import Pipe, Way
from autoplan.hydraulics.conduit import Conduit
from autoplan.line.needs import Want
from autoplan.line.route import Course
from autoplan.line.row import Line
from autoplan.rules.heights import Place as Level


@dataclass(frozen=True, slots=True)
class Place:
    """Where the hole of one end sits, against the level that governs it [m].

    A gravity start lies below its vessel's design level, a gravity finish and an inlet behind a check valve
    too; other pressure finishes through the wall and an overflow's start lie above the overload level
    (`over`). `offset_m` is centre minus that level, `hole_m` the hole to drill, `bore_m` what the water
    passes.
    """

    offset_m: float
    hole_m: float
    bore_m: float
    over: bool = False


@dataclass(frozen=True, slots=True)
class Apart:
    """What the legs of a run ask of levels: how much one stands over another, or over the datum [m].

    Attributes:
        higher, lower: a water level each, or the datum.
        least_m, most_m: bounds of the difference.
    """

    higher: Level
    lower: Level
    least_m: float
    most_m: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to build every run of a class.

    Attributes:
        run_class: the class.
        pipe: product and size.
        start_way, finish_way: how the ends meet their vessels; None at a junction or a pump.
        rating_m: least pressure rating among its parts [m of water].
        drawn: by run name, the run as it would be drawn, its heights still open.
        places: by (run name, "start" | "finish"), the hole of each end that has one in a wall.
        lines: by run name, the run as a line, without what happens at junctions and at the pump.
        needs: cement, clamps and the like, in the model's whole amounts.
        screwed_needs: the same where drains are screwed and not welded; `needs` for a pressure run.
        glued: whether its joints are welded though drains are screwed.
        saws: hole saws wanted.
        courses: by run name, how it goes from height to height; none of a measured run.
        apart: by run name, what its legs ask of levels.
        legs_m: by run name, each leg at its longest [m]; none of a measured run.
    """

    run_class: str
    pipe: Pipe
    start_way: Way | None
    finish_way: Way | None
    rating_m: float
    drawn: Mapping[str, Line]
    places: Mapping[tuple[str, str], Place]
    lines: Mapping[str, Conduit] = field(repr=False, compare=False)
    needs: Mapping[Want, int] = field(default_factory=dict)
    screwed_needs: Mapping[Want, int] = field(default_factory=dict)
    glued: bool = False
    saws: tuple[Want, ...] = ()
    courses: Mapping[str, Course] = field(default_factory=dict)
    apart: Mapping[str, tuple[Apart, ...]] = field(default_factory=dict)
    legs_m: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
