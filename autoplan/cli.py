"""The command line: reads options, calls the public door, shows the answer, says how it went by exit code."""

from __future__ import annotations

import gc
import io
import os
import shlex
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from autoplan.clock import hold, listening, stopped
from autoplan.delivery import Files, bad_files, complain, deliver, nobody_reads, standard_output
from autoplan.errors import InputError, Mistake
from autoplan.options import RankBy, number_mistakes
from autoplan.report.blocks import clean

if TYPE_CHECKING:
    from autoplan.catalog.parts import Catalog
    from autoplan.problem.problem import Arranged, Problem

FOUND, FAULT, WRONG_INPUT, NONE, UNDECIDED, STOPPED = 0, 1, 2, 3, 4, 130
"""Exit codes; 130 is the shell's own for a program stopped from the keyboard."""

RANKS = 5
"""Ranked designs to show if nothing is said."""

COLLECT_EVERY = 50_000
"""New objects between two looks for garbage cycles: a model is many small objects that all stay, and looking
through them at the interpreter's usual 700 took a tenth of the time."""

app = typer.Typer(
    name="autoplan",
    help="Designs the plumbing of a recirculating fish-and-plant system at least cost.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


ProblemFile = Annotated[str, typer.Argument(metavar="PROBLEM", help="The problem file (TOML).")]

Show = Annotated[
    str | None,
    typer.Option(
        metavar="SECTIONS",
        help="Print parts of the plan in place of the first screen: ranks, cost, pump, runs, levels, holes, "
        "siphons, buy, cut, joints, order, fill, first-run, spare, rules, hours, faults, assumed, upkeep, "
        "cautions, or all; several with commas between.",
    ),
]

PriceList = Annotated[
    str | None, typer.Option(metavar="DIR", help="A price list other than the problem asks for.")
]

Lists = Annotated[
    str | None, typer.Option(metavar="FOLDER", help="Also write what to buy, cut, drill and join as CSV.")
]

Rank = Annotated[int, typer.Option(metavar="K", help="Which rank is shown, drawn and on the sheet.")]

Sheet = Annotated[
    str | None,
    typer.Option(metavar="FILE.html", help="Write a build sheet to print or to read in a browser."),
]

Differ = Annotated[
    list[str] | None,
    typer.Option(
        metavar="KIND",
        help="Rank the cheapest of each pump alone; or of walls, joints, material, drain, beds, "
        "arrangement, guard; may be given again.",
    ),
]


Drawings = Annotated[str | None, typer.Option(metavar="FOLDER", help="Also write drawings, as SVG and PNG.")]


PriceWishes = Annotated[
    bool, typer.Option("--price-wishes", help="Search without each wish for what it costs exactly.")
]


@app.command("design")
def design_command(
    problem: ProblemFile,
    top: Annotated[int, typer.Option(metavar="N", help="How many ranked designs to show.")] = RANKS,
    budget: Annotated[
        float | None, typer.Option(metavar="X", help="Most to spend, in the price list's currency.")
    ] = None,
    without: Annotated[
        list[str] | None, typer.Option(metavar="PART", help="A part that no shop has; may be given again.")
    ] = None,
    rank_by: Annotated[
        RankBy,
        typer.Option(
            help="Cost of the order, that and power over the years, or most to spare in the budget."
        ),
    ] = RankBy.PURCHASE,
    differ: Differ = None,
    price_wishes: PriceWishes = False,
    catalog: PriceList = None,
    show: Show = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Also write JSON; - for standard output, alone.")
    ] = None,
    lists: Lists = None,
    sheet: Sheet = None,
    drawings: Drawings = None,
    rank: Rank = 1,
    time_limit: Annotated[float | None, typer.Option(metavar="S", help="Most seconds to search.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress line.")] = False,
) -> int:
    """Print what the best designs for PROBLEM are; more of one with --show."""
    import autoplan
    from autoplan.asked import kind_mistakes
    from autoplan.report.progress import ProgressLine

    again = _again(top, budget, without, rank_by, differ, catalog)
    files = Files(json, lists, sheet, drawings, rank, show, again)
    with listening():
        with ProgressLine(sys.stderr, quiet=quiet) as line:
            line.update("reading", None, None)
            mistakes = [*number_mistakes(top, budget, time_limit), *kind_mistakes(differ or ())]
            mistakes += bad_files(files, top, problem)
            asked, parts = _asked(problem, catalog, without or (), rank_by, mistakes)
            outcome = autoplan.design(
                asked,
                parts,
                top=top,
                budget=budget,
                without=tuple(without or ()),
                rank_by=str(rank_by),
                differ=tuple(differ or ()),
                price_wishes=price_wishes,
                time_limit=time_limit,
                progress=line.update,
            )
        if outcome.status == "undecided" and stopped():
            raise KeyboardInterrupt
        hold()
        deliver(outcome, files)
    return {"none": NONE, "undecided": UNDECIDED}.get(outcome.status, FOUND)


