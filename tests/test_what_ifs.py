"""What if there is less money, a part is missing, power is dear, or a file is wrong: real command lines."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from autoplan.advice import remedies
from autoplan.cli import run
from autoplan.outcome import Clash
from tests.short_list import from_shortest_list

Answer = dict[str, Any]
Capture = pytest.CaptureFixture[str]

TANK = from_shortest_list("""
name = "A tank over a buried sump"
[tank]
volume = "1000 L"
floor = "150 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
""")


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    """A problem file in an otherwise empty folder."""
    path = tmp_path / "tank.toml"
    path.write_text(TANK)
    return path


@pytest.fixture(scope="module")
def best(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The cheapest design of the tank, as JSON."""
    path = tmp_path_factory.mktemp("best") / "tank.toml"
    path.write_text(TANK)
    found: dict[str, Any] = answer(path)
    return found


def answer(problem: Path, *options: str) -> dict[str, Any]:
    """What a run writes as JSON; the run must find a design."""
    target = problem.with_suffix(".json")
    assert run(["design", str(problem), "--quiet", "--top", "1", "--json", str(target), *options]) == 0
    found: dict[str, Any] = json.loads(target.read_text())
    return found


def paid(found: dict[str, Any]) -> float:
    """Price of the cheapest order with freight."""
    cost = found["designs"][0]["cost"]
    return round(float(cost["purchase"] + cost["freight"]), 2)


def parts(found: dict[str, Any]) -> set[str]:
    """Part ids on the cheapest order."""
    return {line["part"] for line in found["designs"][0]["purchase"]}


def one_line(text: str) -> str:
    """Printed text without its line breaks."""
    return " ".join(text.split())


def test_too_small_a_budget(tank: Path, best: Answer, capsys: Capture) -> None:
    """A cent under the cheapest: exit 3, what that costs and the gap, whatever the problem's own budget."""
    tank.write_text(f"{TANK}[wishes]\nbudget = 1000\n")
    target = tank.with_suffix(".json")
    budget = f"{paid(best) - 0.01:.2f}"
    assert run(["design", str(tank), "--quiet", "--budget", budget, "--json", str(target)]) == 3
    out = one_line(capsys.readouterr().out)
    assert f"the cheapest design costs {paid(best):.2f} EUR, 0.01 EUR more than there is" in out
    found = json.loads(target.read_text())
    assert (found["status"], found["designs"]) == ("none", [])


def test_just_enough_money(tank: Path, best: Answer) -> None:
    """A budget of what the cheapest costs finds it, in the problem and on the command line, which rules."""
    tank.write_text(f"{TANK}[wishes]\nbudget = {paid(best):.2f}\n")
    assert paid(answer(tank)) == paid(best)
    tank.write_text(f"{TANK}[wishes]\nbudget = {paid(best) - 10:.2f}\n")
    assert paid(answer(tank, "--budget", f"{paid(best):.2f}")) == paid(best)


def test_without_a_part_that_is_used(tank: Path, best: Answer, capsys: Capture) -> None:
    """The note says what changes and what it costs, which is the difference of two runs."""
    missing = next(part for part in parts(best) if part.startswith("pump-"))
    found = answer(tank, "--without", missing)
    out = one_line(capsys.readouterr().out)
    more = paid(found) - paid(best)
    assert more > 0
    assert missing not in parts(found)
    assert (
        f"Without {missing} the cheapest plan costs {paid(found):.2f} EUR "
        f"instead of {paid(best):.2f}, {more:.2f} more." in out
    )
    (off, on) = re.search(r"Off the order: (.*?)\. New on it: (.*?)\. ", out).groups()  # type: ignore[union-attr]
    assert set(off.split(", ")) == parts(best) - parts(found)
    assert set(on.split(", ")) == parts(found) - parts(best)


def test_without_several_parts(tank: Path, best: Answer, capsys: Capture) -> None:
    """Each part given is left out, here the pump and the main's pipe."""
    runs = {run["name"]: run for run in best["designs"][0]["runs"]}
    pump = next(part for part in parts(best) if part.startswith("pump-"))
    used = sorted([pump, runs["main"]["pipe"]])
    assert parts(best) >= set(used)
    one = answer(tank, "--without", used[0])
    both = answer(tank, "--without", used[0], "--without", used[1])
    assert not parts(both) & set(used)
    assert paid(best) <= paid(one) <= paid(both)
    assert f"Without {', '.join(used)} the cheapest plan" in one_line(capsys.readouterr().out)


def test_without_a_part_that_is_not_used(tank: Path, best: Answer, capsys: Capture) -> None:
    """Missing what is not on the order changes nothing, and the note says so."""
    assert "pump-1000" not in parts(best)
    assert paid(answer(tank, "--without", "pump-1000")) == paid(best)
    assert "does not use pump-1000: nothing changes" in one_line(capsys.readouterr().out)


