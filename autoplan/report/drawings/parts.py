"""The parts of each run in a row, in the order of the water, with the cuts beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from autoplan.report.alike import together
from autoplan.report.contract.built import PRESSURE, ItemRow, RunRow
from autoplan.report.drawings.canvas import EDGE, SMALL, TALLEST, WIDTH, Canvas, Spot, begun, fold, ident
from autoplan.report.drawings.paint import FAINT, GRAVITY, GROUND, INK, THIN, Look
from autoplan.report.drawings.paint import PRESSURE as PRESSURE_TONE
from autoplan.report.drawings.view import DesignView, Sheet, divided, grouped, paged

MIDDLE = EDGE + 26.0
"""Where the row runs down the sheet [px]."""

WORDS = EDGE + 62.0
"""Where the words begin [px]."""

CUT = 80.0
"""Room for the length of a piece [px]."""

LEAST, PIECE = 25.0, 30.0
"""Height of a fitting and of a piece of pipe [px], more where its words take more."""

BODY = Look(INK, 1.3, (), GROUND)
SOLID = Look(None, 0.0, (), INK)
"""Fittings."""


@dataclass(frozen=True, slots=True)
class _Item:
    """One thing of a row: what it is drawn as, its words, the piece to cut if it is one."""

    role: str
    words: str
    cut: str | None
    gid: str


def parts(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each run that is built, alike ones once; several where one is long."""
    built = [name for name, run in answer.runs.items() if run.line]

    def likeness(name: str) -> tuple[object, ...]:
        run = answer.runs[name]
        row = ((item.part, item.role, item.length_mm and answer.mark(item.length_mm)) for item in run.line)
        sides = ((side.part, side.at, side.length_mm) for side in run.sides)
        return run.run_class, run.later, tuple(row), tuple(sides)

    for names in grouped(built, likeness):
        yield from _sheets(answer, names)


def _sheets(answer: DesignView, names: Sequence[str]) -> Iterator[Sheet]:
    run = answer.runs[names[0]]
    pages = divided(_items(answer, names, run), _height, TALLEST - 110.0)
    about = ident("parts", names[0]), f"Parts in the order of the water: {together(names)}"
    for name, title, page in paged(*about, pages):
        canvas, y = begun(title, _summary(answer, names, run))
        _row(canvas, y + 6.0, page, pressed=run.kind == PRESSURE)
        yield Sheet(name, title, " ".join(_alt(names, page)), canvas, names[0])


def _summary(answer: DesignView, names: Sequence[str], run: RunRow) -> str:
    each = "" if len(names) == 1 else "The same for each. "
    kind = "under pressure" if run.kind == PRESSURE else "by gravity"
    later = " Only what is shown is built now." if run.later else ""
    return (
        f"{each}From {run.start} to {run.finish}, {kind}, {answer.describe(run.pipe)}. Not to "
        f"scale; lengths in bold are what to cut.{later}"
    )


def _items(answer: DesignView, names: Sequence[str], run: RunRow) -> Iterator[_Item]:
    """What water passes, each with what sits on its third opening beside it."""
    sides = {side.at: side for side in run.sides}
    for number, item in enumerate(run.line):
        yield _item(answer, run.pipe, item, ident("item", names[0], str(number + 1)))
        if number in sides:
            side = sides[number].model_copy(update={"role": f"beside: {sides[number].role}"})
            yield _item(answer, run.pipe, side, ident("side", names[0], str(number + 1)))


def _item(answer: DesignView, own: str, item: ItemRow, gid: str) -> _Item:
    """One of them; a piece of another pipe than the run's own is named."""
    beside = item.role.startswith("beside: ")
    words = f"{answer.describe(item.part)} ({item.part})"
    if item.length_mm is None:
        return _Item(item.role, f"On its side: {words}" if beside else words, None, gid)
    said = item.place or "piece of pipe"
    if item.part != own:
        said += f", of {words}"
    if item.through is not None:
        said += f", by {answer.describe(item.through)} ({item.through})"
    return _Item(item.role, said, answer.said(item.length_mm), gid)


def _lines(item: _Item) -> list[str]:
    """The words beside a thing, room left in the first line for the length of a piece."""
    if item.cut is None:
        return fold(item.words, WIDTH - EDGE - WORDS, SMALL)
    return fold(item.words, WIDTH - EDGE - WORDS - CUT, SMALL)


def _height(item: _Item) -> float:
    return max(LEAST if item.cut is None else PIECE, len(_lines(item)) * SMALL * 1.25 + 6.0)


def _row(canvas: Canvas, y: float, page: Sequence[_Item], *, pressed: bool) -> None:
    """The things of a row one under the other, water coming from above."""
    canvas.arrow(MIDDLE, y + 2.0, 0.0, 1.0)
    y += 5.0
    for item in page:
        high = _height(item)
        middle = y + high / 2
        if item.role.startswith("beside: "):
            _beside(canvas, middle, item.gid)
        elif item.cut is not None:
            _pipe(canvas, y, high, item.gid, pressed=pressed)
        else:
            canvas.line(((MIDDLE, y), (MIDDLE, y + high)), Look(PRESSURE_TONE if pressed else GRAVITY, 1.2))
            SYMBOLS.get(item.role, _sleeve)(canvas, middle, item.gid)
        lines, left = _lines(item), WORDS
        base = y + (high - len(lines) * SMALL * 1.25) / 2 + SMALL
        if item.cut is not None:
            canvas.text(WORDS, base, item.cut, SMALL, bold=True)
            left += CUT
        for at, line in enumerate(lines):
            canvas.text(left, base + at * SMALL * 1.25, line, SMALL)
        y += high
    canvas.arrow(MIDDLE, y + 7.0, 0.0, 1.0)


