"""The siphons: what stands on each bed's floor or outside, how high each piece is, how it will run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from autoplan.catalog.kinds.siphon import MadeOf
from autoplan.catalog.naming import name_of
from autoplan.outcome import Design, Outcome, SiphonFacts
from autoplan.places import InVessel
from autoplan.report.alike import gathered
from autoplan.report.blocks import Block, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.units import HOUR_S, MM_M, Units, fixed

RIM = "guard-rim"
"""The rule by which guards go to the rim."""

RULES = ("bell-fit", "drain-hole", RIM)
"""The rules whose findings say how high bell and guard must be [mm]."""

BOTTLE = (
    "its bell from a bottle: bottom cut off straight, cap screwed on tight, cut-outs at the open end, and a "
    "stone on it, for it floats while the bed fills"
)


def siphons(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """A row of figures for each siphon, then its parts and heights; nothing without siphons."""
    facts, drawn = design.verdict.siphons, design.drawing.runs
    bells = {name: each for name, each in facts.items() if drawn[name].outside is None}
    if bells:
        yield Heading("Bell siphons")
        yield Para(UNDER_A_BELL)
        yield _figures(bells.values(), units)
        yield Points(tuple(gathered(_parts(outcome, design, name, units) for name in bells)))
    outside = {name: each for name, each in facts.items() if name not in bells}
    if outside:
        yield Heading("Siphon pipes outside")
        yield Para(OVER_A_CREST)
        yield _figures(outside.values(), units)
        yield Points(tuple(gathered(_outside(outcome, design, name, units) for name in outside)))


UNDER_A_BELL = (
    "A bed fills to the standpipe's lip, then its siphon empties it to the bell's cut-outs and breaks. "
    "Runs at: flow of the siphon from full to its lowest water. "
    "Try each with water: if it trickles for ever and does not start, it needs more inflow; if it does "
    "not stop, less, or the air tube set a little higher."
)

OVER_A_CREST = (
    "A bed fills to the crest of the pipe outside it, which then runs full, empties the bed to the mouth of "
    "its air tube, and breaks. Until it starts, and if it never does, the pipe is the bed's overflow. "
    "Runs at: flow of the siphon from full to its lowest water. "
    "Try each with water before the media go in: if it trickles for ever and does not start, it needs more "
    "inflow; if it does not stop, less, or the mouth of the air tube set a little higher."
)


def _figures(siphons: Iterable[SiphonFacts], units: Units) -> Block:
    """A row for each siphon."""
    flow = units.flow
    return grid_of(
        siphons,
        (GridColumn("bed", 10), lambda facts: facts.bed),
        (numbers(units.bore.title("bore"), 6), lambda facts: units.bore.text(facts.bore_m)),
        (numbers(flow.title("starts from"), 11), lambda facts: flow.text(facts.starts_m3_s)),
        (numbers(flow.title("inflow"), 8), lambda facts: flow.text(facts.inflow_m3_s)),
        (
            numbers(flow.title("runs at"), 14),
            lambda facts: f"{flow.text(facts.fastest_m3_s)} to {flow.text(facts.slowest_m3_s)}",
        ),
        (numbers("fills min", 9), lambda facts: fixed(facts.filling_s / 60, 0)),
        (numbers("empties min", 11), lambda facts: fixed(facts.emptying_s / 60, 1)),
        (numbers("floods/h", 8), lambda facts: fixed(facts.floods_per_s * HOUR_S, 1)),
    )


def _outside(outcome: Outcome, design: Design, name: str, units: Units) -> tuple[tuple[str], str]:
    """A bed, and the siphon pipe outside it in the order of the water."""
    drawn = design.drawing.runs[name]
    start, pipe = drawn.outside, outcome.catalog.pipes[drawn.pipe]
    assert start is not None
    assert start.centre_m is not None
    assert start.lip_m is not None
    floor, high = outcome.site.vessels[start.at].floor_m, units.height.said
    middle = start.lip_m + pipe.bore_m / 2
    said = [
        f"{name_of(outcome.catalog, drawn.pipe)}, through the wall {high(start.centre_m - floor)} above "
        f"the floor, up outside and over a crest whose bore begins {high(start.lip_m - floor)} above it "
        f"(middle of the pipe {high(middle - floor)}), down and away, every joint glued"
    ]
    mouth = f"its open end in the bed {high(start.air_m)} above the floor"
    if start.air_tube is not None:
        tube = name_of(outcome.catalog, start.air_tube)
        said.append(
            f"air tube ({tube}) in a grommet from the top of the pipe at its crest over the rim, {mouth}"
        )
    else:
        said.append(f"not on the price list and not counted: air tube from the crest over the rim, {mouth}")
    later = " (to come later)" if drawn.later else ""
    return (f"{start.at}{later}",), f"{'; '.join(said)}."


def _parts(outcome: Outcome, design: Design, name: str, units: Units) -> tuple[tuple[str], str]:
    """A bed, and its siphon's parts in the order in which they are put in."""
    drawn = design.drawing.runs[name]
    end = drawn.floor
    assert end is not None
    assert end.siphon is not None
    assert end.standpipe_top_m is not None
    floor = outcome.site.vessels[end.at].floor_m
    top = units.height.said(end.standpipe_top_m - floor)
    said = [
        f"standpipe of {name_of(outcome.catalog, end.standpipe or drawn.pipe)}, its lip {top} above the floor"
    ]
    if end.siphon.bell is not None and outcome.catalog.siphons[end.siphon.bell].made is MadeOf.BOTTLE:
        said.append(BOTTLE)
    bell, guard = (tall(design, end.at, what, units) for what in ("bell", "guard"))
    named = {
        "top flared": end.siphon.flare,
        f"bell{bell} with cut-outs up to {units.height.said(end.siphon.cut_out_m)}": end.siphon.bell,
        f"guard{guard}": end.siphon.guard,
        "air tube from the bell's top to just above the cut-outs": end.siphon.snorkel,
    }
    said += [f"{what} ({name_of(outcome.catalog, part)})" for what, part in named.items() if part is not None]
    needed = {"bell": end.siphon.bell, "guard": end.siphon.guard, "air tube": end.siphon.snorkel}
    lacking = [what for what, part in needed.items() if part is None]
    if lacking:
        said.append(f"not on the price list and not counted: {', '.join(lacking)}")
    later = " (to come later)" if drawn.later else ""
    return (f"{end.at}{later}",), f"{'; '.join(said)}."


def tall(design: Design, bed: str, what: str, units: Units) -> str:
    """How high a bell or guard must be inside by the rules that know, rounded up; "" if none does."""
    asked = _asked(design, bed, what)
    if not asked:
        return ""
    least, gauge = max(asked.values()), units.height
    high = gauge.figure(-gauge.steps_down(-least))
    rim = " up to the rim," if asked.get(RIM) == least else ""
    return f"{rim} at least {high} {gauge.unit} high{' inside' if what == 'bell' else ''}"


def least_tall(design: Design, bed: str, what: str) -> float | None:
    """How high the "bell" or "guard" of a bed must be inside [m]; None where no rule says it."""
    return max(_asked(design, bed, what).values(), default=None)


def _asked(design: Design, bed: str, what: str) -> dict[str, float]:
    """The same by each rule that says it."""
    place = InVessel(bed, f"height of the {what}")
    findings = (found for found in design.verdict.findings if found.place == place)
    return {found.rule: found.limit * MM_M for found in findings if found.rule in RULES}
