"""Why there is no design, and what would mend it; what a missing part costs.

Nothing is advised that was not tried: each rule that is named as the one to give way on was switched off and
the problem searched again, and each number of millimetres, litres or litres an hour was put into the problem
and searched again. What is not tried was shown to be in vain, by heights that do not sum up or by the
relaxation (`optimiser.search.without`), or is said to be left out for lack of time.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from autoplan.advice.alike import unlike
from autoplan.advice.at_once import refused_at_once, too_weak
from autoplan.advice.case import WITHOUT, Allowance, Case, Tell
from autoplan.advice.contradiction import never_cheaper
from autoplan.advice.flow import less_flow
from autoplan.advice.heights import Refusal, asked_by, clashing
from autoplan.advice.inflow import more_inflow
from autoplan.advice.missing import missing
from autoplan.advice.moves import moved
from autoplan.advice.pumps import duty, unsuited
from autoplan.advice.sump import sump_remedies
from autoplan.catalog.parts import Catalog
from autoplan.errors import InternalError
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.attempt import Attempt, Try
from autoplan.optimiser.search.clock import OutOfTimeError
from autoplan.optimiser.search.ranking import Ranked
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.without import Without
from autoplan.outcome import Clash
from autoplan.problem.problem import Problem
from autoplan.problem.site import Site
from autoplan.rules.base import Concern, Mend, Rule
from autoplan.rules.book import KINDS, ROLES, RuleBook
from autoplan.rules.survey import Survey
from autoplan.sentence import Text, joined

EXPLAIN_S = 180.0
"""Time for all of it [s], where the user sets none: a builder would rather hear part of it than wait."""

SLACK_CENTS = 5.0
"""Allowance for the relaxation's own arithmetic [cents]."""

NO_TIME = "No time was left to look for what would mend it."

MOST_UNTRIED = 4
"""Rules that are named one by one among what there was no time for."""


def explain_none(
    site: Site,
    catalog: Catalog,
    book: RuleBook,
    lacking: NoOptionError | None,
    search: Try,
    workshop: Workshop,
    deadline: float | None,
    tell: Tell = lambda _: None,
) -> Clash:
    """Why there is no design.

    Args:
        site, catalog, book: the problem, price list and rules that have none.
        lacking: what it has no way to build, if that is why.
        search: searches a changed problem or rule book.
        workshop: what the drafts of this problem share.
        deadline: `time.monotonic()` after which no further remedy is tried; None for `EXPLAIN_S` from now.
        tell: told what is being tried.

    Returns:
        The rules that clash, and one sentence per remedy that was tried and works.
    """
    tell("looking for why")
    until = min(math.inf if deadline is None else deadline, time.monotonic() + EXPLAIN_S)
    workshop.until = until
    try:
        return _explained(site, catalog, book, lacking, search, workshop, Allowance(until), tell)
    except OutOfTimeError:
        refused = refused_at_once(site, book, workshop.shelf(site, book))
        return Clash(_rules(refused), (*(one.sentence for one in refused), NO_TIME))
    finally:
        workshop.until = None


def _explained(
    site: Site,
    catalog: Catalog,
    book: RuleBook,
    lacking: NoOptionError | None,
    search: Try,
    workshop: Workshop,
    clock: Allowance,
    tell: Tell,
) -> Clash:
    """The same in the time of a clock, which may run out in the first draft."""
    refused = refused_at_once(site, book, workshop.shelf(site, book))
    with clock.taking("draft"):
        pumped = not any(too_weak(site, book, workshop.shelf(site, book)))
        vain = Without(site, catalog, book, workshop, water_only=bool(refused), drafted=pumped)
    clock.expect(sum(workshop.took.values()))
    case = Case(site, catalog, book, search, vain, workshop, clock, tell)
    refused = _sharpest(refused, vain)
    mends, sentences = list(_rules(refused)), [one.sentence for one in refused]
    if refused:
        sentences += _numbers(case, mends)
        if vain.lacking is not None:
            # Nothing mends the heights while this lacks too.
            blamed, lacks = missing(case, vain.lacking)
            sentences += lacks
            mends += [rule for rule in blamed if rule not in mends]
        sentences += unlike(site, None if vain.lacking is None else vain.lacking.run_class, _vessels(refused))
        found, said = _giving_way(case, [rule.id for rule in book.rules if rule.id not in mends])
    elif lacking is not None:
        blamed, lacks = missing(case, lacking)
        sentences += [*lacks, *unlike(site, lacking.run_class)]
        found, said = _giving_way(case, blamed)
        mends += [rule for rule in blamed if rule not in found]
    else:
        found, said = _giving_way(case, [rule.id for rule in book.rules])
        if not found:
            found, said = _clash(case)
    mends += found
    sentences += said
    if not refused or vain.lacking is None:
        sentences += _remedies(case, mends)
    if clock.untried:
        sentences.append(_untried(clock.untried))
    return Clash(tuple(mends), tuple(sentences))


