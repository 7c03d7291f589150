"""Where an inlet over a rim really ends: the mouth of what turns down, not the pipe that lies on the rim."""

from __future__ import annotations

from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, TurnStyle, Way
from autoplan.outcome import Status
from autoplan.problem.site import Entry, Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.optimiser.conftest import CORNER_SHELF, cut_down, tank_and_sump
from tests.rules.conftest import Plan

GAP_MM, FREEBOARD_M = 30.0, 0.020


@pytest.fixture(scope="module")
def rigid() -> Catalog:
    """A shelf without hose, so that the turn over the rim is a fitting."""
    kept = " ".join(part for part in CORNER_SHELF.split() if not part.startswith("hose"))
    return cut_down(autoplan.load_catalog("metric"), kept)


def designed(site: Site, catalog: Catalog) -> Plan:
    """The cheapest design of a site."""
    outcome = autoplan.design(site, catalog, top=1)
    assert outcome.status is Status.PROVEN
    return Plan(site, catalog, outcome.designs[0].drawing)


def test_a_bare_elbow_over_the_rim(rigid: Catalog) -> None:
    """Axis to face of an elbow is 0.6 bores and half the outside and 6 mm (ISO 727); nothing hangs below."""
    plan = designed(tank_and_sump(entry=Entry.OVER_RIM), rigid)
    end, pipe = plan.drawing.runs["main"].finish, plan.survey.pipe("main")
    assert end.way is Way.OVER_RIM
    turn = plan.drawing.runs["main"].turns[-1]
    assert turn.style is TurnStyle.TIGHT
    face = 0.6 * plan.catalog.turns[turn.pieces[0]].bore_m + pipe.outside_m / 2 + 0.006
    assert end.centre_m - end.mouth_m == pytest.approx(face, abs=1e-4)
    assert str(plan.survey.assembled("main").items[-1].role) == "turn"
    assert end.mouth_m >= 0.75 - FREEBOARD_M + GAP_MM / 1000 - 1e-9


@pytest.mark.parametrize("gap_mm", [30, 80])
def test_a_wider_gap_lifts_the_crest(rigid: Catalog, gap_mm: int) -> None:
    """80 mm over water 20 mm under the rim asks the mouth 60 mm over it, and the crest an elbow over that."""
    site = replace(
        tank_and_sump(entry=Entry.OVER_RIM), rule_settings={"siphon-back": {"air_gap": f"{gap_mm} mm"}}
    )
    end = designed(site, rigid).drawing.runs["main"].finish
    assert end.mouth_m >= 0.75 - FREEBOARD_M + gap_mm / 1000 - 1e-9
    # 30 mm and half of 25 mm over the rim are enough for the lesser gap and not for the greater.
    assert (end.centre_m > 0.75 + 0.030 + 0.0125 + 1e-9) is (gap_mm == 80)


@pytest.mark.parametrize(("lower_mm", "ok"), [(-0.1, True), (0.2, False)])
def test_the_mouth_counts_and_not_the_crest(plan: Plan, lower_mm: float, ok: bool) -> None:
    """A crest far over the rim does not help a mouth that hangs within the gap."""
    run = "bed feed 1"
    end = plan.drawing.runs[run].finish
    highest = plan.survey.standing_level("bed 1", plan.survey.overload_factor())
    mouth = highest + GAP_MM / 1000 - lower_mm / 1000 - 0.00011
    low = plan.end(run, "finish", mouth_m=mouth + 0.00011, centre_m=end.centre_m)
    assert low.findings("siphon-back")[run].ok is ok


def test_a_piece_longer_than_drawn_is_found(rigid: Catalog) -> None:
    """A drop cut 100 mm longer than its mouth's height says hangs lower than anyone judged."""
    plan = designed(tank_and_sump(entry=Entry.OVER_RIM), rigid)
    drawn = plan.drawing.runs["main"]
    lower = plan.end("main", "finish", mouth_m=drawn.finish.centre_m - 0.1)
    survey = Survey(plan.site, plan.catalog, lower.drawing)
    needed = survey.assembled("main").needed_m
    assert len(needed) == len(drawn.slots_m) + 1
    for more, ok in ((0.0, True), (0.0009, True), (0.0015, False)):
        slots = (*drawn.slots_m, (needed[-1] + more,))
        hung = lower.run("main", slots_m=slots, length_m=drawn.length_m + 0.1)
        assert hung.findings("as-asked")["main"].ok is ok


def test_rules_off_do_not_lower_a_mouth(rigid: Catalog) -> None:
    """With siphon-back switched off inlets are drawn as they would be."""
    site = replace(tank_and_sump(entry=Entry.OVER_RIM), rule_settings={"siphon-back": {"off": True}})
    assert "siphon-back" in read_rules(site).off
    end = designed(site, rigid).drawing.runs["main"].finish
    assert end.mouth_m >= 0.75 - FREEBOARD_M + GAP_MM / 1000 - 1e-9
