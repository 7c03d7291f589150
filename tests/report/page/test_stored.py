"""`autoplan sheet`: from an answer in a file to a page beside it, and what is said of files that are none."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from autoplan.cli import run
from autoplan.report.contract.base import MOST
from autoplan.report.contract.reading import NAMED, wrong_in
from autoplan.report.contract.rows import AnswerRow
from autoplan.report.page import sheet, stored
from autoplan.report.page.stored import TOLD


@pytest.fixture
def write(tmp_path: Path) -> Callable[[object], str]:
    """Writes data as a file of JSON, or text as it is, and names it."""

    def written(data: object) -> str:
        path = tmp_path / "answer.json"
        path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
        return str(path)

    return written


def small(answer: dict[str, Any]) -> dict[str, Any]:
    """An answer of its own to change."""
    return copy.deepcopy(answer)


@pytest.mark.usefixtures("undrawn")
def test_beside_the_answer(answer: dict[str, Any], write, capsys, tmp_path: Path) -> None:
    """Without a name the page stands beside the answer, the same as is made from the answer itself."""
    assert run(["sheet", write(answer)]) == 0
    assert (tmp_path / "answer.html").read_text(encoding="utf-8") == sheet.sheet_html(answer)
    assert capsys.readouterr().out == f"{tmp_path / 'answer.html'}: the build sheet of rank 1.\n"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["answer.html", "answer.json"]


@pytest.mark.usefixtures("undrawn")
def test_another_name_and_rank(answer: dict[str, Any], write, tmp_path: Path) -> None:
    """A name and a rank that are asked for are used."""
    assert run(["sheet", write(answer), "--rank", "2", "--sheet", str(tmp_path / "two.html")]) == 0
    assert "Rank 2 of 2" in (tmp_path / "two.html").read_text(encoding="utf-8")
    assert not (tmp_path / "answer.html").exists()


def with_changed(answer: dict[str, Any], **changed: object) -> dict[str, Any]:
    """An answer with some of its keys set anew."""
    return {**answer, **changed}


BROKEN: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "empty": (lambda _: "", "it is not JSON"),
    "text": (lambda _: "rank 1", "it is not JSON"),
    "half": (lambda answer: json.dumps(answer)[:5000], "it is not JSON"),
    "deep": (lambda _: "[" * 100_000, "nested too deep"),
    "NaN": (
        lambda answer: json.dumps(with_changed(answer, ownership_years=math.nan)),
        "NaN is no number of JSON",
    ),
    "long number": (lambda _: "[" + "9" * 5000 + "]", "it is not JSON"),
    "list": (lambda _: [1], "no answer of autoplan"),
    "other": (lambda answer: with_changed(answer, format="another"), "no answer of autoplan"),
    "version": (lambda answer: with_changed(answer, version=2), "its version 2 is unknown here"),
    "no version": (lambda answer: with_changed(answer, version=None), "its version None is unknown here"),
    "none": (lambda answer: with_changed(answer, designs=[]), "there is no design in it"),
    "lacking": (
        lambda answer: {key: value for key, value in answer.items() if key != "designs"},
        "designs: is missing; have it made again by `autoplan design --json`.",
    ),
    "units": (lambda answer: with_changed(answer, units="cubits"), 'units: is neither "si" nor "us"'),
    "infinite": (
        lambda answer: json.dumps(answer).replace('"ownership_years": 3.0', '"ownership_years": 1e999'),
        "ownership_years: is not a number",
    ),
}
"""Files that are no answer, and what is said of them."""


@pytest.mark.parametrize("kind", BROKEN)
def test_what_is_no_answer(kind: str, answer: dict[str, Any], write, capsys, tmp_path: Path) -> None:
    """Each says in a sentence what is wrong, with exit code 2, and no page is written."""
    made, said = BROKEN[kind]
    assert run(["sheet", write(made(answer))]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{tmp_path / 'answer.json'}: " in told.err
    assert said in told.err
    assert not (tmp_path / "answer.html").exists()


@pytest.mark.parametrize("rank", ["0", "3", "-1"])
def test_no_such_rank(rank: str, answer: dict[str, Any], write, capsys) -> None:
    """A rank that the answer does not have is refused, with those that it has."""
    assert run(["sheet", write(answer), "--rank", rank]) == 2
    err = capsys.readouterr().err
    assert f"--rank: there is no rank {rank} in" in err
    assert "name one of 1, 2." in err


def test_no_file_and_a_folder(tmp_path: Path, capsys) -> None:
    """What cannot be read is told by its name."""
    for path in (tmp_path / "absent.json", tmp_path):
        assert run(["sheet", str(path)]) == 2
        assert f"{path}: it cannot be read" in capsys.readouterr().err


def test_a_file_too_large(answer: dict[str, Any], write, monkeypatch, capsys) -> None:
    """A file beyond all answers is refused by its size; one that is just as large as may be is taken."""
    source = write(answer)
    for spare, taken in ((0, True), (-1, False)):
        monkeypatch.setattr(stored, "LARGEST", Path(source).stat().st_size + spare)
        assert run(["sheet", source, "--rank", "9"]) == 2
        assert ("there is no rank 9" in capsys.readouterr().err) is taken


def test_never_in_place_of_the_answer(answer: dict[str, Any], write, capsys) -> None:
    """The answer itself, a folder and standard output are no files for a page."""
    source = write(answer)
    before = Path(source).read_bytes()
    for target, said in (
        (source, "it is the file that is read"),
        (str(Path(source).parent), "it is a folder"),
        ("-", "it stands for standard output"),
    ):
        assert run(["sheet", source, "--sheet", target]) == 2
        assert said in capsys.readouterr().err
    assert Path(source).read_bytes() == before


@pytest.mark.usefixtures("undrawn")
def test_a_page_is_whole_or_as_it_was(
    answer: dict[str, Any], write, monkeypatch, capsys, tmp_path: Path
) -> None:
    """Where the disk is full the page of before stands untouched, and nothing is left beside it."""
    source = write(answer)
    (tmp_path / "answer.html").write_text("before")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    assert run(["sheet", source]) == 2
    assert "no space left on device" in capsys.readouterr().err
    assert (tmp_path / "answer.html").read_bytes() == b"before"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["answer.html", "answer.json"]


def _places(data: Any, place: str) -> Iterator[dict[str, Any]]:
    """Every table at a place."""
    found = [data]
    for step in filter(None, place.split(".")):
        inner = [thing[step.rstrip("[]{}")] for thing in found if thing.get(step.rstrip("[]{}")) is not None]
        if step.endswith("[]"):
            inner = [item for items in inner for item in items]
        elif step.endswith("{}"):
            inner = [item for items in inner for item in items.values()]
        found = inner
    yield from found


NAMING = {"levels", "vessels", "runs", "ends"}
"""Lists that others name things of, or that have a length of their own."""


def _first_of_each(data: Any, key: str = "") -> Any:
    """Data with one thing in each list, but for what others name, to be quick to copy."""
    if isinstance(data, dict):
        return {name: _first_of_each(value, name) for name, value in data.items()}
    if isinstance(data, list):
        return [_first_of_each(item) for item in (data if key in NAMING else data[:1])]
    return data


SCHEMA = AnswerRow.model_json_schema()
ELSEWHERE = (
    "RuleToldRow",
    "TimerRow",
    "AirRow",
    "AirLineRow",
    "GrowthRow",
    "GrowthPartRow",
    "FishRow",
    "DrainHoleRow",
    "PieceRow",
)
"""What the demo has none of, or not in each of its places."""


def _row_of(schema: dict[str, Any]) -> tuple[str, str]:
    """Which row a key holds, one ("") or many ("[]", "{}"); no name where it holds no row."""
    for inner in (schema, *schema.get("anyOf", ())):
        for part, many in (
            (inner, ""),
            (inner.get("items"), "[]"),
            (inner.get("additionalProperties"), "{}"),
        ):
            if isinstance(part, dict) and "$ref" in part:
                return part["$ref"].rpartition("/")[2], many
    return "", ""


def _rows(place: str = "", name: str = "") -> Iterator[tuple[str, str]]:
    """Every row that is read, with its place."""
    row = SCHEMA["$defs"][name] if name else SCHEMA
    yield name, place
    for key in row.get("required", ()):
        inner, many = _row_of(row["properties"][key])
        if inner:
            yield from _rows(f"{place}.{key}{many}".lstrip("."), inner)


READ = {name: place for name, place in _rows() if name not in ELSEWHERE}
"""A place of each kind of row of which keys are read."""


def test_rows_that_are_read() -> None:
    """The walk above finds the rows of the page."""
    assert {"", "DesignRow", "RunRow", "EndRow", "BellRow", "PartRow", "TracePointRow", "ToldRow"} <= set(
        READ
    )


@pytest.mark.parametrize("name", READ)
def test_each_key_is_asked_for(answer: dict[str, Any], name: str) -> None:
    """The demo's answer is right; with a key missing, null or of another kind it is refused by its place."""
    answer = small(_first_of_each(answer))
    assert list(wrong_in(answer)) == []
    (table, *_) = _places(answer, READ[name])
    row = SCHEMA["$defs"][name] if name else SCHEMA
    for key in row.get("required", ()):
        right, kinds = table[key], {kind.get("type") for kind in row["properties"][key].get("anyOf", ())}
        told = row["properties"][key].get("type", "") == "string" or "string" in kinds
        for wrong in [5 if told else "odd", *([] if "null" in kinds else [None])]:
            table[key] = wrong
            assert [where.split(".")[-1] for where, _ in wrong_in(answer)] == [key], wrong
        del table[key]
        assert [(where.split(".")[-1], why) for where, why in wrong_in(answer)] == [(key, "is missing")]
        table[key] = right


