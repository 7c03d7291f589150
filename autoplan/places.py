"""Where a finding was made, as a value: the report alone puts it into words.

`what` says what was judged there where a rule judges several things; "" elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from autoplan.line.needs import Want


@dataclass(frozen=True, slots=True)
class InVessel:
    """A vessel, a bed or a junction; `when` in half a sentence, where not as it runs."""

    vessel: str
    what: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class OnRun:
    """A run; `how` in half a sentence it is told apart from others by."""

    run: str
    what: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True)
class AtEnd:
    """Where a run meets a vessel or junction."""

    run: str
    vessel: str


@dataclass(frozen=True, slots=True)
class OnPath:
    """Runs that water passes one after the other."""

    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OfPart:
    """A row of the price list by its id, and the shop that it is bought at where that matters."""

    part: str
    shop: str = ""


@dataclass(frozen=True, slots=True)
class OfWant:
    """A kind and size of sundry."""

    want: Want


@dataclass(frozen=True, slots=True)
class OfAll:
    """The whole order or plan, or what is told by its words alone, as in a stored answer."""

    what: str


Where: TypeAlias = InVessel | OnRun | AtEnd | OnPath | OfPart | OfWant | OfAll
