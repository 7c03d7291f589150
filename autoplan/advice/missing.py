"""What a class of runs, a junction or the air has no way to be built without."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from autoplan.advice.case import Case
from autoplan.catalog.parts import Catalog, Part, SiphonKind
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.consumables import Counting
from autoplan.optimiser.options.making import ROOM, NoOptionError
from autoplan.optimiser.options.option_cache import WATER_ONLY, Workshop
from autoplan.optimiser.search.clock import OutOfTimeError
from autoplan.problem.site import Site
from autoplan.rules.asked import OnShelf
from autoplan.rules.base import Concern, Rule
from autoplan.rules.book import ROLES, RuleBook

PLAIN = {
    "pipes": "pipe",
    "turns": "elbow or bend",
    "tees": "tee",
    "adaptors": "coupling or adaptor",
    "valves": "valve",
    "penetrations": "wall part",
    "pumps": "pump",
    "siphons": "part of a bell siphon",
    "air": "air part",
    "vessels": "vessel",
    "trims": "part that sets a share",
    "fixtures": "fitting",
    "sundries": "sundry",
}
"""What the lists of a catalogue hold, in the singular."""

WAYS = {"start": "way out of its vessel", "finish": "way into its vessel"}
"""What the ends of a run are without, in words."""

CRAMPED = f"{{}}: there is no {ROOM}; give it more way on the plan, or other heights at its ends."
"""Said of a run for which the price list has all parts, with its name for the braces."""

UNKNOWN = "{}: no {} is left; which rules or parts are in the way was not found out in the time given."
"""Said of a run where there was no time to try them."""

AIR_TUBE = "air tube"
"""What brings air to a bell's top, as builders call it."""

MOST_NAMED = 4
"""Parts that are named of a kind that is sold out."""


def missing(case: Case, lacking: NoOptionError) -> tuple[list[str], list[str]]:
    """What it is that lacks: rules that refuse it, parts that are sold out, or what no row of the list is.

    Each is tried: the rules are left aside, or the parts are put back on the shelf, and the class is built.
    Where time runs out nothing is blamed: whatever refused something first need not be in the way.

    Returns:
        The rules to blame, that of stock where parts are sold out, and a sentence on each.
    """
    try:
        return _by_trying(case, lacking)
    except OutOfTimeError:
        return [], [UNKNOWN.format(lacking.run_class, _plain(lacking.what))]


def _by_trying(case: Case, lacking: NoOptionError) -> tuple[list[str], list[str]]:
    """The same, as long as there is time.

    Raises:
        OutOfTimeError: it ran out.
    """
    builder, where = _Builder(case, lacking.run_class), lacking.run_class
    refusing = [*lacking.rules, *(rule.id for rule in case.book.rules if _takes_off_the_shelf(rule))]
    refusing = [rule for rule in dict.fromkeys(refusing) if rule not in case.book.off]
    parts = _sold_out(case.catalog, case.site)
    kinds = _fewest(
        sorted(parts),
        lambda back: builder.builds(case.book, frozenset(part for kind in back for part in parts[kind])),
    )
    if not kinds:
        refusing = builder.all_refusing(refusing)
    blamed = _fewest(refusing, lambda off: builder.builds(case.book.without(*off)))
    said = []
    if blamed:
        # What is refused last where nothing else refuses anything.
        others = [rule for rule in refusing if rule not in blamed]
        last = builder.lacking(case.book.without(*others)) or lacking
        what = _plain(next((last.refused[rule] for rule in blamed if rule in last.refused), last.what))
        said.append(f"{where}: no {what} is left; refused by {', '.join(blamed)}.")
    said += [
        f"{where}: no {kind} is to be had that fits; {_listed(parts[kind])} may not be used."
        for kind in kinds
    ]
    if not said:
        what = _plain(builder.lacks(case.book.without(*refusing)) or lacking.what)
        said = [CRAMPED.format(where) if what == ROOM else f"{where}: no {what} in the price list fits."]
    return blamed + ([ROLES[Concern.STOCK]] if kinds and case.book.has(Concern.STOCK) else []), said


def _plain(what: str) -> str:
    return WAYS.get(what, what)


def _takes_off_the_shelf(rule: Rule) -> bool:
    return OnShelf in rule.answered


def _fewest(names: Sequence[str], enough: Callable[[Sequence[str]], bool]) -> list[str]:
    """As few of some names as are still enough; none where all of them are not."""
    if not names or not enough(names):
        return []
    kept = list(names)
    for name in names:
        fewer = [other for other in kept if other != name]
        if fewer and enough(fewer):
            kept = fewer
    return kept


def _sold_out(catalog: Catalog, site: Site) -> Mapping[str, list[str]]:
    """By kind the parts of the price list that may not be used and are not owned."""
    found: dict[str, list[str]] = {}
    for name, plain in PLAIN.items():
        for part in getattr(catalog, name).values():
            if part.id in site.unavailable and not site.owned.get(part.id):
                found.setdefault(_kind(part, plain), []).append(part.id)
    return found


def _kind(part: Part, plain: str) -> str:
    kind = getattr(part, "kind", None)
    return AIR_TUBE if kind is SiphonKind.SNORKEL else plain if kind is None else str(kind)


def _listed(ids: list[str]) -> str:
    more = len(ids) - MOST_NAMED
    named = ", ".join(ids[:MOST_NAMED])
    return f"{named} and {more} more" if more > 0 else named


class _Builder:
    """Builds one class, or whatever else lacks, with other rules or more parts."""

    def __init__(self, case: Case, where: str) -> None:
        self._case = case
        self._where = where
        self._members = case.site.classes().get(where)
        self._workshop = Workshop(case.catalog)
        self._workshop.until = case.clock.deadline

    def builds(self, book: RuleBook, back: frozenset[str] = frozenset()) -> bool:
        """Whether it can be built under some rules, with some parts back on the shelf."""
        return self.lacks(book, back) is None

    def all_refusing(self, rules: Sequence[str]) -> list[str]:
        """These rules and those that refuse what is left without them, until nothing more is refused."""
        found = list(rules)
        while True:
            behind = self.lacking(self._case.book.without(*found))
            more = () if behind is None else (rule for rule in behind.rules if rule not in found)
            fresh = [rule for rule in more if rule not in self._case.book.off]
            if not fresh:
                return found
            found += fresh

    def lacks(self, book: RuleBook, back: frozenset[str] = frozenset()) -> str | None:
        """What it cannot be built without; None where it can be."""
        error = self.lacking(book, back)
        return None if error is None else error.what

    def lacking(self, book: RuleBook, back: frozenset[str] = frozenset()) -> NoOptionError | None:
        """The same with the rules that refused something.

        Raises:
            OutOfTimeError: there is no time left for it.
        """
        if not self._case.clock.allows("class"):
            raise OutOfTimeError
        site = replace(self._case.site, unavailable=self._case.site.unavailable - back)
        try:
            with self._case.clock.taking("class"):
                if self._members is None:
                    Draft(site, self._case.catalog, book, 0, self._workshop, WATER_ONLY)
                else:
                    shelf = self._workshop.shelf(site, book)
                    with shelf.until(self._case.clock.deadline):
                        counting = Counting(site, shelf, book)
                        self._workshop.built(site, book, counting, self._where, self._members)
        except NoOptionError as error:
            # What lacks somewhere else is another matter.
            return error.bare() if error.run_class == self._where else None
        return None
