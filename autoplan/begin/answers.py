"""One line typed at a question, taken apart: values with units, words, counts, in any order that is clear."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from autoplan.errors import QuantityError
from autoplan.units import Dimension, quoted, read

_BETWEEN = re.compile(r"\s*(?:(?<!\d),|,(?!\d)|;|\band\b|\bof\b)\s*")
"""Between two values, as in "4 beds of 1 m2". A comma inside a number is left in it, and told as what
may mean two things."""

_BELOW = re.compile(r"(.*\S)\s+(?:below|under)(?:\s+(?:the\s+)?ground)?")
_ABOVE = re.compile(r"(.*\S)\s+(?:above|over)(?:\s+(?:the\s+)?ground)?")
_COUNT = re.compile(r"(\d+)(?:\s*[a-z]+)?")


LEAST = 1e-4
"""Less than this in SI is no length, area or volume of anything that is built."""

MOST = {Dimension.LENGTH: 1000.0, Dimension.AREA: 1000.0, Dimension.VOLUME: 10_000.0}
"""More than this in SI is a slip; closer limits are the problem file's."""

USUAL = {Dimension.LENGTH: "750 mm", Dimension.AREA: "1.2 m2", Dimension.VOLUME: "500 L"}


@dataclass(frozen=True, slots=True)
class AnswerPart:
    """One value of an answer.

    Attributes:
        key: its name among the answers.
        label: what may stand before or behind the value to say which it is; "deep" also as "depth".
    """

    key: str
    label: str

    def taken(self, text: str) -> str:
        """The value as it goes into the file.

        Raises:
            QuantityError: it is none, and what would be one.
        """
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Measure(AnswerPart):
    """A length, volume or area with its unit; of a height also as so much below or above the ground."""

    dimension: Dimension
    height: bool = False

    def taken(self, text: str) -> str:
        """The text with its unit; of a height a bare 0 too, and what is below the ground with a minus."""
        plain = text
        if self.height:
            if found := _BELOW.fullmatch(text):
                plain = f"-{found[1].lstrip('-')}"
            elif found := _ABOVE.fullmatch(text):
                plain = found[1]
            if plain == "0":
                return "0 mm"
        value, most = read(plain, self.dimension), MOST[self.dimension]
        remedy = f"write something like {USUAL[self.dimension]}"
        if value < (-most if self.height else LEAST):
            raise QuantityError(f"{quoted(text)} is too small", remedy)
        if value > most:
            raise QuantityError(f"{quoted(text)} is too large", remedy)
        return plain


@dataclass(frozen=True, slots=True)
class OneOf(AnswerPart):
    """One of a few words, each with other ways to say it."""

    words: Mapping[str, str]

    def taken(self, text: str) -> str:
        """The word that is meant."""
        return _known(text, self.words)


@dataclass(frozen=True, slots=True)
class Count(AnswerPart):
    """A whole number up to a most."""

    most: int

    def taken(self, text: str) -> str:
        """The number alone."""
        found = _COUNT.fullmatch(text.lower())
        if found is None or len(found[1]) > 9:
            raise QuantityError(f"{quoted(text)} is not a whole number", "write e.g. 2")
        if not 1 <= int(found[1]) <= self.most:
            raise QuantityError(f"{quoted(text)} is not from 1 to {self.most}", "write a number between")
        return str(int(found[1]))


@dataclass(frozen=True, slots=True)
class Several(AnswerPart):
    """Any of a few words, or one that says none of them."""

    words: Mapping[str, str]
    nothing: str

    def taken(self, text: str) -> str:
        """The words that are meant, with ", " between them; empty for none."""
        found = {_known(piece, {**self.words, self.nothing: ""}) for piece in pieces_of(text)}
        if "" in found and len(found) > 1:
            remedy = f"leave out {self.nothing} or the rest"
            raise QuantityError(f"{quoted(text)} is both {self.nothing} and something", remedy)
        order = list(dict.fromkeys(self.words.values()))
        return ", ".join(sorted(found - {""}, key=order.index))


