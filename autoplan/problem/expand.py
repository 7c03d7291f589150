"""The short form's circuit as vessels, junctions and runs, in each of its arrangements.

Parallel: fish tank by gravity through the filters to the sump; pump in the sump; a split to the tank and to
the beds; each bed back to the sump by its own drain. Series: tank, filters, beds, sump, all by gravity, each
bed fed from the last filter by a line of its own in equal shares; the pump feeds the tank alone. No sump: a
pump in the tank feeds the beds, which fall back to it; the beds are the filter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from autoplan.problem.build import DRAWS, Ledger, equal_legs, marked_spare, metres, turnover_of, vessel_from
from autoplan.problem.defaults import GUARD, LINES, MEMORY, PRACTICE, SCREEN, WASTE
from autoplan.problem.schema import ShortBeds, VesselTable
from autoplan.problem.schema import Wishes as WishesTable
from autoplan.problem.site import (
    Arrangement,
    Draw,
    Guard,
    HandPumpWish,
    Junction,
    Run,
    RunKind,
    Vessel,
    VesselKind,
    WasteBy,
)
from autoplan.problem.write import expand_to_toml
from autoplan.units import Dimension, read, write

__all__ = ["Circuit", "chain_keys", "expand", "expand_to_toml", "line_keys"]

FILTERS = ("settler", "biofilter")


@dataclass(slots=True)
class Circuit:
    """The long form as it grows. `places` gives the key path behind each vessel and run by name."""

    vessels: dict[str, Vessel] = field(default_factory=dict)
    junctions: dict[str, Junction] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    hand_pumps: list[HandPumpWish] = field(default_factory=list)

    def add(self, run: Run, place: str) -> None:
        """One more run, from the key path that gives its length."""
        self.runs[run.name] = run
        self.places[run.name] = place


def chain_keys(filters: tuple[str, ...]) -> list[str]:
    """Keys of the drains from the tank to the sump, given which filters there are."""
    chain = ("tank", *filters, "sump")
    return [f"{above}_to_{below}" for above, below in pairwise(chain)]


def line_keys(
    filters: tuple[str, ...],
    beds: int,
    arrangement: Arrangement = Arrangement.PARALLEL,
    *,
    overflow: bool = False,
    wastes: tuple[str, ...] = (),
) -> list[str]:
    """Keys of every line of a short form, given its filters, number of beds, overflow and waste drains."""
    between = ["between_beds"] if beds > 1 else []
    if arrangement is Arrangement.NO_SUMP:
        return ["tank_to_first_bed", *between, "trunk_to_bed", "bed_to_tank"]
    idle = [*(["tank_overflow"] if overflow else []), *(f"{name}_waste" for name in wastes)]
    if arrangement is Arrangement.SERIES:
        chain = ("tank", *filters)
        falls = [f"{above}_to_{below}" for above, below in pairwise(chain)]
        return [*falls, f"{chain[-1]}_to_bed", *between, "bed_to_sump", "sump_to_tank", *idle]
    keys = [*chain_keys(filters), "sump_to_tank", *idle]
    if beds:
        keys += ["sump_to_split", "sump_to_first_bed", "trunk_to_bed", "bed_to_sump"]
    if beds > 1:
        keys.append("between_beds")
    return keys


@dataclass(frozen=True, slots=True)
class Lines:
    """Lengths [m] and turns of the short form's lines, given or assumed."""

    lengths: Mapping[str, float]
    bends: Mapping[str, tuple[int, ...]]
    ledger: Ledger

    def length(self, key: str) -> float:
        """Length of a line [m], uprights included."""
        if key not in self.lengths:
            text, why = LINES[key].length, LINES[key].why
            self.ledger.note(f"distances.{key}", text, MEMORY, f"{why}, uprights included")
            return read(text, Dimension.LENGTH)
        return self.lengths[key]

    def turns(self, key: str) -> tuple[int, ...]:
        """Turns of a line [degrees]."""
        if key not in self.bends:
            turns = LINES[key].turns
            self.ledger.note(
                f"turns.{key}", str(list(turns)), MEMORY, "changes of direction, legs between them equal"
            )
            return turns
        return self.bends[key]


