"""Whole command lines in process: exit codes, what goes to which stream, and what is never written."""

from __future__ import annotations

import json
import os
import runpy
import shlex
import subprocess
import sys
import types
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.cli import run
from autoplan.errors import InputError, InternalError, Mistake
from autoplan.outcome import Clash, Outcome, Status
from autoplan.problem.brief import PrintUnits
from autoplan.problem.problem import problem_of
from autoplan.report.contract import json_text
from autoplan.report.lists import NAMES
from autoplan.report.sections.cautions import CAUTIONS
from autoplan.report.sections.contents import NAMES as SECTIONS
from autoplan.report.sections.site_cautions import life
from autoplan.report.units import SI

handmade: Callable[[], Outcome] = runpy.run_path(str(Path(__file__).parent / "report" / "conftest.py"))[
    "handmade"
]


class Door:
    """The public door with an answer made by hand; notes what it was asked."""

    def __init__(self) -> None:
        self.outcome = handmade()
        self.problem = problem_of(self.outcome.site)
        self.asked: dict[str, object] = {}
        self.wrong_problem: list[Mistake] = []
        self.wrong_catalog: list[Mistake] = []
        self.fault: BaseException | None = None

    def load_problem(self, path: str) -> object:
        """The problem, or the mistakes set."""
        self.asked["problem"] = path
        if self.wrong_problem:
            raise InputError(self.wrong_problem)
        return self.problem

    def load_catalog(self, name: str, beside: Path | None = None) -> object:
        """The price list, or the mistakes set."""
        self.asked |= {"catalog": name, "beside": beside}
        if self.wrong_catalog:
            raise InputError(self.wrong_catalog)
        return self.outcome.catalog

    def design(self, asked: object, catalog: object, **options: object) -> Outcome:
        """The outcome, or the fault set."""
        assert asked is self.problem
        assert catalog is self.outcome.catalog
        self.asked |= options
        if self.fault is not None:
            raise self.fault
        return self.outcome

    @property
    def searched(self) -> bool:
        """Whether a search was asked for."""
        return "top" in self.asked


@pytest.fixture
def door(monkeypatch: pytest.MonkeyPatch) -> Door:
    """The public door, replaced."""
    made = Door()
    for name in ("load_problem", "load_catalog", "design"):
        monkeypatch.setattr(autoplan, name, getattr(made, name), raising=False)
    return made


def test_designs_found(door: Door, capsys) -> None:
    """Exit 0, the first screen with what concerns life on standard output, nothing on standard error."""
    assert run(["design", "p.toml"]) == 0
    out, err = capsys.readouterr()
    assert "Rank 1 is proven cheapest" in out
    for caution in life(door.outcome, door.outcome.designs[0], SI):
        assert caution in " ".join(out.split())
    assert err == ""


def test_parts_of_the_plan(door: Door, capsys) -> None:
    """The parts asked for and no others, in the plan's order; whatever is asked for, what concerns life."""
    assert run(["design", "p.toml", "--show", "holes, runs"]) == 0
    out = capsys.readouterr().out
    assert out.index("Runs\n----") < out.index("Holes to drill\n----")
    assert "First run\n----" not in out
    for caution in life(door.outcome, door.outcome.designs[0], SI):
        assert caution in " ".join(out.split())
    assert run(["design", "p.toml", "--show", "all"]) == 0
    out = capsys.readouterr().out
    for caution in CAUTIONS:
        assert caution in " ".join(out.split())


