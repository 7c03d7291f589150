"""An answer read back from the file that `design --json` wrote, and its sheet written beside it."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplan.errors import InputError, Mistake
from autoplan.report.contract.reading import wrong_in
from autoplan.report.contract.rows import AnswerRow
from autoplan.report.files import replace_files, why_unwritable
from autoplan.report.page.sheet import sheet_html

if TYPE_CHECKING:
    from autoplan.report.drawings.view import Sheet

LARGEST = 200_000_000
"""No answer is read that is larger [bytes]."""

TOLD = 8
"""Most mistakes of one file that are told one by one."""

AGAIN = "have it made again by `autoplan design --json`"


def sheet_of_file(source: str, rank: int, target: str | None) -> str:
    """Write the sheet of one rank of a stored answer and return the name of its file.

    Args:
        source: the file that `design --json` wrote.
        rank: which of its designs.
        target: where to write the page; None for beside the answer, its name ending in ".html".

    Raises:
        InputError: the answer cannot be read, or the page cannot be written.
    """
    answer = read_stored(source, rank)
    target = str(Path(source).with_suffix(".html")) if target is None else target
    wrong = target_mistake(target, source)
    if wrong is not None:
        raise InputError([wrong])
    try:
        write_sheet(answer, rank, target)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise InputError(
            [Mistake(target, "", f"could not be written ({why})", "send it somewhere else")]
        ) from error
    return target


def write_sheet(
    answer: Mapping[str, Any], rank: int, target: str, drawn: Sequence[Sheet] | None = None
) -> None:
    """Write the sheet of one rank to a file, all of it or nothing; `drawn` as for `sheet_html`.

    Raises:
        OSError: the file cannot be written.
    """
    replace_files({Path(target): sheet_html(answer, rank, drawn)})


def target_mistake(target: str, source: str) -> Mistake | None:
    """What is wrong with the file for a sheet, found before any work; `source` must not be replaced."""
    why = "it stands for standard output" if target == "-" else why_unwritable(target)
    if why is None and os.path.realpath(target) == os.path.realpath(source):
        why = "it is the file that is read"
    if why is None:
        return None
    return Mistake("--sheet", "", f"{target!r} cannot be written ({why})", "name another file")


def read_stored(source: str, rank: int) -> Mapping[str, Any]:
    """A stored answer that has all that a sheet of one of its ranks needs.

    Raises:
        InputError: what is wrong with it.
    """

    def refuse(problem: str, remedy: str, place: str = "") -> InputError:
        return InputError([Mistake(source, place, problem, remedy)])

    answer = _parsed(source)
    if not isinstance(answer, dict) or answer.get("format") != AnswerRow.FORMAT:
        raise refuse(
            "it is JSON, but no answer of autoplan", "name a file that `autoplan design --json` wrote"
        )
    if answer.get("version") != AnswerRow.VERSION:
        raise refuse(f"its version {answer.get('version')!r:.40} is unknown here", AGAIN)
    designs = answer.get("designs")
    if designs == []:
        raise refuse(
            "there is no design in it", "a sheet needs one; `autoplan design` says what stands in the way"
        )
    wrong = list(wrong_in(answer))
    if wrong:
        mistakes = [Mistake(source, place, problem, AGAIN) for place, problem in wrong[:TOLD]]
        if len(wrong) > TOLD:
            mistakes.append(Mistake(source, "", f"{len(wrong) - TOLD} more like that", AGAIN))
        raise InputError(mistakes)
    ranks = [design["rank"] for design in designs or ()]
    if rank not in ranks:
        raise InputError(
            [Mistake("--rank", "", f"there is no rank {rank} in {source}", f"name one of {_row(ranks)}")]
        )
    return answer


def _row(ranks: list[int]) -> str:
    return ", ".join(map(str, ranks[:TOLD])) + (", ..." if len(ranks) > TOLD else "")


def _parsed(source: str) -> Any:
    """What a file of JSON holds; NaN and its like are no JSON.

    Raises:
        InputError: it cannot be read.
    """

    def refuse(problem: str, remedy: str) -> InputError:
        return InputError([Mistake(source, "", problem, remedy)])

    try:
        with open(source, "rb") as file:
            data = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise refuse(
            f"it cannot be read ({why})", "name a file that `autoplan design --json` wrote"
        ) from error
    if len(data) > LARGEST:
        raise refuse(
            f"it is larger than {LARGEST // 1_000_000} MB", "name a file that `autoplan design --json` wrote"
        )
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except RecursionError as error:
        raise refuse("it is nested too deep to be an answer", AGAIN) from error
    except ValueError as error:
        raise refuse(f"it is not JSON ({str(error)[:120]})", AGAIN) from error


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number of JSON")