def expand(
    tables: Mapping[str, VesselTable],
    wishes: WishesTable,
    lines: Lines,
    ledger: Ledger,
    arrangement: Arrangement = Arrangement.PARALLEL,
) -> Circuit:
    """The long form of a short one.

    Args:
        tables: "tank", "sump" unless there is none, and where there are some "settler", "biofilter", "beds".
        wishes: for the turnover.
        lines: lengths and turns.
        ledger: where assumptions go.
        arrangement: how the vessels stand to each other; any but parallel has beds.
    """
    circuit = Circuit()
    beds = tables.get("beds")
    built = beds.count if isinstance(beds, ShortBeds) else 0
    count = built + ((beds.spare_beds or 0) if isinstance(beds, ShortBeds) else 0)
    filters = tuple(name for name in FILTERS if name in tables)
    turnover = turnover_of(wishes.turnover, "wishes.turnover", ledger)
    bare = arrangement is Arrangement.NO_SUMP
    tank = vessel_from(tables["tank"], "tank", VesselKind.TANK, "tank", ledger, turnover, pumped=bare)
    _place(circuit, tank, "tank")
    for name in () if bare else filters:
        _place(circuit, vessel_from(tables[name], name, VesselKind(name), name, ledger), name)
    for number in range(1, count + 1):
        assert isinstance(beds, ShortBeds)
        bed = vessel_from(beds, f"bed {number}", VesselKind.BED, "beds", ledger)
        _place(circuit, replace(bed, spare=number > built), "beds")
    screened = bool(getattr(beds, "screen", None))
    if bare:
        _tank_to_beds(circuit, count, lines)
        _bed_drains(circuit, count, "tank", lines, screen=screened)
        circuit.runs = marked_spare(circuit.vessels, circuit.runs)
        return circuit
    _place(circuit, vessel_from(tables["sump"], "sump", VesselKind.SUMP, "sump", ledger), "sump")
    series = arrangement is Arrangement.SERIES and count > 0
    _chain(circuit, tables, ("tank", *filters) if series else ("tank", *filters, "sump"), lines, ledger)
    if getattr(tables["tank"], "overflow", None):
        _overflow(circuit, lines)
    for name in filters:
        if getattr(tables[name], "waste", None):
            _waste(circuit, tables[name], name, lines, ledger)
    if series:
        _filter_to_beds(circuit, tables, count, lines, ledger)
    if count and not series:
        _split(circuit, count, lines)
    else:
        whole = lines.length("sump_to_tank")
        _line(circuit, "main", ("sump", "tank"), whole, "sump_to_tank", lines, valve=True)
    _guarded(circuit, tables["tank"], ledger)
    if count:
        _bed_drains(circuit, count, "sump", lines, screen=screened)
    circuit.runs = marked_spare(circuit.vessels, circuit.runs)
    return circuit


def _place(circuit: Circuit, vessel: Vessel, place: str) -> None:
    circuit.vessels[vessel.name] = vessel
    circuit.places[vessel.name] = place


def _chain(
    circuit: Circuit,
    tables: Mapping[str, VesselTable],
    chain: tuple[str, ...],
    lines: Lines,
    ledger: Ledger,
) -> None:
    """A drain from each vessel of a chain to the next."""
    for above, below in pairwise(chain):
        draw = _draw(tables, above, ledger)
        key = f"{above}_to_{below}"
        circuit.add(
            Run(
                name=f"{above} drain",
                start=above,
                finish=below,
                kind=RunKind.GRAVITY,
                legs_m=equal_legs(lines.length(key), lines.turns(key)),
                turns=lines.turns(key),
                run_class=f"{above} drain",
                draw=draw,
                screen=_screen(tables, above, ledger),
            ),
            f"distances.{key}",
        )


