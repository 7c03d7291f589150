"""The short form: a few tables, checked and expanded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from autoplan.errors import Mistake
from autoplan.problem.build import Ledger
from autoplan.problem.checks import Scene, height_mistakes
from autoplan.problem.defaults import VESSEL
from autoplan.problem.expand import FILTERS, Lines, expand, line_keys
from autoplan.problem.schema import (
    MOST_BEDS,
    ShortBeds,
    ShortTank,
    ShortVessel,
    ShortWaste,
    Table,
    Wishes,
    line_length,
    line_turns,
    lines_table,
    validate,
)
from autoplan.problem.site import VesselKind
from autoplan.units import Dimension, quoted, write

TABLES: Mapping[str, type[Table]] = {
    "tank": ShortTank,
    "settler": ShortWaste,
    "biofilter": ShortWaste,
    "beds": ShortBeds,
    "sump": ShortVessel,
}


def read_short(
    file: str, tables: Mapping[str, Any], wishes: Wishes, ledger: Ledger
) -> tuple[Scene, list[Mistake]]:
    """Read and expand a short form.

    Args:
        file: as the user named it.
        tables: the whole file.
        wishes: its wishes, or none where they have mistakes.
        ledger: where assumptions go.

    Returns:
        The expanded system and every mistake. A table with a mistake is mended so that the others can still
        be checked; nothing is said of heights that a mended table takes part in.
    """
    mistakes: list[Mistake] = []
    arrangement = tables.get("arrangement", "parallel")
    if arrangement != "parallel":
        problem = f"{quoted(arrangement)} is not an arrangement that the short form knows"
        remedy = 'write arrangement = "parallel", or every vessel and run in the long form'
        mistakes.append(Mistake(file, "arrangement", problem, remedy))
    models: dict[str, Any] = {}
    mended: set[str] = set()
    for place, kind in TABLES.items():
        if place in tables or place in ("tank", "sump"):
            models[place], wrong = _vessel_table(file, tables, place, kind)
            mistakes += wrong
            if wrong:
                mended.add(place)
    mistakes += _bed_mistakes(file, models)
    lines, wrong = _lines(file, tables, models, ledger)
    mistakes += wrong
    circuit = expand(models, wishes, lines, ledger)
    places = {**circuit.places, **dict.fromkeys(circuit.junctions, "distances")}
    sure = {name: vessel for name, vessel in circuit.vessels.items() if places[name] not in mended}
    mistakes += height_mistakes(Scene(file, sure, circuit.junctions, circuit.runs, places))
    scene = Scene(file, circuit.vessels, circuit.junctions, circuit.runs, places)
    return replace(scene, hand_pumps=tuple(circuit.hand_pumps)), mistakes


def _bed_mistakes(file: str, models: Mapping[str, Any]) -> list[Mistake]:
    """Spare beds are like the others, so there is one at least, and all of them are not too many."""
    beds = models.get("beds")
    if beds is None or not beds.spare_beds:
        return []
    if not beds.count:
        remedy = "give a count of one or more, which the spare ones are like"
        return [Mistake(file, "beds.spare_beds", "there is no bed yet", remedy)]
    if beds.count + beds.spare_beds > MOST_BEDS:
        problem = f"with the spare ones there are {beds.count + beds.spare_beds} beds"
        return [Mistake(file, "beds.spare_beds", problem, f"let there be {MOST_BEDS} at most")]
    return []


def _vessel_table(
    file: str, tables: Mapping[str, Any], place: str, kind: type[Table]
) -> tuple[Any, list[Mistake]]:
    """A vessel's table, mended where it is wrong, and its mistakes."""
    stand_in = {"count": 2, "area": VESSEL[VesselKind.BED]["area"].text}
    if place != "beds":
        stand_in = {"volume": VESSEL[VesselKind(place)]["volume"].text}
    if place not in tables:
        remedy = f'write [{place}] and below it e.g. volume = "1000 L"'
        return kind.model_validate(stand_in), [Mistake(file, place, f"there is no [{place}]", remedy)]
    table = tables[place]
    found = validate(kind, table, file, place)
    if found.model is not None:
        return found.model, []
    kept: dict[str, Any] = {}
    if isinstance(table, Mapping):
        # A mistake of the table as a whole leaves nothing of it but the size.
        kept = {} if "" in found.bad_keys else {key: table[key] for key in table if key not in found.bad_keys}
    again = validate(kind, stand_in | kept, file, place)
    return again.model or kind.model_validate(stand_in), [*found.mistakes, *again.mistakes]


def _lines(
    file: str, tables: Mapping[str, Any], models: Mapping[str, Any], ledger: Ledger
) -> tuple[Lines, list[Mistake]]:
    """Distances and turns; the way to the tank and to the first bed begins with the way to the split."""
    beds = models["beds"].count + (models["beds"].spare_beds or 0) if "beds" in models else 0
    overflow = bool(models["tank"].overflow)
    filters = tuple(name for name in FILTERS if name in models)
    wastes = tuple(name for name in filters if models[name].waste)
    known = line_keys(filters, beds, overflow=overflow, wastes=wastes)
    lengths = lines_table(tables.get("distances", {}), file, "distances", known, line_length)
    bends = lines_table(tables.get("turns", {}), file, "turns", known, line_turns)
    mistakes = [*lengths.mistakes, *bends.mistakes]
    silent = Lines(lengths.model, {}, Ledger())
    if beds and not lengths.mistakes:
        main = silent.length("sump_to_split")
        for key in ("sump_to_tank", "sump_to_first_bed"):
            if silent.length(key) <= main:
                whole, first = (write(length, Dimension.LENGTH) for length in (silent.length(key), main))
                problem = f"the whole way from the pump is {whole}, of which {first} lead to the split"
                mistakes.append(
                    Mistake(file, f"distances.{key}", problem, "make it longer than sump_to_split")
                )
    return Lines(lengths.model, bends.model, ledger), mistakes