def test_keys_that_nobody_reads_do_no_harm(answer: dict[str, Any]) -> None:
    """Keys for other programs may be missing or be of any kind: older answers still have their sheet."""
    changed = small(answer)
    design = changed["designs"][0]
    del changed["rank_by"], design["objective"]
    design.update(margin="odd", gets=[5], hand_pumps=None)
    design["runs"][0]["turns"] = {"left": "over"}
    assert list(wrong_in(changed)) == []


def test_bounds_of_numbers(answer: dict[str, Any]) -> None:
    """A number at the bound is taken, and one beyond it, or none at all, is not."""
    for value, taken in (
        (MOST, True),
        (2 * MOST, False),
        (math.nan, False),
        (-math.inf, False),
        (True, False),
    ):
        changed = small(answer)
        changed["designs"][0]["levels"][0]["water_mm"] = value
        assert (list(wrong_in(changed)) == []) is taken


@pytest.mark.parametrize("asked", NAMED)
def test_names_of_nothing(asked: str, answer: dict[str, Any]) -> None:
    """What is named in one place and is not there in the other is told by its place."""
    changed = small(_first_of_each(answer))
    place, _, key = asked.rpartition(".")
    (first, *_) = _places(changed, f"designs[].{place}")
    first[key] = "another"
    assert any(where.endswith(key) and "is not among" in why for where, why in wrong_in(changed))


