"""What may stand at the top of a problem file: its single keys, and the tables of either form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from autoplan.problem.tables.defaults import CATALOG


@dataclass(frozen=True, slots=True)
class Top:
    """A key at the top of a problem file, or a table.

    Attributes:
        meaning: half a sentence on what it is.
        written: how the value of a single key is written; empty for a table.
        otherwise: what stands in for a single key that is left out.
    """

    meaning: str
    written: str = ""
    otherwise: str = ""


SHORT: Mapping[str, Top] = {
    "arrangement": Top(
        "how the vessels stand to each other",
        '"parallel", "series", "no sump" or "any"',
        "parallel",
    ),
    "tank": Top("the fish tank"),
    "settler": Top("a vessel in which solids settle"),
    "biofilter": Top("a vessel with media for bacteria"),
    "beds": Top("the plant beds, all alike"),
    "sump": Top("the lowest vessel, in which the pump stands"),
    "distances": Top("level distance of each line on the plan, from wall to wall"),
    "corners": Top("changes of direction of each line on the plan"),
    "heights": Top("heights at which lines run"),
}
"""Of the short form alone."""

LONG: Mapping[str, Top] = {
    "vessel": Top("a vessel of the long form"),
    "junction": Top("where runs of the long form meet"),
    "run": Top("a pipe line of the long form"),
}
"""Of the long form alone."""

BOTH: Mapping[str, Top] = {
    "name": Top("what the system is called", 'text, as "Four beds by the shed"', "the file's name"),
    "catalog": Top(f"{CATALOG.why}: its name or folder", 'text, as "metric"', CATALOG.text),
    "print_units": Top("units of the answer: metric or US", '"si" or "us"', "si"),
    "unavailable": Top("parts that cannot be had", 'ids in a list, as ["seal-40"]', "none"),
    "wishes": Top("what is asked of the whole system"),
    "rules": Top("limits of your own for a rule, by its id"),
    "owned": Top("parts that are there already, by id"),
    "offcuts": Top("pieces of pipe that are there already, by id"),
    "air": Top("air for the fish and bacteria; without the table none is planned"),
    "hand_pumps": Top("hand pumps for the waste of vessels, by vessel"),
}
"""Of either form."""

BY_NAME: Mapping[str, Top] = {
    "owned": Top("how many pieces of that part there are", "whole number, as 2", "0"),
    "offcuts": Top("lengths of the pieces of that pipe", 'lengths in a list, as ["800 mm", "1.2 m"]', "none"),
}
"""What stands below a table whose keys are ids of the price list."""

GONE: Mapping[str, tuple[str, str]] = {
    "turns": (
        "uprights and their turns follow from heights now",
        "take [turns] out, and write the corners on the plan below [corners]",
    )
}
"""Tables that there were once, each with why it went and what to write instead."""