def _overflow(circuit: Circuit, lines: Lines) -> None:
    """The tank's emergency overflow, straight to the sump."""
    key = "tank_overflow"
    legs, turns = equal_legs(lines.length(key), lines.turns(key)), lines.turns(key)
    run = Run("tank overflow", "tank", "sump", RunKind.GRAVITY, legs, turns, "tank overflow", overflow=True)
    circuit.add(run, f"distances.{key}")


def _draw(tables: Mapping[str, VesselTable], above: str, ledger: Ledger) -> Draw:
    """From where a vessel's drain takes its water."""
    draw: Draw | None = getattr(tables[above], "draw", None)
    if draw is None:
        draw = DRAWS.get(VesselKind(above), Draw.WALL)
        if above == "tank":
            why = "the drain's inlet: an open pipe from the floor's centre up to the outlet in the wall"
            ledger.note("tank.draw", str(draw), PRACTICE, why)
    return draw


def _screen(tables: Mapping[str, VesselTable], above: str, ledger: Ledger) -> bool:
    """Whether a vessel's drain has a screen on its inlet."""
    given: bool | None = getattr(tables[above], "screen", None)
    if given is None and above == "biofilter":
        ledger.note("biofilter.screen", SCREEN.text, SCREEN.mark, SCREEN.why)
    return bool(given)


def _waste(circuit: Circuit, table: VesselTable, name: str, lines: Lines, ledger: Ledger) -> None:
    """A filter's waste: by a drain of its own where there is fall enough, else pumped by hand."""
    vessel, key = circuit.vessels[name], f"{name}_waste"
    given, ground = getattr(table, "waste_height", None), getattr(table, "ground", None)
    default = WASTE["height"]
    if ground is not None:
        default = replace(default, text=write(ground, Dimension.LENGTH))
    height = ledger.value(given, f"{name}.waste_height", default, Dimension.LENGTH)
    fall, by = vessel.water_min_m - height, getattr(table, "waste_by", None)
    if by is None:
        enough = fall >= read(WASTE["fall"].text, Dimension.LENGTH)
        by = WasteBy.GRAVITY if enough else WasteBy.HAND_PUMP
        why = f"gravity needs {WASTE['fall'].text} from lowest water to the open end"
        ledger.note(f"{name}.waste_by", str(by), WASTE["fall"].mark, why)
    if by is WasteBy.HAND_PUMP:
        lift = metres(max(height, vessel.rim_m) - vessel.water_min_m)
        circuit.hand_pumps.append(HandPumpWish(name, lift, lines.length(key)))
        return
    end, turns = f"{name} waste end", lines.turns(key)
    circuit.junctions[end] = Junction(end, metres(height))
    legs, waste = equal_legs(lines.length(key), turns), f"{name} waste"
    kind = RunKind.GRAVITY
    circuit.add(Run(waste, name, end, kind, legs, turns, waste, valve=True, waste=True), f"distances.{key}")


def _line(
    circuit: Circuit,
    name: str,
    ends: tuple[str, str],
    length: float,
    key: str,
    lines: Lines,
    *,
    run_class: str = "",
    valve: bool = False,
) -> None:
    """One pressure run whose turns stand under `key`."""
    turns = lines.turns(key)
    legs = equal_legs(length, turns)
    run = Run(name, *ends, RunKind.PRESSURE, legs, turns, run_class or name, valve=valve)
    circuit.add(run, f"distances.{key}")


def _guarded(circuit: Circuit, table: VesselTable, ledger: Ledger) -> None:
    """What keeps the tank from siphoning back through its inlet."""
    guard: Guard | None = getattr(table, "siphon_back", None)
    if guard is None:
        guard = Guard(GUARD.text)
        ledger.note("tank.siphon_back", GUARD.text, GUARD.mark, GUARD.why)
    for name, run in circuit.runs.items():
        if run.kind is RunKind.PRESSURE and run.finish == "tank":
            circuit.runs[name] = replace(run, siphon_back=guard)


