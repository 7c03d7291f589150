"""The public door: what a program that calls `autoplan.design` gets and may rely on."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.fittings.wall import Pierced
from autoplan.optimiser.model.signature import MIXED, Value
from autoplan.optimiser.search.merge import Placed
from autoplan.optimiser.search.ranking import Ranked
from autoplan.optimiser.search.variants import Variant
from autoplan.outcome import Design, Fault, Kind, Outcome, Status
from autoplan.problem.brief import DrainJoints
from autoplan.problem.site import Guard, Site
from autoplan.rules.book import ALL
from autoplan.telling import differences
from autoplan.verdict.faults.walk import faults
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.supplies import Supplies
from tests.short_list import from_short_list

TANK = """
name = "A tank over a buried sump"
[tank]
volume = "1000 L"
floor = "150 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """A tank over a sump."""
    path = tmp_path_factory.mktemp("door") / "tank.toml"
    path.write_text(from_short_list(TANK))
    return autoplan.load_problem(path).outline


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@pytest.fixture(scope="module")
def outcome(site: Site, catalog: Catalog) -> Outcome:
    """Three ranked designs."""
    return autoplan.design(site, catalog, top=3)


def test_ranks_rise(outcome: Outcome) -> None:
    """Ranks count from 1, costs never fall, and each rank's bound is its own cost once proven."""
    assert outcome.status is Status.PROVEN
    assert [design.rank for design in outcome.designs] == [1, 2, 3]
    costs = [design.objective for design in outcome.designs]
    assert costs == sorted(costs)
    for design in outcome.designs:
        assert design.proven
        assert design.bound == pytest.approx(design.objective)
        assert design.verdict.ok


PIPES = {"poly": "poly line", "hose": "hose", "metric": "rigid pipe"}
"""What a builder calls pipe of each system of the price list."""

GUARDS = {Guard.AIR_GAP: "air gap", Guard.HOLE: "siphon-break hole", Guard.CHECK_VALVE: "check valve"}
"""What a builder calls what keeps a tank from siphoning back."""


def seen(design: Design, catalog: Catalog) -> dict[str, str]:
    """What tells plans of a tank over a sump apart, read off a drawing."""
    drain, main = design.drawing.runs["tank drain"], design.drawing.runs["main"]
    wide = catalog.pipes[drain.pipe].end
    walls = sorted({way_through(catalog, hole) for hole in drain.holes()})
    passed = walls if drain.rim is None else [*walls, "over the rim"]
    return {
        "pump": catalog.pumps[design.drawing.pumps["sump"].part].description,
        "drain joints": "screwed" if design.drawing.screwed_drains else "welded",
        "drains pass walls by": " and ".join(passed),
        "main": PIPES[catalog.pipes[main.pipe].end.system],
        "drains": PIPES[wide.system],
        "tank drain": f"{wide.system} {wide.size}",
        "against siphoning back": GUARDS[main.guard],
    }


def way_through(catalog: Catalog, hole: Pierced) -> str:
    """How the part in a hole passes its wall, by the price list."""
    return str(catalog.penetrations[hole.penetration].way)


def test_ranks_differ_in_what_a_builder_sees(outcome: Outcome) -> None:
    """No two drawings look alike, and each rank says just in what its drawing looks unlike that of rank 1."""
    looks = [seen(design, outcome.catalog) for design in outcome.designs]
    assert len({tuple(look.values()) for look in looks}) == len(looks)
    for design, look in zip(outcome.designs, looks, strict=True):
        assert design.traits == look
        unlike = [name for name in look if look[name] != looks[0][name]]
        assert design.differs == tuple(f"{name}: {look[name]} instead of {looks[0][name]}" for name in unlike)


HOSE_AND_POLY, POLY_AND_RIGID = ("hose and poly line", MIXED), ("poly line and rigid pipe", MIXED)
HOSE, POLY = ("hose", ("hose",)), ("poly line", ("poly line",))


@pytest.mark.parametrize(
    ("first", "other", "said"),
    [
        (HOSE, HOSE, ()),
        (HOSE, POLY, ("feeds: poly line instead of hose",)),
        (HOSE_AND_POLY, HOSE, ("feeds: hose instead of hose and poly line",)),
        (HOSE, HOSE_AND_POLY, ("feeds: hose and poly line instead of hose",)),
        (HOSE_AND_POLY, POLY_AND_RIGID, ()),
    ],
    ids=["alike", "unlike", "mixed before", "mixed now", "two mixes"],
)
def test_one_mix_is_as_another(
    outcome: Outcome, first: tuple[str, Value], other: tuple[str, Value], said: tuple[str, ...]
) -> None:
    """Of feeds that are a mix in both nothing is said, however the words differ; of an arrangement it is."""

    def placed(feeds: tuple[str, Value], arrangement: str) -> Placed:
        design, (words, key) = outcome.designs[0], feeds
        ranked = Ranked(design.drawing, design.verdict, 1, 1, True, {"feeds": words}, {"feeds": key})
        return Placed(Variant(outcome.site, {"arrangement": arrangement}), ranked, 1, True)

    assert differences(placed(first, "chained"), placed(other, "chained")) == said
    moved = differences(placed(first, "chained"), placed(other, "apart"))
    assert moved == ("arrangement: apart instead of chained", *said)


