"""The order holds every part of the drawing, and every piece can be cut from what is bought."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from autoplan.catalog.parts import Pipe
from autoplan.drawing import CutStick
from autoplan.outcome import Finding
from autoplan.places import OfAll, OfPart
from autoplan.rules.base import Concern, Given, Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import TENTH_MM, Dimension


class PurchaseList(Rule):
    """Bought and owned >= used, part by part; each cut piece is on a stick, saw kerfs included."""

    id = "purchase-list"
    sentence = "The order holds every part used, and every piece can be cut from the sticks bought."
    source = "counting"
    unit = "missing"
    role = Concern.ORDER
    of_money = True
    settings = (
        Setting(
            "kerf", Dimension.LENGTH, "3 mm", "from memory", "width of a saw cut", Given.SAW_CUT, most=0.1
        ),
        Setting(
            "waste",
            Dimension.NUMBER,
            "2 %",
            "common practice, no source",
            "pipe left of a stick for a miscut, as a share of what is cut from it",
            Given.WASTE,
        ),
        Setting(
            "each",
            Dimension.LENGTH,
            "10 mm",
            "common practice, no source",
            "pipe left besides of each stick that more than one piece is cut from",
            Given.EACH,
        ),
    )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding for the parts, one per pipe."""
        bought: Counter[str] = Counter(survey.site.owned)
        for line in survey.drawing.purchases:
            packs = {offer.shop: offer.pack for offer in survey.catalog.part(line.part).offers}
            bought[line.part] += line.packs * packs[line.shop]
        missing = survey.used_pieces() - bought
        yield self.at_most(OfAll("parts"), float(sum(missing.values())), 0.0)
        for pipe, pieces in survey.used_pipe().items():
            yield self._pipe(survey, pipe, pieces)

    def _planned(self, piece: float, there: Iterable[float]) -> float:
        """What a piece takes of a stick with its share of waste [m]; a whole length is cut from nothing.

        Args:
            piece: the piece [m].
            there: lengths that are sold or owned [m].
        """
        whole = (length for length in there if length >= piece - 1e-6)
        # It is drawn up to a tenth of a millimetre longer than was planned for.
        planned = (piece - TENTH_MM) * (1 + self.values["waste"])
        return min(max(piece, planned), *whole, math.inf)

    def _wasteless(self, survey: Survey, family: Sequence[Pipe], cuts: Sequence[CutStick]) -> int:
        """For how many rows by the metre the metres bought do not hold the pieces with their waste."""
        short = 0
        for row in (row for row in family if not row.stick_m):
            pieces = [p for cut in cuts if cut.pipe == row.id and not cut.owned for p in cut.pieces_m]
            kept = sum(self._planned(piece, _there(survey, family)) for piece in pieces)
            short += kept > sum(_bought(survey, row)) + 1e-6
        return short

    def _pipe(self, survey: Survey, pipe: str, pieces: list[float]) -> Finding:
        """Every piece is cut from a length that was bought or owned, or is all metres of one shop."""
        pipes = survey.catalog.pipes
        family = [row for row in pipes.values() if row.family == pipes[pipe].family]
        loose = not any(row.stick_m and _to_be_had(survey, row) for row in family)
        cuts = [cut for cut in survey.drawing.cuts if cut.pipe in {row.id for row in family}]
        left = Counter(round(piece, 4) for piece in pieces)
        left.subtract(Counter(round(piece, 4) for cut in cuts for piece in cut.pieces_m))
        wrong = sum(-count for count in left.values() if count < 0)
        there = _there(survey, family)
        for cut in cuts:
            # Where a shop sells nothing but metres it cuts to measure.
            kerf = 0.0 if loose and not cut.owned else self.values["kerf"]
            # Of metres the waste is in their sum: a shop cuts lengths as they are asked for.
            planned = pipes[cut.pipe].stick_m > 0 or cut.owned
            taken = sum(self._planned(piece, there) if planned else piece for piece in cut.pieces_m)
            taken += kerf * (len(cut.pieces_m) - 1)
            # One piece may be all of it: there is nothing to cut it from then.
            taken += self.values["each"] if planned and len(cut.pieces_m) > 1 else 0.0
            wrong += taken > cut.stick_m + 1e-6
        for row in family:
            for owned, lengths in ((True, _owned(survey, row)), (False, _bought(survey, row))):
                used = [cut.stick_m for cut in cuts if cut.pipe == row.id and cut.owned is owned]
                by_metre = not row.stick_m and not owned
                wrong += _not_cut(used, lengths, row.longest_m) if by_metre else _too_long(used, lengths)
        wrong += self._wasteless(survey, family, cuts)
        metres = [length for row in family for length in _bought(survey, row)] if loose and not cuts else []
        uncut = sum(length * count for length, count in left.items() if count > 0)
        longest = max(row.longest_m for row in family)
        wrong += sum(count for length, count in left.items() if length > longest + 1e-6 and count > 0)
        return self.at_most(OfPart(pipe), wrong + max(0.0, uncut - max(metres, default=0.0)), 0.0, 1e-6)


def _there(survey: Survey, family: Iterable[Pipe]) -> list[float]:
    """Every length of one pipe that is sold or that the builder has [m]."""
    return [length for row in family for length in (row.longest_m, *_owned(survey, row))]


def _to_be_had(survey: Survey, row: Pipe) -> bool:
    """Whether a shop may sell a row, or the builder has some of it."""
    return row.id not in survey.site.unavailable or bool(_owned(survey, row))


def _owned(survey: Survey, row: Pipe) -> list[float]:
    """Every length of a row that the builder has [m]."""
    offcuts = list(survey.site.offcuts.get(row.id, ()))
    return offcuts + _lengths(row, survey.site.owned.get(row.id, 0))


def _bought(survey: Survey, row: Pipe) -> list[float]:
    """Every length of a row that is ordered [m]; each shop's metres are one length."""
    packs = {offer.shop: offer.pack for offer in row.offers}
    lines = [line for line in survey.drawing.purchases if line.part == row.id]
    return [length for line in lines for length in _lengths(row, line.packs * packs[line.shop])]


def _lengths(row: Pipe, count: int) -> list[float]:
    """So many sticks of a row, or so many metres in one."""
    return [row.stick_m] * count if row.stick_m else [float(count)] * bool(count)


def _too_long(used: list[float], lengths: list[float]) -> int:
    """How many of the lengths cut from are not among those there are."""
    there = sorted(lengths, reverse=True)
    wrong = 0
    for length in sorted(used, reverse=True):
        if there and there[0] >= length - 1e-6:
            there.pop(0)
        else:
            wrong += 1
    return wrong


def _not_cut(used: list[float], metres: list[float], longest: float) -> int:
    """1 unless the shops cut all the lengths that are cut from, none over the longest, of the metres ordered.

    Args:
        used: the lengths [m].
        metres: what is ordered of each shop [m].
        longest: the longest that a shop cuts [m].
    """
    too_long = any(length > longest + 1e-6 for length in used)
    return int(too_long or not _handed_out(sorted(used, reverse=True), metres))


def _handed_out(used: list[float], metres: list[float]) -> bool:
    """Whether every length comes out of some shop's metres; each is tried on each."""
    if not used:
        return True
    return any(
        room >= used[0] - 1e-6 and _handed_out(used[1:], [*metres[:i], room - used[0], *metres[i + 1 :]])
        for i, room in enumerate(metres)
    )
