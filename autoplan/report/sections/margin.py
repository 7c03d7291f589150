"""What designs have to spare, where that is what ranks them."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Para, Points
from autoplan.report.figures import money
from autoplan.report.place_words import place_words
from autoplan.report.units import Units

WHAT = (
    "Margin is the least height of water to spare over what the rules ask: fall of each drain (drain-fall), "
    "dry wall at overload (overload), water over the pump with the beds full (sump-low), room in the sump "
    "with the power off (sump-high), head of the pump (pump-duty). It ranks in whole millimetres, rounded "
    "down, then the cost does."
)


def sure_of_margin(outcome: Outcome, design: Design) -> str:
    """How much is to spare within the budget, and how sure that is."""
    assert design.kept_mm is not None
    budget = outcome.site.wishes.budget
    within = "" if budget is None else f" within {money(budget, design.verdict.cost.currency)}"
    kept = f"Rank {design.rank} keeps {design.kept_mm} mm of margin{within}"
    if design.proven:
        return (
            f"{kept}; it is proven that nothing{within} keeps {design.kept_mm + 1} mm, and that nothing that "
            f"keeps {design.kept_mm} mm costs less."
        )
    return f"{kept}; it is not proven that nothing keeps more, or as much for less."


def by_margin(outcome: Outcome, units: Units) -> Iterator[Block]:
    """What margin means, and what each rank has and where; nothing where something else ranks."""
    if outcome.rank_by != "margin":
        return
    yield Para(WHAT)
    yield Points(tuple(_point(design, units) for design in outcome.designs))


def _point(design: Design, units: Units) -> str:
    found = design.margin
    if found is None:
        return f"Rank {design.rank}: no rule of heights was judged."
    spare = f"{units.measure_down(found.margin, found.unit)} {units.word(found.unit, '')}"
    where = place_words(found.place, units)
    return f"Rank {design.rank}: {spare} to spare, least by {found.rule} at {where}."
