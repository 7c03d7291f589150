"""Gaps in a price list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from autoplan.catalog.check import audit
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog, SundryKind

Edit = Callable[[str, str, str], Path]


def test_metric_has_no_gaps(metric: Catalog) -> None:
    """Every part of the metric price list can be used."""
    assert audit(metric) == ()


def test_the_small_list_has_none_either(small: Catalog) -> None:
    """One bush joins its two sizes, one adaptor reaches its pump."""
    assert audit(small) == ()


def test_a_missing_bush_is_noticed(edited: Edit) -> None:
    """Without the bush between them, 32 and 50 are apart."""
    folder = edited("joints.csv", "spigot metric 50,socket metric 32", "socket metric 50,socket metric 50")
    notes = audit(load_catalog(folder))
    assert [(Path(note.file).name, note.place) for note in notes] == [("pipes.csv", "line 3")]
    assert "spigot metric 32 to the next size, spigot metric 50" in notes[0].problem


def test_a_lonely_part_is_noticed(edited: Edit) -> None:
    """A tail for which there is no pipe is told by its row, and the pump that needed the other as well."""
    folder = edited("systems.csv", "poly,25,,25,", "poly,32,,32,,,invented\npoly,25,,25,")
    (folder / "joints.csv").write_text(
        (folder / "joints.csv").read_text(encoding="utf-8").replace("barb poly 25", "barb poly 32"),
        encoding="utf-8",
    )
    problems = [note.problem for note in audit(load_catalog(folder))]
    assert "nothing mates with the barb poly 32 of tail-1-25" in problems
    assert "nothing mates with the bore poly 25 of line-25" in problems


def test_a_pump_that_no_pipe_reaches(edited: Edit) -> None:
    """Its outlet mates with a part, but nothing leads on from there to a pipe."""
    folder = edited("joints.csv", "socket metric 32,female G 1", "female G 1,female G 1")
    (folder / "joints.csv").write_text(
        (folder / "joints.csv")
        .read_text(encoding="utf-8")
        .replace("male G 1,barb poly 25", "male G 1,male G 1"),
        encoding="utf-8",
    )
    notes = audit(load_catalog(folder))
    assert "no pipe can be joined to the outlet of pump-3000, male G 1" in [note.problem for note in notes]


def test_a_pump_whose_curve_ends_early(edited: Edit) -> None:
    """A curve with head left at its end is told with what that is taken for; one that reaches 0 is not."""
    folder = edited("pumps.csv", "1200:2.26 2400:0.93 3000:0", "1200:2.3 2400:1.3")
    (note,) = audit(load_catalog(folder))
    assert (Path(note.file).name, note.place) == ("pumps.csv", "line 2")
    assert "the curve of pump-3000 ends at 2400 L/h with 1.3 m of head left" in note.problem
    # It fell a metre in the last 1200 L/h, and 1.3 m are left.
    assert "up to 3960 L/h" in note.problem
    assert note.remedy == "add the flow at which its head is 0"


def test_a_seal_without_a_coupling(small: Catalog) -> None:
    """The pipe in a push-in seal is held by couplings; where nothing joins pipe of its size it slides out."""
    kept = {part: row for part, row in small.adaptors.items() if row.ends[0] != row.ends[1]}
    problems = [note.problem for note in audit(replace(small, adaptors=kept))]
    assert any(problem.startswith("no coupling joins the pipe that seal-50") for problem in problems)


def test_a_hole_without_a_saw(small: Catalog) -> None:
    """With the saws of one size taken out its wall parts are told; without any saw at all nobody asks."""
    saws = [row for row in small.sundries.values() if row.kind is SundryKind.SAW]
    assert saws
    gone = {part: row for part, row in small.sundries.items() if part != saws[0].id}
    problems = [note.problem for note in audit(replace(small, sundries=gone))]
    assert problems
    assert all(f"no hole saw drills the {saws[0].least_m * 1000:g} mm" in text for text in problems)
    none = {part: row for part, row in small.sundries.items() if row.kind is not SundryKind.SAW}
    assert audit(replace(small, sundries=none)) == ()
