"""Answers to draw, each worked out and drawn once."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import json_text
from autoplan.report.drawings import sheets
from autoplan.report.drawings.view import Sheet
from tests.report.drawings.read import Picture
from tests.stored import kept, stored

STORED = ("small", "no-sump", "two-drains", "two-beds-on-clocks")
"""A bell siphon; a pump in the fish tank; an overflow; timers."""


@dataclass(frozen=True)
class Drawn:
    """An answer and its drawings."""

    answer: Mapping[str, Any]
    sheets: tuple[Sheet, ...]
    drawings: dict[str, Sheet]

    @property
    def design(self) -> Mapping[str, Any]:
        """The one design."""
        found: Mapping[str, Any] = self.answer["designs"][0]
        return found

    def picture(self, name: str) -> Picture:
        """A drawing read back."""
        return Picture(self.drawings[name].svg, name)


def drawn_of(answer: Mapping[str, Any]) -> Drawn:
    """An answer drawn."""
    made = sheets(answer)
    drawings = {sheet.name: sheet for sheet in made}
    return Drawn(answer, made, drawings)


def answer_of(name: str, units: PrintUnits = PrintUnits.SI) -> Mapping[str, Any]:
    """The JSON of a stored problem's design, as a file would have it."""
    outcome = _outcome(name)
    site = replace(outcome.site, print_units=units)
    read: Mapping[str, Any] = json.loads(json_text(replace(outcome, site=site)))
    return read


def drawing_of(name: str, units: PrintUnits = PrintUnits.SI) -> Drawn:
    """A stored problem drawn."""
    return _drawing(name, units)


@lru_cache
def _outcome(name: str) -> Outcome:
    return stored(name, str(kept(name)["problem"]))


@lru_cache
def _drawing(name: str, units: PrintUnits) -> Drawn:
    return drawn_of(answer_of(name, units))
