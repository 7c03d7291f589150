"""No vessel siphons back through its inlet further than a few millimetres when the power fails."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.ends import AtVessel
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Guard, Run
from autoplan.rules.base import FAR, Given, ModelView, Rule, Setting
from autoplan.rules.linear import weighted
from autoplan.rules.quantities import MOUTH, more, pumped
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down

TOLERANCE_MM = 0.11
"""Heights are drawn in tenths of a millimetre."""


class SiphonBack(Rule):
    """Air gap: the mouth of the inlet stays above the overload level. Hole: it lies under the running water
    and over the mouth, and is wide enough to let air in. A check valve is asked for by the rule check-valve.

    The optimiser draws air gaps through the wall at the overload level plus the gap, or over the rim: turned
    down by a plain elbow, the crest as high as keeps the elbow's mouth over the highest water that the wall
    may hold. A longer piece would only save splashing, and hang in the water. Guarded inlets go down into the
    water at the same depth whatever the level: hole, then mouth.
    """

    id = "siphon-back"
    sentence = "Each inlet opens above the highest water, or lets air in just under the running water."
    source = "common practice, no source"
    unit = "mm"
    settings = (
        Setting(
            "air_gap",
            Dimension.LENGTH,
            "30 mm",
            "from memory",
            "air between the highest water and an inlet",
            Given.AIR_GAP,
        ),
        Setting(
            "hole_depth",
            Dimension.LENGTH,
            "30 mm",
            "from memory",
            "running water over a siphon-break hole",
            Given.AIR_HOLE_DEPTH,
        ),
        Setting("hole", Dimension.LENGTH, "6 mm", "from memory", "least siphon-break hole", Given.AIR_HOLE),
        Setting(
            "hole_share",
            Dimension.NUMBER,
            "20 %",
            "from memory",
            "the same as a share of the bore",
            Given.AIR_HOLE_SHARE,
        ),
        Setting(
            "cover",
            Dimension.LENGTH,
            "50 mm",
            "from memory",
            "from the hole down to a mouth under water",
            Given.AIR_HOLE_COVER,
        ),
    )
    reads = (more(MOUTH, pumped),)

    def encode(self, draft: ModelView) -> None:
        """Overload level <= mouth - gap, for air gaps whose mouth is at a fixed height, over a rim."""
        for path in draft.pressure_paths():
            last = draft.site.runs[path[-1]]
            highest = []
            for var, mouth in draft.each(MOUTH, last.name):
                highest.append((var, FAR if mouth is None else tenth_mm_down(mouth - self.values["air_gap"])))
            if any(height != FAR for _, height in highest):
                draft.at_least(self.id, weighted(highest), draft.overload_level(last.finish))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per air gap; three per hole: water over it, its width, from it to the mouth."""
        factor = survey.overload_factor()
        for run in survey.pressure_runs():
            end = survey.drawn(run.name).finish
            if not isinstance(end, AtVessel):
                continue
            if end.guard is Guard.AIR_GAP:
                gap = survey.mouth_height(run.name) - survey.standing_level(run.finish, factor, clogged=True)
                yield self.not_under(OnRun(run.name), gap, self.values["air_gap"], TOLERANCE_MM)
            elif end.guard is Guard.HOLE:
                yield from self._hole(survey, run)

    def _hole(self, survey: Survey, run: Run) -> Iterator[Finding]:
        end, values = survey.drawn(run.name).rim, self.values
        hole = None if end is None else end.air_hole_m
        centre = survey.level(run.finish) if hole is None else hole
        width = 0.0 if end is None else end.air_hole_width_m
        over = survey.level(run.finish) - centre
        yield self.not_under(OnRun(run.name, "water over its hole"), over, values["hole_depth"], TOLERANCE_MM)
        least = max(values["hole"], values["hole_share"] * survey.pipe(run.name).bore_m)
        yield self.not_under(OnRun(run.name, "width of its hole"), width, least, 1e-6)
        below = survey.draws_down_to(run.name) - survey.mouth_height(run.name)
        yield self.not_under(OnRun(run.name, "mouth under its hole"), below, values["cover"], TOLERANCE_MM)
