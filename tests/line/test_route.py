"""Legs of lines that are known on the plan, their lengths worked out on paper.

The site on paper, heights over the ground [mm]:

    sump    floor -500, depth 600: rim 100; wall 6
    tank    floor  200, depth 800: rim 1000; wall 6
    bed     floor  600, its floor 8 thick; wall 6

A pump's outlet is 150 over the floor and 150 inside the wall, a floor drain 150 inside the wall, a mouth
behind a rim 100 inside it, an upright 60 off a wall; a pipe crosses a rim 30 and half its outside over it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.fittings.ends import LineEnd
from autoplan.line.route import Course, Descent, Leg, Reach, Toward, measured, upright
from autoplan.line.row import Line
from autoplan.problem.site import OnPlan
from tests.lines import line
from tests.line.conftest import ELBOW, INTO_SUMP, STOPPED, Yard, over, swept

ALONG, ACROSS, UP, DOWN, OVER = Toward.ALONG, Toward.ACROSS, Toward.UP, Toward.DOWN, Toward.OVER

IN_SUMP = Reach(inside_m=0.156, upright=True, beside_m=0.216, crest_m=0.146)
"""A pump in the sump: 6 of wall and 150; 60 more to the upright before the wall; 100 + 30 + 16 over its rim."""

UNDER_BED = Reach(inside_m=0.156, upright=True)
"""A drain in the bed's floor: 6 of wall and 150."""

HOLE = Reach(beside_m=0.150)
"""A hole in a wall, with room for a coupling and a turn before an upright."""

BEHIND_RIM = Reach(inside_m=0.106, over=True, beside_m=0.166)
"""A mouth behind a rim: 6 of wall and 100; 60 more from the upright before the wall."""

Told = Sequence[tuple[Toward, float, float]]

BY_HAND: dict[str, tuple[Course, float, float, Told]] = {
    # A main of 32 mm on the ground at 60: up from -350 to 146, over, down to 60, 1.5 m and round a corner
    # 1 m, up to 1046 (rim 1000 + 30 + 16), over. Both uprights stand 60 before their walls.
    "pump, down again behind the rim": (
        Course(OnPlan((1.5, 1.0), (90,), 0.060), IN_SUMP, BEHIND_RIM, lands=True),
        *(-0.350, 1.046),
        [
            *[(UP, 496, 496), (OVER, 216, 0), (DOWN, 86, -86)],
            *[(ALONG, 1440, 0), (ACROSS, 940, 0), (UP, 986, 986), (OVER, 166, 0)],
        ],
    ),
    # The same high enough for both rims: 1396 up, then level; what lies inside the walls comes on top.
    "pump, over both rims at one height": (
        Course(OnPlan((1.5, 1.0), (90,), 1.046), IN_SUMP, BEHIND_RIM),
        *(-0.350, 1.046),
        [(UP, 1396, 1396), (ALONG, 1656, 0), (ACROSS, 1106, 0)],
    ),
    # Just as high as it needs to be: at 146 it goes over the sump's rim and does not come down.
    "pump, on the height of its rim": (
        Course(OnPlan((1.5,), (), 0.146), IN_SUMP, BEHIND_RIM, lands=True),
        *(-0.350, 1.046),
        [(UP, 496, 496), (ALONG, 1596, 0), (UP, 900, 900), (OVER, 166, 0)],
    ),
    # To a tee at 60: nothing lands.
    "pump, to a tee": (
        Course(OnPlan((0.8,), (), 0.060), IN_SUMP, Reach()),
        *(-0.350, 0.060),
        [(UP, 496, 496), (OVER, 216, 0), (DOWN, 86, -86), (ALONG, 740, 0)],
    ),
    # From the tee at 60 up to a hole at 850 in the tank, with 90 for its coupling and the turn.
    "level, then up to a hole": (
        Course(OnPlan((2.0,), (), 0.060), Reach(), Reach(beside_m=0.090), Descent.LEVEL, lands=True),
        *(0.060, 0.850),
        [(ALONG, 1910, 0), (UP, 790, 790), (ALONG, 90, 0)],
    ),
    # From the tank's hole at 800 to one at 50 in the sump: out 150, down 750, the rest of 1.5 m.
    "drop leg": (
        Course(OnPlan((1.5,)), HOLE, Reach(), Descent.DROP),
        *(0.800, 0.050),
        [(ALONG, 150, 0), (DOWN, 750, -750), (ALONG, 1350, 0)],
    ),
    # Over the sump's rim in place of that hole, 50 mm wide: crest at 100 + 30 + 25 = 155, 106 further in.
    "drop leg, over a rim": (
        Course(OnPlan((1.5,)), HOLE, BEHIND_RIM, Descent.DROP),
        *(0.800, 0.155),
        [(ALONG, 150, 0), (DOWN, 645, -645), (ALONG, 1456, 0)],
    ),
    # 100 down on a slant of 45 degrees: 100 times the root of 2 long, 100 of the level distance.
    "offset of two 45s": (
        Course(OnPlan((1.5,)), HOLE, Reach(), Descent.OFFSET),
        *(0.800, 0.700),
        [(ALONG, 150, 0), (DOWN, 141.4214, -100), (ALONG, 1250, 0)],
    ),
    # A pump's line from a tee may rise so.
    "offset of two 45s, upwards": (
        Course(OnPlan((1.0, 0.5), (90,)), HOLE, BEHIND_RIM, Descent.OFFSET),
        *(1.000, 1.046),
        [(ALONG, 150, 0), (UP, 65.0538, 46), (ALONG, 804, 0), (ACROSS, 606, 0)],
    ),
    # 30 down over 1 m and 0.5 m is 2 %: 20 and 10; root of 1000^2 + 20^2 and of 500^2 + 10^2.
    "tilt round a corner": (
        Course(OnPlan((1.0, 0.5), (90,)), HOLE, Reach(), Descent.TILT),
        *(0.800, 0.770),
        [(ALONG, 1000.2, -20), (ACROSS, 500.1, -10)],
    ),
    # From under the bed (600 - 8) on the ground at 60, up again to the sump's rim.
    "floor, along the ground, up to a rim": (
        Course(OnPlan((1.5,), (), 0.060), UNDER_BED, BEHIND_RIM, lands=True),
        *(0.592, 0.155),
        [(DOWN, 532, -532), (ALONG, 1596, 0), (UP, 95, 95), (OVER, 166, 0)],
    ),
    # From under the bed straight down to the height of a hole at 50.
    "floor, at the height of its end": (
        Course(OnPlan((0.7, 0.4, 0.3), (90, 45)), UNDER_BED, Reach()),
        *(0.592, 0.050),
        [(DOWN, 542, -542), (ALONG, 856, 0), (ACROSS, 400, 0), (ALONG, 300, 0)],
    ),
    # Buried at -300 from a hole at 800, up to a hole at 50 that takes 120 with its turn.
    "drop leg, buried, up to a hole": (
        Course(OnPlan((1.5,), (), -0.300), HOLE, Reach(beside_m=0.120), Descent.DROP, lands=True),
        *(0.800, 0.050),
        [(ALONG, 150, 0), (DOWN, 1100, -1100), (ALONG, 1230, 0), (UP, 350, 350), (ALONG, 120, 0)],
    ),
}
