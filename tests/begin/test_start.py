"""The command at a terminal and in a pipe: from nothing to a design, stopped half way, beside other files."""

from __future__ import annotations

import importlib.util
import io
import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

import autoplan
from autoplan import cli
from autoplan.begin.checking import Checker
from autoplan.outcome import Outcome, Status
from autoplan.places import InVessel
from autoplan.problem.toml.load import load_problem


def beside(name: str) -> ModuleType:
    """A module of helpers in this folder."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


Terminal = beside("terminal").Terminal


OPEN_SUMP = (
    r"the rim of sump stands [^:]+: lay a lid on it that no child lifts and write cover = true, or fence it\."
)
"""What is told of every sump that is dug in until a builder covers it."""


def test_from_nothing_to_a_design(tmp_path: Path) -> None:
    """A wrong answer asked again with the reason, all else by Enter: proven, only a child in danger."""
    with Terminal("start", "mine.toml", "--top", "1", folder=tmp_path) as at:
        at.wait_for("[metric] > ")
        at.type("metres")
        assert "did you mean" in at.wait_for("[metric] > ")
        at.type("metric")
        for number in range(2, 11):
            at.wait_for(f"{number} of 10.")
            at.wait_for("] > ")
            at.type("")
        at.wait_for("Design it now? yes or no [yes] > ")
        at.type("")
        at.wait_for("Rank 1 is proven cheapest")
        assert at.ended() == 0
        assert " EUR" in at.screen
        (warned,) = re.findall(r"Warning (.*?) Assumed", " ".join(at.screen.split()))
        assert re.fullmatch(OPEN_SUMP, warned)
    assert set(load_problem(tmp_path / "mine.toml").outline.vessels) == {"tank", "bed 1", "sump"}


def test_ctrl_c_twice_half_way(tmp_path: Path) -> None:
    """At a real terminal: the offer, then the answers beside the file, and the shell's own exit code."""
    with Terminal("start", "mine.toml", folder=tmp_path) as at:
        at.wait_for("[metric] > ")
        at.type("us")
        at.wait_for("[inch] > ")
        at.interrupt()
        at.wait_for("Write what you answered so far to mine.toml? yes or no [yes] > ")
        at.interrupt()
        assert at.ended() == 130
        assert "Written to mine.toml.partial" in at.screen
        assert "Traceback" not in at.screen
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml.partial"]
    assert load_problem(tmp_path / "mine.toml.partial").outline.catalog == "inch"


def designed(given: dict[str, str], folder: Path) -> Outcome:
    """The design of the file that answers become."""
    file = folder / "mine.toml"
    file.write_text(Checker().text(given), encoding="utf-8")
    site = autoplan.load_problem(file).outline
    return autoplan.design(site, autoplan.load_catalog(site.catalog), top=1)


CHILD = InVessel("sump", "children")


def check(outcome: Outcome) -> None:
    """A proven design that no rule warns of, but of a sump that a child may fall into."""
    assert outcome.status is Status.PROVEN
    (design,) = outcome.designs
    wrong = [found for found in design.verdict.findings if not found.ok]
    assert [found for found in wrong if (found.rule, found.place) != ("sump-rim", CHILD)] == []


@pytest.mark.long
@pytest.mark.parametrize(
    "given",
    [
        {"units": "us"},
        {"besides": ""},
        {"besides": "", "units": "us"},
        {"place": "outdoors"},
        {"place": "outdoors", "units": "us"},
        {"besides": "sump, settler, biofilter"},
        {"tank.volume": "1000 L", "tank.depth": "900 mm", "beds.count": "4", "beds.area": "1.2 m2"},
        {"tank.volume": "260 gal", "tank.depth": "1 m"},
        {"tank.wall": "3 mm", "beds.wall": "3 mm", "sump.wall": "3 mm"},
    ],
    ids=str,
)
def test_other_answers_design_without_a_warning(given: dict[str, str], tmp_path: Path) -> None:
    """In US units, without a sump, outdoors, with filters, with more beds, in thin walls."""
    check(designed(given, tmp_path))


class Pipe(io.StringIO):
    """Standard input that is no terminal."""

    def isatty(self) -> bool:
        """Nobody is there."""
        return False


def piped(monkeypatch: pytest.MonkeyPatch, lines: str, *arguments: str) -> int:
    """The exit code of the command with these lines as its standard input."""
    monkeypatch.setattr(sys, "stdin", Pipe(lines))
    return cli.run(["start", *arguments])


def test_a_pipe_writes_the_file_and_designs_nothing(tmp_path: Path, monkeypatch, capsys) -> None:
    """Questions on standard error, nothing on standard output."""
    file = tmp_path / "mine.toml"
    assert piped(monkeypatch, "us\n\n\n\n330 gal\n", str(file)) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert "Fish tank" in said.err
    assert load_problem(file).outline.vessels["tank"].turnover_volume_m3 == pytest.approx(
        330 * 231 * 0.0254**3
    )


def test_a_pipe_replaces_no_file(tmp_path: Path, monkeypatch, capsys) -> None:
    """Exit code 2, and the file as it was."""
    file = tmp_path / "mine.toml"
    file.write_text("old", encoding="utf-8")
    assert piped(monkeypatch, "", str(file)) == 2
    assert "is there already; name another file" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "old"


def test_a_wrong_line_of_a_pipe_is_named(tmp_path: Path, monkeypatch, capsys) -> None:
    """Exit code 2, with the line and the reason, and no file."""
    assert piped(monkeypatch, "\n\n\n\n500\n", str(tmp_path / "mine.toml")) == 2
    assert 'standard input: line 5: "500" has no unit' in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_yes_at_the_end_of_a_pipe_designs(tmp_path: Path, monkeypatch, capsys) -> None:
    """The design command gets the file and how many ranks were asked for."""
    asked: list[tuple[str, int]] = []

    def design(problem: str, *, top: int) -> int:
        asked.append((problem, top))
        return 3

    monkeypatch.setattr(cli, "design_command", design)
    file = tmp_path / "mine.toml"
    assert piped(monkeypatch, "\n" * 10 + "yes\n", str(file), "--top", "2") == 3
    assert asked == [(str(file), 2)]
    assert "Written to" in capsys.readouterr().err


@pytest.mark.parametrize("top", ["0", "-1"])
def test_no_ranks_are_refused_before_any_question(tmp_path: Path, monkeypatch, capsys, top: str) -> None:
    """As `design` refuses them."""
    assert piped(monkeypatch, "", str(tmp_path / "mine.toml"), "--top", top) == 2
    said = capsys.readouterr().err
    assert "--top" in said
    assert "1 of 10" not in said


def test_no_standard_input_is_an_empty_one(tmp_path: Path, monkeypatch) -> None:
    """A closed stream answers nothing."""
    monkeypatch.setattr(sys, "stdin", None)
    assert cli.run(["start", str(tmp_path / "mine.toml")]) == 0
    assert (tmp_path / "mine.toml").exists()
