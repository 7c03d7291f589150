"""The dialogue with somebody at it and without: what is asked again, what is written, what never is."""

from __future__ import annotations

import io
import tomllib
from pathlib import Path

import pytest

from autoplan.begin.checking import Checker
from autoplan.begin.dialogue import WIDTH, Begun, Dialogue
from autoplan.errors import InputError
from autoplan.problem.toml.load import load_problem

CHECKER = Checker()
"""Shared, so that price lists are read once."""


class Typing(io.StringIO):
    """Lines typed by somebody, who presses Ctrl-C where a line says so."""

    def readline(self, size: int = -1, /) -> str:  # type: ignore[override]
        """The next line; "^C" is Ctrl-C."""
        line = super().readline(size)
        if line == "^C\n":
            raise KeyboardInterrupt
        return line


def talk(file: Path, *lines: str, alone: bool = False) -> tuple[Begun, str]:
    """What comes of these lines, and what was said."""
    said = io.StringIO()
    source = Typing("".join(f"{line}\n" for line in lines))
    return Dialogue(source, said, alone=alone, checker=CHECKER).run(str(file)), said.getvalue()


def tables(file: Path) -> dict[str, dict[str, object]]:
    """What a file says."""
    return tomllib.loads(file.read_text(encoding="utf-8"))


def test_no_answer_takes_what_is_usual(tmp_path: Path) -> None:
    """An empty input: a file that loads, and no design unasked; its command is in one piece to be copied."""
    file = tmp_path / ("a-long-name" * 8) / "my.toml"
    file.parent.mkdir()
    begun, said = talk(file, alone=True)
    assert begun == Begun(str(file), design=False)
    assert set(load_problem(file).outline.vessels) == {"tank", "bed 1", "sump"}
    assert f"To design it: autoplan design {file}" in said.splitlines()


def test_answers_are_taken_line_by_line(tmp_path: Path) -> None:
    """One line for each question; the rest as usual, and a design where the last line asks for one."""
    file = tmp_path / "my.toml"
    begun, said = talk(
        file,
        *(
            "us",
            "",
            "outside",
            "sump, settler",
            "260 gal, 3 ft",
            "2, 4 ft x 3 ft",
            "40 gal",
            "",
            "",
            "1/4 in",
            "",
        ),
        "yes",
        alone=True,
    )
    assert begun == Begun(str(file), design=True)
    assert tables(file)["tank"]["volume"] == "260 gal"
    assert tables(file)["beds"]["count"] == 2
    assert tables(file)["settler"]["volume"] == "40 gal"
    assert "Heights in inches" in said
    assert "11 of 11" in said


def test_no_more_than_twelve_are_asked_and_no_line_is_wide(tmp_path: Path) -> None:
    """With everything there is; the picture and the reasons fit a terminal, only a command may be longer."""
    _, said = talk(tmp_path / "my.toml", "metric", "", "", "sump, settler, biofilter", "", "8", alone=True)
    assert said.count(" > ") - 1 <= 12
    *before, command = said.splitlines()
    assert command.startswith("To design it: autoplan design ")
    assert max(map(len, before)) <= WIDTH


@pytest.mark.parametrize(
    ("before", "wrong", "reason", "right"),
    [
        ([], "metrc", 'did you mean "metric"', "metric"),
        ([""], "no-such-list", "there is no such price list", "inch"),
        (["", "", ""], "settler", "empties into a sump", "sump, settler"),
        ([""] * 4, "500", '"500" has no unit', "500 L"),
        ([""] * 4, "500 L, 12 m", "tank.depth", "500 L, 800 mm"),
        ([""] * 4, "500000 L", "The pump in sump must give", "500 L"),
        ([""] * 5, "2, 1 m2, 5 m2", "a length is needed", "2, 1 m2"),
        ([""] * 6, "60 L", "do not sum up", "300 L"),
        ([""] * 3 + ["none", ""], "6, 2 m2", "water for the fish", "2"),
        ([""] * 7, "sump 1 m", "water would have to climb", "sump -450 mm"),
        ([""] * 7, "tank 12 m", "do not sum up", "tank 1 m"),
        ([""] * 8, "3 L", "is a volume", "3 mm"),
        ([""] * 9, "onward 1000 m", "too large", "onward 2 m"),
    ],
)
def test_a_wrong_answer_is_told_and_asked_again(
    tmp_path: Path, before: list[str], wrong: str, reason: str, right: str
) -> None:
    """With the reason in one's own words; the right answer then counts."""
    _, said = talk(tmp_path / "my.toml", *before, wrong, right)
    told = " ".join(said.split())
    assert reason in told
    question = f"{len(before) + 1} of "
    assert told.count(question) == 1
    after = told[told.index(question) :].split(f"{len(before) + 2} of ")[0].split("Written to")[0]
    assert after.count("] >") == 2
    assert (tmp_path / "my.toml").exists()


