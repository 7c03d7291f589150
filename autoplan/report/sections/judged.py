"""What the rules say of a design, and what happens when something goes wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.outcome import (
    FAULT_HOURS,
    BedCycle,
    Design,
    Fault,
    Finding,
    FishWater,
    Outcome,
    SumpRange,
)
from autoplan.problem.site import VesselKind
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, numbers
from autoplan.report.place_words import place_words
from autoplan.report.units import Units, fixed

ABOUT = 0.95
"""Share of the worst's litres from which a fault stands in one row with it [-]."""


def rules(findings: Sequence[Finding], currency: str, units: Units) -> Iterator[Block]:
    """Each rule once for each unit that it measures in, at the place where its margin is smallest."""
    grouped = by_rule(findings)
    if not grouped:
        return
    yield Heading("Rules")
    yield Para(
        "Each rule at the place where its margin is smallest; margins are rounded down. In square brackets "
        "is the name by which a problem file sets the rule or switches it off."
    )
    yield Grid(
        (
            GridColumn("rule", 42),
            GridColumn("tightest at", 20),
            numbers("value", 9),
            numbers("limit", 9),
            numbers("margin", 12),
        ),
        tuple(_rule(found, currency, units) for found in grouped.values()),
    )


def by_rule(findings: Sequence[Finding]) -> dict[tuple[str, str], list[Finding]]:
    """Findings by rule and unit in the order they came, the tightest place of each first.

    Margins that differ by less than is written to files are alike, so that a file says the same.
    """
    grouped: dict[tuple[str, str], list[Finding]] = {}
    for found in findings:
        grouped.setdefault((found.rule, found.unit), []).append(found)
    return {
        rule: sorted(places, key=lambda found: round(found.margin, 6)) for rule, places in grouped.items()
    }


def _rule(places: list[Finding], currency: str, units: Units) -> tuple[str, ...]:
    worst = places[0]
    where = place_words(worst.place, units) + ("" if len(places) == 1 else f" (of {len(places)} places)")
    state = "" if worst.ok else " NOT HELD"
    return (
        f"{worst.sentence} ({units.told(worst.source)}) [{worst.rule}]{state}",
        where,
        units.measure(worst.value, worst.unit),
        units.measure(worst.limit, worst.unit),
        _margin(worst, currency, units),
    )


def _margin(found: Finding, currency: str, units: Units) -> str:
    """What a rule has to spare; where things are counted that must be so many, only that it holds."""
    if units.counts(found.unit) and found.margin == 0.0:
        return "holds"
    return f"{units.measure_down(found.margin, found.unit)} {units.word(found.unit, currency)}".rstrip()


def warnings(design: Design, units: Units) -> Iterator[Block]:
    """Every place where a rule is not held: soft rules warn, a hard one would have refused the design."""
    items = warning_texts(design, units)
    if items:
        yield Heading("Warnings")
        yield Points(items)


def warning_texts(design: Design, units: Units) -> tuple[str, ...]:
    """A text for each of them."""
    currency = design.verdict.cost.currency
    return tuple(_warning(found, currency, units) for found in design.verdict.findings if not found.ok)


def _warning(found: Finding, currency: str, units: Units) -> str:
    value, limit = units.told_apart(found.value, found.limit, found.unit)
    word = units.word(found.unit, currency)
    if found.warning:
        return found.warning.replace("{value}", f"{value} {word}").replace("{limit}", f"{limit} {word}")
    where = place_words(found.place, units)
    return f"{where}: {found.sentence} Here it is {value} {word} against {limit} {word}."


def not_judged(design: Design, units: Units) -> Iterator[Block]:
    """What rules cannot judge since the price list does not say it."""
    items = not_judged_texts(design, units)
    if items:
        yield Heading("Not judged")
        yield Para("The price list does not say it, so see to it yourself.")
        yield Points(items)


def not_judged_texts(design: Design, units: Units) -> tuple[str, ...]:
    """A text for each of them, with the rule's name behind it as it stands behind the rule."""
    unjudged = design.verdict.unjudged.items()
    return tuple(f"{units.told(said)} [{rule}]" for rule, sentences in unjudged for said in sentences)