def _untried(what: Sequence[str]) -> str:
    """What there was no time for; of many rules only how many."""
    names = list(dict.fromkeys(what))
    rules = [name for name in names if name.startswith(WITHOUT)]
    if len(rules) > MOST_UNTRIED:
        names = [f"leaving {len(rules)} more rules aside, one by one", *(n for n in names if n not in rules)]
    return f"Not tried for lack of time: {', '.join(names)}."


def _rules(refused: Sequence[Refusal]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(rule for one in refused for rule in one.rules))


def _vessels(refused: tuple[Refusal, ...]) -> frozenset[str]:
    return frozenset(name for one in refused for name in one.vessels)


def _sharpest(refused: tuple[Refusal, ...], vain: Without) -> tuple[Refusal, ...]:
    """What refuses the site, by its heights alone or with the least losses of what can be built.

    With losses fewer rules may clash, or heights that would sum up without them.
    """
    if vain.plain is None or len(refused) > 1:
        return refused
    chain = clashing(list(asked_by(vain.plain.draft)))
    if chain is None or (refused and not set(chain.rules) < set(refused[0].rules)):
        return refused
    return (chain,)


def _numbers(case: Case, rules: Sequence[str]) -> Iterator[Text]:
    """What a pump would have to give, where pumps have a part in it, and what to do about heights."""
    if ROLES[Concern.LIFT] in rules:
        yield from (duty(case, vessel).sentence for vessel in case.site.pumped_vessels())
    for rule in case.book.rules:
        if rule.id in rules:
            yield from rule.told_at_once(case.site)
    hints = "".join(KINDS[rule].hint for rule in rules)
    they = "this is no rule to drop" if len(rules) == 1 else "these are no rules to drop"
    change = f"change the heights, flows, vessels or parts that the numbers come from{hints}"
    if rules:
        yield f"{', '.join(rules)}: {they}; {change}."


def _remedies(case: Case, mends: Sequence[str]) -> Iterator[Text]:
    """What would mend it besides rules: levels, a larger sump, fewer beds full at once, other flows."""
    asked = {mend for rule in mends for mend in KINDS[rule].mended_by}
    ways = (
        (Mend.HEIGHTS, moved),
        (Mend.SUMP, sump_remedies),
        (Mend.FLOW, less_flow),
        (Mend.INFLOW, more_inflow),
    )
    for mend, remedy in ways:
        if mend in asked:
            yield from remedy(case)


def _giving_way(case: Case, among: Sequence[str]) -> tuple[list[str], list[Text]]:
    """Rules, of some, without which there is a design, and a sentence on each."""
    mends: list[str] = []
    said: list[tuple[str, Text]] = []
    for rule in sorted(case.book.rules, key=lambda r: (r.role is not Concern.BUDGET, not r.negotiable)):
        if rule.id not in among or not _worth_trying(rule, case.site):
            continue
        priced = rule.role is Concern.BUDGET or rule.of_taste
        tried = case.without(rule.id, cheapest=priced)
        if tried is not None and tried.ranking.designs:
            mends.append(rule.id)
            said.append((rule.id, _without(rule, case.site, case.catalog, tried.ranking.designs[0])))
            if rule.role is Concern.BUDGET:
                # Money is what lacks; what could be given up to save some is for the builder to say.
                break
        elif rule.role is Concern.BUDGET and tried is not None and tried.ranking.ending is not Ending.NONE:
            said += ((rule.id, text) for text in _least_cost(case))
    return _blamed(case, mends, said)


