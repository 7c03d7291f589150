"""What a rank is in a line, and what is got for the difference to rank 1."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import End
from autoplan.drawing import Purchase
from autoplan.fittings.ends import LineEnd
from autoplan.line.joints import Joint
from autoplan.outcome import Design, Fault, Kind, Outcome
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.gets import gets, in_words, is_what
from autoplan.report.sections.table import ranked
from autoplan.report.units import SI, US


def second(outcome: Outcome, **verdict: object) -> tuple[Outcome, Design]:
    """The outcome with the verdict of its rank 2 changed, and that rank."""
    first, other = outcome.designs
    made = replace(other, verdict=replace(other.verdict, **verdict))
    return replace(outcome, designs=(first, made)), made


def texts(outcome: Outcome, design: Design) -> list[str]:
    """What is got, in words."""
    return [gain.text for gain in gets(outcome, design, SI)]


def words(text: str) -> str:
    """The text with every fold undone."""
    return " ".join(text.split())


def test_what_a_rank_is(outcome: Outcome) -> None:
    """Every trait by its name, in one line, but a pump by its own; nothing where none was asked for."""
    first = outcome.designs[0]
    both = replace(first, traits={"pump": "pond pump 3000 L/h", "drain joints": "welded"})
    assert is_what(both) == "pond pump 3000 L/h; drain joints welded"
    assert is_what(replace(first, traits={})) == ""


def test_nothing_is_got_for_rank_1(outcome: Outcome) -> None:
    """Against itself nothing is better, worse or dearer."""
    assert gets(outcome, outcome.designs[0], SI) == []
    assert in_words(outcome, outcome.designs[0], SI) == (
        "It costs the same. Better: nothing that is measured."
    )


def test_money_and_power(outcome: Outcome) -> None:
    """176.30 instead of 156.30 to buy, freight as it was; 81.98 instead of 91.98 a year: less is better."""
    cost = replace(outcome.designs[1].verdict.cost, running_per_year=81.98)
    changed, design = second(outcome, cost=cost)
    dearer, thrifty = gets(changed, design, SI)
    assert (dearer.what, dearer.text, dearer.better) == ("cost", "20.00 EUR more", False)
    assert (dearer.first, dearer.this) == (pytest.approx(166.20), pytest.approx(186.20))
    assert (thrifty.text, thrifty.better) == ("10.00 EUR a year less for power", True)
    assert in_words(changed, design, SI) == (
        "It costs 20.00 EUR more. Better: 10.00 EUR a year less for power."
    )


@pytest.mark.parametrize(("margin", "told"), [(0.55, "0.25 m more"), (0.15, "0.15 m less")])
def test_spare_head(outcome: Outcome, margin: float, told: str) -> None:
    """The least of the pumps' margins over their duty, 0.30 m in rank 1; more is better."""
    findings = tuple(
        replace(found, margin=margin) if found.rule == "pump-duty" else found
        for found in outcome.designs[1].verdict.findings
    )
    changed, design = second(outcome, findings=findings)
    (gain,) = [gain for gain in gets(changed, design, SI) if gain.what == "spare head"]
    assert (gain.text, gain.better) == (f"{told} spare head", margin > 0.30)
    # A quarter of a metre is 0.82 ft, 0.15 m are 0.49 ft.
    feet = {"0.25 m more": "0.82 ft more", "0.15 m less": "0.49 ft less"}[told]
    assert [gain.text for gain in gets(changed, design, US)][-1] == f"{feet} spare head"


def test_what_shows_in_no_figure_is_not_told(outcome: Outcome) -> None:
    """4 mm of head and a tenth of a litre are no difference; a centimetre and a litre are."""
    first = outcome.designs[0].verdict
    assert max(fault.spilled_l for fault in first.faults) == 3.0
    for more, told in ((0.004, 0), (0.011, 1)):
        findings = tuple(
            replace(found, margin=found.margin + more) if found.rule == "pump-duty" else found
            for found in first.findings
        )
        changed, design = second(outcome, findings=findings, cost=first.cost)
        assert len(gets(changed, design, SI)) == told
    for spilled, said in ((3.1, []), (4.0, ["1 L more spilled by the worst fault"])):
        faults = (Fault("drain half blocked", spilled, -0.004, 12.0),)
        changed, design = second(outcome, faults=faults, cost=first.cost)
        assert texts(changed, design) == said


def test_what_was_not_worked_out_is_not_compared(outcome: Outcome) -> None:
    """Where no night was walked for a rank nothing is said of spills; a number that is none says nothing."""
    cost = outcome.designs[0].verdict.cost
    changed, design = second(outcome, faults=(), cost=cost)
    assert texts(changed, design) == []
    endless = replace(cost, running_per_year=math.inf)
    changed, design = second(outcome, cost=endless)
    assert texts(changed, design) == []


def test_counts(outcome: Outcome) -> None:
    """One hole less, two joints more welded, a kind of part more: each in its number."""
    other = outcome.designs[1]
    run = other.drawing.runs["tank drain"]
    assert run.start in run.holes()
    open_ = run.with_ends(LineEnd(run.start.at), run.finish)
    drawing = replace(
        other.drawing,
        runs={**other.drawing.runs, run.run: open_},
        purchases=(*other.drawing.purchases, Purchase("another", "reed", 1.0, 1)),
    )
    ends = End("spigot", "metric", "50"), End("socket", "metric", "50")
    weld = Joint(run.run, "a", "b", *ends, JointKind.WELDED)
    screw = replace(weld, kind=JointKind.SCREWED)
    verdict = replace(other.verdict, joints=(*other.verdict.joints, weld, weld, screw))
    design = replace(other, drawing=drawing, verdict=replace(verdict, cost=outcome.designs[0].verdict.cost))
    changed = replace(outcome, designs=(outcome.designs[0], design))
    assert texts(changed, design) == [
        "holes in walls: 1 fewer",
        "joints welded for good: 2 more",
        "kinds of part to buy: 1 more",
    ]
    assert [gain.better for gain in gets(changed, design, SI)] == [True, False, False]
    assert in_words(changed, design, SI) == (
        "It costs the same. Better: holes in walls: 1 fewer. "
        "Worse: joints welded for good: 2 more; kinds of part to buy: 1 more."
    )


def test_a_line_for_each_rank(outcome: Outcome) -> None:
    """Below the table: rank 1 as it is, rank 2 by its differences and what they cost."""
    text = words(plain_text(ranked(outcome, SI)))
    assert "Rank 1 has: pump pump-3000." in text
    assert (
        "Rank 2 differs from rank 1: drain metric 63 for metric 50; bulkhead fitting for push-in seal. "
        "It costs 20.00 EUR more. Better: nothing that is measured. Not proven cheapest" in text
    )
    assert "alone" not in text
    asked = replace(outcome, differ=(Kind.PUMP, Kind.WALLS))
    assert "Ranks differ in pump and walls alone." in words(plain_text(ranked(asked, SI)))


def test_the_same_in_json(outcome: Outcome) -> None:
    """Kind, what is got with both numbers, and the kinds asked for."""
    data = json.loads(json_text(replace(outcome, differ=(Kind.GUARD,))))
    first, other = data["designs"]
    assert data["differ"] == ["guard"]
    assert (first["kind"], first["gets"]) == ("pump pump-3000", [])
    (gain,) = other["gets"]
    assert gain["first"] == pytest.approx(166.20)
    assert gain["this"] == pytest.approx(186.20)
    assert (gain["what"], gain["unit"], gain["better"], gain["text"]) == (
        "cost",
        "money",
        False,
        "20.00 EUR more",
    )