@pytest.mark.parametrize("wrong", ["metrc", "\x1b[2J", "9" * 5000, "\udcff"])
def test_a_wrong_line_ends_it_where_nobody_is_asked(tmp_path: Path, wrong: str) -> None:
    """With its number and the reason, and nothing is written."""
    with pytest.raises(InputError) as caught:
        talk(tmp_path / "my.toml", wrong, alone=True)
    (mistake,) = caught.value.mistakes
    assert (mistake.file, mistake.place) == ("standard input", "line 1")
    assert str(mistake).isprintable()
    assert not list(tmp_path.iterdir())


def test_what_certainly_cannot_be_is_kept_where_it_is_said_twice(tmp_path: Path) -> None:
    """A tank on a roof: refused once with the numbers that do not sum up, then taken."""
    begun, said = talk(tmp_path / "my.toml", *[""] * 7, "tank 12 m", "tank 12 m", "", "", "no")
    assert begun.written is not None
    assert said.count("do not sum up") == 1
    assert tables(tmp_path / "my.toml")["tank"]["floor"] == "12 m"


def test_back_returns_to_the_question_before(tmp_path: Path) -> None:
    """As often as one likes, over questions that were not asked, and at the first it stays there."""
    _, said = talk(tmp_path / "my.toml", "back", "us", "", "", "", "900 L", "back", "800 L")
    assert tables(tmp_path / "my.toml")["tank"]["volume"] == "800 L"
    assert tables(tmp_path / "my.toml")["print_units"] == "us"
    assert said.count("1 of 10.") == 2


def test_levels_are_drawn_as_they_become_known(tmp_path: Path) -> None:
    """The tank alone, then with the bed, then with the sump at the height that was said."""
    _, said = talk(tmp_path / "my.toml", *[""] * 7, "sump -300 mm, beds 700 mm")
    pictures = said.split("Heights in mm")
    assert " tank" in pictures[0]
    assert "bed 1" not in pictures[0]
    assert "bed 1" in pictures[1]
    assert " -400 " not in pictures[1]
    assert " -400 " in pictures[2]
    assert " -300 " in pictures[3]
    assert " 700 " in pictures[3]


def test_plain_characters_alone(tmp_path: Path) -> None:
    """Any terminal and any file can show what is asked and drawn."""
    _, said = talk(tmp_path / "my.toml", alone=True)
    assert "+---- 150 ----+" in said
    assert said.isascii()


@pytest.mark.parametrize("answer", ["", "no"])
def test_a_file_that_is_there_is_not_replaced_unasked(tmp_path: Path, answer: str) -> None:
    """Enter says no; another name is asked for, and the old file is as it was."""
    file = tmp_path / "my.toml"
    file.write_text("old", encoding="utf-8")
    begun, said = talk(file, answer, "", *[""] * 10, "no")
    assert file.read_text(encoding="utf-8") == "old"
    assert begun.written == str(tmp_path / "my-2.toml")
    assert "is there already" in " ".join(said.split())
    assert load_problem(tmp_path / "my-2.toml").outline


def test_a_file_that_is_there_is_replaced_where_that_is_wished(tmp_path: Path) -> None:
    """After a yes."""
    file = tmp_path / "my.toml"
    file.write_text("old", encoding="utf-8")
    begun, _ = talk(file, "perhaps", "yes", *[""] * 10, "no")
    assert begun.written == str(file)
    assert load_problem(file).outline


def test_a_file_that_is_there_ends_it_where_nobody_is_asked(tmp_path: Path) -> None:
    """Before the first question."""
    file = tmp_path / "my.toml"
    file.write_text("old", encoding="utf-8")
    with pytest.raises(InputError, match="is there already"):
        talk(file, alone=True)
    assert file.read_text(encoding="utf-8") == "old"


def test_a_file_that_comes_meanwhile_is_kept(tmp_path: Path) -> None:
    """What another program wrote in the meantime stays, and the answers go beside it."""
    file = tmp_path / "my.toml"

    class Meanwhile(Typing):
        """Somebody else writes the file while the first question is answered."""

        def readline(self, size: int = -1, /) -> str:  # type: ignore[override]
            """The next line."""
            file.write_text("other", encoding="utf-8")
            return super().readline(size)

    begun = Dialogue(Meanwhile(""), io.StringIO(), alone=True, checker=CHECKER).run(str(file))
    assert file.read_text(encoding="utf-8") == "other"
    assert begun.written == str(tmp_path / "my-2.toml")


@pytest.mark.parametrize("name", ["folder", "missing/my.toml", "-"])
def test_a_file_that_cannot_be_written_is_told_first(tmp_path: Path, name: str) -> None:
    """Before anybody has answered anything."""
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        talk(Path("-") if name == "-" else tmp_path / name, alone=True)


