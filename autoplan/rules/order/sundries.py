"""Cement, cleaner, lubricant, tape, screws and washers for every joint."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import Amounts, Want, is_listed, joint_needs
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.rules.base import Concern, Rule, Setting
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text
from autoplan.units import Dimension, read

THICKEST_M = 0.1
"""Beyond this a thickness of cement and the like is a slip of the pen [m]."""


class Sundries(Rule):
    """Counted joint by joint; the clamps on hose are for `hose-clamps` to say.

    A kind that the price list does not have at all is left to the builder, who is told. What the model needs
    is written by the orders.
    """

    id = "sundries"
    sentence = "The order holds the cement, cleaner, tape, screws, washers and lubricant that joints take."
    source = "counting, joint by joint"
    unit = "%"
    negotiable = True
    role = Concern.SUNDRIES
    of_money = True
    of_taste = True
    counts = frozenset(
        (
            SundryKind.CEMENT,
            SundryKind.CLEANER,
            SundryKind.LUBRICANT,
            SundryKind.TAPE,
            SundryKind.SCREW,
            SundryKind.WASHER,
        )
    )
    settings = (
        Setting(
            "film",
            Dimension.LENGTH,
            "3 mm",
            "from memory",
            "cement's thickness in a socket, waste counted in",
            most=THICKEST_M,
        ),
        Setting("turns", Dimension.NUMBER, "10", "common practice, no source", "turns of tape on a thread"),
        Setting(
            "screwed_turns",
            Dimension.NUMBER,
            "4",
            "common practice, no source",
            "turns of tape on a tape-and-screw joint",
        ),
        Setting(
            "cleaner",
            Dimension.LENGTH,
            "1 mm",
            "from memory: a third of the cement",
            "cleaner's thickness in a socket, what stays in the rag counted in",
            most=THICKEST_M,
        ),
        Setting(
            "lubricant",
            Dimension.LENGTH,
            "0.5 mm",
            "from memory",
            "lubricant's thickness on a pipe's end where a seal slides over it",
            most=THICKEST_M,
        ),
    )

    @property
    def amounts(self) -> Amounts:
        """What a joint takes by this rule's settings."""
        keys = "film", "turns", "screwed_turns", "cleaner", "lubricant"
        return Amounts(*(self.values[key] for key in keys))

    def wanted(self, survey: Survey) -> dict[Want, float]:
        """What all joints take but clamps: liquids [m3], tape [m], pieces of the rest."""
        wanted: dict[Want, float] = {}
        for joint in (*survey.joints, *survey.spare_joints):
            for want, amount in joint_needs(survey.catalog, joint, self.amounts).items():
                if want.kind in self.counts:
                    wanted[want] = wanted.get(want, 0.0) + amount
        return wanted

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per kind and size; value is how much of what is wanted is owned or ordered."""
        wanted = self.wanted(survey).items()
        listed = {want: amount for want, amount in wanted if amount and is_listed(survey.catalog, want.kind)}
        for want, had, asked in sorted(had_of(survey, listed)):
            yield self.not_under(OfWant(want), 100 * had / asked, 100.0, 1e-4)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """What joints take that is not to be had."""
        return not_listed(survey, self.wanted(survey))


def usual_amounts() -> Amounts:
    """What a joint takes by the settings that a problem leaves as they are."""
    return Sundries(
        {setting.key: read(setting.default, setting.dimension) for setting in Sundries.settings}
    ).amounts