def test_without_an_unknown_part(tank: Path, capsys: Capture) -> None:
    """A slip of the finger: exit 2, the nearest part named, nothing printed or written."""
    target = tank.with_name("plan.json")
    line = ["design", str(tank), "--without", "seel-50", "--without", "pum-3000", "--json", str(target)]
    assert run(line) == 2
    out, err = capsys.readouterr()
    assert out == ""
    first, second = err.splitlines()
    assert "'seel-50'" in first
    assert "'seal-50'" in first
    assert "'pum-3000'" in second
    assert "'pump-3000'" in second
    assert list(tank.parent.iterdir()) == [tank]


def test_ranked_by_ownership(tank: Path, best: Answer) -> None:
    """Bought and run over the years, rank 1 costs no more than the cheapest purchase; to buy, no less."""
    found = answer(tank, "--rank-by", "ownership")
    thrifty, cheap = found["designs"][0]["cost"], best["designs"][0]["cost"]
    assert thrifty["ownership"] <= cheap["ownership"]
    assert paid(found) >= paid(best)
    for cost in (thrifty, cheap):
        whole = cost["purchase"] + cost["freight"] + 3 * cost["running_per_year"]
        assert cost["ownership"] == pytest.approx(whole, abs=0.01)


def test_free_power_makes_ownership_purchase(tank: Path, best: Answer) -> None:
    """Where power costs nothing, to own is to buy."""
    tank.write_text(f'{TANK}[wishes]\npower_price = "0/kWh"\n')
    assert paid(answer(tank, "--rank-by", "ownership")) == paid(best)


def test_parts_already_owned_are_free(tank: Path, best: Answer) -> None:
    """Whoever has the pump already pays its price less."""
    pump = next(part for part in parts(best) if part.startswith("pump-"))
    (line,) = [line for line in best["designs"][0]["purchase"] if line["part"] == pump]
    tank.write_text(f"{TANK}[owned]\n{pump} = 1\n")
    assert paid(answer(tank)) <= paid(best) - line["line_cost"] + 0.001


BROKEN = """
name = "Wrong in many places"
[tank]
volume = "1000"
flor = "150 mm"
[sump]
volume = "500 L"
depth = "-1 m"
[wishes]
turnover = "1.5 mm"
"""


def test_a_broken_problem(tmp_path: Path, capsys: Capture) -> None:
    """Every mistake of the file at once, a line each with file and place; exit 2, nothing written."""
    path = tmp_path / "broken.toml"
    path.write_text(BROKEN)
    target = tmp_path / "plan.json"
    assert run(["design", str(path), "--json", str(target), "--top", "0"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert not target.exists()
    places = ("tank.volume", "tank.flor", "sump.depth", "wishes.turnover")
    lines = err.splitlines()
    assert len(lines) == len(places) + 1
    assert lines[0].startswith("--top: ")
    for place in places:
        (line,) = [line for line in lines if f"broken.toml: {place}: " in line]
        assert line.endswith(".")
    assert any("floor" in line for line in lines if "tank.flor" in line)


def test_broken_rules(tmp_path: Path, capsys: Capture) -> None:
    """Mistakes under [rules] are all told too, before any search."""
    path = tmp_path / "rules.toml"
    path.write_text(
        f'{TANK}[rules.drain-bor]\noff = true\n[rules.pump-duty]\nmargin = "ten"\nmargn = "5 %"\n'
    )
    target = tmp_path / "plan.json"
    assert run(["design", str(path), "--quiet", "--json", str(target)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert not target.exists()
    assert len(err.splitlines()) == 3
    assert "'drain-bore'" in err
    assert "rules.pump-duty.margin: " in err
    assert "'margin'" in err


@pytest.mark.parametrize("name", ["missing.toml", "."])
def test_no_problem_file(tmp_path: Path, capsys: Capture, name: str) -> None:
    """A file that is not there, or a folder: exit 2 and one line."""
    assert run(["design", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1


def test_no_such_price_list(tank: Path, capsys: Capture) -> None:
    """A price list that is not there: exit 2 and one line naming it."""
    assert run(["design", str(tank), "--catalog", "no-such-list"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "no-such-list" in err


def test_the_same_answer_every_time(tank: Path) -> None:
    """Two runs write the same designs, to the last letter."""
    first, second = answer(tank), answer(tank)
    assert json.dumps(first["designs"]) == json.dumps(second["designs"])


WALL_TOO_LOW = Path(__file__).parents[1] / "problems" / "wall-too-low.toml"


def test_the_worked_problem_without_an_answer(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """The problem that has no answer is proven to have none: exit 3. Remedies are left to the long run."""
    monkeypatch.setattr(remedies, "explain_none", lambda *_: Clash((), ()))
    assert run(["design", str(WALL_TOO_LOW), "--quiet"]) == 3
    assert "No design keeps every rule" in one_line(capsys.readouterr().out)


@pytest.mark.long
def test_the_worked_problem_and_its_remedies(capsys: Capture) -> None:
    """The whole command names the rules that clash, in their own words, and by how much to raise the tank."""
    assert run(["design", str(WALL_TOO_LOW), "--quiet"]) == 3
    out = one_line(capsys.readouterr().out)
    assert "level-range: this is no rule to drop" in out
    assert re.search(r"Raising tank by \d+ mm would leave a design", out)
    assert re.search(r"Lowering settler by \d+ mm would leave a design", out)
