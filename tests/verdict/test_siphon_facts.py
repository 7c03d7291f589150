"""The printed figures of a bell siphon against hand arithmetic, and against the walk through hours."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.outcome import SiphonFacts
from autoplan.rules.book import read_rules
from autoplan.verdict.hours.siphons import siphon_facts
from autoplan.verdict.hours.through_time import running
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons

G = 9.80665
DRAIN = "bed drain 1"


def facts(plan) -> SiphonFacts:
    """The siphon's row of the table."""
    return siphon_facts(plan.survey, bed_siphons(plan.survey, read_rules(plan.site)))[DRAIN]


def self_venting(bore_m: float, froude: float = 0.3) -> float:
    """Fr A sqrt(g D) [m3/s]."""
    return froude * math.pi / 4 * bore_m**2 * math.sqrt(G * bore_m)


def emptied_in_hours(plan) -> float:
    """Mean time of emptying as the running system has it, every outlet at its design flow [s].

    The siphon starts from half of its inflow, so that the trickle stands no higher than the lip.
    """
    siphon = bed_siphons(plan.survey)[DRAIN]
    started = replace(siphon, start_m3_s=0.5 * plan.survey.design_flow(DRAIN))
    works = Waterworks(plan.survey, {DRAIN: started})
    seconds = running(works, lambda _: works.as_designed())[0].beds[0].emptying_s
    assert seconds is not None
    return seconds


def with_inflow(plan, share_of_limit: float):
    """The plan with a bed whose inflow is a share of what its drain lets air past at."""
    own = plan.survey.design_flow(DRAIN)
    limit = self_venting(plan.survey.pipe(DRAIN).bore_m)
    return plan.flow(DRAIN, share_of_limit * limit / own).flow("bed feed 1", share_of_limit * limit / own)


@pytest.mark.parametrize("settings", [{}, {"froude": 0.25}, {"froude": 0.25, "off": True}])
def test_the_table_says_when_the_siphon_starts(plan, settings: dict[str, object]) -> None:
    """At Fr A sqrt(g D) of its standpipe with the problem's Fr; at seven tenths of it with a flared top."""
    ruled = plan.rules({"siphon-start": settings})
    limit = self_venting(plan.survey.standpipe(DRAIN).bore_m, 0.25 if settings else 0.51)
    plain = replace(plan.drawing.runs[DRAIN].start.siphon, flare=None)
    flared = replace(plain, flare="reducer-50-32")
    for siphon, share in ((plain, 1.0), (flared, 0.7)):
        drawn = ruled.end(DRAIN, "start", siphon=siphon)
        assert facts(drawn).starts_m3_s == pytest.approx(share * limit, rel=1e-9)
        assert bed_siphons(drawn.survey)[DRAIN].start_m3_s == facts(drawn).starts_m3_s


@pytest.mark.parametrize("share", [0.6, 0.9, 1.1])
def test_table_and_hours_agree_on_the_time_of_emptying(plan, share: float) -> None:
    """A full bed fills the drain, be the inflow under or over the drain's own limit: one time for both."""
    changed = with_inflow(plan, share)
    assert emptied_in_hours(changed) == pytest.approx(facts(changed).emptying_s, rel=0.1)


def test_a_drain_that_never_fills_leaves_it_to_the_standpipe(plan) -> None:
    """Under a wide drain only the depth pulls: t = 2 A (sqrt h1 - sqrt h2) / k, where Q = k sqrt(h).

    A tenth of the bed's inflow is next to nothing; losses: re-entrant entrance 1, exit 1, and what bell,
    floor fitting and pipe add, at least 2 and at most 8 on the standpipe's velocity head.
    """
    drawn = plan.drawing.runs[DRAIN]
    stood = drawn.start.standpipe or drawn.pipe
    wide = plan.run(DRAIN, pipe="drain-110-2m").end(DRAIN, "start", standpipe=stood)
    wide = wide.flow(DRAIN, 0.1).flow("bed feed 1", 0.1)
    bed, area = plan.site.vessels["bed 1"], math.pi / 4 * plan.catalog.pipes[stood].bore_m ** 2
    high, low = bed.bed.flood_m, drawn.start.siphon.cut_out_m
    found = facts(wide)
    for depth, flow in ((high, found.fastest_m3_s), (low, found.slowest_m3_s)):
        assert 2.0 < 2 * G * depth * (area / flow) ** 2 < 8.0
    k = found.fastest_m3_s / math.sqrt(high)
    by_hand = 2 * bed.water_area_m2 * (math.sqrt(high) - math.sqrt(low)) / k
    assert found.emptying_s == pytest.approx(by_hand, rel=0.1)
    assert emptied_in_hours(wide) == pytest.approx(found.emptying_s, rel=0.1)
    # Filled, a drain that ends 150 mm lower, through the sump's wall, pulls with all of its fall.
    assert found.emptying_s > 1.5 * facts(plan.raised(DRAIN, "finish", -150)).emptying_s
    rate = wide.findings("flood-rate")["bed 1"].value
    assert rate == pytest.approx(3600 * found.floods_per_s, rel=1e-9)
