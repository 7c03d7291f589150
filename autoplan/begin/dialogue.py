"""The questions asked one by one on a terminal, or taken from lines of text; no answer is lost."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TextIO

from autoplan.begin.checking import Checker
from autoplan.begin.keeping import another, beside, there, undisturbed, unwritable, write
from autoplan.begin.questions import QUESTIONS, Question
from autoplan.begin.usual import filled
from autoplan.errors import InputError, Mistake, QuantityError
from autoplan.report.blocks import clean
from autoplan.report.render.plain import fold

WIDTH = 80
"""Most characters in a line of the dialogue."""

BACK = "back"
"""Typed in place of an answer to return to the question before."""

WELCOME = (
    "A few questions about your system. Enter takes what stands in brackets; back returns to the question "
    "before; Ctrl-C stops, and what you answered can still be written."
)
STOPPED = "Stopped before everything was asked: what was not answered is taken as usual."


@dataclass(frozen=True, slots=True)
class Begun:
    """What came of it: the file that was written, if any, whether to design it, whether Ctrl-C ended it."""

    written: str | None
    design: bool = False
    stopped: bool = False


@dataclass(slots=True)
class Dialogue:
    """One run of the questions.

    Attributes:
        source: where answers come from, a line each.
        out: where questions go.
        alone: whether nobody sits there: answers come from a file or pipe, and a wrong one ends it.
        given: answers so far, by key.
        lines: how many lines were read.
        ended: whether the answers are at their end.
        sure: whether to look at heights and pumps no more, since an answer that they refuse was given again.
        replace: whether a file that is there may be replaced.
    """

    source: TextIO
    out: TextIO
    alone: bool
    given: dict[str, str] = field(default_factory=dict)
    lines: int = 0
    ended: bool = False
    sure: bool = False
    replace: bool = False
    checker: Checker = field(default_factory=Checker)

    def run(self, file: str) -> Begun:
        """Ask everything, write the problem file, and ask whether to design it.

        Args:
            file: where it goes.

        Raises:
            InputError: an answer is wrong and nobody is there to be asked again, or the file is there already
                or cannot be written.
        """
        with suppress(AttributeError):
            # What is no text is an answer like any other wrong one.
            self.source.reconfigure(errors="backslashreplace")  # type: ignore[attr-defined]
        try:
            file = self._target(file)
            self._say(WELCOME)
            self._ask_all()
            written = self._kept(file)
        except KeyboardInterrupt:
            return self._stopped(file)
        try:
            design = self._yes("Design it now?", usual=not self.alone)
        except KeyboardInterrupt:
            return Begun(written, stopped=True)
        if not design:
            # Not folded, so that it can be copied however long the path is.
            self._draw([f"To design it: autoplan design {clean(written)}"])
        return Begun(written, design=design)

    def _target(self, file: str) -> str:
        """A file that may be written: one that is not there, or whose replacement is wished."""
        while True:
            wrong = unwritable(file)
            if wrong is None and not there(file):
                return file
            if self.alone:
                raise InputError([wrong or Mistake(file, "", "is there already", "name another file")])
            if wrong is None:
                self._say(f"{file} is there already.")
                if self._yes("Replace it?", usual=False):
                    self.replace = True
                    return file
            else:
                self._say(f"{file}: {wrong.problem}.")
            free = another(file) if wrong is None else another("my-system.toml")
            named = self._line(f"Name of another file [{free}] > ")
            if wrong is not None and self.ended:
                raise InputError([wrong])
            file = named or free

    def _ask_all(self) -> None:
        """Every question that is to be asked, and the one before again where that is wished."""
        index = 0
        shown: list[int] = []
        while index < len(QUESTIONS):
            if not QUESTIONS[index].asked(filled(self.given)):
                index += 1
            elif self._answered(QUESTIONS[index]):
                shown.append(index)
                index += 1
            elif shown:
                index, self.sure = shown.pop(), False
                for key in QUESTIONS[index].keys(filled(self.given)):
                    self.given.pop(key, None)

    def _answered(self, question: Question) -> bool:
        """Ask until the answer is right; False for back."""
        said = filled(self.given)
        asked = [one for one in QUESTIONS if one.asked(said)]
        self._say("", f"{asked.index(question) + 1} of {len(asked)}. {question.about}")
        self._say(question.why, indent=3)
        refused: str | None = None
        while True:
            line = self._line(f"   [{question.shown(said)}] > ")
            if line == BACK:
                return False
            try:
                sure = self.sure or line == refused
                taken = self.checker.taken(question, line, self.given, for_sure=sure)
            except QuantityError as error:
                if self.alone or self.ended:
                    wrong = Mistake("standard input", f"line {self.lines}", error.problem, error.remedy)
                    raise InputError([wrong]) from error
                self._say(f"{error.problem}; {error.remedy}.", indent=3)
                refused = line
                continue
            self.given, self.sure = taken, self.sure or line == refused
            if question.draws:
                self._say("")
                self._draw(self.checker.picture(question, self.given, WIDTH))
            return True

    def _kept(self, file: str, stopped: str = "") -> str:
        """Write the file, and say where it is."""
        text = self.checker.text(self.given, stopped)
        while True:
            try:
                written = write(file, text, replace=self.replace)
                break
            except InputError as error:
                if self.alone or self.ended:
                    raise
                self._say(str(error))
                file = self._target(self._line("Name of another file > ") or file)
        self._say(f"Written to {written}; change it with any editor. `autoplan keys` explains every key.")
        return written

    def _stopped(self, file: str) -> Begun:
        """After Ctrl-C: offer to write what there is; after a second one write it beside the file."""
        if not self.given:
            return Begun(None, stopped=True)
        try:
            if not self.alone:
                self._say("")
                if not self._yes(f"Stopped. Write what you answered so far to {file}?", usual=True):
                    return Begun(None, stopped=True)
                return Begun(self._kept(file, STOPPED), stopped=True)
        except KeyboardInterrupt:
            self._say("")
        with undisturbed():
            return Begun(self._kept(beside(file, ".partial"), STOPPED), stopped=True)

    def _yes(self, question: str, *, usual: bool) -> bool:
        """A question of yes or no."""
        while True:
            line = self._line(f"{question} yes or no [{'yes' if usual else 'no'}] > ").lower()
            if line in ("", "y", "yes", "n", "no"):
                return line.startswith("y") if line else usual
            if self.alone:
                problem = f"{clean(line)[:40]!r} is neither yes nor no"
                raise InputError(
                    [Mistake("standard input", f"line {self.lines}", problem, "write one of them")]
                )
            self._say("Write yes or no.")

    def _line(self, prompt: str) -> str:
        """One line typed, without the blanks around it; empty at the end of the input."""
        with suppress(OSError):
            print(clean(prompt), end="", file=self.out, flush=True)
        line = self.source.readline()
        self.lines += 1
        self.ended = not line
        if self.alone or not line:
            # Nobody's Enter has ended the line of the question.
            self._say(clean(line.strip()))
        return line.strip()

    def _say(self, *texts: str, indent: int = 0) -> None:
        for text in texts:
            self._draw([" " * indent + line for line in fold(clean(text), WIDTH - indent)])

    def _draw(self, lines: Sequence[str]) -> None:
        with suppress(OSError):
            for line in lines:
                print(line.rstrip(), file=self.out, flush=True)
