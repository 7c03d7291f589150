"""What a part is made of and sold for, as far as that matters to fish: which words a row may use."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class Material(StrEnum):
    """What touches the water; a row that says nothing is taken as `PLASTIC` sold for drinking water."""

    PLASTIC = "plastic"
    RUBBER = "rubber"
    STAINLESS = "stainless"
    BRASS = "brass"
    BRONZE = "bronze"
    COPPER = "copper"
    GALVANISED = "galvanised"


class Grade(StrEnum):
    """What water a part is sold for; a row that says nothing is `UNKNOWN`."""

    DRINKING = "drinking water"
    DRAIN = "drain"
    UNKNOWN = "unknown"


TELLING = {
    **{str(one): one for one in (Material.BRASS, Material.BRONZE, Material.COPPER, Material.GALVANISED)},
    "gunmetal": Material.BRONZE,
    "galvanized": Material.GALVANISED,
    "zinc": Material.GALVANISED,
}
"""Words of a description that tell a metal which poisons fish, and the material to write for it."""


def told_by(words: Iterable[str]) -> Material | None:
    """The metal that a description's words tell of, if any."""
    return next((TELLING[word] for word in words if word in TELLING), None)