def _second_piece(design: dict[str, Any]) -> None:
    design["cuts"][0]["pieces"].append(design["cuts"][0]["pieces"][0])


def _one_end(design: dict[str, Any]) -> None:
    del design["runs"][0]["ends"][0]


def _no_height(design: dict[str, Any]) -> None:
    design["holes"][0]["centre_above_floor_mm"] = None


def _floor_without_height(design: dict[str, Any]) -> None:
    design["holes"][0].update(place="floor", centre_above_floor_mm=None)


def _no_points(design: dict[str, Any]) -> None:
    design["traces"][0]["points"] = []


def _half_a_curve(design: dict[str, Any]) -> None:
    design["pumps"][0]["meets"] = None


def _no_curve(design: dict[str, Any]) -> None:
    design["pumps"][0].update(curve=None, full_speed_curve=None, system=None, meets=None)


def _empty_name(design: dict[str, Any]) -> None:
    design["runs"][0]["to"] = "\u202e \n"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_second_piece, "is not as long as pieces_mm"),
        (_one_end, "are not two"),
        (_no_height, "is missing"),
        (_floor_without_height, ""),
        (_no_points, "has no points"),
        (_half_a_curve, "is there without full_speed_curve, system or meets"),
        (_no_curve, ""),
        (_empty_name, "is not a name"),
    ],
)
@pytest.mark.usefixtures("undrawn")
def test_loose_ends(change: Callable[[dict[str, Any]], None], said: str, answer: dict[str, Any]) -> None:
    """What does not fit together is told; a hole in a floor needs no height, and a pump no curves."""
    changed = small(answer)
    change(changed["designs"][0])
    assert [why for _, why in wrong_in(changed)] == ([said] if said else [])


def test_many_mistakes_are_counted(answer: dict[str, Any], write, capsys) -> None:
    """The first few are told one by one, the others by their number."""
    changed = small(answer)
    for found in changed["designs"][0]["rules"]:
        del found["margin"]
    assert run(["sheet", write(changed)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == TOLD + 1
    assert f"{len(changed['designs'][0]['rules']) - TOLD} more like that" in lines[-1]
