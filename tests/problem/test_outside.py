"""Beds with a siphon pipe outside as the problem file has them: runs, mistakes, the long form."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from autoplan.cli import run
from autoplan.errors import InputError
from autoplan.problem.flows import running_drains, under_suction
from autoplan.problem.site import BedDrain, Draw, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from tests import outside


@cache
def site() -> Site:
    """The smallest shipped problem with a siphon pipe outside its bed."""
    return outside.problem().outline


def test_the_short_form_lays_it() -> None:
    """Its drain begins so and has a screen; it floods in turn, and nothing but that run is under suction."""
    drain, bed = site().runs[outside.DRAIN], site().vessels["bed 1"].bed
    assert bed is not None
    assert (bed.drain, bed.siphon, bed.by_turns) == (BedDrain.OUTSIDE, True, True)
    assert (drain.draw, drain.screen, drain.finish) == (Draw.OUTSIDE, True, "sump")
    assert under_suction(site()) == (outside.DRAIN,)
    assert outside.DRAIN not in running_drains(site())
    # A bell siphon's drain has the peak flow of one, and so has this.
    assert site().flows[outside.DRAIN].peak_m3_s == pytest.approx(3 * 375 / 3.6e6)


def test_the_long_form_says_all_of_it(tmp_path: Path) -> None:
    """Written out and read again it is the same site, with nothing left to assume."""
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site()), encoding="utf-8")
    again = load_problem(path).outline
    assert again.assumptions == ()
    assert replace(again, file=site().file, assumptions=site().assumptions) == site()


@pytest.mark.parametrize(
    ("beds", "said"),
    [
        (f"{outside.BEDS}\nscreen = true", None),
        (f'{outside.BEDS}\nbed_drains = "each"', None),
        (
            f"{outside.BEDS}\nscreen = false",
            "draws through the gravel, and needs a screen on its inlet; write",
        ),
        (
            f'{outside.BEDS}\nbed_drains = "shared"',
            "falls free to a vessel, not to a collector that beds share",
        ),
        (f'{outside.BEDS}\nbed_drains = "any"', 'write bed_drains = "each" or take it out'),
        (f'{outside.BEDS}\nbell = "bottle"', '"bell" is for a bed with a siphon'),
        (f'{outside.BEDS}\nhole = "8 mm"', '"hole" is for a bed that runs empty by a hole in its standpipe'),
        ('drain = "outside"', '"outside siphon"'),
    ],
)
def test_mistakes_of_the_short_form(beds: str, said: str | None) -> None:
    """What goes with a bell or a standpipe alone, a collector, no screen: each is told with a cure."""
    if said is None:
        assert outside.problem(beds).outline.runs[outside.DRAIN].screen
        return
    with pytest.raises(InputError) as caught:
        outside.problem(beds)
    assert said in str(caught.value)


LONG = """
wishes = {{ turnover = "1/hour" }}
vessel = [
  {{ name = "tank", kind = "tank", volume = "500 L", depth = "750 mm", floor = "150 mm" }},
  {{ name = "mint", kind = "bed", area = "1.5 m2", floor = "550 mm", drain = "outside siphon" }},
  {{ name = "sage", kind = "bed", area = "1.5 m2", floor = "550 mm" }},
  {{ name = "sump", kind = "sump", volume = "500 L", depth = "500 mm", floor = "-450 mm" }},
]
junction = [{{ name = "split" }}, {{ name = "fork" }}, {{ name = "join" }}]
run = [
  {{ name = "main", kind = "pressure", from = "sump", to = "split", legs = ["1 m"] }},
  {{ name = "tank feed", kind = "pressure", from = "split", to = "tank", legs = ["1 m"] }},
  {{ name = "beds", kind = "pressure", from = "split", to = "fork", legs = ["1 m"] }},
  {{ name = "mint feed", kind = "pressure", from = "fork", to = "mint", legs = ["1 m"] }},
  {{ name = "sage feed", kind = "pressure", from = "fork", to = "sage", legs = ["1 m"] }},
  {{ name = "tank drain", kind = "gravity", from = "tank", to = "join", legs = ["1 m"] }},
  {{ name = "last", kind = "gravity", from = "join", to = "sump", legs = ["1 m"] }},
  {{ name = "mint drain", kind = "gravity", from = "mint", {mint} }},
  {{ name = "sage drain", kind = "gravity", from = "sage", to = "sump", {sage} }},
]
"""

MINT, SAGE = 'to = "sump", level = "1 m", screen = true', 'legs = ["1 m"]'


@pytest.mark.parametrize(
    ("mint", "sage", "said"),
    [
        (MINT, SAGE, None),
        (f'{MINT}, draw = "outside siphon"', SAGE, None),
        (
            f'{MINT}, draw = "standpipe"',
            SAGE,
            "run.mint drain.draw: mint drain drains a bed with a siphon pipe outside, and does not begin",
        ),
        (
            MINT,
            'level = "1 m", screen = true, draw = "outside siphon"',
            "run.sage drain.draw: sage drain begins as a siphon pipe outside, and sage is no bed with",
        ),
        (
            'to = "join", legs = ["1 m"], screen = true',
            SAGE,
            "run.mint drain.to: mint drain is a siphon pipe, whose end hangs free over a vessel's",
        ),
        (
            'to = "sump", legs = ["1 m"], screen = true',
            SAGE,
            "run.mint drain.legs: mint drain is a siphon pipe, whose uprights follow from its hole",
        ),
        (
            'to = "sump", level = "1 m"',
            SAGE,
            "run.mint drain.screen: mint drain is a siphon pipe, which draws through the gravel of its",
        ),
        (
            f'{MINT}, class = "drains"',
            f'{SAGE}, class = "drains"',
            'runs of the class "drains" go to beds with a siphon pipe outside and to others; give those',
        ),
    ],
    ids=str,
)
def test_mistakes_of_the_long_form(tmp_path: Path, mint: str, sage: str, said: str | None) -> None:
    """One drain of such a bed begins so, has a screen, is known on the plan and ends at a vessel."""
    path = tmp_path / "long.toml"
    path.write_text(LONG.format(mint=mint, sage=sage), encoding="utf-8")
    if said is None:
        runs = load_problem(path).outline.runs
        assert (runs["mint drain"].draw, runs["sage drain"].draw) == (Draw.OUTSIDE, Draw.STANDPIPE)
        return
    with pytest.raises(InputError) as caught:
        load_problem(path)
    assert said in str(caught.value)


def test_no_other_vessel_has_one() -> None:
    """A fish tank's drain does not begin so."""
    with pytest.raises(InputError) as caught:
        outside.problem("", more="", tank='draw = "outside siphon"')
    assert 'tank.draw: "outside siphon" is not known here; write one of "wall"' in str(caught.value)


def test_two_drains_of_one_bed(tmp_path: Path) -> None:
    """Nobody knows which of them breaks first."""
    other = 'run = [\n  {{ name = "second", kind = "gravity", from = "mint", to = "sump", level = "1 m" }},'
    path = tmp_path / "long.toml"
    path.write_text(LONG.replace("run = [", other, 1).format(mint=MINT, sage=SAGE), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_problem(path)
    assert "2 drains leave mint, which a siphon pipe outside is to empty; let one drain leave it" in str(
        caught.value
    )


def test_it_is_refused_with_exit_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On the command line a mistake is one sentence with place and cure, and the code of bad input."""
    path = tmp_path / "shared.toml"
    path.write_text(outside.text(f'{outside.BEDS}\nbed_drains = "shared"'), encoding="utf-8")
    assert run(["design", str(path), "--quiet"]) == 2
    assert "beds: a siphon pipe outside a bed falls free to a vessel" in capsys.readouterr().err
