"""Timed beds as the problem file has them: clock, hole and inflow by hand, and the long form."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from autoplan.errors import InputError
from autoplan.problem.site import BedDrain, BedTimer, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.sentence import as_written

G = 9.80665


def load(folder: Path, beds: str, more: str = "", tank: str = "-300 mm") -> Site:
    """A tank, timed beds and a sump."""
    path = folder / "timed.toml"
    path.write_text(
        f'{more}\n[tank]\nvolume = "900 L"\nfloor = "{tank}"\n[beds]\narea = "1.2 m2"\nfloor = "620 mm"\n'
        f'drain = "timer"\n{beds}\n[sump]\nvolume = "800 L"\nfloor = "-900 mm"\n'
    )
    return load_problem(path).outline


def timer(site: Site) -> BedTimer:
    """The first bed's timer."""
    return next(iter(site.timed_beds().values()))


def empties_s(diameter_m: float, wet_m2: float, head_m: float) -> float:
    """2 A (sqrt h - sqrt (d / 2)) / (0.6 a sqrt (2 g)), to the hole's top edge."""
    area = math.pi / 4 * diameter_m**2
    return 2 * wet_m2 * (math.sqrt(head_m) - math.sqrt(diameter_m / 2)) / (0.6 * area * math.sqrt(2 * G))


def test_clock_hole_and_inflow_by_hand(tmp_path: Path) -> None:
    """Once an hour: 24 min open; the hole empties 210 mm in 28.8 of 36 min; inflow 333 and 416 L/h.

    Water per flood 1.2 m2 x 0.25 m x 0.4 = 120 L, in nine tenths of 24 min 333.3 L/h. With 0.48 m2 of water
    10 mm would take 1783 s, more than 1728, and 11 mm takes 1460. It leaks 0.6 x 95.03 mm2 x 2.0295 m/s.
    """
    site = load(tmp_path, 'count = 2\nfloods = "1/hour"')
    found = timer(site)
    assert (found.on_s, found.height_m) == (1440.0, 0.040)
    assert empties_s(0.010, 0.48, 0.21) == pytest.approx(1783, abs=1)
    assert empties_s(0.011, 0.48, 0.21) == pytest.approx(1460, abs=1)
    assert found.hole_m == 0.011
    by_hand = 120 / 0.36 + 0.6 * 95.0332e-6 * 2.02947 * 3.6e6
    assert by_hand == pytest.approx(749.9, abs=0.1)
    assert found.inflow_m3_s * 3.6e6 == pytest.approx(by_hand, rel=1e-5)


def test_what_feeds_and_drains_it(tmp_path: Path) -> None:
    """The feed carries the open valve's flow, the main all of them at once, the drain no more than comes."""
    site = load(tmp_path, 'count = 2\nfloods = "1/hour"')
    inflow, turnover = timer(site).inflow_m3_s, 0.9 * 1.5 / 3600
    flows = site.flows
    assert flows["bed feed 1"].design_m3_s == flows["bed feed 2"].design_m3_s == pytest.approx(inflow)
    assert flows["main"].design_m3_s == pytest.approx(2 * inflow + turnover)
    assert flows["bed drain 1"].peak_m3_s == flows["bed drain 1"].design_m3_s == pytest.approx(inflow)
    assert flows["tank feed"].design_m3_s == pytest.approx(turnover)


@pytest.mark.parametrize(
    ("given", "found"),
    [
        ('floods = "2/hour"', (720.0, 0.015, 0.040)),
        ('floods = "2/hour"\non_time = "15 min"', (900.0, 0.016, 0.040)),
        ('floods = "2/hour"\non_time = "600 s"\nhole = "16 mm"', (600.0, 0.016, 0.040)),
        ('floods = "4/day"', (8640.0, 0.006, 0.040)),
        ('floods = "1/hour"\nhole_height = "1 in"', (1440.0, 0.011, 0.0254)),
    ],
)
def test_what_is_given_is_kept(tmp_path: Path, given: str, found: tuple[float, float, float]) -> None:
    """Open time, hole and its height are the builder's where given; no hole is under 6 mm by itself."""
    beds = timer(load(tmp_path, f"count = 1\n{given}"))
    assert (beds.on_s, beds.hole_m, beds.height_m) == pytest.approx(found)


