"""Sentences whose quantities stay values until the report puts them into words, in the units asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Amount:
    """A quantity in a sentence.

    Attributes:
        value: in SI.
        unit: what it is told in where metric units are read, and so what it measures: "mm", "m", "m/s",
            "L/h" or "L".
        places: decimals that are told; None for as many as it has, of six figures at most.
    """

    value: float
    unit: str
    places: int | None = None


@dataclass(frozen=True, slots=True)
class Written:
    """A quantity in a sentence as a problem file has it, with its unit."""

    text: str


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words with a "{}" in them for each thing that is given."""

    words: str
    given: tuple[Text | Amount | Written, ...]


Text: TypeAlias = str | Sentence
"""A sentence, or one without quantities as it stands."""


def say(words: str, *given: Text | Amount | Written) -> Sentence:
    """A sentence: words with a "{}" for each text or quantity given."""
    return Sentence(words, given)


def joined(between: str, texts: Sequence[Text]) -> Sentence:
    """Texts in a row with something between each two of them."""
    return Sentence(between.join(["{}"] * len(texts)), tuple(texts))


def as_written(text: Text | Written) -> str:
    """A sentence whose quantities are all as a problem file has them, in words."""
    match text:
        case Sentence(words, given):
            return words.format(*(as_written(each) for each in given if not isinstance(each, Amount)))
        case Written(written):
            return written
        case str():
            return text
