"""A screw for each riser: both sides of the count, and where none is asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.catalog.parts import SundryKind
from autoplan.drawing import Drawing
from autoplan.fittings.riser import Riser
from autoplan.rules.joints.riser_screw import RiserScrew
from tests.lines import the
from tests.rules.conftest import Plan


def owning(plan: Plan, screws: int) -> Plan:
    """The plan with so many screws in the builder's box, and none ordered."""
    rows = {row.id for row in plan.catalog.sundries.values() if row.kind is SundryKind.SCREW}
    left = tuple(line for line in plan.drawing.purchases if line.part not in rows)
    drawing: Drawing = replace(plan.drawing, purchases=left)
    return replace(plan, drawing=drawing, site=replace(plan.site, owned={"screw-1": screws}))


@pytest.mark.parametrize(("screws", "ok"), [(0, False), (1, True), (2, True)])
def test_one_screw_for_the_tanks_riser(plan: Plan, screws: int, ok: bool) -> None:
    """The welded plan has one riser, so one screw holds it and none does not."""
    assert [line.run for line in plan.drawing.runs.values() if line.one(Riser)] == ["tank drain"]
    welded = replace(plan, drawing=replace(plan.drawing, screwed_drains=False))
    (finding,) = owning(welded, screws).findings("riser-screw").values()
    assert finding.ok is ok


def test_besides_those_of_joints(plan: Plan) -> None:
    """With screwed drains as many as joints are not enough, and one more is."""
    screwed = replace(plan, drawing=replace(plan.drawing, screwed_drains=True))
    joints = sum(joint.kind == "tape-and-screw" for joint in screwed.survey.joints)
    assert joints > 1
    (short,) = owning(screwed, joints).findings("riser-screw").values()
    (enough,) = owning(screwed, joints + 1).findings("riser-screw").values()
    assert (short.ok, enough.ok) == (False, True)


def test_where_none_is_asked_for(plan: Plan) -> None:
    """No riser, a line to come later, or a price list without screws: nothing is said."""
    assert plan.without("tank drain", Riser).findings("riser-screw") == {}
    assert plan.run("tank drain", later=True).findings("riser-screw") == {}
    rows = plan.catalog.sundries.items()
    bare = {part: row for part, row in rows if row.kind is not SundryKind.SCREW}
    unlisted = replace(plan, catalog=replace(plan.catalog, sundries=bare))
    assert unlisted.findings("riser-screw") == {}
    assert RiserScrew.concerns(plan.site)


def test_it_is_told(plan: Plan) -> None:
    """Where the line is told from start to end it says what holds the riser, and why."""
    (said,) = the(plan.drawing.runs["tank drain"], Riser).told(plan.catalog)
    assert "held by a stainless screw over the water" in said
