"""Heights that do not sum up: against a linear programme, by hand, and in words."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import linprog

from autoplan.advice.heights import DATUM, AtLeast, Place, Refusal, WaterOf, clashing
from autoplan.report.units import SI

RULES = ("", "drain-fall", "level-range", "overload", "sump-low")


def holds(asked: list[AtLeast]) -> bool:
    """Whether all of it can hold, asked of a linear programme."""
    if not asked:
        return True
    places = list(dict.fromkeys(place for one in asked for place in (one.higher, one.lower)))
    rows = np.zeros((len(asked), len(places)))
    for number, one in enumerate(asked):
        rows[number, places.index(one.higher)] -= 1
        rows[number, places.index(one.lower)] += 1
    limits = [-one.by for one in asked]
    return bool(linprog(np.zeros(len(places)), rows, limits, bounds=(None, None)).status == 0)


def drawn(draw: random.Random) -> list[AtLeast]:
    """A few differences between a few levels."""
    levels: list[Place] = [DATUM, *(WaterOf(name) for name in "abc"), WaterOf("a", True)]
    pairs = (draw.sample(levels, 2) for _ in range(draw.randrange(4, 12)))
    return [AtLeast(draw.choice(RULES), high, low, draw.randrange(-40, 30)) for high, low in pairs]


@pytest.mark.parametrize("seed", range(60))
def test_against_a_linear_programme(seed: int) -> None:
    """What is refused has no answer under the rules named, and no smaller set of rules leaves none."""
    asked = drawn(random.Random(seed))
    found = clashing(asked)
    assert (found is None) == holds(asked)
    if found is None:
        return
    assert not holds([one for one in asked if one.rule in ("", *found.rules)])
    for fewer in combinations([rule for rule in RULES if rule], max(0, len(found.rules) - 1)):
        if len(fewer) < len(found.rules):
            assert holds([one for one in asked if one.rule in ("", *fewer)])


def test_some_of_the_draws_clash_and_some_do_not() -> None:
    """The random systems above are of both kinds."""
    clash = [clashing(drawn(random.Random(seed))) is not None for seed in range(60)]
    assert 10 < sum(clash) < 50


@pytest.mark.parametrize("seed", range(60))
def test_most_that_is_missing(seed: int) -> None:
    """What is missing with other rules besides is the least that a linear programme must add at the datum."""
    asked = drawn(random.Random(seed))
    found = clashing(asked)
    if found is None:
        return
    told = re.search(r"([\d.]+) mm are missing(?:, ([\d.]+) mm with)?", SI.told(found.sentence))
    assert told is not None
    if told[2] is not None:
        more = round(10 * float(told[2]))
        assert more > round(10 * float(told[1]))
        eased = [replace(one, by=one.by - more) if one.higher == DATUM else one for one in asked]
        assert holds(eased)
        less = [replace(one, by=one.by - more + 1) if one.higher == DATUM else one for one in asked]
        assert not holds(less)


def test_other_rules_ask_for_more() -> None:
    """Water that must fall 4.9 mm and has 2 mm lacks 2.9 mm, and with a reserve of 10 mm it lacks 12.9."""
    tank, settler = WaterOf("tank"), WaterOf("settler")
    levels = [AtLeast("level-range", settler, DATUM, 9090), AtLeast("level-range", DATUM, tank, -9110)]
    falls = [AtLeast("level-range", tank, settler, 49), AtLeast("drain-fall", tank, settler, 149)]
    found = clashing([*levels, *falls])
    assert found is not None
    assert found.rules == ("level-range",)
    assert SI.told(found.sentence).endswith(" 2.9 mm are missing, 12.9 mm with drain-fall.")
    alone = clashing([*levels, falls[0]])
    assert alone is not None
    assert SI.told(alone.sentence).endswith(" 2.9 mm are missing.")


def chain(least: int, fall: int, most: int) -> Refusal | None:
    """A settler's lowest water, the tank's over it, the tank's highest [0.1 mm]."""
    tank, settler = WaterOf("tank"), WaterOf("settler")
    return clashing(
        [
            AtLeast("level-range", settler, DATUM, least),
            AtLeast("drain-fall", tank, settler, fall, "its loss"),
            AtLeast("level-range", DATUM, tank, -most),
        ]
    )


def test_a_chain_to_the_tenth_of_a_millimetre() -> None:
    """909 mm and 2 mm of fall fit under 911 mm, 2.1 mm do not."""
    assert chain(9090, 20, 9110) is None
    refused = chain(9090, 21, 9110)
    assert refused is not None
    assert set(refused.rules) == {"level-range", "drain-fall"}
    assert SI.told(refused.sentence) == (
        "Heights over the datum that do not sum up: water in settler stands at 909 mm at least (level-range)"
        "; water in tank stands 2.1 mm over water in settler at least (drain-fall, its loss); water in tank "
        "stands at 911 mm at most (level-range). 0.1 mm are missing."
    )
