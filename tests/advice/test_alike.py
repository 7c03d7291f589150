"""Runs of one class that carry unlike water are said to be built alike, where that class is spoken of."""

from __future__ import annotations

from dataclasses import replace

import pytest

import autoplan
from autoplan.advice.alike import unlike
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.units import SI
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list
from tests.words import why_none

TWO_LINES = (
    'The 2 runs of the class "bed {}" are built alike, of one size and kind, though they carry from 158 L/h '
    "(south {}) to 300 L/h (north {}). A run without the key class is built by itself."
)


@pytest.mark.parametrize("what", ["drain", "feed"])
def test_unlike_beds_of_a_class(what: str) -> None:
    """Two beds flood as often and are of unlike area; their drains share a class, and so do their feeds."""
    site = autoplan.load_problem("problems/two-lines.toml").outline
    assert [SI.told(text) for text in unlike(site, f"bed {what}")] == [TWO_LINES.format(what, what, what)]


def test_a_vessels_water_is_its_drains() -> None:
    """What is said of a bed's water concerns what empties it, and nothing that feeds it."""
    site = autoplan.load_problem("problems/two-lines.toml").outline
    drain = site.runs["north drain"]
    assert [SI.told(text) for text in unlike(site, vessels=frozenset((drain.start,)))] == [
        TWO_LINES.format("drain", "drain", "drain")
    ]
    assert not list(unlike(site, vessels=frozenset((drain.finish,))))
    assert not list(unlike(site))


def test_beds_that_are_alike_and_a_trunk() -> None:
    """Nothing is said of alike beds, nor of the pieces of a trunk, which carry less and less."""
    site = autoplan.load_problem("problems/four-beds.toml").outline
    trunk = {
        run.name: replace(run, run_class="trunk")
        for run in site.runs.values()
        if run.name.startswith("trunk")
    }
    site = replace(site, runs={**site.runs, **trunk})
    assert len({site.flows[name].design_m3_s for name in trunk}) == len(trunk) == 3
    assert not [text for name in site.classes() for text in unlike(site, name)]


@pytest.mark.parametrize(
    ("drain", "floods", "first"),
    [("siphon", "2/day", "bed drain: no standpipe"), ("standpipe", "1.5/hour", "Heights over the datum")],
)
def test_a_refusal_says_so(drain: str, floods: str, first: str) -> None:
    """One of two beds gets too little for any siphon; of two that stand full none has 100 mm of dry wall."""
    beds = one_bed(f'floods = "2/hour"\ndrain = "{drain}"').replace("count = 1", "count = 2")
    head, bed = expand_to_toml(problem_from(beds, "two.toml")).split('name = "bed 2"')
    assert "2/hour" in bed
    text = f'{head}name = "bed 2"{bed.replace("2/hour", floods)}[rules.half-blocked]\nfreeboard = "100 mm"\n'
    problem = problem_from(from_shortest_list(text), "unlike.toml")
    outcome = autoplan.design(problem, autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.NONE
    assert why_none(outcome)[0].startswith(first)
    (said,) = [one for one in why_none(outcome) if "built alike" in one]
    assert said.startswith('The 2 runs of the class "bed drain" are built alike')