@dataclass(frozen=True, slots=True)
class FreeAnswer(AnswerPart):
    """Any text, such as the name of a folder."""

    def taken(self, text: str) -> str:
        """The text."""
        if not text.isprintable() or len(text) > 200:
            raise QuantityError(f"{quoted(text)} is not a short text", "write a name")
        return text


@dataclass(frozen=True, slots=True)
class Form:
    """The values that one question asks for.

    Attributes:
        parts: in the order in which they are taken where nothing says which is meant.
        whole: whether the line is one value and not to be divided.
        for_all: whether a single value without a label goes for all parts.
    """

    parts: tuple[AnswerPart, ...]
    whole: bool = False
    for_all: bool = False
    labels: Mapping[str, AnswerPart] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        labels = {part.label: part for part in self.parts}
        if "deep" in labels:
            labels["depth"] = labels["deep"]
        object.__setattr__(self, "labels", labels)

    def taken(self, line: str) -> dict[str, str]:
        """The values that a line gives, by key; those it does not give are left out.

        Raises:
            QuantityError: what is wrong with the first value that is none.
        """
        line = " ".join(line.split())
        if not line:
            return {}
        if self.whole:
            return {self.parts[0].key: self.parts[0].taken(line)}
        found: dict[str, str] = {}
        pieces = list(pieces_of(line))
        for piece in pieces:
            part, text = self._labelled(piece)
            if self.for_all and part is None and len(pieces) == 1:
                return {one.key: one.taken(text) for one in self.parts}
            still = [one for one in self.parts if one.key not in found] if part is None else [part]
            if part is None and _is_number(text):
                still = [one for one in still if not isinstance(one, OneOf)]
            if not still:
                remedy = f"give {len(self.parts)} at most"
                raise QuantityError(f"{quoted(piece)} is one value too many", remedy)
            taken_by, value = _first(still, text)
            if taken_by.key in found:
                raise QuantityError(f"{taken_by.label} is given twice", "give it once")
            found[taken_by.key] = value
        return found

    def _labelled(self, piece: str) -> tuple[AnswerPart | None, str]:
        """A piece without the label at its beginning or end, and whose label that was."""
        for label in sorted(self.labels, key=len, reverse=True):
            if found := re.fullmatch(rf"{re.escape(label)}\s*[:=]?\s+(.+)", piece, re.IGNORECASE):
                return self.labels[label], found[1]
            if found := re.fullmatch(rf"(.+)\s+{re.escape(label)}", piece, re.IGNORECASE):
                return self.labels[label], found[1]
        return None, piece


def pieces_of(line: str) -> Iterator[str]:
    """What stands between commas, semicolons and "and"."""
    return (piece for piece in _BETWEEN.split(line.strip()) if piece)


def _first(parts: Sequence[AnswerPart], text: str) -> tuple[AnswerPart, str]:
    """The first part that takes a text, and what it takes it as.

    Raises:
        QuantityError: none does; the reason of the one that it looks most like.
    """
    reasons: list[tuple[AnswerPart, QuantityError]] = []
    for part in parts:
        try:
            return part, part.taken(text)
        except QuantityError as error:
            reasons.append((part, error))
    if not _is_number(text):
        raise next((error for part, error in reasons if isinstance(part, OneOf)), reasons[0][1])
    # What one part can make nothing of, another may know better.
    strange = ("cannot be read", "is needed")
    known = (error for _, error in reasons if not any(word in error.problem for word in strange))
    raise next(known, reasons[0][1])


def _is_number(text: str) -> bool:
    """Whether a text begins as a number does."""
    return text.lstrip("+-.")[:1].isdigit()


def _known(text: str, words: Mapping[str, str]) -> str:
    """What a word stands for.

    Raises:
        QuantityError: it is not known; with the nearest that is.
    """
    word = text.strip().lower()
    if word in words:
        return words[word]
    close = difflib.get_close_matches(word, words, n=1)
    known = dict.fromkeys(meant or said for said, meant in words.items())
    remedy = f'did you mean "{close[0]}"' if close else f"write {' or '.join(known)}"
    raise QuantityError(f"{quoted(text)} is not known here", remedy)
