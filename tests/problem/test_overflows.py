"""Emergency overflows that are left to the program: offered, written out, and closed by variants."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.optimiser.search.variants import variants_of
from autoplan.problem.problem import Problem
from autoplan.problem.site import OverflowOffer
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml

METRIC = autoplan.load_catalog("metric")
RUN = "tank overflow"


def read(folder: Path, tank: str = "", more: str = "") -> Problem:
    """A tank over a sump, with something said of the tank and something more."""
    path = folder / "problem.toml"
    path.write_text(f'[tank]\nvolume = "1000 L"\n{tank}\n[sump]\nvolume = "600 L"\n{more}', encoding="utf-8")
    return load_problem(path)


@pytest.mark.parametrize(
    ("said", "offered"),
    [
        ("", OverflowOffer.ANY),
        ('overflow = "if needed"', OverflowOffer.IF_NEEDED),
        ('overflow = "any"', OverflowOffer.ANY),
    ],
)
def test_offered(tmp_path: Path, said: str, offered: OverflowOffer) -> None:
    """What is offered is in no site but that of a variant of its own, which has it as if asked for."""
    problem = read(tmp_path, said)
    assert RUN not in problem.outline.runs
    (plain, built), _ = variants_of(problem, METRIC)
    assert (plain.offered, plain.said) == (None, "")
    assert (built.offered, built.said) == (offered, "emergency overflow built")
    assert set(plain.site.flows) == set(plain.site.runs) == set(built.site.runs) - {RUN}
    asked = read(tmp_path, "overflow = true").outline
    assert built.site.runs == asked.runs
    assert built.site.flows == asked.flows


@pytest.mark.parametrize(
    ("said", "more", "there"),
    [
        ("overflow = true", "", True),
        ("overflow = false", "", False),
        ("", '[wishes]\nsurvives = "nothing"\n', False),
        ('overflow = "any"', '[wishes]\nsurvives = "nothing"\n', False),
    ],
)
def test_closed(tmp_path: Path, said: str, more: str, there: bool) -> None:
    """Asked for or forbidden it is no choice, and where drains may run over none can be needed."""
    (only,), _ = variants_of(read(tmp_path, said, more), METRIC)
    assert (RUN in only.site.runs) is there


def test_how_it_goes_is_told_only_where_it_is_built(tmp_path: Path) -> None:
    """The distance that is assumed for it is moot in the plan without."""
    (plain, built), _ = variants_of(read(tmp_path), METRIC)
    place = "distances.tank_overflow"
    moot = [next(one.moot for one in v.site.assumptions if one.place == place) for v in (plain, built)]
    assert moot == [True, False]


@pytest.mark.parametrize(
    ("said", "more"), [("overflow = true", ""), ('overflow = "any"', ""), ("", "tank_overflow = []\n")]
)
def test_no_way_for_it(tmp_path: Path, said: str, more: str) -> None:
    """Where places leave no way from wall to wall none is offered, and one that is spoken of is a mistake."""
    tank = 'floor = "900 mm"\nat = ["0 m", "0 m"]\n'
    sump = 'at = ["0.2 m", "0.1 m"]\n[distances]\ntank_to_sump = "1 m"\nsump_to_tank = "1 m"\n'
    (layout,) = read(tmp_path, tank, sump).layouts
    assert RUN not in layout.runs
    assert "tank.overflow" not in {one.place for one in layout.assumptions}
    corners = f"[corners]\n{more}" if more else ""
    with pytest.raises(InputError, match="tank_overflow"):
        read(tmp_path, tank + said, sump + corners)


@pytest.mark.parametrize("said", ["", 'overflow = "any"', "overflow = true"])
def test_written_out(tmp_path: Path, said: str) -> None:
    """The long form offers what the short one does."""
    problem = read(tmp_path, said)
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(problem), encoding="utf-8")
    (again,) = load_problem(path).layouts
    (before,) = problem.layouts
    assert again.runs == before.runs


@pytest.mark.parametrize("said", ['"perhaps"', "1", "[]"])
def test_other_words(tmp_path: Path, said: str) -> None:
    """Nothing but true, false and the two words is taken."""
    with pytest.raises(InputError, match='"if needed", "any"'):
        read(tmp_path, f"overflow = {said}")


@pytest.mark.parametrize("word", ["half-blocked drain", "nothing"])
def test_the_wish_is_kept(tmp_path: Path, word: str) -> None:
    """What drains are to survive stands in the long form as it was said."""
    problem = read(tmp_path, more=f'[wishes]\nsurvives = "{word}"\n')
    assert str(problem.wishes.survives) == word
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(problem), encoding="utf-8")
    assert load_problem(path).wishes == problem.wishes


def test_another_wish_is_refused(tmp_path: Path) -> None:
    """A word that is not known is answered with those that are."""
    with pytest.raises(InputError, match="half-blocked drain"):
        read(tmp_path, more='[wishes]\nsurvives = "a storm"\n')
