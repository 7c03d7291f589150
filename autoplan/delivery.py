"""What is written, and how it gets there: files that are wanted, mistakes in them, the standard streams."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from autoplan.errors import InputError, Mistake
from autoplan.report.blocks import clean

if TYPE_CHECKING:
    from autoplan.outcome import Outcome
    from autoplan.report.blocks import Block


@dataclass(frozen=True, slots=True)
class Files:
    """Which files are asked for beside what is printed: names or None; the sheet is of one rank.

    And which parts of the plan are printed of that rank, with commas between, or None for the first screen;
    on this stands what else is to be asked for `again` to see more of the same answer.
    """

    json: str | None = None
    lists: str | None = None
    sheet: str | None = None
    drawings: str | None = None
    rank: int = 1
    show: str | None = None
    again: str = ""


def bad_files(files: Files, top: int, problem: str) -> Iterator[Mistake]:
    """What is wrong with the files asked for, found before the search and not after it."""
    written = files.json if files.json != "-" else None
    yield from nobody_reads(written, files.lists, files.sheet, files.drawings)
    yield from _bad_target(files.json, problem)
    yield from _bad_folder(files.lists)
    yield from _bad_sheet(files.sheet, files.rank, top, problem)
    yield from _bad_album(files.drawings)
    yield from _bad_sections(files.show)


def nobody_reads(*files: str | None) -> Iterator[Mistake]:
    """Standard output that is closed, where none of these files is asked for that would hold the answer."""
    # What `__main__` opens in place of a closed stream has the name of the file; a shell's own has none.
    closed = sys.stdout is None or getattr(sys.stdout, "name", "") == os.devnull
    if closed and not any(files):
        yield Mistake("standard output", "", "it is closed, so nobody would see the answer", "open it")


def _bad_target(target: str | None, problem: str) -> Iterator[Mistake]:
    """What is wrong with the JSON file, found before the search and not after it."""
    if target is None:
        return
    from autoplan.report.files import why_unwritable

    why = why_unwritable(target)
    if why is not None:
        yield Mistake("--json", "", f"{target!r} cannot be written ({why})", "name a file that can")
    elif target != "-" and os.path.realpath(target) == os.path.realpath(problem):
        yield Mistake("--json", "", f"{target!r} is the problem file itself", "name another file")


def _bad_folder(folder: str | None) -> Iterator[Mistake]:
    """What is wrong with the folder for the lists, found before the search and not after it."""
    if folder is None:
        return
    from autoplan.report.files import why_no_folder
    from autoplan.report.lists import NAMES

    why = why_no_folder(folder, NAMES)
    if (Path(folder) / "catalog.toml").exists():
        why = "it is a price list, whose joints.csv would be replaced"
    if why is not None:
        yield Mistake("--lists", "", f"{folder!r} cannot take the lists ({why})", "name another folder")


def _bad_sheet(target: str | None, rank: int, top: int, problem: str) -> Iterator[Mistake]:
    """What is wrong with the build sheet, found before the search and not after it."""
    if not 1 <= rank <= max(top, 1):
        yield Mistake(
            "--rank", "", f"there will be no rank {rank}", f"give a whole number from 1 to {max(top, 1)}"
        )
    if target is None:
        return
    from autoplan.report.page.stored import target_mistake

    wrong = target_mistake(target, problem)
    if wrong is not None:
        yield wrong


def _bad_album(folder: str | None) -> Iterator[Mistake]:
    """What is wrong with the folder for drawings, found before the search and not after it."""
    if folder is None:
        return
    from autoplan.report.files import why_no_folder

    why = why_no_folder(folder, ("levels.svg",))
    if why is not None:
        yield Mistake("--drawings", "", f"{folder!r} cannot take drawings ({why})", "name another folder")


def _named(show: str) -> list[str]:
    """Parts of the plan as they are written, with commas between."""
    return [name.strip() for name in show.split(",") if name.strip()]


def _bad_sections(show: str | None) -> Iterator[Mistake]:
    """Parts of the plan that there are not."""
    if show is None:
        return
    from autoplan.report.sections.contents import NAMES

    remedy = f"write some of {', '.join(NAMES)}"
    names = _named(show)
    if not names:
        yield Mistake("--show", "", "names no part of the plan", remedy)
    for name in names:
        if name not in NAMES:
            yield Mistake("--show", "", f"{name!r} is no part of the plan", remedy)


def _shown(outcome: Outcome, files: Files) -> Iterable[Block]:
    """What is printed."""
    from autoplan.report.render.show import screen
    from autoplan.report.sections.contents import sections
    from autoplan.report.units import units_of

    if files.show is None:
        return screen(outcome, sys.stdout, files.rank, files.again)
    return sections(outcome, units_of(outcome.site.print_units), _named(files.show), files.rank)


def deliver(outcome: Outcome, files: Files) -> None:
    """Show the outcome, then write its files; each is tried, whichever of them fails.

    Raises:
        InputError: what could not be written.
    """
    from autoplan.report.contract import outcome_json, write_json
    from autoplan.report.drawings import sheets
    from autoplan.report.lists import write_lists
    from autoplan.report.render.show import show

    # Made when they are first asked for, and once.
    answer = cache(lambda: outcome_json(outcome))
    drawn = cache(lambda: sheets(answer(), files.rank))
    failed: list[Mistake] = []
    with _noting(failed), standard_output():
        if files.json == "-":
            write_json(answer(), "-")
        else:
            show(_shown(outcome, files), sys.stdout)
    if files.json is not None and files.json != "-":
        with _noting(failed), _file(files.json):
            write_json(answer(), files.json)
    if files.lists is not None and outcome.designs:
        with _noting(failed), _file(files.lists):
            write_lists(outcome, files.lists)
    elif files.lists is not None:
        complain(0, f"{files.lists}: no lists were written, since there is no design.")
    if files.sheet is not None and files.rank <= len(outcome.designs):
        from autoplan.report.page.stored import write_sheet

        with _noting(failed), _file(files.sheet):
            write_sheet(answer(), files.rank, files.sheet, drawn())
    elif files.sheet is not None:
        complain(0, f"{files.sheet}: no sheet was written, since there is no rank {files.rank}.")
    if files.drawings is not None and files.rank <= len(outcome.designs):
        from autoplan.report.drawings.write import write_drawings

        with _noting(failed), _file(files.drawings):
            write_drawings(drawn(), files.drawings)
    elif files.drawings is not None:
        complain(0, f"{files.drawings}: no drawings were made, since there is no rank {files.rank}.")
    if failed:
        raise InputError(failed)


@contextmanager
def _noting(failed: list[Mistake]) -> Iterator[None]:
    """Go on after a mistake, once it is written down."""
    try:
        yield
    except InputError as error:
        failed += error.mistakes


@contextmanager
def _file(path: str) -> Iterator[None]:
    """Turn a file that cannot be written after all into a mistake."""
    try:
        yield
    except OSError as error:
        raise _unwritten(path, error) from error


@contextmanager
def standard_output() -> Iterator[None]:
    """Let the reader of a pipe leave early without a word; turn any other failure into a mistake."""
    try:
        yield
        sys.stdout.flush()
    except OSError as error:
        # What is still buffered would fail again when Python closes the stream.
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            raise _unwritten("standard output", error) from error


def _unwritten(where: str, error: OSError) -> InputError:
    why = (error.strerror or str(error)).lower()
    return InputError([Mistake(where, "", f"could not be written ({why})", "send it somewhere else")])


def complain(code: int, *lines: str) -> int:
    """Print lines on standard error, nothing in them that could command a terminal, and answer the code."""
    with suppress(OSError, ValueError):
        for line in lines:
            print(clean(line.rstrip("\n")), file=sys.stderr)
    return code