def test_one_kind_alone(site: Site, catalog: Catalog) -> None:
    """Ranks by pump: each pump of five once, and each as cheap as where the list has no other pump."""
    some = {"pump-2200", "pump-3000", "pump-3600", "pump-4500", "pump-6000"}
    site = replace(site, unavailable=site.unavailable | catalog.pumps.keys() - some)
    found = autoplan.design(site, catalog, top=2, differ=["pump"])
    assert found.status is Status.PROVEN
    assert found.differ == (Kind.PUMP,)
    assert found.notes == ()
    pumps = [design.drawing.pumps["sump"].part for design in found.designs]
    assert len(set(pumps)) == 2
    for pump, design in zip(pumps, found.designs, strict=True):
        others = site.unavailable | catalog.pumps.keys() - {pump}
        (alone,) = autoplan.design(replace(site, unavailable=others), catalog, top=1).designs
        assert alone.objective == pytest.approx(design.objective)
        assert set(design.traits) == {"pump"}


def test_nothing_to_differ_in(site: Site, catalog: Catalog) -> None:
    """No beds, one arrangement, drains welded as asked: one design, and it is said why there are no more."""
    wishes = replace(site.wishes, drain_joints=DrainJoints.WELDED)
    welded = replace(site, wishes=wishes)
    found = autoplan.design(welded, catalog, top=2, differ=["beds", "arrangement", "joints", "beds"])
    assert [design.proven for design in found.designs] == [True]
    assert found.notes == (
        "Nothing to differ in for beds: there is nothing of the kind in this problem.",
        "Nothing to differ in for arrangement: the problem leaves no arrangement and no vessel to be chosen.",
        "Nothing to differ in for joints: every design has drain joints welded.",
    )


def test_unknown_kinds(site: Site, catalog: Catalog) -> None:
    """Each kind that there is not is a mistake of one sentence, told once, beside all others."""
    with pytest.raises(InputError) as caught:
        autoplan.design(site, catalog, differ=["pmp", "pump", "colour", "pmp"], without=["zzz"])
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert len(told) == 3
    assert "--differ: designs cannot be asked to differ in 'pmp'; did you mean 'pump'." in told
    (other,) = [line for line in told if "'colour'" in line]
    assert all(str(kind) in other for kind in Kind)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"top": 0}, "--top: cannot show 0 designs"),
        ({"budget": 0.0}, "--budget: 0 is no budget"),
        ({"budget": math.inf}, "--budget: inf is no budget"),
        ({"time_limit": 0.0}, "--time-limit: 0 s is no time limit"),
        (
            {"rank_by": "owership"},
            "--rank-by: designs cannot be ranked by 'owership'; write one of purchase,",
        ),
        ({"without": "zzz"}, "--without: 'zzz' is not in the price list"),
        ({"differ": "pmp"}, "--differ: designs cannot be asked to differ in 'pmp'; did you mean 'pump'."),
    ],
)
def test_what_nothing_can_be_asked_with(
    site: Site, catalog: Catalog, asked: dict[str, Any], said: str
) -> None:
    """A library is told of the same mistakes as the command line, and no word is read letter by letter."""
    with pytest.raises(InputError) as caught:
        autoplan.design(site, catalog, **asked)
    (told,) = map(str, caught.value.mistakes)
    assert told.startswith(said)


def test_more_ranks_do_not_change_the_first(site: Site, catalog: Catalog, outcome: Outcome) -> None:
    """Asking for one design gives the first of three."""
    one = autoplan.design(site, catalog, top=1)
    assert one.designs[0].objective == outcome.designs[0].objective
    assert len(one.designs) == 1


def test_assumptions_come_along(site: Site, outcome: Outcome) -> None:
    """The outcome lists the problem's assumptions and every rule setting left at its default."""
    assert set(site.assumptions) < set(outcome.site.assumptions)
    places = {assumption.place for assumption in outcome.site.assumptions}
    speaking = [kind for kind in ALL if kind.concerns(site)]
    assert {f"rules.{kind.id}.{setting.key}" for kind in speaking for setting in kind.settings} <= places


def test_every_rule_is_listed(outcome: Outcome) -> None:
    """Each design is judged by every rule that has something to say about a tank and a sump."""
    heard = {finding.rule for finding in outcome.designs[0].verdict.findings}
    silent = {"branch-valve", "stock", "budget", "flexible-joint", "seal-stand"}
    # These speak of an inlet under water, and here an air gap costs no more.
    silent |= {"check-valve", "over-rim-start", "over-rim-fill"}
    assert heard >= {kind.id for kind in ALL if kind.concerns(outcome.site)} - silent


