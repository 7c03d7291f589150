"""Beds' drains together: what the short form lays, what flows, where air comes in, what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.errors import InputError
from autoplan.problem.brief import BedDrains
from autoplan.problem.flows import flows, gravity_paths, open_paths, open_pieces, vented
from autoplan.problem.problem import Problem
from autoplan.problem.site import OnPlan, Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.sentence import as_written

LITRES_PER_HOUR = 3.6e6


def loaded(folder: Path, beds: str = "", count: int = 3, rest: str = "", head: str = "") -> Problem:
    """Beds of 1 m2 that hold 100 L a flood, their undersides at 594 mm, and the rest at its defaults."""
    path, between = folder / "problem.toml", 'between_beds = "1.5 m"\n' if count > 1 else ""
    path.write_text(
        f'{head}\n[tank]\nvolume = "1000 L"\n[beds]\ncount = {count}\narea = "1 m2"\nfloor = "600 mm"\n'
        f'{beds}\n[sump]\nvolume = "900 L"\n[distances]\n{between}bed_to_sump = "4 m"\n{rest}',
        encoding="utf-8",
    )
    return load_problem(path)


def shared(folder: Path, beds: str = "", count: int = 3, rest: str = "") -> Site:
    """The site of beds that drain together."""
    return loaded(folder, f'bed_drains = "shared"\n{beds}', count, rest).outline


def heights(site: Site) -> dict[str, float | None]:
    """Where drains meet [mm]."""
    return {
        name: None if joint.height_m is None else round(1000 * joint.height_m, 3)
        for name, joint in site.junctions.items()
        if name.startswith("collector")
    }


def test_what_is_laid(tmp_path: Path) -> None:
    """From the farthest bed to the sump, 10 mm a metre down; the head 150 mm under the beds."""
    site = shared(tmp_path)
    assert [(run.name, run.start, run.finish) for run in site.runs.values() if "drain" in run.name] == [
        ("tank drain", "tank", "sump"),
        ("bed drain 1", "bed 1", "collector tee 1"),
        ("bed drain 2", "bed 2", "collector tee 2"),
        ("bed drain 3", "bed 3", "collector head"),
    ]
    pipes = {run.name: run for run in site.runs.values() if run.name.startswith("collector")}
    assert [(run.name, run.start, run.finish, run.run_class) for run in pipes.values()] == [
        ("collector 3", "collector head", "collector tee 2", "collector head"),
        ("collector 2", "collector tee 2", "collector tee 1", "collector"),
        ("collector 1", "collector tee 1", "sump", "collector end"),
    ]
    assert [run.plan for run in pipes.values()] == [
        OnPlan((1.5,)),
        OnPlan((1.5,)),
        OnPlan((2.0, 2.0), (90,)),
    ]
    assert heights(site) == {"collector head": 444, "collector tee 2": 429, "collector tee 1": 414}
    # 20 mm over the beds' rims, which are 320 mm over their floors.
    assert [run.vent_m for run in pipes.values()] == [0.94, None, None]


@pytest.mark.parametrize(
    ("lies", "fall", "lowest"),
    [
        ("250 mm", "10 mm/m", 250),
        ("on the ground", "10 mm/m", 50),
        ("buried 300 mm", "20 mm/m", -300),
        ("under the beds", "20 mm/m", 384),
    ],
)
def test_where_it_lies(tmp_path: Path, lies: str, fall: str, lowest: int) -> None:
    """Its lowest tee lies where the file says; under the beds its head does."""
    site = shared(tmp_path, f'collector_fall = "{fall}"', rest=f'[heights]\nbed_to_sump = "{lies}"\n')
    step = 15 if fall == "10 mm/m" else 30
    assert heights(site) == {
        "collector tee 1": lowest,
        "collector tee 2": lowest + step,
        "collector head": lowest + 2 * step,
    }


@pytest.mark.parametrize(("at_once", "together"), [(None, 3), (3, 3), (2, 2), (1, 1)])
def test_as_many_as_empty_at_once(tmp_path: Path, at_once: int | None, together: int) -> None:
    """A bed of 200 L/h empties at 600 L/h; behind the last tee so many do so, and the others as they fill."""
    site = shared(tmp_path, "" if at_once is None else f"empty_at_once = {at_once}")
    peaks = {name: flow.peak_m3_s * LITRES_PER_HOUR for name, flow in site.flows.items()}
    assert peaks["bed drain 1"] == pytest.approx(600)
    assert peaks["collector 3"] == pytest.approx(600)
    assert peaks["collector 2"] == pytest.approx(1200 if together > 1 else 800)
    assert peaks["collector 1"] == pytest.approx(600 * together + 200 * (3 - together))
    assert site.flows["collector 1"].design_m3_s * LITRES_PER_HOUR == pytest.approx(600)


def test_where_air_comes_in(tmp_path: Path) -> None:
    """At every place where a bed's drain comes in; each way down is cut there, and its pieces are."""
    site = shared(tmp_path, count=2)
    assert set(vented(site)) == {"collector head", "collector tee 1"}
    far = ("bed drain 2", "collector 2", "collector 1")
    assert far in gravity_paths(site)
    assert {far[:1], far[:2], far, ("bed drain 1",)} < set(open_paths(site))
    assert set(open_pieces(site)) == {
        ("tank drain",),
        ("bed drain 1",),
        ("bed drain 2",),
        ("collector 2",),
        ("collector 1",),
    }