def _again(
    top: int,
    budget: float | None,
    without: Sequence[str] | None,
    rank_by: str,
    differ: Sequence[str] | None,
    catalog: str | None,
) -> str:
    """Those options again by which an answer is another: more is to be shown of the same one."""
    words = [] if top == RANKS else ["--top", str(top)]
    words += [] if budget is None else ["--budget", str(budget)]
    words += [word for part in without or () for word in ("--without", part)]
    words += [] if rank_by == RankBy.PURCHASE else ["--rank-by", str(rank_by)]
    words += [word for kind in differ or () for word in ("--differ", kind)]
    words += [] if catalog is None else ["--catalog", catalog]
    return shlex.join(words)


@app.command("sheet")
def sheet_command(
    answer: Annotated[
        str, typer.Argument(metavar="ANSWER.json", help="An answer that `design --json` wrote.")
    ],
    rank: Rank = 1,
    sheet: Sheet = None,
) -> int:
    """Write the build sheet of a stored answer, beside it if not told otherwise."""
    from autoplan.report.page.stored import sheet_of_file

    written = sheet_of_file(answer, rank, sheet)
    with standard_output():
        sys.stdout.write(f"{clean(written)}: the build sheet of rank {rank}.\n")
    return FOUND


@app.command("expand")
def expand_command(
    problem: ProblemFile,
    arrangement: Annotated[
        str | None,
        typer.Option(metavar="WORD", help="Which arrangement, where PROBLEM leaves it open."),
    ] = None,
    bed_drains: Annotated[
        str | None,
        typer.Option(metavar="WORD", help="How beds drain, where PROBLEM leaves it open: each or shared."),
    ] = None,
) -> int:
    """Print the long form of PROBLEM with every assumption marked."""
    from autoplan.asked import rule_mistakes
    from autoplan.problem.toml.write import expand_to_toml

    mistakes = list(nobody_reads())
    asked = _read(problem, mistakes)
    if asked is not None:
        mistakes += rule_mistakes(asked)
    if mistakes or asked is None:
        raise InputError(mistakes)
    layouts = _left(asked.layouts, "arrangement", arrangement)
    text = expand_to_toml(asked, next(iter(_left(layouts, "bed_drains", bed_drains)), None))
    with standard_output():
        sys.stdout.write(text)
    return FOUND


@app.command("parts")
def parts_command(
    catalog: Annotated[str, typer.Argument(metavar="CATALOG", help="Name or folder of a price list.")],
) -> int:
    """Check the price list CATALOG and list its parts."""
    import autoplan
    from autoplan.report.render.show import show
    from autoplan.report.shelf import shelf

    mistakes = list(nobody_reads())
    if mistakes:
        raise InputError(mistakes)
    parts = autoplan.load_catalog(catalog)
    with standard_output():
        show(shelf(parts), sys.stdout)
    return FOUND


@app.command("keys")
def keys_command(
    word: Annotated[
        str | None, typer.Argument(metavar="WORD", help="Only keys with this in name, table or meaning.")
    ] = None,
) -> int:
    """List the keys of problem files and price lists."""
    from autoplan.report.keys import key_blocks
    from autoplan.report.render.show import show

    with standard_output():
        show(key_blocks(word), sys.stdout)
    return FOUND


