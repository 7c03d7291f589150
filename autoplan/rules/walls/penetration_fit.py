"""Each part in a wall suits the wall, the pipe and the water behind it."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Penetration, Way
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.site import RunKind, Vessel
from autoplan.rules.asked import InWall
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class PenetrationFit(Rule):
    """Wall thickness, wall shape, floor or wall, flexing and head of water, each against the part's row.

    A seal in a floor is refused: it has nothing to carry the pipe. A wall thinner than the limit flexes, and
    only parts that clamp it on both sides are admitted there, and seals whose pipe a stand carries.
    """

    id = "penetration-fit"
    sentence = "Every wall part suits the wall's thickness and shape, the pipe, and the water behind it."
    source = "limits of the part's row; common practice, no source"
    unit = "mm"
    local = True
    settings = (
        Setting(
            "flexes_under",
            Dimension.LENGTH,
            "3 mm",
            "common practice, no source",
            "wall thinner than this gives way",
        ),
    )

    @answers(InWall)
    def closes(self, asked: InWall) -> bool:
        """Whether the part closes on this wall."""
        place = asked.site.vessels[asked.vessel]
        if asked.in_floor and asked.part.way is Way.SEAL:
            return False
        if asked.run.kind is RunKind.GRAVITY and asked.part.way is Way.OVER_RIM:
            return False
        return all(margin >= -1e-9 for margin, _ in self._margins(place, asked.in_floor, asked.part))

    def _margins(self, place: Vessel, in_floor: bool, part: Penetration) -> list[tuple[float, str]]:
        wall = place.base_m if in_floor else place.wall_m
        margins = [
            (wall - part.wall_min_m, "wall thickness over the least"),
            (part.wall_max_m - wall, "wall thickness under the most"),
            (part.head_max_m - place.depth_m, "water behind it under the most"),
        ]
        if place.curved and not in_floor and not part.curved_ok:
            margins.append((-1.0, "curved wall"))
        # A seal holds in a thin wall too, since a stand then carries its pipe (rule seal-stand).
        if wall < self.values["flexes_under"] and not part.thin_flexing_ok and part.way is not Way.SEAL:
            margins.append((wall - self.values["flexes_under"], "thin wall that flexes"))
        return margins

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per part in a wall; value is the wall, limit the nearer of the part's two limits."""
        for name, drawn in survey.drawing.runs.items():
            for end in drawn.holes():
                in_floor = isinstance(end, ThroughFloor)
                part = survey.catalog.penetrations[end.penetration]
                place = survey.site.vessels[end.at]
                wall = place.base_m if in_floor else place.wall_m
                margin, _ = min(self._margins(place, in_floor, part))
                where = AtEnd(name, end.at)
                if margin == wall - part.wall_min_m:
                    yield self.not_under(where, wall, part.wall_min_m, 1e-6)
                elif margin == part.wall_max_m - wall:
                    yield self.at_most(where, wall, part.wall_max_m, 1e-6)
                else:
                    yield self.not_under(where, margin, 0.0, 1e-6)
