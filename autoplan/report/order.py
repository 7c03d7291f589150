"""What to buy and how to cut it."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.drawing import CutStick
from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Column, Grid, Heading, Para, Points, numbers
from autoplan.report.figures import (
    OrderLine,
    ShopTotal,
    fixed,
    money,
    order_lines,
    shop_totals,
    tally,
    whole_mm,
)


def purchase(outcome: Outcome, design: Design) -> Iterator[Block]:
    """The purchase list, then what each shop is paid."""
    cost = design.verdict.cost
    lines = order_lines(outcome.catalog, design.drawing.purchases)
    yield Heading("Purchase list")
    yield Grid(
        (
            Column("part", 17),
            Column("description", 24),
            numbers("used", 9),
            numbers("buy", 13),
            numbers(f"price {cost.currency}", 9),
            Column("shop", 8),
            numbers(f"cost {cost.currency}", 8),
        ),
        tuple(_line(line) for line in lines),
    )
    paid = [
        f"{total.shop}: goods {money(total.goods, cost.currency)}, "
        f"{_charge(total)} {money(total.freight, cost.currency)}."
        for total in shop_totals(outcome.catalog, lines)
    ]
    whole = money(cost.purchase + cost.freight, cost.currency)
    yield Points(
        (
            *paid,
            f"All together: goods {money(cost.purchase, cost.currency)}, "
            f"freight {money(cost.freight, cost.currency)}, to pay {whole}.",
        )
    )


def _charge(total: ShopTotal) -> str:
    return "spares to make freight free" if total.topped_up else "freight"


def _line(line: OrderLine) -> tuple[str, ...]:
    bought = line.purchase
    used = f"{fixed(bought.quantity, 3)} m" if line.unit == "m" else fixed(bought.quantity, 0)
    return (
        bought.part,
        line.description,
        used,
        f"{bought.packs} x {line.sold_as}",
        fixed(line.unit_price, 2),
        bought.shop,
        fixed(line.line_cost, 2),
    )


def cuts(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Which pieces to cut from which stick, alike sticks together; then pipe that is sold by the metre."""
    alike: dict[CutStick, int] = {}
    for cut in design.drawing.cuts:
        alike[cut] = alike.get(cut, 0) + 1
    on_sticks = {outcome.catalog.pipes[cut.pipe].family for cut in alike}
    from_length = [
        f"{drawn.run}: {_pieces(drawn.pieces_m)} mm of {drawn.pipe}."
        for drawn in design.drawing.runs.values()
        if outcome.catalog.pipes[drawn.pipe].family not in on_sticks and drawn.pieces_m
    ]
    if not alike and not from_length:
        return
    yield Heading("Cutting list")
    if alike:
        yield Para("Pieces in whole millimetres; the saw cut is allowed for.")
        yield Grid(
            (
                Column("pipe", 22),
                numbers("sticks", 6),
                numbers("stick mm", 8),
                Column("pieces mm", 46),
                numbers("left over mm", 10),
            ),
            tuple(_cut(cut, count) for cut, count in alike.items()),
        )
    if from_length:
        yield Points(tuple(from_length))


def _cut(cut: CutStick, count: int) -> tuple[str, ...]:
    return (cut.pipe, str(count), whole_mm(cut.stick_m), _pieces(cut.pieces_m), whole_mm(cut.offcut_m))


def _pieces(pieces_m: tuple[float, ...]) -> str:
    return ", ".join(tally(map(whole_mm, pieces_m)))
