"""What answers so far come to: a problem, what is wrong with it, and its levels as a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from autoplan.advice.at_once import refused_at_once, too_weak
from autoplan.begin.questions import QUESTIONS, Looks, Question
from autoplan.begin.system import problem_text
from autoplan.begin.turnover import turnover_of
from autoplan.begin.usual import asked_as, filled, filters_of, vessels
from autoplan.catalog.load import find_catalog, load_catalog
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError, Mistake, QuantityError
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.brief import PrintUnits
from autoplan.problem.site import Site
from autoplan.problem.toml.load import problem_from
from autoplan.report.sections.levels_picture import Profile, legend, levels_picture
from autoplan.report.units import INCH_M, sixteenths, units_of
from autoplan.rules.book import read_rules

ANSWERS = "answers"
"""What a problem that is in no file yet is called in its mistakes; it is not shown."""

LONGEST = 200
"""Most characters of an answer."""

Given = Mapping[str, str]


class Checker:
    """Looks at answers; keeps the price lists that it read."""

    def __init__(self) -> None:
        self._catalogs: dict[str, Catalog] = {}
        self._text = ""
        self._site: Site | None = None

    def text(self, given: Given, stopped: str = "") -> str:
        """The problem file of these answers; `stopped` as for `problem_text`.

        Raises:
            InputError: the price list cannot be read.
        """
        said = filled(given)
        return problem_text(said, given, turnover_of(said, self._catalog(said["catalog"])), stopped)

    def site(self, given: Given) -> Site:
        """The problem of these answers, the rest taken as usual.

        Raises:
            InputError: what is wrong with it.
        """
        text = self.text(given)
        if text != self._text:
            self._site = problem_from(text, ANSWERS).outline
            self._text = text
        assert self._site is not None
        return self._site

    def taken(self, question: Question, line: str, given: Given, *, for_sure: bool) -> dict[str, str]:
        """All answers once a line is taken as the answer to a question.

        Args:
            question: the question.
            line: what was typed.
            given: the answers before it.
            for_sure: whether to take it though heights and pumps refuse it.

        Raises:
            QuantityError: what is wrong with it, and what would be right.
        """
        if len(line) > LONGEST:
            raise QuantityError("that is no short answer", f"write {LONGEST} characters at most")
        kept = {**given, **question.form(filled(given)).taken(line)}
        said = filled(kept)
        if filters_of(said) and "sump" not in vessels(said):
            problem = "a settler or biofilter empties into a sump, and there is none"
            raise QuantityError(problem, "write sump too, or leave the filter out: beds are one")
        try:
            site = self.site(kept)
        except InputError as error:
            mine = [wrong for wrong in error.mistakes if _of(wrong, question)]
            if not mine:
                # What is usual does not go with this answer, and is still to be asked.
                return kept
            place = ": ".join(part for part in (mine[0].file, mine[0].place) if part not in ("", ANSWERS))
            problem = f"{place}: {mine[0].problem}" if place else mine[0].problem
            raise QuantityError(problem, mine[0].remedy) from error
        looks = question.looks(said)
        if looks is not None and not for_sure:
            self._look(site, looks)
        return kept

    def _look(self, site: Site, at: Looks) -> None:
        """Refuse what pumps, or heights and pumps, certainly do not allow.

        Raises:
            QuantityError: why.
        """
        book, shelf = read_rules(site), Shelf(site, self._catalog(site.catalog))
        weak = too_weak if at is Looks.PUMPS else refused_at_once
        refused = tuple(weak(site, book, shelf))
        if refused:
            said = units_of(site.print_units).told(refused[0].sentence).rstrip(".")
            raise QuantityError(said, "change it, or type the same again to keep it")

    def picture(self, question: Question, given: Given, width: int) -> Sequence[str]:
        """The levels of the vessels asked about up to a question; none where they cannot be told."""
        try:
            site = self.site(given)
        except InputError:
            return ()
        said = filled(given)
        before = [one for one in QUESTIONS[: QUESTIONS.index(question) + 1] if one.asked(said)]
        told = {key.partition(".")[0] for one in before for key in one.keys(said)}
        vessels = [
            Profile(vessel.name, vessel.floor_m, vessel.water_max_m, vessel.rim_m)
            for vessel in site.vessels.values()
            if asked_as("beds" if vessel.bed is not None else vessel.name) in told
        ]
        us = site.print_units is PrintUnits.US
        lines = levels_picture(vessels, _inches if us else _millimetres, width=width, us=us)
        return (*lines, legend("inches" if us else "mm"))

    def _catalog(self, name: str) -> Catalog:
        if name not in self._catalogs:
            self._catalogs[name] = load_catalog(find_catalog(name))
        return self._catalogs[name]


def _of(wrong: Mistake, question: Question) -> bool:
    """Whether a mistake may come of the answer to a question."""
    return not question.tables or wrong.place.partition(".")[0] in question.tables


def _millimetres(height_m: float) -> str:
    return f"{round(height_m * 1000)}"


def _inches(height_m: float) -> str:
    return sixteenths(round(height_m / INCH_M * 16))
