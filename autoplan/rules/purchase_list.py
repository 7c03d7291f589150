"""The order holds every part of the drawing, and every piece can be cut from what is bought."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.rules.base import Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class PurchaseList(Rule):
    """Bought and owned >= used, part by part; each cut piece is on a stick, saw kerfs included."""

    id = "purchase-list"
    sentence = "The order holds every part used, and every piece can be cut from the sticks bought."
    source = "counting"
    unit = "missing"
    settings = (Setting("kerf", Dimension.LENGTH, "3 mm", "from memory", "width of a saw cut"),)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding for the parts, one per pipe."""
        bought: Counter[str] = Counter(survey.site.owned)
        for line in survey.drawing.purchases:
            packs = {offer.shop: offer.pack for offer in survey.catalog.part(line.part).offers}
            bought[line.part] += line.packs * packs[line.shop]
        missing = survey.used_pieces() - bought
        yield self.at_most("parts", float(sum(missing.values())), 0.0)
        for pipe, pieces in survey.used_pipe().items():
            yield self._pipe(survey, pipe, pieces, bought)

    def _pipe(self, survey: Survey, pipe: str, pieces: list[float], bought: Counter[str]) -> Finding:
        """Every piece is cut from a stick that was bought, or else from metres that were."""
        pipes = survey.catalog.pipes
        family = [row for row in pipes.values() if row.family == pipes[pipe].family]
        ids = {row.id for row in family}
        sticks = [cut for cut in survey.drawing.cuts if cut.pipe in ids]
        left = Counter(round(piece, 4) for piece in pieces)
        left.subtract(Counter(round(piece, 4) for cut in sticks for piece in cut.pieces_m))
        wrong = sum(-count for count in left.values() if count < 0)
        for cut in sticks:
            taken = sum(cut.pieces_m) + self.values["kerf"] * (len(cut.pieces_m) - 1)
            wrong += taken > cut.stick_m + 1e-6
            whole = pipes[cut.pipe].stick_m
            wrong += bool(whole) and abs(cut.stick_m - whole) > 1e-6
        for row in family:
            lengths = [cut.stick_m for cut in sticks if cut.pipe == row.id]
            laid = float(len(lengths)) if row.stick_m else sum(lengths)
            wrong += laid > bought[row.id] + 1e-6
        loose = not any(row.stick_m for row in family)
        metres = sum(bought[row.id] for row in family) if loose else 0
        uncut = sum(length * count for length, count in left.items() if count > 0)
        return self.at_most(pipe, float(wrong) + max(0.0, uncut - metres), 0.0, 1e-6)
