"""The joints: counted by kind and pair of ends, whichever way the water goes."""

from __future__ import annotations

import re
from dataclasses import replace

from autoplan.catalog.parts import End
from autoplan.outcome import Outcome
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.joints import joints


def test_joints_are_counted_by_kind_and_ends(outcome: Outcome) -> None:
    """Two welded joints of the drain are one line, in both directions of the water; sums stand below."""
    text = plain_text(joints(outcome.designs[0]))
    assert re.search(r"tank drain +push-in seal +seal metric 50 - spigot metric 50 +1\n", text)
    assert re.search(r"\n +solvent-welded +socket metric 50 - spigot metric 50 +2\n", text)
    assert re.search(r"pump main +solvent-welded +socket metric 32 - spigot metric 32 +1\n", text)
    assert re.search(r"tank feed +barbed with clamp +barb hose 25 - bore hose 25 +1\n", text)
    assert "All together: push-in seal, 3 x solvent-welded, barbed with clamp." in text


def test_ends_that_do_not_mate_are_told(outcome: Outcome) -> None:
    """A joint of no kind is called what it is."""
    first = outcome.designs[0]
    bad = replace(first.verdict.joints[0], kind=None)
    text = plain_text(joints(replace(first, verdict=replace(first.verdict, joints=(bad,)))))
    assert "does not fit" in text


def test_a_sleeve_goes_by_what_it_takes(outcome: Outcome) -> None:
    """The mouth of a rubber coupling has no size of a system but a range of outsides."""
    first = outcome.designs[0]
    rubber = replace(first.verdict.joints[0], left_end=End("sleeve", "range", "48-56"))
    text = plain_text(joints(replace(first, verdict=replace(first.verdict, joints=(rubber,)))))
    assert "seal metric 50 - sleeve for 48-56 mm" in text


def test_without_joints_there_is_no_list(outcome: Outcome) -> None:
    """Nothing to join, nothing to tell."""
    first = outcome.designs[0]
    assert not list(joints(replace(first, verdict=replace(first.verdict, joints=()))))
