"""What is left of sticks decides how a shipped problem's pipe is cut, its sump a little further off."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.drawing import CutStick
from autoplan.outcome import Status
from tests.short_list import from_shorter_list

SERIES = Path(__file__).parents[3] / "problems" / "series.toml"

LONG_M = 2.49
"""The main goes along so far at least, of a stick of 3 m."""


def cut_up(folder: Path, each: str) -> tuple[float, CutStick]:
    """What the cheapest design costs with so much left of each stick, and the stick of the longest piece."""
    near, text = 'at = ["2.8 m", "1.5 m"]', SERIES.read_text(encoding="utf-8")
    assert near in text
    file = folder / "problem.toml"
    further = text.replace(near, 'at = ["2.85 m", "1.5 m"]')
    more = f'\n[rules.purchase-list]\neach = "{each}"\n'
    file.write_text(from_shorter_list(further) + more, encoding="utf-8")
    problem = autoplan.load_problem(file)
    outcome = autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)
    assert outcome.status is Status.PROVEN
    (design,) = outcome.designs
    (stick,) = [cut for cut in design.drawing.cuts if max(cut.pieces_m) > LONG_M]
    return design.objective, stick


def test_what_sticks_keep_decides_how_they_are_cut(tmp_path: Path) -> None:
    """With 10 mm left nothing goes beside the main's long piece; else the upright at the pump does."""
    kept, bare = (cut_up(tmp_path, each) for each in ("10 mm", "0 mm"))
    assert kept[0] >= bare[0]
    assert len(bare[1].pieces_m) == 2
    left = bare[1].stick_m - 1.02 * sum(bare[1].pieces_m) - 0.003
    assert 0.0 <= left < 0.0105
    others = [piece for piece in kept[1].pieces_m if piece < LONG_M]
    assert kept[1].stick_m - 1.02 * sum(kept[1].pieces_m) - 0.003 * len(others) >= 0.010
    assert kept[1].pieces_m != bare[1].pieces_m


def test_a_length_that_is_none(tmp_path: Path) -> None:
    """What is to be left is a length, and no share."""
    with pytest.raises(autoplan.InputError, match="each"):
        cut_up(tmp_path, "2 %")
