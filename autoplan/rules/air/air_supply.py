"""Each vessel gets its air at the depth of its diffusers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from autoplan.fittings.air import DrawnAirLine, DrawnAirPump
from autoplan.hydraulics.air import air_line_head
from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.brief import AirPoint
from autoplan.problem.site import Site
from autoplan.rules.asked import AirAt
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey
from autoplan.sentence import Amount, say
from autoplan.units import tenth_mm_down, tenth_mm_up


class AirSupply(Rule):
    """An air pump gives less the deeper its diffusers hang and the longer and narrower its lines are.

    Lines of one pump differ in depth; a tap on each holds back those that would take too much, so the pump is
    judged at the line that asks for most pressure. In the model a way to build the air is admitted if the
    pump's pressure at the whole flow, rounded down, covers every line's, rounded up.
    """

    id = "air-supply"
    sentence = "Each vessel gets the air asked for, at the depth of its diffusers."
    source = say("8 L/min for each {}: from memory", Amount(1.0, "L"))
    unit = "L/h"
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with air."""
        return site.air is not None

    @answers(AirAt)
    def presses(self, asked: AirAt) -> bool:
        """Whether a pump's pressure at its whole flow covers what a line needs [m of water]."""
        return tenth_mm_down(asked.pressure_m) >= tenth_mm_up(asked.needed_m)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel with air, and one per tank in a power cut."""
        wish = survey.site.air
        if wish is None:
            return
        cut = wish.in_power_cut(survey.site.tanks())
        for battery, points, when in ((False, wish.points, ""), (True, cut, "power cut")):
            pumps = [pump for pump in survey.drawing.air if pump.battery is battery]
            given = air_given(survey, points, pumps)
            for point in points:
                value, limit = given[point.vessel], point.flow_m3_s
                yield self.not_under(InVessel(point.vessel, when=when), value, limit, 1e-6)


def air_given(
    survey: Survey, points: Sequence[AirPoint], pumps: Sequence[DrawnAirPump]
) -> Mapping[str, float]:
    """Free air [m3/s] that every vessel can have: no more than its diffusers and lines let through."""
    asked = {point.vessel: point for point in points}
    count = Counter(line.vessel for pump in pumps for line in pump.lines)
    given = dict.fromkeys(asked, 0.0)
    for pump in pumps:
        lines = [line for line in pump.lines if line.vessel in asked]
        wanted = sum(asked[line.vessel].flow_m3_s / count[line.vessel] for line in lines)
        if not lines or not _hung(survey, pump):
            continue
        needed = max(_needed(survey, pump, line, asked[line.vessel], count) for line in lines)
        share = PumpCurve(survey.catalog.air[pump.part].curve).flow(needed) / wanted
        through = [survey.catalog.air[part].flow_m3_s for part in pump.manifolds]
        if through:
            share = min(share, sum(through) / wanted)
        for line in lines:
            parts = [line.diffuser, *(part for part in (line.tap, line.check) if part is not None)]
            most = min(survey.catalog.air[part].flow_m3_s for part in parts)
            own = asked[line.vessel].flow_m3_s / count[line.vessel]
            given[line.vessel] += min(own * share, most)
    return given


def _hung(survey: Survey, pump: DrawnAirPump) -> bool:
    """Whether every line hangs on an outlet, and on a tap where there are several."""
    catalog = survey.catalog.air
    if len(pump.lines) == 1 and not pump.manifolds:
        return True
    if pump.manifolds:
        ports = sum(catalog[part].outlets for part in pump.manifolds)
        return len(pump.manifolds) <= catalog[pump.part].outlets and len(pump.lines) <= ports
    return len(pump.lines) <= catalog[pump.part].outlets and all(line.tap for line in pump.lines)


def _needed(
    survey: Survey, pump: DrawnAirPump, line: DrawnAirLine, point: AirPoint, count: Mapping[str, int]
) -> float:
    """Pressure [m of water] that one line asks of its pump at its share of the flow."""
    catalog = survey.catalog.air
    flow = point.flow_m3_s / count[line.vessel]
    fittings = [line.diffuser, line.tap, line.check, *pump.manifolds[:1]]
    taken = sum(catalog[part].head_m for part in fittings if part is not None)
    return point.depth_m + taken + air_line_head(flow, catalog[line.line].bore_m, line.length_m)
