"""Long legs: what is proven cheapest stays so without a part; metres come in pieces that are to be had."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Offer
from autoplan.cli import run
from autoplan.drawing import CutStick, Drawing
from autoplan.line.water import conduit_of
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Entry, Site
from autoplan.rules.order.purchase_list import PurchaseList
from autoplan.rules.survey import Survey
from tests.optimiser.test_enumeration import with_settler

LONG_DRAIN = """
name = "A long drain"
[wishes]
drain_grade = "drain"
[[vessel]]
name = "tank"
kind = "tank"
volume = "1000 L"
depth = "800 mm"
floor = "400 mm"
[[vessel]]
name = "sump"
kind = "sump"
volume = "500 L"
depth = "600 mm"
floor = "-600 mm"
[[run]]
name = "drain"
kind = "gravity"
from = "tank"
to = "sump"
legs = ["24 m"]
[[run]]
name = "main"
kind = "pressure"
from = "sump"
to = "tank"
legs = ["1 m", "1 m", "1 m"]
turns = [90, 90]
"""


DRAINS = """drain-50-2m drain-50-3m drain-75-2m drain-75-3m pn10-50-3m pn10-50-6m pn10-50-metre pn10-32-3m
    pn10-32-metre pn16-25-3m drain-sweep-50-90 drain-sweep-75-90 elbow-32-90 elbow-25-90 seal-50 seal-75
    bulkhead-50 bulkhead-32 bulkhead-25 drain-coupling-50 drain-coupling-75 coupling-50 coupling-32
    coupling-25 union-50 union-female-32-1 union-female-25-34 union-female-32-34 pump-2200 pump-3000"""


BESIDE = "tee-50 drain-tee-50 ball-off-32"
"""What a solids-lifting drain and a feed take besides."""


@pytest.fixture(scope="module")
def shelf(shelf_of: Callable[[str], Catalog]) -> Catalog:
    """Drains in two sizes, and pressure pipe of 50 mm in three lengths, which may be one too."""
    return shelf_of(DRAINS)


@pytest.fixture(scope="module")
def long_drain(site_of: Callable[..., Site]) -> Site:
    """A drain of 24 m in one leg, its flow too much for a bore under 45 mm."""
    return site_of(drain_legs_m=(24.0,), flow_l_h=1100.0)


@pytest.fixture(scope="module")
def two_long_drains(site_of: Callable[..., Site]) -> Site:
    """Drains of 9.4 m and 11 m, by way of a settler, either of which may be wider."""
    site = with_settler(site_of(flow_l_h=1100.0))
    legs = {"dirty": (9.4,), "clear": (11.0,)}
    runs = {n: replace(run, legs_m=legs.get(n, run.legs_m), turns=()) for n, run in site.runs.items()}
    return replace(site, runs={**runs, "main": site.runs["main"]})


@pytest.fixture(scope="module")
def best(long_drain: Site, shelf: Catalog) -> Outcome:
    """The cheapest design of the long drain."""
    return autoplan.design(long_drain, shelf, top=1)


def cost(outcome: Outcome) -> float:
    """What the cheapest design comes to, which must be proven."""
    assert outcome.status is Status.PROVEN
    return outcome.designs[0].objective


@pytest.mark.parametrize("given", ["long_drain", pytest.param("two_long_drains", marks=pytest.mark.long)])
def test_losing_pipe_never_makes_a_plan_cheaper(
    given: str, shelf: Catalog, request: pytest.FixtureRequest
) -> None:
    """No length of pipe that is missing, nor metres, leaves a cheaper plan than there is with all of them."""
    site = request.getfixturevalue(given)
    whole = autoplan.design(site, shelf, top=1)
    used = {line.part for line in whole.designs[0].drawing.purchases} & set(shelf.pipes)
    dearer = set()
    for gone in shelf.pipes:
        without = autoplan.design(site, shelf, top=1, without=[gone])
        assert without.status is Status.NONE or cost(without) >= cost(whole)
        dearer |= {gone} if without.status is Status.NONE or cost(without) > cost(whole) else set()
    assert dearer
    assert dearer <= used


def test_sticks_and_couplings_beat_metres(best: Outcome, shelf: Catalog) -> None:
    """24 m of sticks with their couplings cost less than at the price of the metre, and so they are laid."""
    design = best.designs[0]
    drawn = design.drawing.runs["drain"]
    family = shelf.pipes[drawn.pipe].family
    (metre,) = [row for row in shelf.pipes.values() if row.family == family and not row.stick_m]
    bought = [line for line in design.drawing.purchases if line.part in shelf.pipes]
    pipe = sum(
        shelf.part(line.part).offers[0].price_cents * line.packs
        for line in bought
        if shelf.pipes[line.part].family == family
    )
    couplings = sum(shelf.part(part).offers[0].price_cents for part in drawn.couplings)
    assert drawn.couplings
    assert pipe + couplings < metre.offers[0].price_cents * math.floor(sum(drawn.pieces_m))


def test_a_budget_of_what_it_costs(long_drain: Site, shelf: Catalog, best: Outcome) -> None:
    """With just so much money there is a design, with a cent less there is none."""
    paid = best.designs[0].verdict.cost.to_pay
    assert cost(autoplan.design(long_drain, shelf, top=1, budget=paid)) == cost(best)
    assert autoplan.design(long_drain, shelf, top=1, budget=paid - 0.01).status is Status.NONE


def test_no_negative_price_of_a_part(
    tmp_path: Path,
    metric: Catalog,
    shelf_of: Callable[[str], Catalog],
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What is said of a part that is missing is that the plan costs more, or that nothing changes."""
    path = tmp_path / "drain.toml"
    pairs = zip(metric.groups(), shelf_of(f"{DRAINS} {BESIDE}").groups(), strict=True)
    gone = [part for every, some in pairs for part in every if part not in some]
    path.write_text(f"unavailable = {gone}\n{LONG_DRAIN}")
    options = ["design", str(path), "--quiet", "--top", "1", "--without", "pn10-50-metre"]
    assert run(options) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Without pn10-50-metre the cheapest plan costs" in out
    assert re.search(r"costs [\d.]+ EUR instead of [\d.]+, [\d.]+ more", out)
    assert ", -" not in out


