"""Which holes to drill, vessel by vessel, and what is set to a height without one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from autoplan.catalog.naming import name_of, row_of
from autoplan.catalog.parts import Catalog, SundryKind
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import CheckValveSet
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.line.needs import Want, by_size
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome
from autoplan.places import OfWant
from autoplan.problem.brief import Mouth
from autoplan.problem.site import Guard, RunKind, Site, Vessel
from autoplan.problem.standing import FLOOR_IN_M
from autoplan.report.alike import SECOND, gathered
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.sections.around import around, in_floor, in_tip
from autoplan.report.sections.ends import ends_at, in_wall, supply
from autoplan.report.sections.rims import rims_told
from autoplan.report.units import SI, Units
from autoplan.sentence import Amount

Told = tuple[tuple[str, str], str]
"""A vessel and one of its runs, and what is said of them."""

OFF_M, OFF_SHARED_M = 0.003, 0.001
"""How far a hole may sit too high or too low [m], also where drains of one vessel share its water by their
heights; common practice, no source."""

EXACT_M = 0.005
"""A hole that may be off by no more, up or down, must be exact [m]."""

STANDS = "seal-stand"
"""The rule that says how many support stands are needed."""


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole to drill.

    Attributes:
        vessel: where.
        run: the run that goes through it, or that starts at the standpipe.
        place: "wall", "floor", "standpipe" for the drain hole of a bed, "pipe" for a siphon-break hole.
        centre_m: centre above the vessel's own floor inside [m]; None for a hole in the floor.
        hole_m: its diameter [m].
        part: id of the wall part, or of the pipe that the hole is in.
        saw: id of a hole saw of its size, or None if the price list has none.
        saw_from: "owned", "bought", "not on the list", or "a drill".
        stand: id of the support stand that carries the pipe there, or None.
        off_m: how far off to drill its centre at most [m]; None where no height is asked for.
        around: where on the way round the wall, or in the floor; "" in a pipe.
        apart_m: least distance along the wall to the centre of the hole that it is beside [m], or None.
        inside_m: of one in the floor from the wall inside to its centre [m], or None.
        higher_m, above: how much higher it may come before a rule breaks [m], at most what was tried, and
            that rule in a sentence, "" where none broke; None where that was not asked.
        lower_m, below: the same of lower.
    """

    vessel: str
    run: str
    place: str
    centre_m: float | None
    hole_m: float
    part: str
    saw: str | None = None
    saw_from: str = "a drill"
    stand: str | None = None
    off_m: float | None = None
    around: str = ""
    apart_m: float | None = None
    inside_m: float | None = None
    higher_m: float | None = None
    above: str = ""
    lower_m: float | None = None
    below: str = ""

    @property
    def exact(self) -> bool:
        """Whether it must be where it is drawn but for few millimetres."""
        shared = self.off_m is not None and self.off_m <= OFF_SHARED_M
        room = [some for some in (self.higher_m, self.lower_m) if some is not None]
        return shared or (bool(room) and min(room) <= EXACT_M)


TIP = "in the tip of the cone, its lowest point"
"""Where the hole of a cone's waste drain sits."""


def holes_of(outcome: Outcome, design: Design) -> list[Hole]:
    """Every hole, by vessel in the order of the site and then by run."""
    drilled = []
    stood = _carried(outcome, design)
    for vessel in outcome.site.vessels.values():
        at_wall = around(outcome.site, vessel, list(in_wall(outcome, design, vessel)))
        for drawn, end in ends_at(design, vessel):
            if isinstance(end, OverRim) and end.air_hole_m is not None:
                up, width = end.air_hole_m - vessel.floor_m, end.air_hole_width_m
                drilled.append(Hole(vessel.name, drawn.run, "pipe", up, width, drawn.pipe))
            if not isinstance(end, Pierced) or end.centre_m is None:
                continue
            part = outcome.catalog.penetrations[end.penetration]
            saw, saw_from = supply(outcome, design, by_size(SundryKind.SAW, part.hole_m))
            stand = stood.get((drawn.run, vessel.name))
            made = (part.hole_m, part.id, saw, saw_from, stand)
            if isinstance(end, ThroughFloor):
                near = in_floor(outcome.site.runs[drawn.run])
                drilled.append(
                    Hole(vessel.name, drawn.run, "floor", None, *made, around=near, inside_m=FLOOR_IN_M)
                )
            elif in_tip(vessel, outcome.site.runs[drawn.run]):
                drilled.append(Hole(vessel.name, drawn.run, "floor", None, *made, around=TIP))
            else:
                there, centre = at_wall[drawn.run], end.centre_m - vessel.floor_m
                hole = Hole(vessel.name, drawn.run, "wall", centre, *made, _off(outcome.site, vessel))
                hole = replace(hole, around=there.words, apart_m=there.apart_m)
                drilled.append(_with_room(hole, design))
            if isinstance(end, ThroughFloor) and end.drain_hole is not None:
                side, pipe = end.drain_hole, end.standpipe or drawn.pipe
                where = vessel.name, drawn.run, "standpipe"
                drilled.append(Hole(*where, side.height_m, side.hole_m, pipe, off_m=OFF_M))
    return drilled