def _split(circuit: Circuit, count: int, lines: Lines) -> None:
    """The pump's tree: main, split, tank feed, and a trunk with a tee for all but the last bed.

    The way from the pump to the tank and to the first bed begins with the main; the last bed takes what goes
    straight on at the last tee.
    """
    main = lines.length("sump_to_split")
    _junction(circuit, "split")
    _line(circuit, "main", ("sump", "split"), main, "sump_to_split", lines)
    feed = lines.length("sump_to_tank") - main
    _line(circuit, "tank feed", ("split", "tank"), feed, "sump_to_tank", lines, valve=True)
    first, riser = lines.length("sump_to_first_bed") - main, lines.length("trunk_to_bed")
    if count == 1:
        _bed_feed(circuit, 1, "split", first + riser, lines)
        return
    above, trunk, key = "split", first, "sump_to_first_bed"
    for number in range(1, count):
        tee = f"bed tee {number}"
        _junction(circuit, tee)
        _line(circuit, f"trunk {number}", (above, tee), trunk, key, lines)
        _bed_feed(circuit, number, tee, riser, lines)
        above, trunk, key = tee, lines.length("between_beds"), "between_beds"
    _bed_feed(circuit, count, above, trunk + riser, lines)


def _bed_feed(circuit: Circuit, number: int, start: str, length: float, lines: Lines) -> None:
    name, ends = f"bed feed {number}", (start, f"bed {number}")
    _line(circuit, name, ends, length, "trunk_to_bed", lines, run_class="bed feed", valve=True)


def _junction(circuit: Circuit, name: str) -> None:
    circuit.junctions[name] = Junction(name)


def _filter_to_beds(
    circuit: Circuit, tables: Mapping[str, VesselTable], count: int, lines: Lines, ledger: Ledger
) -> None:
    """A line by gravity from the last filter to each bed, all of equal shares; what divides is the filter.

    Each has its own outlet, since a line that divides by itself would share as its lengths happen to be.
    """
    last = next(name for name in reversed(("tank", *FILTERS)) if name in tables)
    key = f"{last}_to_bed"
    draw, screen = _draw(tables, last, ledger), _screen(tables, last, ledger)
    for number in range(1, count + 1):
        ends = (last, f"bed {number}")
        _fall(circuit, f"bed feed {number}", ends, key, number, draw, lines, screen=screen)


def _bed_drains(circuit: Circuit, count: int, to: str, lines: Lines, *, screen: bool) -> None:
    """A drain from each bed to the sump, or to the tank where there is none."""
    for number in range(1, count + 1):
        name, ends, key = f"bed drain {number}", (f"bed {number}", to), f"bed_to_{to}"
        _fall(circuit, name, ends, key, number, Draw.STANDPIPE, lines, screen=screen)


def _fall(
    circuit: Circuit,
    name: str,
    ends: tuple[str, str],
    key: str,
    number: int,
    draw: Draw,
    lines: Lines,
    *,
    screen: bool,
) -> None:
    """A line by gravity to or from a bed, longer by the beds' distance from one to the next."""
    turns = lines.turns(key)
    further = (number - 1) * lines.length("between_beds") if number > 1 else 0.0
    run = Run(
        name=name,
        start=ends[0],
        finish=ends[1],
        kind=RunKind.GRAVITY,
        legs_m=equal_legs(lines.length(key) + further, turns),
        turns=turns,
        run_class=name.rpartition(" ")[0],
        draw=draw,
        screen=screen,
    )
    circuit.add(run, f"distances.{key}")


def _tank_to_beds(circuit: Circuit, count: int, lines: Lines) -> None:
    """The tree of a pump in the tank: a trunk with a tee for all but the last bed."""
    first, riser = lines.length("tank_to_first_bed"), lines.length("trunk_to_bed")
    if count == 1:
        _bed_feed(circuit, 1, "tank", first + riser, lines)
        return
    above, trunk, key = "tank", first, "tank_to_first_bed"
    for number in range(1, count):
        tee = f"bed tee {number}"
        _junction(circuit, tee)
        _line(circuit, "main" if number == 1 else f"trunk {number}", (above, tee), trunk, key, lines)
        _bed_feed(circuit, number, tee, riser, lines)
        above, trunk, key = tee, lines.length("between_beds"), "between_beds"
    _bed_feed(circuit, count, above, trunk + riser, lines)