def _blamed(case: Case, mends: list[str], said: list[tuple[str, Text]]) -> tuple[list[str], list[Text]]:
    """Without the blame on pumps whose own numbers clear them, where another rule may be blamed."""
    lift = ROLES[Concern.LIFT]
    duties = [duty(case, vessel) for vessel in case.site.pumped_vessels()] if lift in mends else []
    numbers = [one.sentence for one in duties]
    if not duties or any(one.lacking for one in duties):
        return mends, [*(text for _, text in said), *numbers]
    others = [rule for rule in mends if rule != lift]
    kept = [text for rule, text in said if rule != lift]
    return others or mends, [*kept, *numbers, *unsuited(case)]


def _clash(case: Case) -> tuple[list[str], list[Text]]:
    """Rules that cannot hold together where no single one is to blame, and what they say."""
    mends, needed = _clashing(case)
    named = {rule.id: rule.sentence for rule in case.book.rules}
    sentences: list[Text] = [f"{rule_id}: {named[rule_id]}" for rule_id in mends]
    if ROLES[Concern.LIFT] in mends:
        sentences += [duty(case, vessel).sentence for vessel in case.site.pumped_vessels()]
    if mends and not needed:
        sentences.append(
            "These rules cannot all hold. Perhaps fewer of them clash already: it takes long to find out."
        )
    return mends, sentences


def _worth_trying(rule: Rule, site: Site) -> bool:
    """Rules that shape the model; a rule that only counts afterwards can never be what forbids.

    Nor one that has nothing to say of the site, or of money where none was named.
    """
    kind = type(rule)
    if not kind.concerns(site) or (rule.role is Concern.BUDGET and site.wishes.budget is None):
        return False
    shapes = bool(kind.answered) or kind.encode is not Rule.encode
    return rule.hard and (shapes or bool(rule.counts))


def _without(rule: Rule, site: Site, catalog: Catalog, best: Ranked) -> Text:
    """What comes of giving way on a rule."""
    whole = best.verdict.cost.to_pay
    if rule.role is Concern.BUDGET and site.wishes.budget is not None:
        if whole <= site.wishes.budget:
            raise InternalError(f"a design for {whole:.2f} keeps the budget that none was proven to keep")
        return _cheapest(best, site.wishes.budget, catalog)
    if not rule.of_taste:
        return (
            f"{rule.id} stands in the way: {rule.sentence} This is no rule to drop; "
            f"change the heights, flows, vessels or parts that it speaks of{rule.hint}."
        )
    said = (
        f"{rule.id}: without it there is a design for {whole:.2f} {catalog.currency}. "
        f"The rule says: {rule.sentence}"
    )
    return joined(" ", (said, *rule.told_without(Survey(site, catalog, best.drawing))))


def _cheapest(best: Ranked, budget: float, catalog: Catalog) -> str:
    """What the cheapest design costs, or is known to cost at least, against a budget."""
    whole, currency = best.verdict.cost.to_pay, catalog.currency
    least = "the cheapest design"
    if not best.proven:
        least = f"no design costs less than {best.bound / 100:.2f} {currency}; the cheapest found in time"
    more = f"{whole - budget:.2f} {currency} more than there is" if whole > budget else "within the budget"
    return f"budget: {least} costs {whole:.2f} {currency}, {more}."


def over_budget(best: Ranked, budget: float, catalog: Catalog) -> tuple[Clash | None, tuple[str, ...]]:
    """A clash with the budget where the cheapest design is proven to cost more; else a note on what is known.

    Args:
        best: the cheapest design found without the budget, ranked by what is paid for it.
        budget: what may be spent [currency].
        catalog: for its currency.
    """
    said = _cheapest(best, budget, catalog)
    if best.bound / 100 > budget:
        return Clash((ROLES[Concern.BUDGET],), (said,)), ()
    return None, (said,)


