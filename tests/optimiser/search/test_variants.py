"""The sites that a problem stands for: places in a range of floods, vessels to buy, what does not fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.optimiser.search.variants import Variant, variants_of
from autoplan.problem.brief import PrintUnits
from autoplan.problem.problem import Problem, problem_of
from autoplan.problem.site import Site
from autoplan.problem.toml.load import load_problem
from autoplan.report.units import units_of
from autoplan.sentence import as_written

HOUR = 3600.0
PROBLEMS = Path(__file__).parents[3] / "problems"
SITE = Callable[..., Site]


def load(folder: Path, text: str) -> Problem:
    """The problem of a text."""
    path = folder / "problem.toml"
    path.write_text(text, encoding="utf-8")
    return load_problem(path)


def short(arrangement: str, sump: str, floods: str = "") -> str:
    """A tank of 300 L at 1 an hour high on a bank, one bed of 100 L a flood."""
    return (
        f'arrangement = "{arrangement}"\n[tank]\nvolume = "300 L"\ndepth = "600 mm"\nfloor = "900 mm"\n'
        "overflow = false\n"
        f'[beds]\ncount = 1\narea = "1 m2"\n{floods}\n[sump]\n{sump}\n[wishes]\nturnover = "1/hour"\n'
    )


def hourly(variant: Variant, run: str) -> float:
    """Design flow of a run [L/h]."""
    return variant.site.flows[run].design_m3_s * HOUR * 1000


def test_nothing_open_is_the_problem_itself(tmp_path: Path, metric: Catalog) -> None:
    """A problem that leaves nothing open stands for itself, and nothing tells it apart."""
    text = (PROBLEMS / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    problem = load(tmp_path, text.replace("[beds]", "overflow = false\n[beds]", 1))
    assert variants_of(problem, metric) == ([Variant(problem.outline)], ())


def test_five_even_steps_of_floods(tmp_path: Path, metric: Catalog) -> None:
    """From one to three floods of 100 L an hour: 100, 150, 200, 250 and 300 L/h, each said and assumed."""
    site = load(tmp_path, short("parallel", 'volume = "500 L"', 'floods = ["1/hour", "3/hour"]'))
    found, left_out = variants_of(site, metric)
    assert left_out == ()
    assert [hourly(one, "bed feed 1") for one in found] == pytest.approx([100, 150, 200, 250, 300])
    assert [one.said for one in found] == [f"floods {n}/hour" for n in ("1", "1.5", "2", "2.5", "3")]
    chosen = found[1].site.assumptions[-1]
    assert (chosen.place, chosen.text) == ("beds.floods", "1.5/hour")
    assert "from 1/hour to 3/hour" in chosen.why


def test_steps_that_come_to_the_same_flow_are_one(tmp_path: Path, metric: Catalog) -> None:
    """In series the tank gives the bed 300 L/h whatever fewer floods it asks for; above, the bed rules."""
    site = load(tmp_path, short("series", 'volume = "500 L"', 'floods = ["1/hour", "5/hour"]'))
    found, _ = variants_of(site, metric)
    assert [hourly(one, "bed feed 1") for one in found] == pytest.approx([300, 400, 500])
    assert [one.traits["floods"] for one in found] == ["3/hour", "4/hour", "5/hour"]


def ranged(site: Site, *names: str) -> Site:
    """The site with a range of floods for these beds."""
    vessels = dict(site.vessels)
    for name in names:
        bed = vessels[name].bed
        assert bed is not None
        vessels[name] = replace(vessels[name], bed=replace(bed, floods_range=(1 / HOUR, 3 / HOUR)))
    return replace(site, vessels=vessels)


def test_beds_fed_alike_move_together(site_of: SITE, metric: Catalog) -> None:
    """Two beds whose feeds are of one class are at the same place of their range in each variant."""
    found, _ = variants_of(problem_of(ranged(site_of(beds=2), "bed 1", "bed 2")), metric)
    assert len(found) == 5
    for one in found:
        assert hourly(one, "bed 1 feed") == pytest.approx(hourly(one, "bed 2 feed"))


def test_two_ranges_move_by_themselves(site_of: SITE, metric: Catalog) -> None:
    """Two beds fed otherwise take three places each, in every combination."""
    site = ranged(site_of(beds=2), "bed 1", "bed 2")
    other = replace(site.runs["bed 2 feed"], run_class="long feed")
    found, _ = variants_of(problem_of(replace(site, runs={**site.runs, "bed 2 feed": other})), metric)
    assert len(found) == 9
    flows = {(round(hourly(one, "bed 1 feed")), round(hourly(one, "bed 2 feed"))) for one in found}
    # 0.3 m2 x 250 mm x 0.4 is 30 L a flood
    assert flows == {(a, b) for a in (30, 60, 90) for b in (30, 60, 90)}
    assert found[1].said == "floods of bed 1 1/hour, floods of bed 2 2/hour"


def test_every_arrangement_with_every_tub(tmp_path: Path, metric: Catalog) -> None:
    """Two arrangements and two tubs are four sites, each tub with its own size and part."""
    site = load(tmp_path, short("any", 'choose = ["tub-300", "tub-600"]\nfloor = "-400 mm"'))
    found, left_out = variants_of(site, metric)
    assert [one.said for one in found] == [
        "parallel, sump tub-300",
        "parallel, sump tub-600",
        "series, sump tub-300",
        "series, sump tub-600",
    ]
    for one in found:
        sump, tub = one.site.vessels["sump"], metric.vessels[one.traits["sump"]]
        assert sump.part == tub.id
        assert (sump.depth_m, sump.area_m2, sump.wall_m) == (tub.depth_m, tub.area_m2, tub.wall_m)
        assert sump.floor_m == -0.4
        assert sump.water_max_m == pytest.approx(-0.4 + tub.depth_m - 0.08)
        assert one.kind == (one.traits["arrangement"], tub.id)
    assert len(left_out) == 1
    assert as_written(left_out[0]).startswith("Left out: no sump, since")


def test_any_vessel_of_the_list(tmp_path: Path, metric: Catalog) -> None:
    """ "any" is each that the price list has."""
    site = load(tmp_path, short("parallel", 'choose = "any"\nfloor = "-700 mm"'))
    found, _ = variants_of(site, metric)
    assert [one.traits["sump"] for one in found] == list(metric.vessels)


def test_a_tub_too_tall_for_the_beds_is_left_out(tmp_path: Path, metric: Catalog) -> None:
    """A bed at 600 mm cannot run empty into a tub of 600 mm that stands at 100 mm: it is said why."""
    site = load(tmp_path, short("parallel", 'choose = ["tub-220", "tub-1000"]\nfloor = "100 mm"'))
    found, left_out = variants_of(site, metric)
    assert len(found) == 1
    assert found[0].site.vessels["sump"].part == "tub-220"
    (said,) = left_out
    words = "Left out: sump.choose, tub-1000, since the floor of bed 1 at {} is lower"
    assert as_written(said).startswith(words.format("600 mm"))
    assert units_of(PrintUnits.US).told(said).startswith(words.format("600 mm (23.62 in)"))


def test_no_tub_that_fits_is_a_mistake(tmp_path: Path, metric: Catalog) -> None:
    """Where none fits, the mistakes of each are told."""
    site = load(tmp_path, short("parallel", 'choose = ["tub-600", "tub-1000"]\nfloor = "300 mm"'))
    with pytest.raises(InputError) as caught:
        variants_of(site, metric)
    assert [mistake.place for mistake in caught.value.mistakes] == [
        "sump.choose, tub-600",
        "sump.choose, tub-1000",
    ]


def test_unknown_tubs_with_all_other_mistakes(tmp_path: Path, metric: Catalog) -> None:
    """Tubs that the price list does not have are told together with unknown parts."""
    sump = 'choose = ["tub-60", "barrel"]\nfloor = "-400 mm"'
    site = replace(load(tmp_path, short("parallel", sump)), owned={"zzz": 1})
    with pytest.raises(InputError) as caught:
        autoplan.design(site, metric)
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert len(told) == 3
    assert any("sump.choose" in line and "'tub-60'; did you mean 'tub-600'" in line for line in told)
    assert any("sump.choose" in line and "'barrel'; it has tub-220" in line for line in told)
    with pytest.raises(InputError) as caught:
        autoplan.design(site, replace(metric, vessels={}))
    assert any("has no vessels to choose from" in str(mistake) for mistake in caught.value.mistakes)
