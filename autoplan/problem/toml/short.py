"""The short form: a few tables, checked and expanded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from autoplan.errors import Mistake
from autoplan.problem.brief import BedDrains
from autoplan.problem.checks.heights import height_mistakes
from autoplan.problem.checks.outside import outside_mistakes
from autoplan.problem.checks.places import plan_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.timers import timer_mistakes
from autoplan.problem.checks.weeps import weep_mistakes
from autoplan.problem.layouts.book import TOPOLOGIES
from autoplan.problem.layouts.lines import GivenLines
from autoplan.problem.site import Arrangement, VesselKind
from autoplan.problem.tables.build import Ledger
from autoplan.problem.tables.defaults import FEEDS, VESSEL
from autoplan.problem.tables.schema import (
    ShortBeds,
    ShortSump,
    ShortTank,
    ShortVessel,
    ShortWaste,
    Table,
    WishesTable,
)
from autoplan.problem.tables.validate import validate
from autoplan.problem.tables.values import MOST_BEDS, RunsAt, closest, line_height, line_level, line_turns
from autoplan.problem.toml.lengths import lines_table
from autoplan.units import quoted

TABLES: Mapping[str, type[Table]] = {
    "tank": ShortTank,
    "settler": ShortWaste,
    "biofilter": ShortWaste,
    "beds": ShortBeds,
    "sump": ShortVessel,
}

ANY = "any"
"""In place of an arrangement: whichever is cheapest."""


@dataclass(frozen=True, slots=True)
class ShortForm:
    """The tables of a short form, read and checked one by one.

    Attributes:
        file: as the user named it.
        models: each vessel's table, mended where it is wrong so that the others can still be checked.
        mended: names of the tables that were mended.
        levels, corners, heights: level distances or their pieces [m], corners and heights of lines that are
            given.
        given: names of the tables that the file has.
    """

    file: str
    models: Mapping[str, Any]
    mended: frozenset[str]
    levels: Mapping[str, tuple[float, ...]]
    corners: Mapping[str, tuple[int, ...]]
    heights: Mapping[str, RunsAt]
    given: frozenset[str]


def arrangements_of(file: str, tables: Mapping[str, Any]) -> tuple[tuple[Arrangement, ...], list[Mistake]]:
    """The arrangements that a file asks for: one, or all of them for "any"."""
    word = tables.get("arrangement", "parallel")
    known = [*map(str, Arrangement), ANY]
    if not isinstance(word, str) or word not in known:
        remedy = f"write one of {', '.join(quoted(name) for name in known)}"
        if isinstance(word, str):
            remedy = closest(word, known, remedy)
        return (Arrangement.PARALLEL,), [
            Mistake(file, "arrangement", f"{quoted(word)} is not an arrangement that is known here", remedy)
        ]
    return (tuple(Arrangement) if word == ANY else (Arrangement(word),)), []


@dataclass(frozen=True, slots=True)
class ShortWay:
    """One way to lay the tables of a short form.

    Attributes:
        arrangement: how the vessels stand to each other.
        drains: how the beds drain.
        said: what tells it from the other ways, in words; empty where there is no other.
    """

    arrangement: Arrangement
    drains: BedDrains
    said: str = ""


def ways_of(form: ShortForm, arrangements: Sequence[Arrangement]) -> list[ShortWay]:
    """Every way to lay a short form's tables: each arrangement with each way for beds to drain."""
    beds = form.models.get("beds")
    asked = BedDrains.EACH if beds is None or beds.bed_drains is None else beds.bed_drains
    drains = (BedDrains.EACH, BedDrains.SHARED) if asked is BedDrains.ANY else (asked,)
    found = []
    for word in arrangements:
        for drained in drains:
            said = [str(word)] if len(arrangements) > 1 else []
            said += [f"bed drains {drained}"] if len(drains) > 1 else []
            found.append(ShortWay(word, drained, ", ".join(said)))
    return found