def test_the_report_of_the_search(outcome: Outcome) -> None:
    """Bound, seed, workers and versions say how the answer was found, so that it can be found again."""
    solver = outcome.solver
    assert solver.bound == pytest.approx(outcome.designs[0].objective)
    assert solver.wall_s > 0
    assert solver.rejected == 0
    assert set(solver.versions) == {"autoplan", "ortools"}


def test_the_site_is_left_alone(site: Site, catalog: Catalog) -> None:
    """Options change a copy: the caller's problem stays as it was, and cannot be written to."""
    before = (site.wishes, site.unavailable, site.assumptions)
    autoplan.design(site, catalog, top=1, budget=900.0, without=["pump-1000"])
    assert (site.wishes, site.unavailable, site.assumptions) == before
    with pytest.raises(FrozenInstanceError):
        site.name = "other"  # type: ignore[misc]


def test_unknown_parts_all_at_once(site: Site, catalog: Catalog) -> None:
    """Part ids that the price list lacks, given, owned or unavailable: one error with all of them."""
    wrong = replace(site, owned={"pump-3000": 1, "pmp-3000": 1}, unavailable=frozenset({"zzz"}))
    with pytest.raises(InputError) as caught:
        autoplan.design(wrong, catalog, without=["seel-50"])
    lines = [str(mistake) for mistake in caught.value.mistakes]
    assert len(lines) == 3
    assert any("'seel-50'" in line and "'seal-50'" in line for line in lines)
    assert any("owned" in line and "'pmp-3000'" in line and "'pump-3000'" in line for line in lines)
    assert any("unavailable" in line and "'zzz'" in line for line in lines)


@pytest.fixture
def walked(monkeypatch: pytest.MonkeyPatch) -> list[Waterworks]:
    """Every design whose hours and faults are worked out from now on."""
    found: list[Waterworks] = []

    def counted(works: Waterworks, supplies: Supplies) -> tuple[Fault, ...]:
        found.append(works)
        return faults(works, supplies)

    monkeypatch.setattr("autoplan.verdict.judge.faults", counted)
    return found


@pytest.mark.parametrize(
    "options",
    [
        {"top": 1},
        {"top": 3},
        pytest.param({"top": 1, "rank_by": "margin", "budget": 300.0}, marks=pytest.mark.long),
    ],
)
def test_nights_are_walked_for_what_is_printed(
    site: Site, catalog: Catalog, walked: list[Waterworks], options: dict[str, Any]
) -> None:
    """One walk for each design told of, none for guesses at it, halving steps or designs past the last."""
    told = autoplan.design(site, catalog, **options).designs
    assert len(told) == options["top"]
    assert [works.survey.drawing for works in walked] == [design.drawing for design in told]
    assert all(design.verdict.faults for design in told)
    assert all(design.verdict.running for design in told)


def test_nights_are_not_walked_for_comparison(site: Site, catalog: Catalog, walked: list[Waterworks]) -> None:
    """Nor for the design that the lost part would have made cheaper, nor for any trial of what would mend."""
    told = autoplan.design(site, catalog, top=1, without=["pump-3000"])
    assert any("instead of" in note for note in told.notes)
    assert [works.survey.drawing for works in walked] == [design.drawing for design in told.designs]
    walked.clear()
    none = autoplan.design(site, catalog, top=1, budget=20.0)
    assert none.status is Status.NONE
    assert none.clash is not None
    assert walked == []


def test_progress_is_told(site: Site, catalog: Catalog) -> None:
    """A caller hears of each stage; costs and bounds that are told never cross."""
    heard: list[tuple[str, float | None, float | None]] = []
    autoplan.design(site, catalog, top=1, progress=lambda *news: heard.append(news))
    assert heard
    for stage, best, bound in heard:
        assert stage
        assert best is None or bound is None or bound <= best + 1e-6


def test_no_time_at_all(site: Site, catalog: Catalog) -> None:
    """With no time to search nothing is claimed: neither a proof nor that there is none."""
    outcome = autoplan.design(site, catalog, top=1, time_limit=1e-9)
    assert outcome.status in (Status.UNDECIDED, Status.FEASIBLE)


def test_ranked_by_ownership(site: Site, catalog: Catalog, outcome: Outcome) -> None:
    """What is minimised is what the verdict calls cost of ownership, to the cent of the solver."""
    (thrifty,) = autoplan.design(site, catalog, top=1, rank_by="ownership").designs
    assert thrifty.objective == pytest.approx(thrifty.verdict.cost.ownership, abs=0.02)
    assert all(
        thrifty.verdict.cost.ownership <= design.verdict.cost.ownership + 0.02 for design in outcome.designs
    )


def test_a_missing_problem_is_a_mistake(tmp_path: Path) -> None:
    """A file that is not there is the user's mistake, told as data."""
    with pytest.raises(InputError) as caught:
        autoplan.load_problem(tmp_path / "none.toml")
    assert len(caught.value.mistakes) == 1
