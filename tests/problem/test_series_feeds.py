"""Beds in series: what feeds them comes in over the rim, out of reach of roots, if there is fall enough."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan.problem.site import Entry
from autoplan.problem.toml.load import problem_from

TERRACE = Path(__file__).parents[2] / "problems" / "series.toml"


@pytest.mark.parametrize(
    ("floor_mm", "entry"), [(650, Entry.OVER_RIM), (700, Entry.OVER_RIM), (701, Entry.ANY), (750, Entry.ANY)]
)
def test_over_the_rim_where_there_is_room(floor_mm: int, entry: Entry) -> None:
    """Highest water of the settler: 600 + 700 - 80 mm; rim of a bed 320 mm deep 200 below that: 700 + 320."""
    text = TERRACE.read_text(encoding="utf-8").replace('floor = "650 mm"', f'floor = "{floor_mm} mm"')
    site = problem_from(text, "terrace.toml").outline
    settler, bed = site.vessels["settler"], site.vessels["bed 1"]
    assert settler.water_max_m == pytest.approx(1.220)
    assert bed.rim_m == pytest.approx((floor_mm + 320) / 1000)
    assert site.runs["bed feed 1"].entry is entry
    assert site.runs["tank drain"].entry is Entry.ANY