def test_the_default_hole_is_just_enough(tmp_path: Path) -> None:
    """For each clock the hole empties the bed in four fifths of the shut time, and none smaller does."""
    for per_hour in (0.5, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0):
        found = timer(load(tmp_path, f'count = 1\nfloods = "{per_hour}/hour"'))
        shut = 3600 / per_hour - found.on_s
        assert found.on_s == pytest.approx(0.4 * 3600 / per_hour, abs=1.0)
        assert empties_s(found.hole_m, 0.48, 0.21) <= 0.8 * shut
        assert empties_s(found.hole_m - 0.001, 0.48, 0.21) > 0.8 * shut


def test_each_default_is_an_assumption(tmp_path: Path) -> None:
    """Open time, height, hole and drain peak are assumptions with their marks; what is given is none."""
    site = load(tmp_path, 'count = 1\nfloods = "1/hour"')
    said = {a.place: (a.text, a.mark) for a in site.assumptions}
    assert said["beds.on_time"] == ("24 min", "from memory")
    assert said["beds.hole_height"] == ("40 mm", "from memory")
    assert said["beds.hole"] == ("11 mm", "follows from the other values")
    assert said["beds.drain_peak"] == ("1", "follows from the other values")
    site = load(tmp_path, 'count = 1\non_time = "8 min"\nhole = "16 mm"\nhole_height = "35 mm"')
    assert not {"beds.on_time", "beds.hole", "beds.hole_height"} & {a.place for a in site.assumptions}


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0.3, 4.0), st.integers(120, 280), st.floats(0.2, 0.7), st.sampled_from(["", "0.35"]))
def test_any_timed_bed_survives_the_round_trip(
    tmp_path: Path, floods: float, flood_mm: int, share: float, void: str
) -> None:
    """Odd clocks and depths: the long form is the same site, and leaves nothing to assume."""
    minutes = 60 / floods * share
    beds = f'count = 2\nfloods = "{floods:.7f}/hour"\nflood = "{flood_mm} mm"\non_time = "{minutes:.6f} min"'
    try:
        site = load(tmp_path, beds + (f"\nvoid = {void}" if void else ""))
    except InputError:
        # A few want a hole wider than 50 mm, which `test_mistakes` looks at.
        assume(False)
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site), encoding="utf-8")
    again = load_problem(path).outline
    assert again.assumptions == ()
    assert replace(again, file=site.file, assumptions=site.assumptions) == site


@pytest.mark.parametrize(
    ("tank", "why"), [("500 mm", "fed by gravity"), ("-300 mm", "nothing but timed beds")]
)
def test_any_leaves_out_what_no_timer_suits(tmp_path: Path, tank: str, why: str) -> None:
    """Of every arrangement only the parallel one feeds timed beds from a pump that always has a way."""
    load(tmp_path, "count = 1", 'arrangement = "any"', tank)
    problem = load_problem(tmp_path / "timed.toml")
    assert [layout.arrangement for layout in problem.layouts] == ["parallel"]
    assert any(why in as_written(sentence) for sentence in problem.left_out)


def test_a_bed_without_a_timer_has_none(tmp_path: Path) -> None:
    """The other drains are as before, and ask for no clock."""
    path = tmp_path / "plain.toml"
    text = '[tank]\nvolume = "900 L"\n[beds]\ncount = 1\narea = "1 m2"\n{}[sump]\nvolume = "800 L"\n'
    for word, drain in (("", BedDrain.SIPHON), ('drain = "standpipe"\n', BedDrain.STANDPIPE)):
        path.write_text(text.format(word))
        site = load_problem(path).outline
        bed = site.vessels["bed 1"].bed
        assert bed is not None
        assert (bed.drain, bed.timer, bed.by_turns) == (drain, None, drain is BedDrain.SIPHON)
        assert not [a for a in site.assumptions if a.place in ("beds.hole", "rules.timer-fill.margin")]
