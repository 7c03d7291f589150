"""What a builder is told of a collector: how high its tees lie, and where its vent ends."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import autoplan
from autoplan.catalog.load import load_catalog
from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.sections.build import junctions, run_words
from autoplan.report.units import units_of, whole_marks
from tests.optimiser.conftest import cut_down
from tests.optimiser.test_collector import SHELF, site_of

METRIC = Path(__file__).parents[3] / "catalogs" / "metric"


@cache
def outcome() -> Outcome:
    """Two beds that drain together, the head 30 mm over the tee."""
    return autoplan.design(site_of(0.030), cut_down(load_catalog(METRIC), SHELF), top=1)


def test_heights_are_told() -> None:
    """Of the junctions of drains, in the units asked for; of those of the pump's lines nobody knows them."""
    (design,) = outcome().designs
    metric, us = (whole_marks(units_of(kind)) for kind in (PrintUnits.SI, PrintUnits.US))
    assert junctions(outcome(), design, metric)[1:] == [
        "Junction top: drain 2 and head in line, its middle 630 mm above the height that the problem counts "
        "from (0).",
        "Junction low: drain tee 40 mm, 90 degrees, straight through end and head, branch drain 1, its "
        "middle 600 mm above the height that the problem counts from (0).",
    ]
    assert "mm" not in junctions(outcome(), design, metric)[0].split("branch")[1]
    assert "its middle 23-5/8 in above" in junctions(outcome(), design, us)[2]
    told = run_words(outcome(), design, "head", metric)
    assert "vent: drain tee 40 mm, 90 degrees with an open upright pipe; its top 1240 mm above" in told


def test_no_height_is_told_that_nobody_knows() -> None:
    """A junction without a height is told by what it is made of alone."""
    (design,) = outcome().designs
    unknown = {name: replace(joint, height_m=None) for name, joint in outcome().site.junctions.items()}
    seen = replace(outcome(), site=replace(outcome().site, junctions=unknown))
    units = whole_marks(units_of(PrintUnits.SI))
    assert "Junction top: drain 2 and head in line." in junctions(seen, design, units)
