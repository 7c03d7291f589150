"""How exactly the holes of drains that part a vessel's water must be drilled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from autoplan.hydraulics.search import root
from autoplan.line.water import trim_of, trim_range
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.flows import shared_outlets
from autoplan.problem.site import Site
from autoplan.rules.base import Given, Rule, Setting
from autoplan.rules.streams import NEAR, Streams, streams_of
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class ShareHole(Rule):
    """A hole that is drilled too high or too low moves the shares of all drains of its vessel.

    Worked out for one hole at a time, with the others where they are drawn. What is set by hand may be off by
    what its part makes up for. Nothing is encoded: it warns.
    """

    id = "share-hole"
    sentence = "A hole that parts a vessel's water may be off by what a drill is, and no share is far off."
    source = "common practice, no source"
    unit = "mm"
    hard = False
    settings = (
        Setting("drill", Dimension.LENGTH, "1 mm", "common practice, no source", "how true a hole is"),
        Setting(
            "share",
            Dimension.NUMBER,
            "10 %",
            "from memory",
            "how far off a share may be, as a part of itself",
            Given.SHARE_OFF,
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only vessels with several drains that run at once."""
        return bool(shared_outlets(site))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per hole; value is how much too high or too low it may be."""
        for outlets in shared_outlets(survey.site).values():
            for name, off in hole_tolerances(survey, outlets, self.values["share"]).items():
                yield self.not_under(AtEnd(name, survey.run(name).start), off, self.values["drill"], 1e-6)


def hole_tolerances(survey: Survey, outlets: Sequence[str], share: float) -> dict[str, float]:
    """By how much each hole may lie too high or too low before a stream is off by a share of itself [m].

    Args:
        survey: the drawing measured up.
        outlets: drains of one vessel that run at design, the widest stream first.
        share: how far a stream may be off, as a part of itself [-].
    """
    by_hand = [name for name in outlets[1:] if trim_of(survey.drawn(name)) is not None]
    found = {}
    for name in by_hand:
        raised = survey.control_height(name) - survey.drilled_height(name)
        found[name] = max(0.0, min(raised, trim_range(survey.catalog, survey.drawn(name)) - raised))
    plain = [name for name in outlets if name not in by_hand]
    if len(plain) == 1:
        # Where its water stands the others follow, as far as they can.
        return {plain[0]: min(found.values()), **found}
    streams, asked = streams_of(survey), {name: survey.design_flow(name) for name in plain}
    for name in plain:
        down, up = (_may_be_off(streams, asked, name, way * share) for way in (1, -1))
        found[name] = max(0.0, min(down, up))
    return {name: found[name] for name in outlets}


def _may_be_off(streams: Streams, asked: Mapping[str, float], name: str, more: float) -> float:
    """How far a hole may be moved until its own stream takes so much more of itself, or another so much less.

    Args:
        streams: of the drawing.
        asked: what the drains should take [m3/s].
        name: whose hole is moved: down where `more` is over 0, else up.
        more: how far a stream may be off, as a part of itself [-].

    Returns:
        Distance [m].
    """
    others = [other for other in asked if other != name]
    whole = sum(asked.values())

    def passed(level: float) -> float:
        return sum(streams.taken(other, level, whole) for other in others)

    # The others are off at the first of these levels that the water comes to.
    ends = [streams.held(other, asked[other] * (1.0 - more)) for other in others]
    level = max(ends) if more > 0 else min(ends)
    rest = whole - passed(level)
    if (rest - asked[name] * (1.0 + more)) * more > 0:
        # Its own stream is off before they are.
        rest = asked[name] * (1.0 + more)
        drawn = [streams.held(other, asked[other]) for other in others]
        low, high = (level, max(drawn)) if more > 0 else (min(drawn), level)
        level = root(lambda at: passed(at) - (whole - rest), low, high, NEAR)[0]
    needed = streams.held(name, rest)
    return math.copysign(1.0, more) * (needed - level)
