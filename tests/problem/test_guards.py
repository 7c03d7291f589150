"""How a problem file says what keeps a vessel from siphoning back."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan.errors import InputError
from autoplan.problem.site import Guard, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml

SHORT = """
[tank]
volume = "1000 L"
{tank}
[beds]
count = 1
area = "1.2 m2"
[sump]
volume = "800 L"
"""


def load(folder: Path, text: str) -> Site:
    """The site of a problem text."""
    path = folder / "problem.toml"
    path.write_text(text, encoding="utf-8")
    return load_problem(path).outline


def told(folder: Path, text: str) -> list[str]:
    """The mistakes of a problem text."""
    with pytest.raises(InputError) as caught:
        load(folder, text)
    return [f"{mistake.place}: {mistake.problem}" for mistake in caught.value.mistakes]


@pytest.mark.parametrize("guard", Guard)
def test_below_the_tank(tmp_path: Path, guard: Guard) -> None:
    """The key of the short form is for the tank's inlet alone; a bed's keeps its air gap."""
    site = load(tmp_path, SHORT.format(tank=f'siphon_back = "{guard}"'))
    assert site.runs["tank feed"].siphon_back is guard
    assert site.runs["bed feed 1"].siphon_back is Guard.AIR_GAP
    assert not any("siphon_back" in assumed.place for assumed in site.assumptions)
    three = (Guard.AIR_GAP, Guard.HOLE, Guard.CHECK_VALVE)
    assert site.guards(site.runs["tank feed"]) == (three if guard is Guard.ANY else (guard,))
    assert site.guards(site.runs["bed feed 1"]) == (Guard.AIR_GAP,)


def test_nothing_said_is_any(tmp_path: Path) -> None:
    """Left out, the cheapest is taken, and that is told as an assumption."""
    site = load(tmp_path, SHORT.format(tank=""))
    assert site.runs["tank feed"].siphon_back is Guard.ANY
    (assumed,) = [assumed for assumed in site.assumptions if assumed.place == "tank.siphon_back"]
    assert (assumed.text, assumed.mark) == ("any", "common practice, no source")


def test_written_out_and_read_again(tmp_path: Path) -> None:
    """The long form says it on the run."""
    text = expand_to_toml(load(tmp_path, SHORT.format(tank='siphon_back = "hole"')))
    assert text.count('siphon_back = "hole"') == 1
    again = load(tmp_path, text)
    assert again.runs["tank feed"].siphon_back is Guard.HOLE
    assert again.runs["bed feed 1"].siphon_back is Guard.AIR_GAP


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('siphon_back = "any"', 'siphon_back = "flap"', 'tank feed.siphon_back: "flap" is not known here'),
        (
            'siphon_back = "any"',
            'siphon_back = "hole"\nentry = "through the wall"',
            "a pipe that comes through the wall has no upright for a siphon-break hole",
        ),
        (
            'name = "bed feed 1"',
            'name = "bed feed 1"\nsiphon_back = "hole"',
            "a bed's water goes up and down",
        ),
        ('name = "tank drain"', 'name = "tank drain"\nsiphon_back = "any"', "only a pressure run that ends"),
        ('name = "main"', 'name = "main"\nsiphon_back = "check valve"', "only a pressure run that ends"),
    ],
)
def test_what_cannot_be(tmp_path: Path, old: str, new: str, problem: str) -> None:
    """Each mistake is told at its run: a word that is not known, a run that has no such guard."""
    text = expand_to_toml(load(tmp_path, SHORT.format(tank='siphon_back = "any"')))
    assert old in text
    if "entry" in new:
        at = text.index('name = "tank feed"')
        text = text[:at] + text[at:].replace('entry = "any"', "", 1)
        new = new.replace("through the wall", "wall")
    found = told(tmp_path, text.replace(old, new, 1))
    assert any(problem in mistake for mistake in found), found


def test_without_a_sump_there_is_none(tmp_path: Path) -> None:
    """With the pump in the tank no inlet of the tank is pumped."""
    text = 'arrangement = "no sump"\n' + SHORT.format(tank='siphon_back = "hole"')
    found = told(tmp_path, text.replace('[sump]\nvolume = "800 L"\n', ""))
    assert any(mistake.startswith("tank.siphon_back: without a sump") for mistake in found), found
