"""The emergency overflow of a short form's tank: laid, or offered for where it is needed or comes cheaper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from autoplan.problem.site import OverflowOffer
from autoplan.problem.tables.defaults import OVERFLOW

if TYPE_CHECKING:
    from autoplan.problem.layouts.base import Topology

KEY = "tank_overflow"
"""Of its way among the distances."""

NAME = "tank overflow"


def overflow_keys(tables: Mapping[str, Any]) -> list[str]:
    """Key of its way, where there may be one."""
    return [] if tables["tank"].overflow is False else [KEY]


def lay_overflow(layout: Topology) -> None:
    """Lay it, or what is offered of it: straight to the sump.

    Where the builder says nothing of it and there is no way for it by the places, none is offered.
    """
    given, ledger, scene = layout.tables["tank"].overflow, layout.ledger, layout.scene
    if given is False:
        return
    kept, wrong = dict(ledger.kept), len(layout.wrong)
    asked = ledger.said(given, "tank.overflow", OVERFLOW)
    layout.fall(NAME, "tank", "sump", KEY, overflow=True)
    if asked is not True:
        scene.offered[NAME] = replace(scene.runs.pop(NAME), offered=OverflowOffer(str(asked)))
    said = given is not None or KEY in {*layout.lines.levels, *layout.lines.bends, *layout.lines.heights}
    if not said and len(layout.wrong) > wrong:
        del layout.wrong[wrong:], scene.offered[NAME]
        ledger.kept = kept
