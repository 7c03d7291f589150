"""What lies ready for a spare pump with another outlet: whole, fitting what is on the line, and of use."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import SundryKind
from autoplan.drawing import DrawnSpare
from autoplan.errors import InputError
from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import Outcome, Status
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.sections.spare_pump import spare_pump_texts
from tests.rules.conftest import Plan
from tests.short_list import from_shortest_list

SMALL = (Path(__file__).parents[3] / "problems" / "one-tank-one-bed.toml").read_text(encoding="utf-8")

UNION = ("union-female-32-1",)
"""What joins a pump with G 1 to pipe of 32 mm; its far half is a socket of 32 mm."""


def ready(plan: Plan, outlet: str, *chain: str, there: tuple[str, ...] = UNION) -> Plan:
    """The plan with a pump of G 1 on a main of 32 mm, and something ready for another outlet."""
    outlets = {row.outlet.size: row for row in plan.catalog.pumps.values()}
    joined = plan.end("main", "start", chain=there).run("main", pipe="pn10-32-3m").wishes(second_half=True)
    pumps = {"sump": replace(plan.drawing.pumps["sump"], part=outlets["1"].id)}
    spares = {"sump": DrawnSpare("main", outlets[outlet].outlet, chain)}
    return replace(joined, drawing=replace(joined.drawing, pumps=pumps, spares=spares)).wishes(
        second_half=True
    )


def fits(plan: Plan) -> bool:
    """Whether what lies ready in the sump fits."""
    return plan.findings("second-half")["sump"].ok


@pytest.mark.parametrize(
    ("outlet", "chain", "held"),
    [
        ("1-1/4", ("thread-socket-114", "thread-bush-114-1", "union-male-32-1"), True),
        # Its half towards the pipe is gripped and not glued: nothing of the union is of use to it.
        ("1-1/4", ("thread-socket-114", "thread-bush-114-1", "compression-male-32-1"), False),
        # The half of a union of 40 mm, which no half of 32 mm goes into.
        ("1-1/4", ("union-female-40-114",), False),
        # What does not come apart at all.
        ("1-1/4", ("thread-socket-114", "thread-bush-114-1", "thread-male-32-1"), False),
        # It fits, but the pump that is there has that outlet.
        ("1", UNION, False),
    ],
)
def test_only_what_fits_the_half_on_the_line(
    plan: Plan, outlet: str, chain: tuple[str, ...], held: bool
) -> None:
    """A whole chain with a half of that kind and size holds; another half, or none, does not."""
    assert fits(ready(plan, outlet, *chain)) is held


def test_what_is_glued_cannot_be_put_in_its_place(plan: Plan) -> None:
    """Where the line's own joint does not come apart nothing fits it."""
    chain = "thread-socket-114", "thread-bush-114-1", "union-male-32-1"
    assert not fits(ready(plan, "1-1/4", *chain, there=("thread-female-32-1",)))


def test_nothing_ready(plan: Plan) -> None:
    """Wished for and not there it breaks; not wished for nothing is said."""
    assert not fits(plan.wishes(second_half=True))
    assert not plan.findings("second-half")


@pytest.mark.parametrize(("by_m", "held"), [(1e-4, True), (-1e-4, False)])
def test_the_strongest_such_pump_does_the_duty(plan: Plan, by_m: float, held: bool) -> None:
    """All pumps of that outlet brought to a tenth of a millimetre over, or under, what the tank asks."""
    made = ready(plan, "1-1/4", "thread-socket-114", "thread-bush-114-1", "union-male-32-1")
    flow, asked = made.survey.pump_flow("sump"), made.findings("second-half")["tank"].limit
    assert asked == pytest.approx(made.findings("pump-duty")["tank"].limit)
    for pump in [row for row in made.catalog.pumps.values() if row.outlet.size == "1-1/4"]:
        gives = PumpCurve(pump.curve).head(flow)
        curve = tuple((at, head * (asked + by_m) / gives) for at, head in pump.curve)
        made = made.part(pump.id, curve=curve)
    assert made.findings("second-half")["tank"].ok is held


@cache
def designed(wishes: str) -> Outcome:
    """The cheapest design of the smallest shipped problem."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "problem.toml"
        file.write_text(from_shortest_list(f"{SMALL}\n[wishes]\n{wishes}\n"), encoding="utf-8")
        problem = load_problem(file)
    outcome = autoplan.design(problem, autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    return outcome


def cents(outcome: Outcome) -> int:
    """What the order comes to."""
    return round(100 * outcome.designs[0].verdict.cost.purchase)


def test_it_is_bought_and_told() -> None:
    """With the wish its parts are in the order, which costs more: no more than is told of the wish."""
    without, wished = designed(""), designed("second_half = true")
    assert not without.designs[0].drawing.spares
    drawing = wished.designs[0].drawing
    (spare,) = drawing.spares.values()
    ordered = {line.part: line.quantity for line in drawing.purchases}
    assert set(spare.chain) <= ordered.keys() | wished.catalog.pipes.keys()
    more = (cents(wished) - cents(without)) / 100
    assert more > 0
    (told,) = [one for one in wished.wishes if one.wish == "second_half"]
    assert more - 1e-9 <= told.dearer
    assert not any(one.wish == "second_half" for one in without.wishes)
    text = next(text for text in spare_pump_texts(wished, wished.designs[0]) if "in the order" in text)
    assert str(spare.outlet) in text


def test_one_that_is_owned_costs_nothing() -> None:
    """With its parts and washers in the drawer the wish costs nothing beside the same without the wish."""
    wished = designed("second_half = true")
    (spare,) = wished.designs[0].drawing.spares.values()
    line = wished.designs[0].drawing.runs[spare.line]
    washers = (row.id for row in wished.catalog.sundries.values() if row.kind is SundryKind.WASHER)
    parts = dict.fromkeys((*spare.chain, *line.start.chain, *washers))
    own = "".join(f'"{part}" = 4\n' for part in parts)
    mine = designed(f"second_half = true\n\n[owned]\n{own}")
    assert cents(mine) == cents(designed(f"\n[owned]\n{own}"))


@pytest.mark.parametrize(
    ("said", "wished"), [("", False), ("second_half = false", False), ("second_half = true", True)]
)
def test_what_is_asked_is_read_and_written(tmp_path: Path, said: str, wished: bool) -> None:
    """The wish is off where nothing is said, and written out and read back it is the same."""
    file = tmp_path / "problem.toml"
    file.write_text(f"{SMALL}\n[wishes]\n{said}\n", encoding="utf-8")
    problem = load_problem(file)
    assert problem.wishes.second_half is wished
    assumed = {one.place for one in problem.outline.assumptions}
    assert ("wishes.second_half" in assumed) is not bool(said)
    file.write_text(expand_to_toml(problem), encoding="utf-8")
    assert load_problem(file).wishes.second_half is wished


def test_what_is_no_answer_is_refused(tmp_path: Path) -> None:
    """Anything but true or false is refused at its place."""
    file = tmp_path / "problem.toml"
    file.write_text(f'{SMALL}\n[wishes]\nsecond_half = "perhaps"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"wishes\.second_half"):
        load_problem(file)