def _least_cost(case: Case) -> Iterator[Text]:
    """What any design costs at least, where none was found without the budget either."""
    cents, budget = case.vain.least_cost(), case.site.wishes.budget
    if cents is not None and budget is not None:
        clash, said = least_against(cents - SLACK_CENTS, budget, case.catalog)
        yield from said if clash is None else clash.sentences


def least_against(cents: float, budget: float, catalog: Catalog) -> tuple[Clash | None, tuple[str, ...]]:
    """As `over_budget`, where no design was found: what any costs at least, as far as known [cents]."""
    if not 0 < cents < math.inf:
        return None, ()
    least, currency = math.floor(cents) / 100, catalog.currency
    said = (
        f"budget: {budget:.2f} {currency} are given, and whatever is built costs at least {least:.2f} "
        f"{currency}; what the cheapest design costs was not found in time."
    )
    return (Clash((ROLES[Concern.BUDGET],), (said,)), ()) if least > budget else (None, (said,))


def _clashing(case: Case) -> tuple[list[str], bool]:
    """Rules that cannot hold together, and whether it is proven that each of them is needed for the clash.

    A rule is dropped only where there is proven to be no design even without it: first what the relaxation
    shows at once, then what searches do. Nothing is said where time ran out before each was tried.
    """
    trying = [rule for rule in case.book.rules if _worth_trying(rule, case.site)]
    kept = [rule.id for rule in sorted(trying, key=lambda r: (r.negotiable, not r.less_telling))]
    for rule_id in reversed(kept):
        if case.clock.allows("") and case.vain.none_under(rule_id):
            return [rule_id], True
    # A rule that is left alone forbids every design, and nothing smaller than one rule can be named.
    off: list[str] = []
    for rule_id in kept:
        if len(off) < len(kept) - 1 and case.none_without(*off, rule_id):
            off.append(rule_id)
    undecided = False
    for rule_id in [rule_id for rule_id in kept if rule_id not in off]:
        if len(off) == len(kept) - 1:
            break
        tried = case.without(*off, rule_id)
        if tried is None:
            return [], False
        if not tried.ranking.designs and tried.ranking.ending is Ending.NONE:
            off.append(rule_id)
        undecided = undecided or tried.ranking.ending is Ending.UNDECIDED
    return [rule_id for rule_id in kept if rule_id not in off], not undecided


def part_missed(
    problem: Problem,
    catalog: Catalog,
    book: RuleBook,
    without: Sequence[str],
    best: Ranked,
    search: Callable[[Problem, RuleBook], Attempt],
) -> tuple[str, ...]:
    """What planning without some parts changes and costs, against the plan with them.

    Raises:
        InternalError: the plan without them is cheaper than what is proven cheapest with them.
    """
    whole = replace(problem, unavailable=problem.unavailable - frozenset(without))
    with_them = search(whole, book).ranking.designs
    if not with_them:
        return ()
    before, after = (ranked.verdict.cost.to_pay for ranked in (with_them[0], best))
    parts = ", ".join(without)
    never_cheaper(with_them[0], best, f"without {parts}")
    if best.objective < with_them[0].objective:
        return (
            f"Without {parts} the plan costs {after:.2f} {catalog.currency}; "
            "with it none that is cheaper was found in the time given.",
        )
    if not set(without) & _part_ids(with_them[0]):
        return (f"The cheapest plan does not use {parts}: nothing changes.",)
    # Ranked by ownership a plan that is dearer over the years may be cheaper to buy.
    change = f"{abs(after - before):.2f} {'less to buy' if after < before else 'more'}"
    notes = [
        f"Without {parts} the cheapest plan costs {after:.2f} {catalog.currency} "
        f"instead of {before:.2f}, {change}."
    ]
    for name, value in best.traits.items():
        before_it = with_them[0].traits.get(name, value)
        if before_it != value:
            notes.append(f"{name}: {value} instead of {before_it}.")
    gone = sorted(_part_ids(with_them[0]) - _part_ids(best))
    come = sorted(_part_ids(best) - _part_ids(with_them[0]))
    notes.append(f"Off the order: {', '.join(gone)}. New on it: {', '.join(come)}.")
    return tuple(notes)


def _part_ids(ranked: Ranked) -> set[str]:
    return {line.part for line in ranked.drawing.purchases}