@app.command("start")
def start_command(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Where to write it.")] = "my-system.toml",
    top: Annotated[
        int, typer.Option(metavar="N", help="How many ranked designs to show, if it is designed at once.")
    ] = 1,
) -> int:
    """Write a problem file from a few questions."""
    from autoplan.begin.dialogue import Dialogue

    if mistakes := [*number_mistakes(top)]:
        raise InputError(mistakes)
    source = sys.stdin or io.StringIO()
    with listening():
        begun = Dialogue(source, sys.stderr, alone=not source.isatty()).run(file)
    if begun.stopped:
        return STOPPED
    if begun.written is None or not begun.design:
        return FOUND
    return design_command(begun.written, top=top)


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        typer.echo(f"autoplan {version('autoplan')}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Designs the plumbing of a recirculating fish-and-plant system at least cost."""


def _asked(
    problem: str, catalog: str | None, without: Sequence[str], rank_by: str, mistakes: list[Mistake]
) -> tuple[Problem, Catalog]:
    """The problem and its price list.

    Raises:
        InputError: the mistakes known before, and all that is wrong with these.
    """
    from autoplan.asked import part_mistakes, problem_mistakes

    asked = _read(problem, mistakes)
    named = None if asked is None else asked.catalog
    parts = _price_list(problem, named if catalog is None else catalog, mistakes)
    if parts is not None:
        mistakes += part_mistakes(parts, without, "--without")
    if asked is not None:
        mistakes += problem_mistakes(asked, parts, rank_by)
    if mistakes or asked is None or parts is None:
        raise InputError(mistakes)
    return asked, parts


def _read(problem: str, mistakes: list[Mistake]) -> Problem | None:
    """What a problem asks for, as far as it can be told; adds what is wrong with it to `mistakes`."""
    import autoplan

    try:
        return autoplan.load_problem(problem)
    except InputError as error:
        mistakes += error.mistakes
        return getattr(error, "asking", None)


def _price_list(problem: str, name: str | None, mistakes: list[Mistake]) -> Catalog | None:
    """A price list, if its name can be told; adds what is wrong with it to `mistakes`."""
    import autoplan

    if name is None:
        return None
    try:
        return autoplan.load_catalog(name, beside=Path(problem).parent)
    except InputError as error:
        mistakes += error.mistakes
        return None


def _left(layouts: Sequence[Arranged], choice: str, word: str | None) -> Sequence[Arranged]:
    """The layouts of a problem that make a choice, left open by it, so; all of them where nothing is asked.

    Raises:
        InputError: the problem does not leave that open.
    """
    if word is None:
        return layouts
    known = dict.fromkeys(str(made) for one in layouts if (made := getattr(one, choice)) is not None)
    if word not in known:
        option = f"--{choice.replace('_', '-')}"
        remedy = f"write one of {', '.join(map(repr, known))}" if known else "take it out"
        raise InputError([Mistake(option, "", f"{word!r} is not left open here", remedy)])
    return [one for one in layouts if str(getattr(one, choice)) == word]


def run(argv: Sequence[str] | None = None) -> int:
    """Run one command line (default: the program's own) and answer its exit code; never raises."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):
            stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]
    try:
        command = typer.main.get_command(app)
        code = command.main(args=argv, prog_name="autoplan", standalone_mode=False)
    except InputError as error:
        return complain(WRONG_INPUT, *map(str, error.mistakes))
    except (typer.Abort, KeyboardInterrupt):
        code = STOPPED
    except Exception as error:
        if not _from_keyboard(error):
            return _explain(error)
        code = STOPPED
    # Newer releases of the library turn the keyboard's interrupt into this code by themselves.
    if code == STOPPED:
        return complain(STOPPED, "Stopped from the keyboard.")
    return code if isinstance(code, int) else FOUND


def _from_keyboard(error: BaseException | None) -> bool:
    """Whether an error came of Ctrl-C: a library that is being loaded then says that it cannot be."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


def _explain(error: Exception) -> int:
    """A wrong command line in one sentence, or a fault of ours."""
    # Usage errors are told by their shape: their class has moved between releases of the library.
    message = getattr(error, "format_message", None)
    if callable(message):
        sentence = " ".join(str(message()).split()).rstrip(".") or "A command is missing"
        return complain(WRONG_INPUT, f"{sentence}. See autoplan --help.")
    if os.environ.get("AUTOPLAN_DEBUG") == "1":
        complain(FAULT, *"".join(traceback.format_exception(error)).splitlines())
    return complain(
        FAULT,
        f"This is a fault in autoplan, not in your files ({type(error).__name__}: {error}); "
        "please report it, with what AUTOPLAN_DEBUG=1 shows.",
    )


def main() -> None:
    """Entry point of the console script."""
    gc.set_threshold(COLLECT_EVERY)
    sys.exit(run())


if __name__ == "__main__":
    main()