def test_no_air_where_nothing_lets_it_in(tmp_path: Path) -> None:
    """Without a vent the head is closed; a tee of unknown height is taken as full; then ways are whole."""
    site = shared(tmp_path, count=2)
    runs = {name: replace(run, vent_m=None) for name, run in site.runs.items()}
    assert vented(replace(site, runs=runs)) == ("collector tee 1",)
    unknown = {name: replace(joint, height_m=None) for name, joint in site.junctions.items()}
    closed = replace(site, runs=runs, junctions=unknown)
    assert vented(closed) == ()
    assert open_paths(closed) == open_pieces(closed) == gravity_paths(closed)


def test_long_form(tmp_path: Path) -> None:
    """Written out and read again nothing is different: heights, vent, how many at once."""
    site = shared(tmp_path, "empty_at_once = 2\n")
    text = expand_to_toml(site)
    assert 'vent = "940 mm"' in text
    assert "at_once = 2" in text
    (tmp_path / "long.toml").write_text(text, encoding="utf-8")
    again = load_problem(tmp_path / "long.toml").outline
    assert (again.runs, again.junctions, again.flows) == (site.runs, site.junctions, site.flows)
    assert flows(again) == site.flows


def test_either(tmp_path: Path) -> None:
    """Left open there are two layouts, named so; the default is a drain of each bed's own."""
    problem = loaded(tmp_path, 'bed_drains = "any"')
    assert [layout.bed_drains for layout in problem.layouts] == [BedDrains.EACH, BedDrains.SHARED]
    each, together = problem.layouts
    assert dict(problem.site_of(each).runs) == dict(loaded(tmp_path).outline.runs)
    assert dict(problem.site_of(together).runs) == dict(shared(tmp_path).runs)
    (only,) = loaded(tmp_path).layouts
    assert only.bed_drains is None
    assert "beds.bed_drains" in {assumed.place for assumed in only.assumptions}


def test_left_out(tmp_path: Path) -> None:
    """One bed has nothing to share: left open it drains by itself, and the answer says why."""
    problem = loaded(tmp_path, 'bed_drains = "any"', count=1)
    assert [layout.bed_drains for layout in problem.layouts] == [BedDrains.EACH]
    (said,) = problem.left_out
    assert as_written(said).startswith(
        "Left out: bed drains shared, since at beds.bed_drains there are no two beds"
    )


def test_in_every_arrangement(tmp_path: Path) -> None:
    """Two arrangements that can be built, with either way for their beds to drain."""
    head = 'arrangement = "any"'
    problem = loaded(tmp_path, 'bed_drains = "any"', head=head)
    ways = {(str(layout.arrangement), str(layout.bed_drains)) for layout in problem.layouts}
    assert ("parallel", "each") in ways
    assert ("parallel", "shared") in ways
    assert len(ways) == len(problem.layouts)


WRONG = [
    ('bed_drains = "both"', 3, "", "beds.bed_drains"),
    ('bed_drains = "shared"', 1, "", "beds.bed_drains"),
    ('bed_drains = "shared"\nspare_beds = 1', 3, "", "beds.bed_drains"),
    ('bed_drains = "shared"\nempty_at_once = 4', 3, "", "beds.empty_at_once"),
    ('bed_drains = "shared"\nempty_at_once = 0', 3, "", "beds.empty_at_once"),
    ('bed_drains = "shared"\ncollector_fall = "31 mm/m"', 3, "", "beds.collector_fall"),
    ('bed_drains = "shared"\ncollector_fall = "0 mm/m"', 3, "", "beds.collector_fall"),
    ("empty_at_once = 2", 3, "", "beds"),
    ('collector_fall = "10 mm/m"', 3, "", "beds"),
    ("", 3, 'bed_to_collector = "1 m"', "distances.bed_to_collector"),
    ('bed_drains = "shared"', 3, '[heights]\nbed_to_collector = "1 m"', "heights.bed_to_collector"),
    ('bed_drains = "shared"', 3, '[heights]\nbed_to_sump = "594 mm"', "heights.bed_to_sump"),
]


@pytest.mark.parametrize(("beds", "count", "rest", "place"), WRONG)
def test_what_is_refused(tmp_path: Path, beds: str, count: int, rest: str, place: str) -> None:
    """Each mistake by its place, and nothing besides."""
    with pytest.raises(InputError) as refused:
        loaded(tmp_path, beds, count, rest)
    assert [mistake.place for mistake in refused.value.mistakes] == [place]


def test_just_right(tmp_path: Path) -> None:
    """The other side of what is refused: the steepest fall, all beds at once, a millimetre of fall."""
    shared(tmp_path, 'empty_at_once = 3\ncollector_fall = "30 mm/m"')
    site = shared(tmp_path, 'collector_fall = "2 mm/m"', rest='[heights]\nbed_to_sump = "587 mm"\n')
    assert heights(site) == {"collector tee 1": 587, "collector tee 2": 590, "collector head": 593}


CHANGED = [
    ('vent = "940 mm"', 'vent = "444 mm"', "run.collector 3.vent"),
    ('height = "444 mm"\n', "", "run.collector 3.vent"),
    ('height = "429 mm"', 'height = "445 mm"', "junction.collector tee 2.height"),
]


@pytest.mark.parametrize(("old", "new", "place"), CHANGED)
def test_what_the_long_form_refuses(tmp_path: Path, old: str, new: str, place: str) -> None:
    """A vent no higher than its foot or on a foot nobody knows, a collector that rises."""
    text = expand_to_toml(shared(tmp_path))
    assert old in text
    (tmp_path / "long.toml").write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        load_problem(tmp_path / "long.toml")
    assert place in {mistake.place for mistake in refused.value.mistakes}
