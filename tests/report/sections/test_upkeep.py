"""What is to be looked after: a chore for what a design has, and none for what it lacks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.fittings.base import Fitting
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.strainer import Strainer
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.outcome import Outcome
from autoplan.problem.site import VesselKind
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.upkeep import OFTEN, Chore, chores, upkeep
from tests.lines import put, redrawn, without

KINDS = (ValveSet, CheckValveSet, FlushTee, Strainer, InletScreen)


def found(outcome: Outcome, *fittings: Fitting, later: bool = False) -> dict[str, Chore]:
    """Chores by what they are of a design whose every line has just these fittings of `KINDS`."""
    first = outcome.designs[0]
    lines = [
        replace(put(without(one, *KINDS), *fittings), later=later) for one in first.drawing.runs.values()
    ]
    design = replace(first, drawing=redrawn(first.drawing, *lines))
    return {chore.what: chore for chore in chores(outcome, design)}


@pytest.mark.parametrize(
    ("fitting", "word", "often"),
    [
        (ValveSet("valve"), "turn the valve a quarter", "monthly"),
        (CheckValveSet("check"), "check valve holds", "monthly"),
        (FlushTee("tee", "plug"), "open the flushing point", "weekly"),
        (Strainer("strainer"), "brush the strainer", "monthly"),
        (InletScreen("screen"), "brush the screen", "weekly"),
    ],
)
def test_each_part_has_its_chore(outcome: Outcome, fitting: Fitting, word: str, often: str) -> None:
    """What sits on a line is looked after where it sits; what sits nowhere, or comes later, is not named."""
    (chore,) = (chore for what, chore in found(outcome, fitting).items() if word in what)
    assert chore.often == often
    assert set(chore.where) <= {*outcome.site.runs, *outcome.site.vessels, *outcome.site.junctions}
    assert not [what for what in found(outcome) if word in what]
    assert not [what for what in found(outcome, fitting, later=True) if word in what]


def test_a_valve_is_no_check_valve(outcome: Outcome) -> None:
    """A check valve is not turned by hand."""
    assert not [what for what in found(outcome, CheckValveSet("check")) if "turn the valve" in what]


def test_clamps_are_tightened_where_there_are_any(outcome: Outcome) -> None:
    """On runs with clamped or rubber joints, each once."""
    first = outcome.designs[0]
    (joint, *_) = first.verdict.joints

    def clamped(*kinds: JointKind) -> tuple[str, ...]:
        joints = tuple(replace(joint, kind=kind) for kind in kinds)
        design = replace(first, verdict=replace(first.verdict, joints=joints))
        return next((one.where for one in chores(outcome, design) if "clamp" in one.what), ())

    assert clamped(JointKind.RUBBER, JointKind.CLAMPED) == (joint.run,)
    assert clamped(JointKind.WELDED) == ()


def test_the_most_frequent_comes_first_and_all_is_printed(outcome: Outcome) -> None:
    """In the order of how often; each pump's vessel is named for its plug."""
    first = outcome.designs[0]
    told = chores(outcome, first)
    assert [OFTEN.index(one.often) for one in told] == sorted(OFTEN.index(one.often) for one in told)
    (plug,) = (one for one in told if one.what.startswith("pull the plug"))
    assert plug.where == tuple(first.drawing.pumps)
    text = " ".join(plain_text(upkeep(outcome, first)).split())
    assert "how often" in text
    assert "pull the plug" in text
    settlers = [name for name, one in outcome.site.vessels.items() if one.kind is VesselKind.SETTLER]
    assert ("draw off the sludge" in text) is bool(settlers)
