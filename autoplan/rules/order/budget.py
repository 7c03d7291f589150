"""The order stays inside the budget."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OfAll
from autoplan.rules.base import Concern, ModelView, Rule
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import SPENDING, less
from autoplan.rules.survey import Survey
from autoplan.units import cents_down


class Budget(Rule):
    """Purchase and freight <= budget, where the problem states one."""

    id = "budget"
    sentence = "The whole order stays inside the budget."
    source = "the problem"
    unit = "money"
    negotiable = True
    role = Concern.BUDGET
    of_money = True
    reads = (less(SPENDING),)

    def encode(self, draft: ModelView) -> None:
        """Spending <= budget."""
        budget = draft.site.wishes.budget
        if budget is not None:
            draft.at_least(self.id, Linear(constant=cents_down(budget)), draft.spending())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding where there is a budget."""
        budget = survey.site.wishes.budget
        if budget is not None:
            yield self.at_most(OfAll("order"), survey.order_cents() / 100, budget)