def read_short(
    file: str, tables: Mapping[str, Any], arrangements: Sequence[Arrangement]
) -> tuple[ShortForm, list[Mistake]]:
    """Read the tables of a short form.

    Args:
        file: as the user named it.
        tables: the whole file.
        arrangements: those that are to be built from them; where it is one, it must find its tables.

    Returns:
        The tables and every mistake in them that concerns all arrangements.
    """
    mistakes: list[Mistake] = []
    models: dict[str, Any] = {}
    mended: set[str] = set()
    needed = {"tank"} if len(arrangements) > 1 else {"tank", *TOPOLOGIES[arrangements[0]].needs}
    for place, kind in TABLES.items():
        if place in tables or place in needed:
            models[place], wrong = _vessel_table(file, tables, place, kind)
            mistakes += wrong
            if wrong:
                mended.add(place)
    mistakes += _bed_mistakes(file, models)
    scene, silent = Scene(file), Ledger()
    laid = [TOPOLOGIES[word](models, scene, GivenLines({}, {}, {}, silent)) for word in arrangements]
    known = list(dict.fromkeys(key for one in laid for key in one.line_keys()))
    drains = list(dict.fromkeys(key for one in laid for key in one.drain_keys()))
    lengths = lines_table(tables.get("distances", {}), file, "distances", known, line_level)
    corners = lines_table(tables.get("corners", {}), file, "corners", known, line_turns)
    heights = lines_table(tables.get("heights", {}), file, "heights", [FEEDS, *drains], line_height)
    mistakes += [*lengths.mistakes, *corners.mistakes, *heights.mistakes]
    mistakes += _line_mistakes(file, lengths.model, corners.model)
    given = frozenset(place for place in TABLES if place in tables)
    lines = lengths.model, corners.model, heights.model
    return ShortForm(file, models, frozenset(mended), *lines, given), mistakes


def build_short(
    form: ShortForm,
    wishes: WishesTable,
    way: ShortWay,
    ledger: Ledger,
    *,
    one_of_many: bool = False,
) -> tuple[Scene | None, list[Mistake]]:
    """Expand the tables of a short form in one arrangement.

    Args:
        form: its tables.
        wishes: the wishes, or none where they have mistakes.
        way: how they are laid.
        ledger: where assumptions go.
        one_of_many: whether the tables are for other arrangements too, so that this one may leave some out.

    Returns:
        The expanded system, and what of it cannot be built; None where it lacks a vessel. Nothing is said of
        heights that a mended table takes part in.
    """
    scene = Scene(form.file)
    lines = GivenLines(form.levels, form.corners, form.heights, ledger)
    together = way.drains is BedDrains.SHARED
    layout = TOPOLOGIES[way.arrangement](form.models, scene, lines, together=together)
    mistakes = list(layout.misfits(form.given, one_of_many=one_of_many))
    if any(place not in form.models for place in layout.needs):
        return None, mistakes
    layout.lay(wishes)
    mistakes += dict.fromkeys(layout.wrong)
    sure = {name: vessel for name, vessel in scene.vessels.items() if scene.places[name] not in form.mended}
    mistakes += height_mistakes(replace(scene, vessels=sure))
    if not form.mended:
        mistakes += plan_mistakes(scene)
    if "beds" not in form.mended:
        mistakes += timer_mistakes(scene)
        mistakes += weep_mistakes(scene)
        mistakes += outside_mistakes(scene)
    return scene, mistakes


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


def _line_mistakes(
    file: str, levels: Mapping[str, tuple[float, ...]], corners: Mapping[str, tuple[int, ...]]
) -> Iterator[Mistake]:
    """Pieces of lines that their corners do not go with."""
    for key, pieces in levels.items():
        if key in corners and len(pieces) not in (1, len(corners[key]) + 1):
            problem = f"{len(pieces)} level pieces do not go with the corners {list(corners[key])}"
            remedy = "give one piece more than there are corners, or the whole distance"
            yield Mistake(file, f"distances.{key}", problem, remedy)


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
    if place == "sump" and isinstance(table, Mapping) and "choose" in table:
        kind, stand_in = ShortSump, {"choose": "any"}
    found = validate(kind, table, file, place)
    if found.model is not None:
        return found.model, []
    kept: dict[str, Any] = {}
    if isinstance(table, Mapping):
        # A mistake of the table as a whole leaves nothing of it but the size.
        kept = {} if "" in found.bad_keys else {key: table[key] for key in table if key not in found.bad_keys}
    again = validate(kind, stand_in | kept, file, place, unread=found.bad_keys)
    return again.model or kind.model_validate(stand_in), [*found.mistakes, *again.mistakes]
