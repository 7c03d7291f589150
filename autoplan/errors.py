"""The exception tree. Every mistake a user can make is data (a `Mistake`), never a bare string."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from autoplan.sentence import Sentence, Text


@dataclass(frozen=True, slots=True, order=True)
class Mistake:
    """One thing wrong in one place of one input file.

    Attributes:
        file: the file as the user named it.
        place: line ("line 12") or key path ("beds.area") inside the file; empty for the file itself.
        problem: one clause saying what is wrong, with the offending value.
        remedy: one clause saying what would be right.
        told: what is wrong with its quantities as such, where others than metric units may be read.
    """

    file: str
    place: str
    problem: str
    remedy: str
    told: Sentence | None = field(default=None, compare=False, repr=False)

    @property
    def said(self) -> Text:
        """What is wrong, in the units that are read as far as its quantities are known."""
        return self.problem if self.told is None else self.told

    def __str__(self) -> str:
        where = f"{self.file}: {self.place}" if self.place else self.file
        return f"{where}: {self.problem}; {self.remedy}."


class AutoplanError(Exception):
    """Root of everything this package raises on purpose."""


class InputError(AutoplanError):
    """The user's files are wrong. Carries every mistake found, not only the first (exit code 2)."""

    def __init__(self, mistakes: Sequence[Mistake]) -> None:
        self.mistakes: tuple[Mistake, ...] = tuple(mistakes)
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


class QuantityError(AutoplanError):
    """A text that should be a number with a unit is not; the border that read it adds file and place."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}; {remedy}")


class InternalError(AutoplanError):
    """A fault of ours: optimiser and verdict disagree, or a promise of the solver's is broken (exit 1)."""