def _with_room(hole: Hole, design: Design) -> Hole:
    """A hole with how much higher and lower it may come, where that was worked out."""
    room = design.verdict.hole_rooms.get((hole.run, hole.vessel))
    if room is None:
        return hole
    return replace(hole, higher_m=room.higher_m, above=room.above, lower_m=room.lower_m, below=room.below)


def _off(site: Site, vessel: Vessel) -> float:
    """How far a hole in its wall may be off: less where several drains share its water by their heights."""
    out = [run for run in site.runs.values() if run.start == vessel.name and run.kind is RunKind.GRAVITY]
    return OFF_SHARED_M if sum(not run.idle for run in out) > 1 else OFF_M


def _carried(outcome: Outcome, design: Design) -> dict[tuple[str, str], str]:
    """The stand at each seal that needs one, by run and vessel.

    The findings say how many stands each size of pipe needs; it is the thinnest walls that need them.
    """
    needed = {found.place: round(found.limit) for found in design.verdict.findings if found.rule == STANDS}
    seals: dict[Want, list[tuple[float, str, str]]] = {}
    for vessel in outcome.site.vessels.values():
        for drawn, end in ends_at(design, vessel):
            if isinstance(end, Pierced) and end.sealed:
                want = by_size(SundryKind.STAND, outcome.catalog.pipes[drawn.pipe].outside_m)
                seals.setdefault(want, []).append((vessel.wall_m, drawn.run, vessel.name))
    carried = {}
    for want, there in seals.items():
        stand, _ = supply(outcome, design, want)
        for _, run, name in sorted(there, key=lambda seal: seal[0])[: needed.get(OfWant(want), 0)]:
            carried[run, name] = stand or SI.told(want.said)
    return carried


