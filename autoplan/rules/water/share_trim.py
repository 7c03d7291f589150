"""Where drains part a vessel's water by heights that lie close together, their shares are set by hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import permutations
from typing import ClassVar

from autoplan.fittings.trim import Trim
from autoplan.line.water import trim_of, trim_range
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.problem.flows import shared_outlets
from autoplan.problem.site import Site
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Given, ModelView, Rule, Setting, answers
from autoplan.rules.heights import ROUNDED, STEPS_IN_A_M, in_whole_mm
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.quantities import HEAD, TRIMMED, more, parts_water, same
from autoplan.rules.survey import Survey
from autoplan.rules.water.share_hole import hole_tolerances
from autoplan.sentence import Amount, Text, say
from autoplan.units import Dimension


class ShareTrim(Rule):
    """Of drains whose inverts are nearly level a few millimetres of drilling move the shares.

    The widest stream's hole holds the level. Each other whose invert lies close to that of another drain of
    its vessel has a part to set it by: an elbow that turns on its inner end, a sleeve that slides, a valve.
    """

    id = "share-trim"
    sentence = (
        "Where inverts of one vessel's drains lie close together, each but the widest stream's has a part "
        "that sets its share."
    )
    source = "from memory"
    unit = "mm"
    negotiable = True
    of_taste = True
    settings = (
        Setting(
            "apart",
            Dimension.LENGTH,
            "20 mm",
            "from memory",
            "inverts of one vessel's drains closer than this are trimmed",
        ),
        Setting(
            "low",
            Dimension.LENGTH,
            "5 mm",
            "common practice, no source",
            "how much lower a drain that is trimmed is drilled, so that trimming can only raise it",
            Given.TRIM,
        ),
    )
    borrows: ClassVar[Mapping[str, Given]] = {"share": Given.SHARE_OFF}
    reads = (same(HEAD, parts_water), more(TRIMMED, parts_water))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only vessels with several drains that run at once."""
        return bool(shared_outlets(site))

    @answers(Fitted)
    def is_level_with_none(self, asked: Fitted) -> bool:
        """None without a part where another drain of the vessel is built alike for as much water."""
        if asked.kind is not Trim or asked.fitting is not None or asked.run.valve or not self.values["apart"]:
            return True
        site, run = asked.site, asked.run
        beside = [outlets for outlets in shared_outlets(site).values() if run.name in outlets[1:]]
        alike = [site.runs[name] for outlets in beside for name in outlets if name != run.name]
        flow = site.flows[run.name]
        return not any(one.run_class == run.run_class and site.flows[one.name] == flow for one in alike)

    def told_without(self, survey: Survey) -> Iterator[Text]:
        """How exactly the hole of each vessel's most touchy smaller stream would have to be drilled."""
        for vessel, outlets in shared_outlets(survey.site).items():
            near = hole_tolerances(survey, outlets, self.values["share"])
            name = min(outlets[1:], key=near.__getitem__)
            yield say(
                "Without a part that sets it, a hole {} too high or too low moves what {} takes of the "
                "water of {} by {}.",
                Amount(near[name], "mm", 1),
                name,
                vessel,
                f"{self.values['share']:.0%}",
            )

    def encode(self, draft: ModelView) -> None:
        """Of two drains whose heads over their inverts come too close, one is not without a trim."""
        for vessel, outlets in shared_outlets(draft.site).items():
            off = (ROUNDED if in_whole_mm(draft.site.vessels[vessel]) else 0) + 1
            asked = self.values["apart"] + off / STEPS_IN_A_M
            for own, other in permutations(outlets, 2):
                if own != outlets[0]:
                    self._apart(draft, own, other, asked)

    def _apart(self, draft: ModelView, own: str, other: str, asked_m: float) -> None:
        """One drain, where nothing trims it, so far from another."""
        set_by_hand = dict(draft.each(TRIMMED, own))
        plain = [(var, head) for var, head in draft.each(HEAD, own) if not set_by_hand[var]]
        by_head: dict[float, list[Var]] = {}
        for var, head in draft.each(HEAD, other):
            by_head.setdefault(head, []).append(var)
        alike = draft.site.runs[own].run_class == draft.site.runs[other].run_class
        for there, choices in by_head.items():
            close = [var for var, head in plain if abs(head - there) < asked_m]
            if alike:
                close = [var for var in close if var in choices]
            if close:
                both = [(var, -1) for var in dict.fromkeys(close if alike else (*close, *choices))]
                draft.at_least(self.id, Linear(constant=0 if alike else 1) + weighted(both), 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain but the widest stream's: how far its invert lies from the next one's.

        Of one that is trimmed what is left of the part's range, to either side, once it is set.
        """
        for outlets in shared_outlets(survey.site).values():
            for name in outlets[1:]:
                place, height = AtEnd(name, survey.run(name).start), survey.control_height(name)
                trim = trim_of(survey.drawn(name))
                if trim is None:
                    apart = min(abs(height - survey.control_height(one)) for one in outlets if one != name)
                    yield self.not_under(place, apart, self.values["apart"], 1e-6)
                else:
                    raised = height - survey.drilled_height(name)
                    left = min(raised, trim_range(survey.catalog, survey.drawn(name)) - raised)
                    yield self.not_under(place, left, 0.0, 0.11)
