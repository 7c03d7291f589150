"""What is told in words or put together for the builder, as JSON, so that a page needs nothing else.

Sentences are in the units in which the problem wants its answer (`units`); numbers stay SI.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Para, Points
from autoplan.report.contract.rows import OrderRow
from autoplan.report.figures import ShopOrder, order_lines, shop_orders
from autoplan.report.sections.air import air
from autoplan.report.sections.build import junctions, run_words
from autoplan.report.sections.build_order import build_order
from autoplan.report.sections.cutting import cuts
from autoplan.report.sections.drilling import holes
from autoplan.report.sections.filling import how_to_fill
from autoplan.report.sections.first_run import first_run
from autoplan.report.sections.growth import growth
from autoplan.report.sections.joints import joints
from autoplan.report.sections.judged import hours, not_judged_texts, warnings
from autoplan.report.sections.levels_picture import falls
from autoplan.report.sections.order import spares
from autoplan.report.sections.siphons import siphons
from autoplan.report.sections.site_cautions import of_this_design
from autoplan.report.sections.spare_pump import spare_pump_texts
from autoplan.report.sections.table import answer, rank_words, with_overflow
from autoplan.report.sections.timers import timers
from autoplan.report.sections.upkeep import chores
from autoplan.report.sections.weeps import weeps
from autoplan.report.units import Units, units_of, whole_marks


def outcome_told(outcome: Outcome) -> dict[str, object]:
    """What is told of the whole answer; `shops` are their names by id."""
    return {
        "answer": [*answer(outcome), *with_overflow(outcome)],
        "ownership_years": outcome.site.wishes.ownership_years,
        "shops": {shop.id: shop.name for shop in outcome.catalog.shops.values()},
    }


def design_told(whole: Outcome, design: Design) -> dict[str, object]:
    """What is told of one design; `whole` has all of them."""
    outcome = whole.about(design)
    units = whole_marks(units_of(outcome.site.print_units))
    orders = shop_orders(outcome.catalog, order_lines(outcome.catalog, design.drawing.purchases))
    return {
        "told": {part: list(said) for part, said in _told(whole, design, units)},
        "orders": [_order(order, design.verdict.cost.currency) for order in orders],
        "build_order": build_order(outcome, design, units),
        "upkeep": chores(outcome, design),
    }


def run_told(outcome: Outcome, design: Design, name: str) -> str:
    """One run in words, from start to end."""
    return run_words(outcome, design, name, whole_marks(units_of(outcome.site.print_units)))


def _told(whole: Outcome, design: Design, units: Units) -> Iterator[tuple[str, Iterable[str]]]:
    """The sentences of each section, by the section's word."""
    outcome, filling = whole.about(design), design.verdict.filling
    yield "rank", [said] if (said := rank_words(whole, design, units)) else []
    yield "warnings", sentences(warnings(design, units))
    yield "not-judged", not_judged_texts(design, units)
    yield "levels", falls(outcome.site, design, units)
    yield "junctions", junctions(outcome, design, units)
    yield "holes", sentences(holes(outcome, design, units))
    yield "siphons", sentences(siphons(outcome, design, units))
    yield "timers", sentences(timers(outcome, design, units))
    yield "weeps", sentences(weeps(outcome, design, units))
    yield "air", sentences(air(outcome, design, units))
    yield "cut", sentences(cuts(outcome, design, units))
    yield "joints", sentences(joints(design))
    yield "spare-pump", spare_pump_texts(outcome, design)
    yield "fill", [] if filling is None else how_to_fill(outcome.site, filling, units)
    yield "first-run", sentences(first_run(outcome, design, units))
    yield "growth", sentences(growth(outcome, design, units))
    yield "hours", sentences(hours(outcome, design, units))
    yield "cautions", of_this_design(outcome, design, units)


def sentences(blocks: Iterable[Block]) -> Iterator[str]:
    """The paragraphs and points among blocks; what stands in tables is in the numbers."""
    for block in blocks:
        match block:
            case Para(text):
                yield text
            case Points(items):
                yield from items


def _order(order: ShopOrder, currency: str) -> OrderRow:
    return OrderRow.of(
        order,
        shop=order.shop.id,
        name=order.shop.name,
        charge=order.freight,
        charge_for=order.charge,
        told=spares(order, currency).strip() if order.topped_up else "",
    )
