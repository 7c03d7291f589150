"""The lists as spreadsheets: what to buy, to cut, to drill and to join, as CSV (RFC 4180) in UTF-8."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import clean
from autoplan.report.figures import ShopOrder, order_lines, shop_orders, used_gauge
from autoplan.report.files import fill_folder
from autoplan.report.sections.cutting import sticks
from autoplan.report.sections.drilling import holes_of
from autoplan.report.sections.joints import joints_of, kind_words
from autoplan.report.units import Units, fixed, units_of, whole_marks

NAMES = ("purchase.csv", "cutting.csv", "drilling.csv", "joints.csv")

_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_FORMULA = "=+-@\uff1d\uff0b\uff0d\uff20"
"""What makes a spreadsheet take a text for a formula, also in the wide forms that some take for the same."""

_INSIDE = re.compile(rf"([;|])(\s*)(?=[{re.escape(_FORMULA)}])")
"""Where a formula begins inside a cell for a spreadsheet that takes these for the ends of cells."""


def write_lists(outcome: Outcome, folder: str) -> None:
    """Write the lists of rank 1 into a folder, made if it is absent; files of their names are replaced.

    Raises:
        OSError: the folder cannot be made or a file not be written; no file is then half written.
    """
    first = outcome.designs[0]
    fill_folder(folder, lists(outcome.about(first), first, whole_marks(units_of(outcome.site.print_units))))


def lists(outcome: Outcome, design: Design, units: Units) -> dict[str, str]:
    """The text of each list by its file's name."""
    made = (
        purchase_list(outcome, design, units),
        cutting_list(outcome, design, units),
        drilling_list(outcome, design, units),
        joint_list(design),
    )
    return {name: _text(rows) for name, rows in zip(NAMES, made, strict=True)}


def purchase_list(outcome: Outcome, design: Design, units: Units) -> Iterator[Sequence[str]]:
    """Each shop's lines and totals, then the total of all; a total has no part."""
    yield (
        *("shop", "part", "description", "quantity", "unit", "packs", "sold_as"),
        *("unit_price", "line_cost", "currency"),
    )
    currency = design.verdict.cost.currency
    orders = shop_orders(outcome.catalog, order_lines(outcome.catalog, design.drawing.purchases))
    for order in orders:
        for line in order.lines:
            used = used_gauge(line.part, units)
            yield (
                *(order.shop.id, line.part.id, line.part.description),
                *(used.number(line.purchase.quantity), used.unit or "piece"),
                *(str(line.purchase.packs), line.sold_as),
                *(fixed(line.unit_price, 2), fixed(line.line_cost, 2), currency),
            )
        yield from _totals(order, currency)
    yield _total("", "total of all orders", sum(order.total for order in orders), currency)


def _totals(order: ShopOrder, currency: str) -> Iterator[Sequence[str]]:
    yield _total(order.shop.id, f"goods from {order.shop.name}", order.goods, currency)
    yield _total(order.shop.id, order.charge, order.freight, currency)
    yield _total(order.shop.id, "order total", order.total, currency)


def _total(shop: str, what: str, amount: float, currency: str) -> Sequence[str]:
    return (shop, "", what, "", "", "", "", "", fixed(amount, 2), currency)


def cutting_list(outcome: Outcome, design: Design, units: Units) -> Iterator[Sequence[str]]:
    """A line for each piece; pieces of pipe that the shop cuts from the roll have no stick."""
    unit = units.piece.unit
    yield (
        *("pipe", "stick", "stick_from", f"stick_{unit}", f"piece_{unit}"),
        *("run", "place", f"left_over_{unit}"),
    )
    for stick in sticks(outcome, design, units.piece):
        number, length, left = "", "", ""
        origin = "owned" if stick.owned else "bought"
        if stick.number is not None and stick.length_m is not None:
            number, length = str(stick.number), units.piece.number(stick.length_m)
            left = units.piece.decimal(stick.left_over)
        for piece in stick.pieces:
            cut = units.piece.decimal(piece.steps)
            yield (stick.pipe, number, origin, length, cut, piece.run, piece.place, left)


def drilling_list(outcome: Outcome, design: Design, units: Units) -> Iterator[Sequence[str]]:
    """A line for each hole."""
    height, saw = units.height, units.hole
    yield (
        *("vessel", "run", "place", f"centre_above_floor_{height.unit}", f"hole_{saw.unit}"),
        *("saw", "saw_from", "part", "stand", "around"),
        *(f"may_be_higher_{height.unit}", f"may_be_lower_{height.unit}"),
    )
    for hole in holes_of(outcome, design):
        yield (
            *(hole.vessel, hole.run, hole.place),
            "" if hole.centre_m is None else height.number(hole.centre_m),
            saw.number(hole.hole_m),
            *(hole.saw or "", hole.saw_from, hole.part, hole.stand or "", hole.around),
            *("" if off is None else height.number_down(off) for off in (hole.higher_m, hole.lower_m)),
        )


def joint_list(design: Design) -> Iterator[Sequence[str]]:
    """A line for each joint, run by run in the order of the water."""
    yield ("run", "joint", "kind", "left", "left_end", "right", "right_end")
    for run, joints in joints_of(design).items():
        for number, joint in enumerate(joints, start=1):
            yield (
                *(run, str(number), kind_words(joint)),
                *(joint.left, str(joint.left_end), joint.right, str(joint.right_end)),
            )


def _text(rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO()
    csv.writer(stream).writerows([safe(cell) for cell in row] for row in rows)
    return stream.getvalue()


def safe(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: what looks like one is made text by an apostrophe.

    So is what would look like one where cells end at semicolons or bars, as in many countries.
    """
    cell = _INSIDE.sub(r"\1'\2", clean(cell))
    if cell.lstrip()[:1] in tuple(_FORMULA) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell
