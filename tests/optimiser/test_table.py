"""What options are weighed by, worked out together, is what each run comes to by itself."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan import load_catalog, load_problem
from autoplan.catalog.parts import SundryKind
from autoplan.fittings.riser import Riser
from autoplan.line.joints import joints_of
from autoplan.line.laid import Laid, assemble, slots_needed
from autoplan.line.needs import Want, joint_needs
from autoplan.line.row import Line
from autoplan.line.water import conduit_of
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.consumables import GRAIN
from autoplan.problem.flows import Reach, reaches
from autoplan.problem.site import RunKind, Site
from autoplan.rules.book import read_rules
from autoplan.rules.order.sundries import usual_amounts
from autoplan.units import tenth_mm_up
from tests.short_list import gone

HOME = Path(__file__).parents[2]
PROBLEMS = ("spare-beds", "two-drains", "timed-beds")


@pytest.fixture(
    scope="module",
    params=[
        pytest.param((name, short), marks=[pytest.mark.long] * (not short), id=f"{name}{', short' * short}")
        for name in (*PROBLEMS, "plain standpipes")
        for short in (True, False)
    ],
)
def draft(request: pytest.FixtureRequest, site_of: Callable[..., Site]) -> Draft:
    """Solids-lifting and plain drains, siphons, clocks, spare connections, check valves, bends over rims.

    And one part in a wall of the tank and under a standpipe in the floors of its beds. From the short price
    list, and in the long runs from the whole.
    """
    name, short = request.param
    file = HOME / "problems" / f"{name}.toml"
    site = load_problem(file).outline if file.exists() else site_of(beds=2)
    site = replace(site, unavailable=frozenset(gone() if short else ()))
    return Draft(site, load_catalog(HOME / "catalogs" / "metric"), read_rules(site))


@pytest.fixture(scope="module")
def whole(draft: Draft) -> Mapping[str, Sequence[tuple[Line, Laid]]]:
    """The lines of one class's every way, each put together whole."""
    lines = {
        name: [drawn for _, way in draft.candidates(name) for drawn in way.drawn.values()]
        for name in draft.site.classes()
    }
    return {
        name: [(drawn, assemble(draft.shelf.bench, draft.site, drawn)) for drawn in every]
        for name, every in lines.items()
    }


HELD = (SundryKind.STAND, SundryKind.BRACKET, SundryKind.CLIP)
"""What pipes are held by, not their joints."""


def taken(draft: Draft, lines: Sequence[tuple[Line, Laid]], screwed: bool) -> Counter[Want]:
    """What the joints of lines put together take, joint after joint; drains of siphons are never screwed."""
    reach, joining, amounts = reaches(draft.site), draft.shelf.joining, usual_amounts()
    total: Counter[Want] = Counter()
    for drawn, line in lines:
        vessel = draft.site.vessels.get(drawn.start.at)
        sucked = vessel is not None and vessel.bed is not None and vessel.bed.siphon
        for joint in joints_of(line, joining, reach[drawn.run], screwed=screwed and not sucked):
            for want, amount in joint_needs(draft.catalog, joint, amounts).items():
                total[want] += math.ceil(amount / GRAIN.get(want.kind, 1.0) - 1e-9)
    return total


def test_needs_by_place_are_those_of_the_whole_line(
    draft: Draft, whole: Mapping[str, Sequence[tuple[Line, Laid]]]
) -> None:
    """Joints counted place by place come to those of the whole line; a screw for each riser."""
    for name, members in draft.site.classes().items():
        pressed = members[0].kind is RunKind.PRESSURE
        for screwed in (False, True):
            expected = taken(draft, whole[name], screwed and not pressed)
            risers = sum(drawn.one(Riser) is not None for drawn, _ in whole[name] if not drawn.later)
            expected.update({Want(SundryKind.SCREW): risers} if risers else {})
            counted: Counter[Want] = Counter()
            for _, candidate in draft.candidates(name):
                counted.update(candidate.screwed_needs if screwed else candidate.needs)
            held = {want for want in counted if want.kind in HELD}
            assert {want: n for want, n in counted.items() if want not in held} == expected


def test_a_bracket_for_every_rim(draft: Draft) -> None:
    """Each way takes one where it ends over a rim, one where its pump's line leaves over one on the plan."""
    for name, members in draft.site.classes().items():
        for _, candidate in draft.candidates(name):
            built = [run for run in members if not candidate.drawn[run.name].later]
            over = sum(candidate.drawn[run.name].rim is not None for run in built)
            leaves = sum(
                run.plan is not None and run.kind is RunKind.PRESSURE and run.start in draft.site.vessels
                for run in built
            )
            wanted = {want: n for want, n in candidate.needs.items() if want.kind is SundryKind.BRACKET}
            assert sum(wanted.values()) == over + leaves
            size = str(round(candidate.pipe.outside_m * 1e4))
            assert {want.size for want in wanted} == ({size} if over + leaves else set())


def test_pressed_joints_are_among_them() -> None:
    """The shipped problems hold feeds that the pump's head reaches wholly, to a valve, and not at all."""
    site = load_problem(HOME / "problems" / "spare-beds.toml").outline
    assert set(reaches(site).values()) == set(Reach)


def test_slots_are_those_of_the_whole_line(
    draft: Draft, whole: Mapping[str, Sequence[tuple[Line, Laid]]]
) -> None:
    """Lengths measured without the parts are those that the line put together has, for every way."""
    for lines in whole.values():
        for drawn, line in lines:
            assert slots_needed(draft.shelf.bench, draft.site, drawn) == line.needed_m


def test_losses_are_each_lines_own(draft: Draft) -> None:
    """A run's losses in the model are those of each way's line alone, rounded up."""
    for name, run in draft.site.runs.items():
        flow = draft.site.flows[name].design_m3_s
        losses = draft.run_loss(name)
        for var, candidate in draft.candidates(run.run_class):
            alone = conduit_of(draft.catalog, run, candidate.drawn[name]).loss(flow, draft.water)
            assert losses.terms.get(var, 0) == min(draft.hopeless, tenth_mm_up(alone))