def hours(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """How far the pumped water moves, by the phase of the beds, and how often each bed floods."""
    found = design.verdict.running
    if not found:
        return
    yield Heading("Running through the hours")
    yield Para(
        f"{units.lengths} of water over the floor inside, and what is to spare over the pump's need at the "
        f"lowest. {units.rounding}".strip()
    )
    rows = []
    for running in found:
        for sump in running.sumps:
            floor = outcome.site.vessels[sump.vessel].floor_m
            depths = (units.height.text(level - floor) for level in (sump.lowest_m, sump.highest_m))
            rows.append((running.phase, sump.vessel, *depths, units.height.text_down(sump.cover_m)))
    levels = (numbers("lowest", 10), numbers("highest", 10), numbers("to spare", 10))
    yield Grid((GridColumn("with", 34), GridColumn("in", 20), *levels), tuple(rows))
    lowest = min((sump for running in found for sump in running.sumps), key=lambda sump: sump.reserve_m3)
    yield Points((*map(_cycle, found[0].beds), _reserve(outcome, lowest, units)))


def _cycle(bed: BedCycle) -> str:
    if bed.filling_s is None or bed.emptying_s is None:
        return f"{bed.bed} does not flood and drain in turn."
    fills, empties = fixed(bed.filling_s / 60, 0), fixed(bed.emptying_s / 60, 1)
    return (
        f"{bed.bed} floods {fixed(bed.floods_per_hour, 1)} times an hour: {fills} minutes to fill, "
        f"{empties} to empty."
    )


def _reserve(outcome: Outcome, sump: SumpRange, units: Units) -> str:
    """How much water may leak or evaporate before it tells."""
    vessel = outcome.site.vessels[sump.vessel]
    for_fish = vessel.kind is VesselKind.TANK and vessel.water_min_m > sump.lowest_m - sump.cover_m
    need = "its lowest design water, which is the fish's" if for_fish else "what its pump needs"
    first = "" if len(outcome.site.pumped_vessels()) == 1 else " first"
    missed = f"What evaporates or leaks slowly is missed{first} in {sump.vessel}: at its lowest it holds"
    if sump.reserve_m3 <= 0.0:
        return f"{missed} no more than {need}. Keep it topped up, by a float valve for instance."
    more = f"{units.volume.text_down(sump.reserve_m3)} {units.volume.unit}"
    return f"{missed} about {more} over {need}. Top up well before that is gone."


def faults(found: Sequence[Fault], units: Units) -> Iterator[Block]:
    """Each fault that ends badly and what would save it, the worst first; then those that do not."""
    if not found:
        return
    bad = [fault for fault in found if ends_badly(fault)]
    yield Heading("When something goes wrong")
    yield Para(
        "A calculated first pass, not a promise: each fault meets the system running, and nobody comes by "
        f"for {fixed(FAULT_HOURS, 0)} hours. To rim: wall left over the highest water, or how far that is "
        "over the rim. For the pump: lowest water over what the pump needs, or what is short of it. "
        "Minutes: until water is lost, a pump draws air or a fish tank falls "
        "too low. Where beds flood and drain, spilled is of the worse case, every bed full or every bed "
        "empty; to rim, for the pump and minutes are the least of either."
    )
    if bad:
        yield Grid(_fault_columns(units), tuple(_fault(alike, units) for alike in bad_together(bad)))
    good = [fault for fault in found if fault not in bad]
    if good:
        fish = any(fault.fish for fault in bad)
        dry = ", no pump draws air and every fish tank keeps its water" if fish else " and no pump draws air"
        yield Para(f"Nothing runs over{dry}, by this reckoning, with:")
        yield Points(tuple(_harmless(fault, units) for fault in good))


def ends_badly(fault: Fault) -> bool:
    """Whether water is lost, a pump draws air or the fish are left too little."""
    return fault.spilled_l > 0.0 or fault.minutes is not None or fault.fish is not None


def _fault_columns(units: Units) -> tuple[GridColumn, ...]:
    return (
        GridColumn("what", 29),
        numbers(units.volume.title("spilled"), 8),
        numbers(units.height.title("to rim"), 9),
        numbers(units.height.title("for the pump"), 10),
        numbers("minutes", 7),
        GridColumn("what would save it", 27),
    )


def bad_together(faults: Sequence[Fault]) -> list[list[Fault]]:
    """Faults that end badly; those that one thing would save and that lose about as much stand together."""
    found: list[list[Fault]] = []
    for fault in filter(ends_badly, faults):
        for alike in found:
            worst = alike[0]
            if fault.saved_by == worst.saved_by and fault.spilled_l >= ABOUT * worst.spilled_l:
                alike.append(fault)
                break
        else:
            found.append([fault])
    return found


def _fault(alike: list[Fault], units: Units) -> tuple[str, ...]:
    worst, *rest = alike
    minutes = "-" if worst.minutes is None else fixed(worst.minutes, 0)
    names = "; no worse: ".join(
        filter(None, (fault_name(worst, units), ", ".join(fault_name(one, units) for one in rest)))
    )
    mend = worst.saved_by or "-"
    fish = min((fault.fish for fault in alike if fault.fish), key=lambda left: left.depth_m, default=None)
    if worst.minutes == 0.0 and worst.dry_minutes:
        names += f". The pump draws air after {fixed(worst.dry_minutes, 0)} minutes"
    if fish is not None:
        names += f". {_left(fish, units)}"
    if worst.fish is not None and worst.fish.spilled_l:
        mend += f" About {units.measure(worst.fish.spilled_l, 'L')} {units.volume.unit} would still be lost."
    return (
        names,
        units.measure(worst.spilled_l, "L"),
        _left_over(worst.margin_m, "over", units),
        "-" if worst.lowest_cover_m is None else _left_over(worst.lowest_cover_m, "short", units),
        minutes,
        mend,
    )


def _left_over(height_m: float, below: str, units: Units) -> str:
    """What is left of a height, never more than there is; below nothing how much, and in which word."""
    gauge = units.height
    steps = gauge.steps_down(height_m)
    return gauge.figure(steps) if steps >= 0 else f"{gauge.figure(-steps)} {below}"


def _left(fish: FishWater, units: Units) -> str:
    """What a fault leaves the fish, never more than there is."""
    depth = f"{units.height.text_down(fish.depth_m)} {units.height.unit}"
    volume = f"{units.volume.text_down(fish.volume_m3)} {units.volume.unit}"
    least = units.height.said(fish.needed_m)
    return f"Leaves the fish in {fish.vessel} {depth} ({volume}); its lowest design water is {least}"


def fault_name(fault: Fault, units: Units) -> str:
    """A fault in words, with how many alike places it speaks of."""
    name = fault.name
    if fault.water_celsius is not None:
        name = f"water at {units.temperature(fault.water_celsius)}"
    if fault.alike == 1:
        return name
    others = "another" if fault.alike == 2 else f"one of {fault.alike - 1} others"
    return f"{name} (or {others} like it)"


def _harmless(fault: Fault, units: Units) -> str:
    left = f"{units.height.text_down(fault.margin_m)} {units.height.unit}"
    return f"{fault_name(fault, units)}, {left} of wall left at {fault.where}: {fault.saved_by or 'no harm.'}"
