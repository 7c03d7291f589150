"""A default is an assumption only where it has an effect."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.problem.site import Site

SHORT = """
arrangement = "{word}"
[tank]
volume = "{tank_l} L"
depth = "500 mm"
floor = "{floor} mm"
[beds]
count = {beds}
area = "1 m2"
floor = "{above} mm"
{more}
{sump}
[wishes]
turnover = "1/hour"
"""

SUMP = """[sump]
volume = "400 L"
depth = "500 mm"
floor = "-400 mm"
"""


def loaded(
    folder: Path, word: str, tank_l: float, beds: int, more: str = "", floor: int = 750, above: int = 600
) -> Site:
    """A short form with beds of 1 m2, two fifths of it water, flooded 250 mm: 100 L a flood."""
    path = folder / "problem.toml"
    sump = "" if word == "no sump" else SUMP
    path.write_text(
        SHORT.format(word=word, tank_l=tank_l, beds=beds, more=more, sump=sump, floor=floor, above=above)
    )
    return autoplan.load_problem(path).outline


def floods_noted(site: Site) -> bool:
    """Whether the floods are among the assumptions."""
    return "beds.floods" in {assumed.place for assumed in site.assumptions if not assumed.moot}


@pytest.mark.parametrize(("tank_l", "noted"), [(399.0, True), (401.0, False)])
def test_floods_count_where_they_set_the_flow(tmp_path: Path, tank_l: float, noted: bool) -> None:
    """Two beds in series take 2 x 100 L x 2/hour: a tank that asks for more leaves floods without effect."""
    site = loaded(tmp_path, "series", tank_l, 2)
    assert floods_noted(site) is noted
    most = max(400.0, tank_l)
    assert site.flows["main"].design_m3_s * 3.6e6 == pytest.approx(most)


@pytest.mark.parametrize(("tank_l", "noted"), [(199.0, True), (201.0, False)])
def test_without_a_sump_the_turnover_may_rule(tmp_path: Path, tank_l: float, noted: bool) -> None:
    """One bed takes 100 L x 2/hour out of the tank, and a larger tank's turnover asks for more."""
    site = loaded(tmp_path, "no sump", tank_l, 1, floor=0, above=700)
    assert floods_noted(site) is noted


def test_beside_a_split_floods_always_count(tmp_path: Path) -> None:
    """In parallel each bed gets what its floods ask for, however much the tank gets."""
    assert floods_noted(loaded(tmp_path, "parallel", 900.0, 1))


def test_a_clock_goes_by_its_floods(tmp_path: Path) -> None:
    """A timed bed's valve opens as often as assumed, and its hole and inflow follow from that."""
    assert floods_noted(loaded(tmp_path, "parallel", 900.0, 1, 'drain = "timer"'))


def test_what_is_given_is_no_assumption(tmp_path: Path) -> None:
    """With floods in the file there is nothing to leave out, and the flow is the same."""
    site = loaded(tmp_path, "series", 399.0, 2, 'floods = "1/hour"')
    assert not floods_noted(site)
    assert site.flows["main"].design_m3_s * 3.6e6 == pytest.approx(399.0)