# --- how each kind of thing is drawn ---------------------------------------------------------------------


def _pipe(canvas: Canvas, y: float, high: float, gid: str, *, pressed: bool) -> None:
    look = Look(PRESSURE_TONE, 1.4, (5.0, 2.2), GROUND) if pressed else Look(GRAVITY, 1.4, (), GROUND)
    canvas.box(MIDDLE - 7.0, y + 1.5, MIDDLE + 7.0, y + high - 1.5, look, gid)


def _beside(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.line(((MIDDLE + 6.0, middle), (MIDDLE + 14.0, middle)), THIN)
    canvas.box(MIDDLE + 14.0, middle - 5.0, MIDDLE + 26.0, middle + 5.0, Look(FAINT, 1.2, (), GROUND), gid)


def _body(canvas: Canvas, middle: float, gid: str, corners: Sequence[Spot]) -> None:
    """An outline by its corners, seen from the middle of the thing."""
    canvas.area([(MIDDLE + x, middle + y) for x, y in corners], BODY, gid)


TURN = ((-6.0, -8.0), (6.0, -8.0), (6.0, -4.0), (16.0, -4.0), (16.0, 8.0), (2.0, 8.0), (-6.0, 0.0))
TEE = (
    *((-6.0, -9.0), (6.0, -9.0), (6.0, -5.0), (16.0, -5.0)),
    *((16.0, 5.0), (6.0, 5.0), (6.0, 9.0), (-6.0, 9.0)),
)
WEDGES = ((-8.0, -8.0), (8.0, -8.0), (-8.0, 8.0), (8.0, 8.0))


def _sleeve(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.box(MIDDLE - 9.0, middle - 6.0, MIDDLE + 9.0, middle + 6.0, BODY, gid)
    canvas.line(((MIDDLE - 9.0, middle), (MIDDLE + 9.0, middle)), Look(INK, 1.0))


def _turn(canvas: Canvas, middle: float, gid: str) -> None:
    _body(canvas, middle, gid, TURN)


def _tee(canvas: Canvas, middle: float, gid: str) -> None:
    _body(canvas, middle, gid, TEE)


def _valve(canvas: Canvas, middle: float, gid: str) -> None:
    _body(canvas, middle, gid, WEDGES)
    canvas.line(((MIDDLE, middle), (MIDDLE + 13.0, middle)), Look(INK, 1.3))
    canvas.line(((MIDDLE + 13.0, middle - 5.0), (MIDDLE + 13.0, middle + 5.0)), Look(INK, 2.2))


def _check(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.box(MIDDLE - 8.0, middle - 8.0, MIDDLE + 8.0, middle + 8.0, BODY, gid)
    canvas.arrow(MIDDLE, middle + 4.0, 0.0, 1.0)
    canvas.line(((MIDDLE - 6.0, middle + 5.0), (MIDDLE + 6.0, middle + 5.0)), Look(INK, 1.5))


def _wall(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.box(MIDDLE - 24.0, middle - 2.5, MIDDLE + 24.0, middle + 2.5, SOLID)
    canvas.box(MIDDLE - 7.0, middle - 9.0, MIDDLE + 7.0, middle + 9.0, BODY, gid)
    canvas.box(MIDDLE - 12.0, middle - 6.0, MIDDLE + 12.0, middle - 2.5, BODY)
    canvas.box(MIDDLE - 12.0, middle + 2.5, MIDDLE + 12.0, middle + 6.0, BODY)


def _pump(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.disc(MIDDLE, middle, 10.0, BODY, gid)
    canvas.arrow(MIDDLE, middle + 6.0, 0.0, 1.0)


def _cap(canvas: Canvas, middle: float, gid: str) -> None:
    canvas.box(MIDDLE - 8.0, middle - 5.0, MIDDLE + 8.0, middle + 5.0, SOLID, gid)


SYMBOLS: dict[str, Callable[[Canvas, float, str], None]] = {
    "pump": _pump,
    "tee": _tee,
    "open tee": _tee,
    "flushing tee": _tee,
    "turn": _turn,
    "turned down inside": _turn,
    "valve": _valve,
    "check valve": _check,
    "wall part": _wall,
    "access plug": _cap,
    "end cap": _cap,
}
"""By the role of a thing; any other is drawn as a sleeve."""


def _alt(names: Sequence[str], page: Sequence[_Item]) -> Iterator[str]:
    yield f"The parts of {', '.join(names)} one after the other, as the water passes them."
    for item in page:
        yield f"{item.words}, cut {item.cut}." if item.cut is not None else f"{item.words}."
