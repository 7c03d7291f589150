"""Why a siphon does not start while its bed is full, in words and figures that are a builder's."""

from __future__ import annotations

import re

import pytest

import autoplan
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down
from tests.test_walk import WIDE_ONLY
from tests.words import why_none


@pytest.mark.parametrize(
    ("floods", "why"),
    [
        # 26 mm, flared, start from 344.6 L/h, with 2 % more from 351.4: 0.996 of 353 L/h, 0.986 of 356.5.
        # Over 0.99 nothing is left to lack.
        ("3.53", r"bed drain: no standpipe for a bell siphon is left; refused by full-bed-start\."),
        (
            "3.565",
            r".*at \d+(\.\d)? mm at least \(full-bed-start, so that a siphon starts with the beds full",
        ),
    ],
)
def test_a_siphon_that_asks_for_nearly_all_of_its_inflow(floods: str, why: str) -> None:
    """Where no height of water helps the standpipe is refused; else it is said what a height is for."""
    text = one_bed(f'floods = "{floods}/hour"') + '[rules.siphon-start]\nmargin = "2 %"\n'
    shelf = cut_down(autoplan.load_catalog("metric"), WIDE_ONLY)
    outcome = autoplan.design(problem_from(text, "full.toml"), shelf, top=1)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert "full-bed-start" in outcome.clash.rules
    said = why_none(outcome)
    assert re.match(why, said[0])
    # Within reach of pumps as they are sold, none of which lifts 5 m.
    heights = [float(found) for found in re.findall(r"stands at (\d+(?:\.\d+)?) mm", said[0])]
    assert all(height < 5000 for height in heights)
