"""Sentences and places as the report tells them in metric units."""

from __future__ import annotations

from collections.abc import Iterable

from autoplan.outcome import Finding, Outcome
from autoplan.report.place_words import place_words
from autoplan.report.units import SI


def at(found: Finding) -> str:
    """Where a finding was made."""
    return place_words(found.place, SI)


def by_place(found: Iterable[Finding]) -> dict[str, Finding]:
    """Findings by where they were made."""
    return {at(one): one for one in found}


def why_none(outcome: Outcome) -> tuple[str, ...]:
    """Why there is no design, and what would mend it."""
    assert outcome.clash is not None
    return tuple(map(SI.told, outcome.clash.sentences))
