"""All that a problem asks for in vain is told at once: parts, vessels, rules, and what options speak of."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan.asked import rule_mistakes
from autoplan.cli import run
from autoplan.problem.toml.load import problem_from

PROBLEM = """
unavailable = ["zzz"]
[tank]
volume = "400 L"
floor = "900 mm"
[beds]
count = 1
area = "1 m2"
[sump]
choose = ["tub-60", "tub-1000"]
"""

MISTAKES = """
[rules]
drain-fal = { reserve = "20 mm" }
budget = { off = true }
[rules.drain-fall]
reserv = "20 mm"
[owned]
pmp-3000 = 1
seal-50 = 2
"""


@pytest.fixture
def problem(tmp_path: Path) -> str:
    """A problem with a mistake of every kind that only the price list or the rules can tell."""
    path = tmp_path / "asks.toml"
    path.write_text(PROBLEM + MISTAKES)
    return str(path)


def test_all_at_once(problem: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One line for each mistake, wherever it is looked up, and nothing on standard output."""
    asked = ["--without", "seel-50", "--rank-by", "margin", "--top", "0", "--quiet"]
    assert run(["design", problem, *asked]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    told = [
        "--top: cannot show 0 designs",
        "--without: 'seel-50' is not in the price list metric; did you mean 'seal-50'",
        "unavailable: 'zzz' is not in the price list metric; see `autoplan parts metric`",
        "owned: 'pmp-3000' is not in the price list metric; did you mean 'pump-3000'",
        "sump.choose: the price list has no vessel 'tub-60'; did you mean 'tub-600'",
        "rules.drain-fal: no rule is called 'drain-fal'; did you mean 'drain-fall'",
        "rules.drain-fall.reserv: no setting is called 'reserv'; did you mean 'reserve'",
    ]
    lines = err.splitlines()
    assert len(lines) == len(told)
    assert all(words in line for words, line in zip(told, lines, strict=True))


def test_a_ranking_without_its_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ranking by margin spends a budget; ranking by cost needs none."""
    path = tmp_path / "off.toml"
    path.write_text(
        PROBLEM.replace('"tub-60", ', "").replace("zzz", "seal-40") + "[rules.budget]\noff = true\n"
    )
    assert run(["design", str(path), "--rank-by", "margin", "--time-limit", "0.001"]) == 2
    assert "rules.budget.off: ranking by margin spends up to the budget" in capsys.readouterr().err
    assert run(["design", str(path), "--time-limit", "0.001", "--quiet"]) == 4


def test_expand_looks_up_the_rules(problem: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The long form of misspelt rules is not printed: it would only repeat them."""
    assert run(["expand", problem]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert [line.split(": ")[1] for line in err.splitlines()] == [
        "rules.drain-fal",
        "rules.drain-fall.reserv",
    ]


def test_a_wrong_vessel_hides_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is wrong with the vessels is told together with parts and rules; so by expand, which buys none."""
    path = tmp_path / "both.toml"
    path.write_text(PROBLEM.replace("400 L", "400 mm") + MISTAKES)
    assert run(["design", str(path), "--without", "seel-50"]) == 2
    design = capsys.readouterr().err
    for word in (
        "tank.volume",
        "--without",
        "zzz",
        "pmp-3000",
        "rules.drain-fal:",
        "rules.drain-fall.reserv",
    ):
        assert word in design
    assert run(["expand", str(path)]) == 2
    assert [line.split(": ")[1] for line in capsys.readouterr().err.splitlines()] == [
        "tank.volume",
        "rules.drain-fal",
        "rules.drain-fall.reserv",
    ]


@pytest.mark.parametrize("text", ["catalog = 3\n[tnak]\n", "[tank\n"])
def test_no_price_list_can_be_told(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Parts are not looked up in a price list that was not meant."""
    path = tmp_path / "bad.toml"
    path.write_text(text)
    assert run(["design", str(path), "--without", "seel-50"]) == 2
    assert "seel-50" not in capsys.readouterr().err


def test_a_wrong_price_list_hides_no_rule(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rules are looked up whether or not there is a price list."""
    path = tmp_path / "list.toml"
    path.write_text('catalog = "metrik"\n' + PROBLEM + "[rules.drain-fal]\n")
    assert run(["design", str(path)]) == 2
    err = capsys.readouterr().err
    assert "metrik" in err
    assert "'drain-fal'" in err


@pytest.mark.parametrize(
    ("drain", "place"), [("siphon", "siphon-break.cut_out"), ("outside siphon", "crest-fit.air")]
)
@pytest.mark.parametrize(
    ("low", "off", "told"), [(240, True, 0), (241, True, 1), (300, True, 1), (300, False, 0)]
)
def test_a_siphon_that_breaks_as_it_starts(drain: str, place: str, low: int, off: bool, told: int) -> None:
    """Where no rule forbids it, less than 10 mm of flood over where air gets in is a mistake with its place.

    A design so ended in a fault: its siphon starts thousands of times in a night that is watched.
    """
    rule, key = place.split(".")
    beds = f'[beds]\ncount = 2\narea = "1 m2"\nflood = "250 mm"\ndrain = "{drain}"\n'
    rules = f'[rules.{rule}]\n{key} = "{low} mm"\n[rules.flood-rate]\noff = {str(off).lower()}\n'
    asked = problem_from(PROBLEM.replace('[beds]\ncount = 1\narea = "1 m2"\n', beds) + rules, "site.toml")
    found = list(rule_mistakes(asked))
    assert len(found) == told
    for mistake in found:
        assert (mistake.file, mistake.place) == ("site.toml", f"rules.{place}")
        assert f"'{low} mm' is less than 10 mm under the flood of bed 1, bed 2" in mistake.problem
