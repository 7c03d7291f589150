"""How each stick of pipe is cut, as bars to scale; and what is cut from the roll."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from autoplan.report.alike import together
from autoplan.report.contract.built import CutRow, PieceRow
from autoplan.report.drawings.canvas import (
    EDGE,
    SMALL,
    TALLEST,
    WIDTH,
    Canvas,
    begun,
    fold,
    ident,
    letter,
    width_of,
)
from autoplan.report.drawings.paint import BAR, INK, LEFT_OVER, SAW, Look
from autoplan.report.drawings.view import DesignView, Sheet, divided, paged

ROOM = WIDTH - 2 * EDGE
"""Width of the longest stick [px]."""

BAR_HEIGHT = 18.0


@dataclass(frozen=True, slots=True)
class _Bar:
    """Sticks that are cut alike: the rows of the answer, marks of their pieces, what is left over.

    `what` says of each stick what its pieces are for.
    """

    rows: tuple[CutRow, ...]
    pipe: str
    pieces: tuple[str, ...]
    what: tuple[tuple[str, ...], ...]
    left: str

    @property
    def row(self) -> CutRow:
        """Any of them."""
        return self.rows[0]

    @property
    def title(self) -> str:
        """Which they are."""
        numbers = [str(row.stick) for row in self.rows]
        owner = "Your own" if self.row.owned else "No."
        return f"{owner} {together(numbers)}: {self.pipe}"

    @property
    def words(self) -> str:
        """Every piece by its letter; of each stick where there are several."""
        said = []
        for at, mark in enumerate(self.pieces):
            what = list(dict.fromkeys(pieces[at] for pieces in self.what))
            said.append(f"{letter(at).lower()} {mark} {', '.join(what)}")
        return f"{'; '.join(said)}; left over {self.left}."


def sticks(answer: DesignView) -> Iterator[Sheet]:
    """Drawings of all sticks on one scale, then of what is cut from the roll; none where no pipe is cut."""
    longest = max((cut.stick_mm for cut in answer.design.cuts), default=0.0)
    pages = divided(_alike(answer), _height, TALLEST - 90.0)
    for name, title, page in paged("sticks", "Cutting the sticks, to scale", pages):
        yield _sheet(answer, page, name, title, longest)
    yield from _roll(answer)


def _alike(answer: DesignView) -> list[_Bar]:
    """The sticks in their order, those together that are cut alike."""
    gauge = answer.units.piece
    found: dict[tuple[object, ...], list[CutRow]] = {}
    for cut in answer.design.cuts:
        found.setdefault((cut.pipe, cut.stick_mm, cut.owned, *cut.marks(gauge)), []).append(cut)
    made = []
    for alike in found.values():
        steps, left = alike[0].marks(gauge)
        pipe = f"{answer.describe(alike[0].pipe)} ({alike[0].pipe})"
        what = tuple(tuple(_what(piece) for piece in cut.pieces) for cut in alike)
        made.append(_Bar(tuple(alike), pipe, tuple(map(gauge.figure, steps)), what, gauge.figure(left)))
    return made


def _what(piece: PieceRow) -> str:
    return f"{piece.run}, {piece.place}" if piece.run else "a spare"


def _height(stick: _Bar) -> float:
    lines = len(fold(stick.title, ROOM, SMALL, bold=True)) + len(fold(stick.words, ROOM, SMALL))
    return BAR_HEIGHT + lines * SMALL * 1.3 + 20.0


def _sheet(answer: DesignView, page: Sequence[_Bar], name: str, title: str, longest: float) -> Sheet:
    canvas, y = begun(
        title,
        f"Lengths in {answer.unit}. A thick line is a saw cut of {answer.said(answer.design.saw_cut_mm)}, "
        "allowed for; what is crossed through is left over. Write on each piece what it is for.",
    )
    for stick in page:
        y = _bar(canvas, y + 8.0, stick, ROOM / longest, answer.design.saw_cut_mm)
    alt = " ".join(f"{stick.title}: {stick.words}" for stick in page)
    return Sheet(name, title, alt, canvas)


def _bar(canvas: Canvas, y: float, stick: _Bar, scale: float, saw_mm: float) -> float:
    """A stick as a bar, its title over it and its pieces in words under it; answers where the next begins."""
    for line in fold(stick.title, ROOM, SMALL, bold=True):
        canvas.text(EDGE, y + SMALL, line, SMALL, bold=True)
        y += SMALL * 1.3
    y += 2.0
    own = ident(stick.row.pipe, str(stick.row.stick))
    right, bottom = EDGE + stick.row.stick_mm * scale, y + BAR_HEIGHT
    canvas.box(EDGE, y, right, bottom, LEFT_OVER, f"stick-{own}")
    canvas.line(((max(EDGE, right - stick.row.offcut_mm * scale), bottom), (right, y)), Look(INK, 0.8))
    at_mm = 0.0
    edges = []
    for number, piece in enumerate(stick.row.pieces_mm):
        left, end = EDGE + at_mm * scale, EDGE + (at_mm + piece) * scale
        canvas.box(left, y, end, bottom, BAR, f"piece-{own}-{number + 1}")
        edges.append((left, end))
        at_mm += piece + saw_mm
    for (_, end), (start, _) in pairwise([*edges, (min(right, EDGE + at_mm * scale), right)]):
        if end < right - 0.5:
            canvas.line((((end + start) / 2, y - 2.0), ((end + start) / 2, bottom + 2.0)), SAW)
    for number, (left, end) in enumerate(edges):
        mark = stick.pieces[number]
        for words in (f"{letter(number).lower()} {mark}", letter(number).lower()):
            if width_of(words, SMALL) <= end - left - 4.0:
                canvas.text((left + end) / 2, y + BAR_HEIGHT / 2 + 3.6, words, SMALL, "middle")
                break
    return canvas.para(EDGE, bottom + 3.0, stick.words, size=SMALL)


def _roll(answer: DesignView) -> Iterator[Sheet]:
    """What is cut from pipe that is sold by the metre."""
    pieces: dict[str, list[PieceRow]] = {}
    for each in answer.design.from_roll:
        pieces.setdefault(each.pipe, []).append(each)
    if not pieces:
        return
    lines: list[tuple[str, PieceRow | None]] = []
    for pipe, cut in pieces.items():
        lines.append((f"{answer.describe(pipe)} ({pipe})", None))
        lines += [(f"{answer.mark(each.length_mm)} for {_what(each)}", each) for each in cut]
    longest = max(each.length_mm for each in answer.design.from_roll)
    pages, height = [list[tuple[str, PieceRow | None]]()], 0.0
    for line in lines:
        if height > TALLEST - 130.0:
            pages.append([])
            height = 0.0
        pages[-1].append(line)
        height += 18.0 if line[1] is None else 27.0
    for name, title, page in paged("roll", "Cut from the roll, to scale", pages):
        canvas, y = begun(title, f"Lengths in {answer.unit}.")
        y += 4.0
        for at, (words, piece) in enumerate(page):
            for part in fold(words, ROOM, SMALL, bold=piece is None):
                canvas.text(EDGE, y + SMALL + 2.0, part, SMALL, bold=piece is None)
                y += SMALL * 1.3
            if piece is not None:
                gid = ident("roll", piece.pipe, str(at))
                canvas.box(EDGE, y + 4.0, EDGE + piece.length_mm / longest * ROOM, y + 9.0, BAR, gid)
                y += 14.0
        yield Sheet(name, title, " ".join(f"{words}." for words, _ in page), canvas)
