"""Places of findings in words, and in an answer's JSON."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import Want
from autoplan.outcome import Finding, Outcome
from autoplan.places import AtEnd, InVessel, OfAll, OfPart, OfWant, OnPath, OnRun, Where
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import outcome_json
from autoplan.report.page.views import findings
from autoplan.report.place_words import place_words
from autoplan.report.units import SI, US
from autoplan.sentence import Amount, Text, say

SAW = OfWant(Want(SundryKind.SAW, "635"))


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (InVessel("tank"), "tank"),
        (InVessel("tank", "water for the fish"), "tank: water for the fish"),
        (InVessel("tank", when="power cut"), "tank, power cut"),
        (OnRun("drain", how="flushed"), "drain, flushed"),
        (AtEnd("drain", "sump"), "drain at sump"),
        (OnPath(("drain 1", "drain 2")), "drain 1 + drain 2"),
        (OfPart("pipe-50"), "pipe-50"),
        (OfPart("pipe-50", "weir"), "pipe-50 at weir"),
        (OfWant(Want(SundryKind.TAPE)), "thread tape"),
        (OfWant(Want(SundryKind.WASHER, "G 1")), "washer G 1"),
        (SAW, "hole saw 63.5 mm"),
        (OfAll("order"), "order"),
    ],
)
def test_each_place_has_its_words(place: Where, said: str) -> None:
    """Every kind of place is told by its names, and by what is judged there where that is said."""
    assert place_words(place, SI) == said


def _judged(outcome: Outcome, place: Where, source: Text, shown: PrintUnits) -> Outcome:
    """An answer with one finding only."""
    (first, *_) = outcome.designs
    found = Finding("hole-saw", "There is one.", place, 1.0, 1.0, 0.0, "saws", True, True, source)
    design = replace(first, verdict=replace(first.verdict, findings=(found,)), margin=None)
    return replace(outcome, designs=(design,), site=replace(outcome.site, print_units=shown))


@pytest.mark.parametrize(
    ("place", "source", "told"),
    [
        (SAW, "a book", {"place": "hole saw 63.5 mm (2.50 in)", "source": "a book"}),
        (OfAll("order"), say("{}", Amount(2.0, "m")), {"place": "order", "source": "2 m (6.56 ft)"}),
        (OfAll("order"), "a book", None),
    ],
)
def test_a_page_tells_places_in_the_units_asked_for(
    outcome: Outcome, place: Where, source: Text, told: dict[str, str] | None
) -> None:
    """The JSON is metric, and has besides what US units say in other words; a page shows that."""
    answer = outcome_json(_judged(outcome, place, source, PrintUnits.US))
    ((rule,),) = [design["rules"] for design in answer["designs"]]
    assert (rule["place"], rule["source"]) == (place_words(place, SI), SI.told(source))
    assert rule.get("told") == told
    (shown,) = findings(answer["designs"][0])
    assert (place_words(shown.place, US), shown.source) == (place_words(place, US), US.told(source))
    metric = outcome_json(_judged(outcome, place, source, PrintUnits.SI))
    assert "told" not in metric["designs"][0]["rules"][0]