def holes(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Each hole to drill, then what is set to a height without one."""
    yield Heading("Holes to drill")
    drilled = holes_of(outcome, design)
    if drilled:
        yield Para(
            f"{units.lengths} from the vessel's own floor inside to the centre of a hole in its wall or in "
            f"a pipe. {units.rounding} Drill round and clean off all swarf.{_KEEP * _side_by_side(drilled)}"
        )
        yield Grid(
            (
                GridColumn("vessel", 11),
                GridColumn("run", 14),
                GridColumn("in the", 9),
                numbers(units.height.title("centre"), 9),
                numbers(units.hole.title("hole"), 6),
                GridColumn("saw", 10),
                GridColumn("part", 27),
            ),
            tuple(_rows(outcome.catalog, drilled, units)),
        )
        yield Points(tuple(gathered(_placed(drilled, units))))
        yield from _rooms(drilled, units)
    else:
        yield Para("None.")
    brackets = list(rims_told(outcome, design, units))
    if brackets:
        yield Points(tuple(gathered(brackets)))
    heights = [
        *_inside(outcome, design, units),
        *_lifting(outcome.catalog, design),
        *_mouths(outcome, design, units),
    ]
    if heights:
        yield Points(tuple(gathered(heights)))


_KEEP = " From edge to edge two holes in one wall keep as far apart as the wider is across."


def _side_by_side(drilled: list[Hole]) -> bool:
    """Whether any wall has two holes."""
    walls = [hole.vessel for hole in drilled if hole.place == "wall"]
    return len(walls) > len(set(walls))


def _rows(catalog: Catalog, drilled: list[Hole], units: Units) -> Iterator[tuple[str, ...]]:
    """A row for each hole; the vessel is named in its first."""
    named = ""
    for hole in drilled:
        yield (
            "" if hole.vessel == named else hole.vessel,
            hole.run,
            hole.place,
            "-" if hole.centre_m is None else units.height.text(hole.centre_m),
            units.hole.text(hole.hole_m),
            hole.saw_from,
            name_of(catalog, hole.part) + (f", with {_known(catalog, hole.stand)}" if hole.stand else ""),
        )
        named = hole.vessel


def _placed(drilled: list[Hole], units: Units) -> Iterator[Told]:
    """By vessel where each hole sits on the way round its wall, or in its floor."""
    for hole in drilled:
        apart, inside = hole.apart_m, hole.inside_m
        more = "" if apart is None else f", {units.piece.said(apart)} or more from centre to centre"
        if inside is not None:
            more = f", its centre {units.piece.said(inside)} inside it"
        if hole.around:
            yield (hole.vessel, hole.run), f"the hole for {SECOND} sits {hole.around}{more}."


def _rooms(drilled: list[Hole], units: Units) -> Iterator[Block]:
    """How much higher or lower each hole may come before which rule breaks, and which must be exact."""
    known = [hole for hole in drilled if hole.higher_m is not None and hole.lower_m is not None]
    if not known:
        return
    exact = [f"{hole.run} at {hole.vessel}" for hole in known if hole.exact]
    most = units.height.said(EXACT_M)
    yield Para(
        "How much higher or lower a hole may come with nothing else moved, and the rule that breaks beyond. "
        + (
            f"Exact within {most}, one way or the other: {', '.join(exact)}."
            if exact
            else "None must be exact."
        )
    )
    yield grid_of(
        known,
        (GridColumn("vessel", 11), lambda hole: hole.vessel),
        (GridColumn("run", 14), lambda hole: hole.run),
        (numbers(units.height.title("higher"), 7), lambda hole: _room(hole.higher_m, hole.above, units)),
        (numbers(units.height.title("lower"), 7), lambda hole: _room(hole.lower_m, hole.below, units)),
        (GridColumn("breaks beyond", 52), _beyond),
    )


def _room(room_m: float | None, breaks: str, units: Units) -> str:
    """How far a hole may be off, rounded down; more than that where nothing broke as far as was tried."""
    return "-" if room_m is None else units.height.text_down(room_m) + ("" if breaks else " +")


def _beyond(hole: Hole) -> str:
    """What breaks beyond."""
    if hole.above == hole.below:
        return hole.above or "-"
    said = {"higher": hole.above, "lower": hole.below}
    return " ".join(f"{way}: {rule}" for way, rule in said.items() if rule)


def _inside(outcome: Outcome, design: Design, units: Units) -> Iterator[Told]:
    """By vessel where a standpipe is cut and drilled, and what stands behind its wall parts."""
    for vessel in outcome.site.vessels.values():
        for drawn, end in ends_at(design, vessel):
            at = (vessel.name, drawn.run)
            floor = end if isinstance(end, ThroughFloor) else None
            if floor is not None and floor.standpipe_top_m is not None:
                top = units.height.said(floor.standpipe_top_m - vessel.floor_m)
                yield at, f"cut the standpipe of {SECOND} so that its top is {top} above the floor."
            if floor is not None and floor.drain_hole is not None:
                wide, high = (
                    drill_words(floor.drain_hole.hole_m, units),
                    units.height.said(floor.drain_hole.height_m),
                )
                yield (
                    at,
                    f"drill one hole of {wide} through one side of the standpipe of {SECOND}, its centre "
                    f"{high} above the floor and clear of the part that the standpipe sits in.",
                )
            if isinstance(end, Pierced) and end.inner_chain:
                inside = row_of(outcome.catalog, end.inner_chain)
                part = name_of(outcome.catalog, end.penetration)
                yield at, f"inside the wall part of {SECOND} ({part}): {inside}."
            if in_tip(vessel, outcome.site.runs[drawn.run]):
                deep = units.height.said(vessel.cone_m)
                yield (
                    at,
                    f"{SECOND} leaves by the tip of the cone, {deep} under the foot of the upright wall.",
                )
            if isinstance(end, ThroughWall) and end.down is not None:
                turn = row_of(outcome.catalog, end.down.pieces)
                yield (
                    at,
                    f"inside on the end of {SECOND}: {turn}, its mouth turned straight down, so that the "
                    "water sinks with what it carries and does not shoot across.",
                )
            if isinstance(end, ThroughWall) and end.well:
                yield at, _well_text(outcome, end, vessel, units)


def _well_text(outcome: Outcome, end: ThroughWall, vessel: Vessel, units: Units) -> str:
    """How a stilling well is cut and hung."""
    length, foot = units.piece.said(end.well_m), vessel.rim_m - vessel.floor_m - end.well_m
    return (
        f"round the inner end of {SECOND}: {name_of(outcome.catalog, end.well)}, cut {length} long and open "
        "at both ends, with a slot sawn from its top down as wide as the pipe. Let it down into the water, "
        "bring it up over the pipe's end and hang it from the rim by its hooks; its foot then stands "
        f"{units.height.said(foot)} above the floor. The water sinks in it, and what it carries falls out "
        "below."
    )


def _known(catalog: Catalog, part: str) -> str:
    """A part by its name, or what is said in place of one that the price list lacks."""
    return name_of(catalog, part) if part in catalog.sundries else part


def drill_words(width_m: float, units: Units) -> str:
    """The width of a hole as drills are sold, in millimetres, and in inches where those are read."""
    return units.told(Amount(width_m, "mm"))


def _lifting(catalog: Catalog, design: Design) -> Iterator[Told]:
    for drawn in design.drawing.runs.values():
        riser = drawn.one(Riser)
        if riser is not None:
            yield (
                (drawn.start.at, drawn.run),
                f"{SECOND} lifts from the middle of the floor: a level piece to a turn, a riser cut so "
                f"that the branch of its open tee ({name_of(catalog, riser.tee)}) meets the hole, an "
                "open piece on top; a screw through the tee into that piece, over the water, keeps fish from "
                "pushing it off.",
            )


def _mouths(outcome: Outcome, design: Design, units: Units) -> Iterator[Told]:
    """By vessel how low each inlet hangs, and what keeps it from siphoning empty in a power cut."""
    for vessel in outcome.site.vessels.values():
        for drawn, end in ends_at(design, vessel):
            if drawn.later:
                continue
            if isinstance(end, OverRim) and end.mouth_m is not None:
                over = _over(outcome.catalog, vessel, drawn, end, units)
                yield (
                    (vessel.name, drawn.run),
                    f"{SECOND} {over}{_hanging(outcome, design, vessel, drawn, end, units)}",
                )
            elif isinstance(end, AtVessel) and end.guard is Guard.CHECK_VALVE:
                checked = _CHECKED.format(_check(outcome.catalog, drawn))
                yield (vessel.name, drawn.run), f"{SECOND} in through the wall under water. {checked}"


def _over(catalog: Catalog, vessel: Vessel, drawn: Line, end: OverRim, units: Units) -> str:
    """How an inlet gets over its rim, in words."""
    if end.centre_m is None or not end.corner.bends:
        return (
            "turned down over the rim, " if end.guard is Guard.AIR_GAP else "over the rim and straight down, "
        )
    said, radius = units.height.said, catalog.pipes[drawn.pipe].bend_radius_m
    return (
        f"bent down over the rim, no tighter than a radius of {said(radius)}, its axis at the top "
        f"{said(end.centre_m - vessel.floor_m)} above the floor, and held so that it cannot straighten; "
    )


def _hanging(
    outcome: Outcome, design: Design, vessel: Vessel, drawn: Line, end: OverRim, units: Units
) -> str:
    """What a line over a rim does there, in words."""
    assert end.mouth_m is not None
    catalog = outcome.catalog
    level, said = design.drawing.levels[vessel.name], units.height.said
    up = said(end.mouth_m - vessel.floor_m)
    if outcome.site.mouth_of(outcome.site.runs[drawn.run]) is Mouth.BELOW_WATER:
        return _in_water(drawn, up, said(level.design_m - end.mouth_m))
    if outcome.site.runs[drawn.run].kind is RunKind.GRAVITY:
        return (
            f"mouth {up} above the floor, {said(end.mouth_m - level.design_m)} over the running water: it "
            f"pours free of the water, held by its bracket, and lifts out."
        )
    if end.guard is Guard.AIR_GAP:
        return (
            f"mouth {up} above the floor, "
            f"{said(end.mouth_m - level.overload_m)} over the highest water; put no longer piece on it: a "
            f"mouth under water siphons the vessel empty when the power fails."
        )
    hangs = f"mouth {up} above the floor, under water; fasten it so that it stays there."
    if end.guard is Guard.CHECK_VALVE or end.air_hole_m is None:
        return f"{hangs} {_CHECKED.format(_check(catalog, drawn))}"
    return (
        f"{hangs} Its siphon-break hole, through one side of the pipe and "
        f"{drill_words(end.air_hole_width_m, units)} wide, lets air in when the power fails: at the first "
        f"run, mark the water as it really stands and drill {said(level.design_m - end.air_hole_m)} under "
        f"the mark. Keep it clear of slime: stop the pump now and then, and see the water stop at the hole."
    )


def _in_water(drawn: Line, up: str, under: str) -> str:
    """What a drain does whose mouth hangs below the water, in words."""
    # Where it goes down and up again it is full from the water to where it is opened.
    siphons = any(leg.rise_m > 0 for leg in drawn.legs)
    return (
        f"mouth {up} above the floor, {under} under the running water: held by its bracket, and lifts out."
        f"{' Lift it out before the line is opened lower down: it would siphon.' * siphons}"
    )


def _check(catalog: Catalog, drawn: Line) -> str:
    """The check valve of a run by its name."""
    check = drawn.one(CheckValveSet)
    return "" if check is None else f"({name_of(catalog, check.valve)})"


_CHECKED = (
    "Only its check valve {} keeps the vessel from siphoning back: set it where it can be reached, its arrow "
    "to the vessel, lying flat or with the water going up, and try it now and then by stopping the pump."
)