# --- metres ---------------------------------------------------------------------------------------------


METRES = """drain-50-3m drain-sweep-50-90 drain-coupling-50 seal-50 pn10-32-metre pn10-32-3m elbow-32-90
    bulkhead-32 coupling-32 union-female-32-1 union-female-32-34 pump-2200 pump-3000"""


@pytest.fixture(scope="module")
def by_metre(
    site_of: Callable[..., Site], shelf_of: Callable[[str], Catalog], changed: Callable[..., Catalog]
) -> Outcome:
    """A main with a leg of 16 m of pipe that is cheap by the metre."""
    shelf = shelf_of(METRES)
    cheap = replace(shelf.part("pn10-32-metre"), offers=(Offer("weir", 60),))
    site = site_of(main_legs_m=(16.0,), entry=Entry.WALL, flow_l_h=950.0)
    return autoplan.design(site, changed(shelf, {"pn10-32-metre": cheap}), top=1)


def checked(outcome: Outcome, change: Callable[[CutStick], CutStick]) -> bool:
    """Whether the rule passes the plan with the lengths of the main bought otherwise."""
    drawing = outcome.designs[0].drawing
    cuts = tuple(change(cut) if cut.pipe == "pn10-32-metre" else cut for cut in drawing.cuts)
    survey = Survey(outcome.site, outcome.catalog, replace(drawing, cuts=cuts))
    rule = PurchaseList({"kerf": 0.003, "waste": 0.02, "each": 0.010})
    return all(finding.ok for finding in rule.check(survey))


def metres_of(drawing: Drawing) -> list[CutStick]:
    """The lengths of the main that were bought by the metre."""
    return [cut for cut in drawing.cuts if cut.pipe == "pn10-32-metre"]


def test_metres_come_in_lengths_that_a_shop_cuts(by_metre: Outcome) -> None:
    """16 m come in three pieces of 6 m at most, together no more than the metres on the order."""
    assert cost(by_metre)
    drawing = by_metre.designs[0].drawing
    lengths = metres_of(drawing)
    (line,) = [line for line in drawing.purchases if line.part == "pn10-32-metre"]
    assert len(drawing.runs["main"].slots_m[0]) == 3
    assert max(drawing.runs["main"].pieces_m) == pytest.approx(6.0)
    assert all(cut.stick_m <= 6.0 + 1e-9 for cut in lengths)
    assert sum(cut.stick_m for cut in lengths) <= line.packs + 1e-9
    assert sum(len(cut.pieces_m) for cut in lengths) == len(drawing.runs["main"].pieces_m)


def test_lengths_that_no_shop_cuts_are_refused(by_metre: Outcome) -> None:
    """A length of 6 m passes, one longer by a tenth of a millimetre does not; nor more than was ordered."""
    assert checked(by_metre, lambda cut: cut)
    assert checked(by_metre, lambda cut: replace(cut, stick_m=min(6.0, cut.stick_m)))
    assert not checked(
        by_metre, lambda cut: replace(cut, stick_m=6.0001 if cut.stick_m > 5.9 else cut.stick_m)
    )
    (*_, last) = metres_of(by_metre.designs[0].drawing)
    (line,) = [x for x in by_metre.designs[0].drawing.purchases if x.part == "pn10-32-metre"]
    whole = sum(cut.stick_m for cut in metres_of(by_metre.designs[0].drawing))
    spare = line.packs - whole
    for more, passes in ((0.0, True), (spare + 0.001, False)):
        longer = replace(last, stick_m=last.stick_m + more)
        assert checked(by_metre, lambda cut, longer=longer: longer if cut is last else cut) is passes


def test_a_coupling_loses_as_it_is_narrow(by_metre: Outcome, changed: Callable[..., Catalog]) -> None:
    """Each coupling adds the same; one as wide as its pipe adds nothing."""
    catalog, site = by_metre.catalog, by_metre.site
    drawn, main = by_metre.designs[0].drawing.runs["main"], site.runs["main"]
    pipe, water = catalog.pipes[drawn.pipe], Survey(site, catalog, by_metre.designs[0].drawing).water

    def loss(bore_m: float, joins: int) -> float:
        part = replace(catalog.part(drawn.coupling[0]), bore_m=bore_m)
        slots = ((0.1,) * (joins + 1), *drawn.slots_m[1:])
        line = conduit_of(changed(catalog, {part.id: part}), main, replace(drawn, slots_m=slots))
        return line.loss(site.flows["main"].design_m3_s, water)

    bare = loss(0.020, 0)
    assert loss(pipe.bore_m, 3) == pytest.approx(bare)
    assert loss(0.020, 1) > bare
    assert loss(0.020, 3) - bare == pytest.approx(3 * (loss(0.020, 1) - bare))