def test_answers_outlive_a_folder_that_goes(tmp_path: Path) -> None:
    """Where the file cannot be written after all, another name is asked for and the answers go there."""
    folder = tmp_path / "folder"
    folder.mkdir()

    class Gone(Typing):
        """The folder is taken away while the first question is answered."""

        def readline(self, size: int = -1, /) -> str:  # type: ignore[override]
            """The next line."""
            if folder.exists():
                folder.rmdir()
            return super().readline(size)

    lines = ["us", *[""] * 9, str(tmp_path / "my.toml"), "no"]
    said = io.StringIO()
    source = Gone("".join(f"{line}\n" for line in lines))
    begun = Dialogue(source, said, alone=False, checker=CHECKER).run(str(folder / "my.toml"))
    assert begun.written == str(tmp_path / "my.toml")
    assert "could not be written" in " ".join(said.getvalue().split())
    assert tables(tmp_path / "my.toml")["print_units"] == "us"


@pytest.mark.parametrize("lines", [[], ["no"]])
def test_no_name_for_the_file_ends_it(tmp_path: Path, lines: list[str]) -> None:
    """At the end of the input nobody names another file, and the old one is as it was."""
    file = tmp_path / "my.toml"
    file.write_text("old", encoding="utf-8")
    begun, _ = talk(file, *lines)
    assert file.read_text(encoding="utf-8") == "old"
    assert begun.written == str(tmp_path / "my-2.toml")
    with pytest.raises(InputError, match="cannot be written"):
        talk(tmp_path / "missing" / "my.toml", str(tmp_path / "missing" / "other.toml"))


def some_answers(*rest: str) -> list[str]:
    """Answers up to the tank, and what comes after them."""
    return ["", "", "", "", "800 L, 900 mm", *rest]


@pytest.mark.parametrize(
    ("rest", "written"),
    [
        (["^C", ""], "my.toml"),
        (["^C", "yes"], "my.toml"),
        (["^C", "^C"], "my.toml.partial"),
        (["4", "^C", "^C"], "my.toml.partial"),
        (["^C", "no"], None),
    ],
)
def test_ctrl_c_loses_no_answer(tmp_path: Path, rest: list[str], written: str | None) -> None:
    """It offers to write what there is; a second one writes it beside the file and says so."""
    begun, said = talk(tmp_path / "my.toml", *some_answers(*rest))
    assert begun.stopped
    assert not begun.design
    assert [path.name for path in tmp_path.iterdir()] == ([written] if written else [])
    if written is not None:
        assert begun.written == str(tmp_path / written)
        # A long path is folded wherever the screen ends.
        assert f"Written to {tmp_path / written}".replace(" ", "") in "".join(said.split())
        assert tables(tmp_path / written)["tank"]["volume"] == "800 L"
        assert "Stopped before everything was asked" in (tmp_path / written).read_text(encoding="utf-8")
        assert load_problem(tmp_path / written).outline.vessels["tank"].depth_m == pytest.approx(0.9)


def test_a_partial_file_that_is_there_is_kept(tmp_path: Path) -> None:
    """Its neighbour takes what is new."""
    (tmp_path / "my.toml.partial").write_text("old", encoding="utf-8")
    begun, _ = talk(tmp_path / "my.toml", *some_answers("^C", "^C"))
    assert (tmp_path / "my.toml.partial").read_text(encoding="utf-8") == "old"
    assert begun.written == str(tmp_path / "my.toml.partial-2")


def test_ctrl_c_before_the_first_answer_writes_nothing(tmp_path: Path) -> None:
    """There is nothing that could be lost, and nothing is asked."""
    begun, said = talk(tmp_path / "my.toml", "^C")
    assert begun == Begun(None, stopped=True)
    assert "Write what you answered" not in said
    assert not list(tmp_path.iterdir())


def test_ctrl_c_where_nobody_is_asked_writes_beside_the_file(tmp_path: Path) -> None:
    """A pipe cannot be asked what to do."""
    begun, _ = talk(tmp_path / "my.toml", *some_answers("^C"), alone=True)
    assert begun.written == str(tmp_path / "my.toml.partial")


def test_ctrl_c_at_the_last_question_keeps_the_file(tmp_path: Path) -> None:
    """It is written by then; only the design is left out."""
    begun, _ = talk(tmp_path / "my.toml", *some_answers(*[""] * 5), "^C")
    assert begun == Begun(str(tmp_path / "my.toml"), stopped=True)


@pytest.mark.parametrize(("answer", "design"), [("", True), ("y", True), ("no", False)])
def test_a_design_is_offered(tmp_path: Path, answer: str, design: bool) -> None:
    """Somebody at a terminal gets one by Enter."""
    begun, _ = talk(tmp_path / "my.toml", *[""] * 10, answer)
    assert begun.design is design
