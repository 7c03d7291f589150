"""An answer's JSON read back.

It comes from a file that anyone may have changed, or that an older version wrote: what is missing, of another
kind or does not fit together is told by its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from autoplan.report.contract.base import READING
from autoplan.report.contract.rows import AnswerRow, DesignRow

WORDS = {
    "string_type": "a text",
    "name_type": "a name",
    "greater_than": "a number above 0",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "dict_type": "a table of keys",
    "model_type": "a table of keys",
}
"""What something is not, by the kind of error; else it is no number, or none within bounds."""

NAMED = {
    "levels[].vessel": "vessels[].name",
    "holes[].vessel": "vessels[].name",
    "holes[].run": "runs[].name",
    "rims[].vessel": "vessels[].name",
    "rims[].run": "runs[].name",
    "traces[].vessel": "vessels[].name",
    "siphons[].bed": "vessels[].name",
    "siphons[].drain": "runs[].name",
    "vessels[].name": "levels[].vessel",
    "filling.levels[].vessel": "levels[].vessel",
    "commissioning.levels[].vessel": "levels[].vessel",
    "running[].sumps[].vessel": "levels[].vessel",
}
"""What is named in one place of a design must be there in another."""


def read_answer(answer: Mapping[str, Any] | AnswerRow) -> AnswerRow:
    """An answer's JSON as rows, every text in it fit to be shown.

    Raises:
        ValueError: it lacks something; the first such place is named.
    """
    if isinstance(answer, AnswerRow):
        return answer
    try:
        return AnswerRow.model_validate(answer, context=READING)
    except ValidationError as error:
        place, problem = next(_wrong(error))
        raise ValueError(f"the answer is an older one, or was changed: {place} {problem}") from error


def wrong_in(answer: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What keeps an answer from being shown: a place, as in "designs[0].cost", and what is wrong there.

    What is of a wrong kind is told first, and alone: only then can be asked what fits together.
    """
    try:
        read = AnswerRow.model_validate(answer, context=READING)
    except ValidationError as error:
        yield from _wrong(error)
        return
    if read.units not in ("si", "us"):
        yield "units", 'is neither "si" nor "us"'
    for at, design in enumerate(read.designs):
        yield from ((f"designs[{at}].{place}", problem) for place, problem in _loose_ends(design))


def _wrong(error: ValidationError) -> Iterator[tuple[str, str]]:
    for wrong in error.errors(include_url=False, include_context=False, include_input=False):
        steps = (f"[{step}]" if isinstance(step, int) else f".{step}" for step in wrong["loc"])
        kind = wrong["type"]
        said = "is missing" if kind == "missing" else f"is not {WORDS.get(kind, 'a number')}"
        yield "".join(steps).lstrip("."), said


def _loose_ends(design: DesignRow) -> Iterator[tuple[str, str]]:
    """Names of nothing, lists of unlike length, and what is there by half."""
    for asked, there in NAMED.items():
        known = {name for _, name in _at(design, there)}
        for place, name in _at(design, asked):
            if name not in known:
                yield place, f"is not among {there}"
    for at, run in enumerate(design.runs):
        if len(run.ends) != 2:
            yield f"runs[{at}].ends", "are not two"
    for at, cut in enumerate(design.cuts):
        if len(cut.pieces) != len(cut.pieces_mm):
            yield f"cuts[{at}].pieces", "is not as long as pieces_mm"
    for at, trace in enumerate(design.traces):
        if not trace.points:
            yield f"traces[{at}].points", "has no points"
    for at, hole in enumerate(design.holes):
        if hole.place != "floor" and hole.centre_above_floor_mm is None:
            yield f"holes[{at}].centre_above_floor_mm", "is missing"
    for at, pump in enumerate(design.pumps):
        if pump.part not in design.parts:
            yield f"pumps[{at}].part", "is not among parts"
        curves = [pump.curve, pump.full_speed_curve, pump.system, pump.meets]
        if any(curves) and not all(curves):
            yield f"pumps[{at}].curve", "is there without full_speed_curve, system or meets"


def _at(design: DesignRow, place: str) -> list[tuple[str, Any]]:
    """Every thing at a place that is there, with its path."""
    found: list[tuple[str, Any]] = [("", design)]
    for step in place.split("."):
        key, each = step.removesuffix("[]"), step.endswith("[]")
        found = [(f"{where}.{key}".lstrip("."), getattr(thing, key)) for where, thing in found]
        found = [(where, thing) for where, thing in found if thing is not None]
        if each:
            found = [(f"{where}[{at}]", item) for where, items in found for at, item in enumerate(items)]
    return found