def test_more_is_asked_of_the_same_answer(door: Door, capsys) -> None:
    """The command that shows more has every option by which it would else be another answer, and no other."""
    asked = ["--top", "7", "--budget", "1234567.5", "--without", "seal-50", "--without", "tape-12"]
    asked += ["--rank-by", "ownership", "--differ", "pump", "--catalog", "my list"]
    assert run(["design", "p.toml", *asked, "--quiet", "--time-limit", "5"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    named = f"autoplan design {door.outcome.site.file}"
    assert f"{named} {shlex.join(asked)} --show buy," in told
    assert run(["design", "p.toml", "--quiet"]) == 0
    assert f"{named} --show buy," in " ".join(capsys.readouterr().out.split())


def test_parts_that_there_are_not(door: Door, capsys) -> None:
    """An unknown part, none at all, or a rank past --top is told before the search, with what there is."""
    for show, said in (("hole", "'hole' is no part of the plan"), (",", "names no part of the plan")):
        assert run(["design", "p.toml", "--show", show]) == 2
        err = capsys.readouterr().err
        assert said in err
        assert "holes" in err
    assert run(["design", "p.toml", "--top", "2", "--rank", "3"]) == 2
    assert "there will be no rank 3" in capsys.readouterr().err
    assert not door.searched


@pytest.mark.usefixtures("door")
def test_a_rank_that_was_not_found(capsys) -> None:
    """Where fewer designs were found than the rank asked for, that is said."""
    assert run(["design", "p.toml", "--rank", "5", "--show", "runs"]) == 0
    assert "There is no rank 5" in capsys.readouterr().out
    assert run(["design", "p.toml", "--rank", "5"]) == 0
    assert "There is no rank 5" in capsys.readouterr().out


def test_options_reach_the_door(door: Door) -> None:
    """Every option arrives as it was given, defaults included."""
    assert run(["design", "folder/p.toml"]) == 0
    progress = door.asked.pop("progress")
    assert callable(progress)
    assert door.asked == {
        "problem": "folder/p.toml",
        "catalog": "riverside",
        "beside": Path("folder"),
        "top": 5,
        "budget": None,
        "without": (),
        "rank_by": "purchase",
        "differ": (),
        "price_wishes": False,
        "time_limit": None,
    }
    line = "design p.toml --top 2 --budget 99.5 --without seal-50 --without bulk-50 --rank-by ownership"
    asked = [*line.split(), "--price-wishes", "--differ", "pump", "--differ", "walls", "--catalog", "my/list"]
    assert run([*asked, "--time-limit", "0.5", "--quiet"]) == 0
    door.asked.pop("progress")
    assert door.asked == {
        "problem": "p.toml",
        "catalog": "my/list",
        "beside": Path("."),
        "top": 2,
        "budget": 99.5,
        "without": ("seal-50", "bulk-50"),
        "rank_by": "ownership",
        "differ": ("pump", "walls"),
        "price_wishes": True,
        "time_limit": 0.5,
    }
    assert run(["design", "p.toml", "--rank-by", "margin"]) == 0
    assert door.asked["rank_by"] == "margin"


def test_none_is_three_with_remedies(door: Door, capsys) -> None:
    """Proven none: exit 3 and the remedies."""
    clash = Clash(("drain-fall",), ("Raise the fish tank by 35 mm.",))
    door.outcome = replace(door.outcome, status=Status.NONE, designs=(), clash=clash)
    assert run(["design", "p.toml"]) == 3
    assert "Raise the fish tank by 35 mm." in capsys.readouterr().out


def test_undecided_is_four(door: Door, capsys) -> None:
    """No design in the time given, none proven: exit 4."""
    door.outcome = replace(door.outcome, status=Status.UNDECIDED, designs=())
    assert run(["design", "p.toml"]) == 4
    assert "Undecided" in capsys.readouterr().out


def test_feasible_is_nought(door: Door) -> None:
    """A design without proof is still a design found."""
    door.outcome = replace(door.outcome, status=Status.FEASIBLE)
    assert run(["design", "p.toml"]) == 0


def test_every_mistake_at_once(door: Door, capsys, tmp_path) -> None:
    """Mistakes of options, problem and price list: a line each on standard error, nothing written."""
    door.wrong_problem = [Mistake("p.toml", "tank.volume", "'big' is no volume", "write it like 1600 L")]
    door.wrong_catalog = [Mistake("pipes.csv", "line 3", "'x' is no number", "give the bore in mm")]
    target = tmp_path / "plan.json"
    line = ["design", "p.toml", "--top", "0", "--budget", "-5", "--time-limit", "0", "--catalog", "c"]
    assert run([*line, "--json", str(target)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert [text.split(":")[0] for text in err.splitlines()] == [
        "--top",
        "--budget",
        "--time-limit",
        "p.toml",
        "pipes.csv",
    ]
    assert not door.searched
    assert not target.exists()


def test_a_wrong_problem_does_not_hide_its_wrong_price_list(capsys, tmp_path) -> None:
    """The price list that the file names is looked at too, whatever else is wrong with the file."""
    path = tmp_path / "site.toml"
    path.write_text('catalog = "imperial"\n[tank]\nvolum = "500 L"\n[sump]\nvolume = "300 L"\n')
    assert run(["design", str(path)]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 3
    assert told[-1].startswith("imperial: there is no such price list")
    path.write_text("catalog = 3\n[tank\n")
    assert run(["design", str(path)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize(
    ("option", "bad", "good"),
    [
        ("--top", "0", "1"),
        ("--top", "-3", "7"),
        ("--budget", "0", "0.01"),
        ("--budget", "-5", "5"),
        ("--budget", "nan", "500"),
        ("--budget", "inf", "1e6"),
        ("--time-limit", "0", "0.001"),
        ("--time-limit", "-1", "1"),
        ("--time-limit", "nan", "60"),
    ],
)
def test_numbers_that_make_no_sense(door: Door, capsys, option: str, bad: str, good: str) -> None:
    """Numbers on the wrong side of their limit are refused in one line; just inside they pass."""
    assert run(["design", "p.toml", f"{option}={bad}"]) == 2
    err = capsys.readouterr().err
    assert err.startswith(f"{option}: ")
    assert len(err.splitlines()) == 1
    assert not door.searched
    assert run(["design", "p.toml", f"{option}={good}"]) == 0


@pytest.mark.parametrize(
    "argv",
    [
        [],
        ["desing", "p.toml"],
        ["design"],
        ["design", "p.toml", "--tpo", "3"],
        ["design", "p.toml", "--top", "1.5"],
        ["design", "p.toml", "--budget", "lots"],
        ["design", "p.toml", "--rank-by", "beauty"],
        ["design", "p.toml", "extra"],
    ],
)
def test_wrong_command_lines(door: Door, capsys, argv: list[str]) -> None:
    """A command line that cannot be read: exit 2, one sentence on standard error, nothing else."""
    assert run(argv) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert not door.searched


@pytest.mark.usefixtures("door")
def test_a_close_option_is_suggested(capsys) -> None:
    """A slip of the finger gets the right option named."""
    run(["design", "p.toml", "--tpo", "3"])
    assert "--top" in capsys.readouterr().err


@pytest.mark.parametrize(("part", "remedy"), [("seal-5", "'seal-50'"), ("zzz", "autoplan parts riverside")])
def test_unknown_part(door: Door, capsys, part: str, remedy: str) -> None:
    """A part that the price list lacks is refused, with the nearest one or the way to the list."""
    assert run(["design", "p.toml", "--without", part]) == 2
    err = capsys.readouterr().err
    assert f"'{part}' is not in the price list" in err
    assert remedy in err
    assert not door.searched


def test_json_to_standard_output_is_alone_there(door: Door, capsys) -> None:
    """With --json - standard output is the JSON and not a letter more."""
    assert run(["design", "p.toml", "--json", "-"]) == 0
    out, err = capsys.readouterr()
    assert out == json_text(door.outcome)
    assert err == ""


def test_json_beside_the_plan(door: Door, capsys, tmp_path) -> None:
    """With --json FILE the plan is printed and the file written; also where there is no design."""
    target = tmp_path / "plan.json"
    assert run(["design", "p.toml", "--json", str(target)]) == 0
    assert "Rank 1 is proven cheapest" in capsys.readouterr().out
    assert json.loads(target.read_text())["status"] == "proven"
    door.outcome = replace(door.outcome, status=Status.NONE, designs=())
    assert run(["design", "p.toml", "--json", str(target)]) == 3
    assert json.loads(target.read_text())["status"] == "none"


def test_unwritable_json_is_told_before_the_search(door: Door, capsys, tmp_path) -> None:
    """A folder, a folder that is not there, and the problem file itself are refused before any search."""
    problem = tmp_path / "p.toml"
    problem.write_text("mine")
    for target in (tmp_path, tmp_path / "no" / "plan.json", problem):
        assert run(["design", str(problem), "--json", str(target)]) == 2
        assert capsys.readouterr().err.startswith("--json: ")
    assert not door.searched
    assert problem.read_text() == "mine"


@pytest.mark.usefixtures("door")
def test_json_that_fails_after_the_search(capsys, tmp_path, monkeypatch) -> None:
    """A disk that fills up meanwhile: the plan is on screen, exit 2, one line, and no half file."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert run(["design", "p.toml", "--json", str(tmp_path / "plan.json")]) == 2
    out, err = capsys.readouterr()
    assert "Rank 1 is proven cheapest" in out
    assert "could not be written (no space left on device)" in err
    assert list(tmp_path.iterdir()) == []


def test_lists_beside_the_plan(door: Door, capsys, tmp_path) -> None:
    """With --lists FOLDER the plan is printed and the lists are written, into a folder made for them."""
    folder = tmp_path / "lists"
    assert run(["design", "p.toml", "--lists", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert "Rank 1 is proven cheapest" in out
    assert err == ""
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    site = replace(door.outcome.site, print_units=PrintUnits.US)
    door.outcome = replace(door.outcome, site=site)
    assert run(["design", "p.toml", "--lists", str(folder)]) == 0
    assert (folder / "cutting.csv").read_bytes() != before["cutting.csv"]


def test_lists_and_json_together(door: Door, capsys, tmp_path) -> None:
    """With --json - standard output is the JSON alone, and the lists are written all the same."""
    assert run(["design", "p.toml", "--json", "-", "--lists", str(tmp_path)]) == 0
    out, err = capsys.readouterr()
    assert out == json_text(door.outcome)
    assert err == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)


def test_no_design_no_lists(door: Door, capsys, tmp_path) -> None:
    """Without a design there are no lists: old ones stay, and one line on standard error says so."""
    (tmp_path / "cutting.csv").write_text("old")
    for status, code in ((Status.NONE, 3), (Status.UNDECIDED, 4)):
        door.outcome = replace(door.outcome, status=status, designs=())
        assert run(["design", "p.toml", "--lists", str(tmp_path)]) == code
        assert "no lists were written" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["cutting.csv"]
    assert (tmp_path / "cutting.csv").read_text() == "old"


def test_a_bad_folder_is_told_before_the_search(door: Door, capsys, tmp_path) -> None:
    """A file, a folder in no folder, one with a folder for a list, a price list: refused and untouched."""
    (tmp_path / "file").write_text("mine")
    (tmp_path / "taken" / "joints.csv").mkdir(parents=True)
    prices = tmp_path / "prices"
    prices.mkdir()
    for name in ("catalog.toml", "joints.csv"):
        (prices / name).write_text("mine")
    for folder in (tmp_path / "file", tmp_path / "no" / "lists", tmp_path / "taken", prices):
        assert run(["design", "p.toml", "--lists", str(folder)]) == 2
        err = capsys.readouterr().err
        assert err.startswith("--lists: ")
        assert len(err.splitlines()) == 1
    assert not door.searched
    assert (prices / "joints.csv").read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "prices", "taken"]


@pytest.mark.usefixtures("door")
def test_lists_that_fail_after_the_search(capsys, tmp_path, monkeypatch) -> None:
    """A disk that fills up meanwhile: the plan is on screen, exit 2, one line, and nothing half written."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert run(["design", "p.toml", "--lists", str(tmp_path / "lists")]) == 2
    out, err = capsys.readouterr()
    assert "Rank 1 is proven cheapest" in out
    assert "could not be written (no space left on device)" in err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "fault", [ZeroDivisionError("by nought"), InternalError("optimiser and verdict disagree")]
)
def test_a_fault_of_ours(door: Door, capsys, monkeypatch, fault: Exception) -> None:
    """An unexpected failure: exit 1, one sentence asking for a report, the trace only when asked for."""
    door.fault = fault
    monkeypatch.delenv("AUTOPLAN_DEBUG", raising=False)
    assert run(["design", "p.toml"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert str(fault) in err
    assert "report" in err
    monkeypatch.setenv("AUTOPLAN_DEBUG", "1")
    assert run(["design", "p.toml"]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_stopped_from_the_keyboard(door: Door, capsys) -> None:
    """Ctrl-C outside the search: one line and the shell's own code for it."""
    door.fault = KeyboardInterrupt()
    assert run(["design", "p.toml"]) == 130
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_stopped_while_a_library_is_loaded(door: Door, capsys) -> None:
    """What the keyboard stops in the middle of an import says that it cannot be loaded: no fault of ours."""
    door.fault = ImportError("initialization failed")
    door.fault.__cause__ = KeyboardInterrupt()
    assert run(["design", "p.toml"]) == 130
    assert capsys.readouterr().err == "Stopped from the keyboard.\n"
    door.fault.__cause__ = OSError("no such library")
    assert run(["design", "p.toml"]) == 1


def test_expand_prints_the_long_form(door: Door, capsys, monkeypatch) -> None:
    """The long form goes to standard output as it is; a wrong problem is exit 2."""
    module = types.ModuleType("autoplan.problem.toml.write")
    module.expand_to_toml = lambda asked, _layout: f"# {asked.name}\n"  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "autoplan.problem.toml.write", module)
    assert run(["expand", "p.toml"]) == 0
    assert capsys.readouterr().out == "# courtyard tank\n"
    door.wrong_problem = [Mistake("p.toml", "", "there is no such file", "name one that exists")]
    assert run(["expand", "p.toml"]) == 2


def test_expand_in_an_arrangement_left_open(capsys, tmp_path: Path) -> None:
    """The first arrangement is printed and the others are named; any of them can be asked for."""
    path = tmp_path / "open.toml"
    path.write_text(
        'arrangement = "any"\n[tank]\nvolume = "400 L"\nfloor = "900 mm"\n[sump]\nvolume = "500 L"\n'
        '[beds]\ncount = 1\narea = "1 m2"\n'
    )
    assert run(["expand", str(path)]) == 0
    out = capsys.readouterr().out
    assert "# The problem leaves the arrangement open; this is: parallel." in out
    assert '# For another: autoplan expand --arrangement "series".' in out
    assert run(["expand", str(path), "--arrangement", "series"]) == 0
    assert "this is: series." in capsys.readouterr().out
    assert run(["expand", str(path), "--arrangement", "no sump"]) == 2
    assert "'no sump' is not left open here; write one of 'parallel', 'series'" in capsys.readouterr().err


def test_parts_lists_the_price_list(door: Door, capsys) -> None:
    """Every part is listed; a wrong price list is exit 2 with its mistakes."""
    assert run(["parts", "riverside"]) == 0
    assert "pump-3000" in capsys.readouterr().out
    door.wrong_catalog = [Mistake("pipes.csv", f"line {n}", "no price", "give one") for n in (2, 3)]
    assert run(["parts", "riverside"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_version(capsys) -> None:
    """The version is one line and exit 0."""
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("autoplan ")


def test_help(capsys) -> None:
    """Help is exit 0 and names every option of `design`."""
    assert run(["design", "--help"]) == 0
    out = capsys.readouterr().out
    for option in ("top", "budget", "without", "rank-by", "catalog", "json", "lists", "time-limit", "quiet"):
        assert f"--{option}" in out


def test_help_names_every_section(capsys) -> None:
    """Whatever may be shown stands in the help of `--show`, in the order in which it is shown."""
    assert run(["design", "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"{', '.join(SECTIONS[:-1])}, or {SECTIONS[-1]}; several" in told


SCRIPT = """
import runpy, sys, autoplan
from autoplan.problem.problem import problem_of
handmade = runpy.run_path(sys.argv.pop(1))["handmade"]()
autoplan.load_problem = lambda path: problem_of(handmade.site)
autoplan.load_catalog = lambda name, beside=None: handmade.catalog
autoplan.design = lambda site, catalog, **options: handmade
from autoplan.__main__ import main
main()
"""


def _process(argv: list[str], **streams: object) -> subprocess.Popen[bytes]:
    fixture = str(Path(__file__).parent / "report" / "conftest.py")
    # A buffered stream, as users have it, can fail a second time when Python closes it.
    env = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.Popen(
        [sys.executable, "-c", SCRIPT, fixture, *argv], stderr=subprocess.PIPE, env=env, **streams
    )


@pytest.mark.parametrize(
    "argv",
    [["design", "p.toml", "--quiet"], ["design", "p.toml", "--quiet", "--json", "-"], ["parts", "riverside"]],
)
def test_a_reader_that_leaves_early(argv: list[str]) -> None:
    """Writing into a pipe that nobody reads any more: no trace, and the answer's own exit code."""
    reading, writing = os.pipe()
    os.close(reading)
    process = _process(argv, stdout=writing)
    os.close(writing)
    _, err = process.communicate(timeout=30)
    assert err == b""
    assert process.returncode == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_standard_output() -> None:
    """Standard output that cannot take the plan: one line, exit 2."""
    with open("/dev/full", "wb") as full:
        process = _process(["design", "p.toml", "--quiet"], stdout=full)
        _, err = process.communicate(timeout=30)
    assert err.decode().splitlines() == [
        "standard output: could not be written (no space left on device); send it somewhere else."
    ]
    assert process.returncode == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_standard_output_keeps_the_json(tmp_path) -> None:
    """The plan cannot be printed, but its file is written all the same."""
    target = tmp_path / "plan.json"
    with open("/dev/full", "wb") as full:
        process = _process(["design", "p.toml", "--json", str(target)], stdout=full)
        process.communicate(timeout=30)
    assert process.returncode == 2
    assert json.loads(target.read_text())["designs"]


@pytest.mark.skipif(os.name != "posix", reason="closes streams as a shell does")
@pytest.mark.parametrize(
    "closing",
    [
        pytest.param(">&-", marks=pytest.mark.long),
        "2>&-",
        pytest.param(">&- 2>&-", marks=pytest.mark.long),
        "<&- >&- 2>&-",
    ],
)
def test_closed_streams(tmp_path, closing: str) -> None:
    """With standard output or error closed the exit code is the answer's and the file is written whole."""
    target = tmp_path / "plan.json"
    fixture = str(Path(__file__).parent / "report" / "conftest.py")
    command = [sys.executable, "-c", SCRIPT, fixture, "design", "p.toml", "--quiet", "--json", str(target)]
    line = f'"$@" {closing}'
    done = subprocess.run(["sh", "-c", line, "sh", *command], capture_output=True, timeout=30)
    assert done.returncode == 0
    assert done.stderr == b""
    assert json.loads(target.read_text())["designs"]


@pytest.mark.skipif(os.name != "posix", reason="closes streams as a shell does")
@pytest.mark.parametrize(
    "asked",
    [("design", "p.toml", "--quiet"), ("design", "p.toml", "--quiet", "--json", "-"), ("parts", "metric")],
)
def test_an_answer_that_nobody_would_see(asked: tuple[str, ...]) -> None:
    """Standard output closed and no file named: exit 2 with one sentence, before anything is searched."""
    code = (
        "import autoplan, sys\n"
        "from autoplan.__main__ import main\n"
        "def design(*_, **__):\n"
        "    raise AssertionError('searched in vain')\n"
        "autoplan.design = design\n"
        "main()\n"
    )
    where = Path(__file__).parents[1] / "problems"
    named = [str(where / "one-tank-one-bed.toml") if one == "p.toml" else one for one in asked]
    command = [sys.executable, "-c", code, *named]
    done = subprocess.run(["sh", "-c", '"$@" >&-', "sh", *command], capture_output=True, timeout=60)
    assert done.returncode == 2
    assert done.stderr.decode() == (
        "standard output: it is closed, so nobody would see the answer; open it.\n"
    )


@pytest.mark.skipif(os.name != "posix", reason="signals as a shell sends them")
def test_stopped_while_it_is_loaded() -> None:
    """Ctrl-C before anything is loaded: exit 130 with one line and no trace."""
    code = (
        "import signal, sys\n"
        "class Press:\n"
        "    def find_spec(self, name, *rest):\n"
        "        if name == 'autoplan.cli':\n"
        "            signal.raise_signal(signal.SIGINT)\n"
        "sys.meta_path.insert(0, Press())\n"
        "from autoplan.__main__ import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code, "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "Stopped from the keyboard.\n")


def test_drawings_beside_the_plan(door: Door, capsys, tmp_path) -> None:
    """With --drawings FOLDER the plan is printed, and rank 1 drawn as SVG and PNG into a new folder."""
    folder = tmp_path / "album"
    assert run(["design", "p.toml", "--drawings", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert "Rank 1 is proven cheapest" in out
    assert err == ""
    names = {path.name for path in folder.iterdir()}
    assert {"levels.svg", "levels.png", "plan.svg", "drilling-sump.svg", "parts-tank-feed.png"} <= names
    assert "fish tank" in (folder / "levels.svg").read_text(encoding="utf-8")
    door.outcome = replace(door.outcome, status=Status.NONE, designs=())
    assert run(["design", "p.toml", "--drawings", str(tmp_path / "none")]) == 3
    assert "no drawings were made" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


@pytest.mark.usefixtures("door")
def test_all_files_are_of_one_making(capsys, tmp_path, monkeypatch) -> None:
    """JSON, sheet and drawings asked for together are made from one answer, each drawing drawn once."""
    from autoplan.report import contract
    from autoplan.report.drawings import view

    made: list[str] = []
    tell, draw = contract.outcome_json, view.svg

    def told(outcome: Outcome) -> dict[str, object]:
        made.append("answer")
        return tell(outcome)

    def drawn(canvas: view.Canvas, name: str, title: str, alt: str) -> str:
        made.append(name)
        return draw(canvas, name, title, alt)

    monkeypatch.setattr(contract, "outcome_json", told)
    monkeypatch.setattr(view, "svg", drawn)
    page, folder = tmp_path / "plan.html", tmp_path / "album"
    asked = ["--json", str(tmp_path / "plan.json"), "--sheet", str(page), "--drawings", str(folder)]
    assert run(["design", "p.toml", *asked]) == 0
    assert {path.stem for path in folder.glob("*.svg")} == set(made) - {"answer"}
    assert len(made) == len(set(made)) > 5
    alone = tmp_path / "alone.html"
    assert run(["sheet", str(tmp_path / "plan.json"), "--sheet", str(alone)]) == 0
    assert alone.read_text(encoding="utf-8") == page.read_text(encoding="utf-8")
    capsys.readouterr()


def test_a_bad_folder_for_drawings_is_told_before_the_search(door: Door, capsys, tmp_path) -> None:
    """A file, a folder in no folder, and one with a folder in a drawing's place are refused."""
    (tmp_path / "file").write_text("mine")
    (tmp_path / "taken" / "levels.svg").mkdir(parents=True)
    for folder in (tmp_path / "file", tmp_path / "no" / "album", tmp_path / "taken"):
        assert run(["design", "p.toml", "--drawings", str(folder)]) == 2
        assert capsys.readouterr().err.startswith("--drawings: ")
    assert not door.searched
