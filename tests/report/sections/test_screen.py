"""The first screen: what it says, that it fits, and that nothing on it is cut in a word."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Fault, Outcome, Status
from autoplan.places import AtEnd
from autoplan.problem.brief import Assumption
from autoplan.report.sections.contents import sections
from autoplan.report.sections.levels_picture import ASCII
from autoplan.report.sections.screen import first_screen
from autoplan.report.sections.site_cautions import life
from autoplan.report.units import SI, US, Units, units_of
from autoplan.rules.base import Rule
from autoplan.rules.book import ALL
from autoplan.wished import WishCost
from tests.stored import kept, stored

PROBLEMS = Path(__file__).parents[2] / "problems"


def screen(outcome: Outcome, width: int = 100, rank: int = 1) -> str:
    """The first screen in one piece."""
    return "\n".join(first_screen(outcome, SI, ASCII, width, rank))


def under(label: str, outcome: Outcome) -> str:
    """What stands under a label, its folds undone."""
    text, inside = "", False
    for line in first_screen(outcome, SI, ASCII):
        inside = line.startswith(label) or (inside and line.startswith(" "))
        if inside:
            text += " " + line.removeprefix(label).strip()
    return " ".join(text.split())


def faulty(outcome: Outcome, *faults: Fault) -> Outcome:
    """The outcome with such faults of rank 1."""
    first, *others = outcome.designs
    verdict = replace(first.verdict, faults=faults)
    return replace(outcome, designs=(replace(first, verdict=verdict), *others))


def test_what_it_says(outcome: Outcome) -> None:
    """What the plan costs and is, each rank in a line, and everything that concerns life."""
    text = screen(outcome)
    cost = outcome.designs[0].verdict.cost
    assert f"{cost.to_pay:.2f} {cost.currency} to buy" in text
    assert f"power {cost.running_per_year:.2f} a year" in text
    assert "Rank 1 is proven cheapest." in text
    for pump in outcome.designs[0].verdict.pumps.values():
        assert outcome.catalog.part(pump.part).description in text
        assert pump.part not in under("Pump", outcome)
    for design in outcome.designs:
        assert f"{design.rank}  {design.verdict.cost.to_pay:.2f}" in text
    for caution in life(outcome, outcome.designs[0], SI):
        assert caution in text
    assert "--show" in text


@pytest.mark.parametrize(("width", "most"), [(100, 30), (80, 40)])
@pytest.mark.parametrize("units", [SI, US], ids=["metric", "US"])
def test_it_fits(outcome: Outcome, width: int, most: int, units: object) -> None:
    """Thirty lines of a hundred characters, forty of eighty; words are whole."""
    lines = first_screen(outcome, units, ASCII, width)  # type: ignore[arg-type]
    assert len(lines) <= most
    assert max(map(len, lines)) <= width
    wide = set(" ".join(first_screen(outcome, SI, ASCII, 400)).split())
    text = [line for line in first_screen(outcome, SI, ASCII, width) if "|" not in line and "+" not in line]
    assert {word for word in " ".join(text).split() if word.isalpha()} <= wide


SILENT = tuple(rule.id for rule in ALL if rule.unjudged is not Rule.unjudged)
"""Rules that may have something that they cannot judge."""

WISHED = tuple(rule.wished for rule in ALL if rule.wished)


@pytest.fixture(scope="module", params=["no-sump", "small", "two-drains"])
def crowded(request: pytest.FixtureRequest) -> Outcome:
    """A kept design told as five ranks, with a cost for each wish and every rule that may lack something."""
    kept_one = stored(request.param, str(kept(request.param)["problem"]))
    (design,) = kept_one.designs
    verdict = replace(design.verdict, unjudged=dict.fromkeys(SILENT, ("something",)))
    wishes = [
        WishCost(wish, "some-rule", f"what a builder may wish for: {wish}", 100.0 + place)
        for place, wish in enumerate(WISHED)
    ]
    designs = [replace(design, verdict=verdict, rank=rank) for rank in range(1, 6)]
    return replace(kept_one, designs=tuple(designs), wishes=tuple(wishes))


@pytest.mark.parametrize(("width", "most"), [(100, 30), (80, 40)])
@pytest.mark.parametrize("units", [SI, US], ids=["metric", "US"])
def test_all_that_may_stand_on_it_fits(crowded: Outcome, width: int, most: int, units: Units) -> None:
    """With every wish and all that is not judged it is as short; the dearest and all dangers are told."""
    lines = first_screen(crowded, units, ASCII, width)
    assert len(lines) <= most
    text = " ".join(" ".join(lines).split())
    dearest = max(crowded.wishes, key=lambda wish: wish.dearer)
    assert f"{dearest.words}: at most {dearest.dearer:.2f} {crowded.catalog.currency} of it" in text
    assert f"{len(WISHED) - 1} more: --show cost" in text or f"{len(WISHED) - 2} more: --show cost" in text
    assert f"Not judged: all of {len(SILENT)} rules, see --show rules." in text
    for caution in life(crowded, crowded.designs[0], units):
        assert caution in text


def test_the_worst_of_each_cure(outcome: Outcome) -> None:
    """Of faults that one thing would save the worst is told; three cures at most, in order of the litres."""
    told = faulty(
        outcome,
        Fault("main bursts", 300.0, 0.1, 0.0, cure="a float switch"),
        Fault("feed bursts", 290.0, 0.1, 0.0, cure="a float switch"),
        Fault("drain fully blocked", 200.0, -0.01, 7.4, cure="an emergency overflow", alike=2),
        Fault("drain comes apart", 100.0, 0.1, 0.0, cure="straps"),
        Fault("sump runs dry", 0.0, 0.1, 9.0, dry_minutes=9.0, cure="another switch"),
    )
    assert under("Faults", told) == (
        "main bursts (1 like it): 300 L spilled. Cure: a float switch. "
        "drain fully blocked: 200 L spilled after 7 min. Cure: an emergency overflow. "
        "drain comes apart: 100 L spilled. Cure: straps."
    )
    dry = faulty(outcome, Fault("sump runs dry", 0.0, 0.1, 9.0, dry_minutes=9.0, cure="a float switch"))
    assert under("Faults", dry) == "sump runs dry: the pump draws air after 9 min. Cure: a float switch."


def test_no_fault_that_harms(outcome: Outcome) -> None:
    """Where every fault ends well that is said; where none was walked nothing is."""
    harmless = faulty(outcome, Fault("power cut", 0.0, 0.1, None))
    assert "Nothing spills" in under("Faults", harmless)
    assert under("Faults", faulty(outcome)) == ""


def test_what_was_assumed_next_to_a_limit(outcome: Outcome) -> None:
    """A setting that was assumed is told where its rule has little to spare, and not where it has much."""
    first, *others = outcome.designs
    place = AtEnd("drain", "tank")
    found = replace(
        first.verdict.findings[0], rule="hole-place", place=place, unit="mm", value=20.4, limit=20.0
    )
    strip = Assumption("rules.hole-place.strip", "20 mm", "from memory", "wall left beside a hole")
    other = Assumption("rules.hole-place.other", "35 mm", "from memory", "something else")

    def told(margin: float, *, as_sold: bool = False) -> str:
        near = replace(found, margin=margin, as_sold=as_sold)
        design = replace(first, verdict=replace(first.verdict, findings=(near,)))
        site = replace(outcome.site, assumptions=(strip, other))
        return under("Assumed", replace(outcome, site=site, designs=(design, *others)))

    assert told(0.4) == "wall left beside a hole, 20 mm: 0.4 mm to spare at drain at tank."
    assert told(1.0) != ""
    assert told(1.1) == ""
    # A part that is sold in just this size is no near miss.
    assert told(0.4, as_sold=True) == ""


def test_without_a_design(outcome: Outcome) -> None:
    """What was found out, what would help, and where the assumptions are."""
    none = replace(outcome, status=Status.NONE, designs=(), notes=("Raising tank by 13 mm would do.",))
    text = screen(none)
    assert "this is proven" in text
    assert "Raising tank by 13 mm would do." in text
    assert "--show assumed" in text


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(path.name for path in PROBLEMS.glob("*.toml")))
def test_the_worked_problems_fit(name: str) -> None:
    """The first screen of every worked problem, five ranks or the reasons for none, fits both widths."""
    site = autoplan.load_problem(PROBLEMS / name)
    outcome = autoplan.design(site, autoplan.load_catalog(site.catalog), top=5)
    for width, most in ((100, 30), (80, 40)):
        lines = first_screen(outcome, units_of(site.print_units), ASCII, width)
        assert len(lines) <= most
        assert max(map(len, lines)) <= width


def test_what_wishes_cost(outcome: Outcome) -> None:
    """A line of what each costs, exactly or at most, of rank 1 alone; none where nothing is wished."""
    assert not under("Wishes", outcome)
    wishes = (
        WishCost("spare", "pump-spare", "spare of the pump of 15 %", 12.4),
        WishCost("survives", "half-blocked", "drains half blocked", 3.0, exact=True),
        WishCost("other", "other", "another", 0.0, exact=True),
    )
    asking = replace(outcome, wishes=wishes)
    costs = (
        f"spare of the pump of 15 %: at most 12.40 {outcome.catalog.currency} of it; "
        f"drains half blocked: 3.00 {outcome.catalog.currency} of it; another: costs nothing."
    )
    assert under("Wishes", asking) == costs
    assert "Wishes" not in screen(asking, rank=2)
    (para,) = [block for block in sections(asking, SI, ["cost"]) if "Wishes" in str(block)]
    assert costs in str(para)


def test_another_rank_is_named_where_there_is_one(outcome: Outcome) -> None:
    """How to see more names another rank only where there is another."""
    assert len(outcome.designs) > 1
    assert "--rank 2" in under("More", outcome)
    assert "--rank" not in under("More", replace(outcome, designs=outcome.designs[:1]))
