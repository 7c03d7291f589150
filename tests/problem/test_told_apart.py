"""Two numbers in one sentence differ where what they stand for does."""

from __future__ import annotations

import pytest

from autoplan.errors import InputError
from autoplan.problem.checks.heights import told_apart
from autoplan.problem.toml.load import problem_from
from autoplan.units import Dimension

YARD = """
[tank]
volume = "500 L"
depth = "700 mm"
floor = "0 mm"
[settler]
volume = "200 L"
depth = "1 m"
floor = "0 mm"
water_min = "{}"
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
"""


@pytest.mark.parametrize(
    ("lowest", "told"),
    [
        ("619.9 mm", None),
        ("620 mm", "there is no fall from tank, at most at 620 mm, to settler, at least as high"),
        (
            "620.0004 mm",
            "water would have to climb from tank, at most at 620 mm, to settler, at least at 620.0004 mm",
        ),
        ("700 mm", "water would have to climb from tank, at most at 620 mm, to settler, at least at 700 mm"),
    ],
)
def test_a_drain_that_would_climb(lowest: str, told: str | None) -> None:
    """The tank's water is 80 mm under its rim, at 620 mm at most: as high is no fall, higher a climb."""
    if told is None:
        problem_from(YARD.format(lowest), "yard.toml")
        return
    with pytest.raises(InputError) as caught:
        problem_from(YARD.format(lowest), "yard.toml")
    assert [mistake.problem for mistake in caught.value.mistakes] == [told]


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (0.5, 0.50001, ("500 L", "500.01 L")),
        (0.5, 0.6, ("500 L", "600 L")),
        (0.5, 0.5, ("500 L", "500 L")),
        (0.123456, 0.23, ("123.5 L", "230 L")),
    ],
)
def test_two_values_in_a_sentence(one: float, other: float, told: tuple[str, str]) -> None:
    """Four digits where they tell one from the other, else more; two that are one are told as one."""
    assert told_apart(one, other, Dimension.VOLUME, 4) == told
