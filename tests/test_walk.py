"""A stranger walks what is printed for the worked problems and for random yards; spoilt answers are seen."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import strategies as st

import autoplan
from autoplan.report.contract import outcome_json
from tests import outside
from tests.bulk import few_and_many
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down
from tests.short_list import from_short_list, from_shorter_list
from tests.stored import stored
from tests.walk import PROBLEMS, Problem, Walk, walked

ANSWERED = sorted(path.name for path in PROBLEMS.glob("*.toml") if path.name != "wall-too-low.toml")
"""The worked problems that have a design."""

ELSEWHERE = (
    "any-way",
    "deep-troughs",
    "one-tank-one-bed",
    "row-of-beds",
    "spare-beds",
    "sump-to-buy",
    "timed-beds",
    "two-lines",
    "two-tanks",
    "us-units",
)
"""Those whose like other tests design every day; walked in the long runs."""

KEPT = ("four-beds", "no-sump", "two-drains")
"""Those whose proven designs are kept: walked as kept every day, searched in the long runs."""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The smallest worked problem, to be built from the shorter price list."""
    path: Path = tmp_path_factory.mktemp("small") / "small.toml"
    text = (PROBLEMS / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    path.write_text(from_shorter_list(text), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def smallest(small: Path) -> Problem:
    """The smallest worked problem's answer."""
    return walked(small, top=1)[1]


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.long] * (name.removesuffix(".toml") in ELSEWHERE + KEPT))
        for name in ANSWERED
    ],
)
def test_the_worked_problems(name: str) -> None:
    """Every worked problem that has an answer is walked from end to end; its order is what was minimised."""
    met, answer = walked(PROBLEMS / name, top=1)
    assert answer["status"] == "proven"
    assert met > 0
    the_order_is_the_objective(answer)


@pytest.mark.parametrize("name", KEPT)
def test_what_is_kept_of_the_worked_problems(name: str) -> None:
    """As above, of designs that the long runs search again: judged, written and walked by today's code."""
    outcome = stored(name, (PROBLEMS / f"{name}.toml").read_text(encoding="utf-8"))
    answer: Problem = dict(outcome_json(outcome))
    the_order_is_the_objective(answer)
    (design,) = answer["designs"]
    assert Walk(answer, design, outcome.site.owned).all() > 0


def the_order_is_the_objective(answer: Problem) -> None:
    """What is on the one design's purchase list, with freight, comes to what was minimised."""
    (design,) = answer["designs"]
    ordered = sum(round(100 * line["line_cost"]) for line in design["purchase"])
    assert ordered + round(100 * design["cost"]["freight"]) == round(100 * design["objective"])


def test_the_smallest_problem(smallest: Problem) -> None:
    """A drain of one tank, a main, two feeds and a bed's drain: some fifty joints."""
    assert Walk(smallest, smallest["designs"][0], {}).all() == sum(
        len(run["joints"]) for run in smallest["designs"][0]["runs"]
    )


@pytest.fixture(scope="module")
def far_apart(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    """The answer for a tank 13 m from its sump, with no small rigid pipe to be had: its main is poly line."""
    path = tmp_path_factory.mktemp("far") / "far.toml"
    path.write_text(
        from_short_list(
            """name = "Far apart"
        [tank]
        volume = "600 L"
        floor = "150 mm"
        [sump]
        volume = "500 L"
        floor = "-600 mm"
        [distances]
        tank_to_sump = "13 m"
        """,
            *(f"pn16-{size}-{sold}" for size in (20, 25, 32) for sold in ("3m", "metre")),
        )
    )
    return walked(path, top=1)[1]


def test_legs_longer_than_a_stick(far_apart: Problem) -> None:
    """A drain of 13 m is laid of pieces with couplings, which the stranger finds joined."""
    drain = next(run for run in far_apart["designs"][0]["runs"] if run["kind"] == "gravity")
    legs = [item["place"] for item in drain["line"] if item["place"].startswith("leg")]
    assert len(legs) > len(set(legs))


@pytest.mark.parametrize("longer", [0.0, 0.2])
def test_a_stick_longer_than_any_shop_has(far_apart: Problem, longer: float) -> None:
    """The stranger lets every stick pass as it is printed and sees one that is longer than it is sold."""
    answer = copy.deepcopy(far_apart)
    design = answer["designs"][0]
    longest = max((cut for cut in design["cuts"] if not cut["owned"]), key=lambda cut: cut["stick_mm"])
    longest["stick_mm"] += longer
    if not longer:
        assert Walk(answer, design, {}).all() > 0
        return
    with pytest.raises(AssertionError):
        Walk(answer, design, {}).all()


def test_a_clamp_on_poly_line_is_seen(far_apart: Problem) -> None:
    """A clamp is told where poly line grips its barb: the stranger sees it."""
    spoilt = copy.deepcopy(far_apart)
    joint = next(j for run in spoilt["designs"][0]["runs"] for j in run["joints"] if j["kind"] == "barbed")
    joint["kind"] = "barbed with clamp"
    with pytest.raises(AssertionError):
        Walk(spoilt, spoilt["designs"][0], {}).all()


def over_a_crest(design: Problem) -> Problem:
    """The siphon pipe outside the bed."""
    return next(run for run in design["runs"] if run["name"] == outside.DRAIN)


def crest_lower(design: Problem) -> None:
    """The crest as told 5 mm lower than the riser makes it."""
    over_a_crest(design)["ends"][0]["outside_siphon"]["lip_above_floor_mm"] -= 5


def mouth_lower(design: Problem) -> None:
    """The air tube's mouth as low as the hole."""
    over_a_crest(design)["ends"][0]["outside_siphon"]["air_above_floor_mm"] = 50.0


def without_tube(design: Problem) -> None:
    """The air tube missing in the order."""
    design["purchase"] = [line for line in design["purchase"] if line["part"] != "snorkel-6"]


def on_and_up(design: Problem) -> None:
    """A leg behind the crest that rises."""
    over_a_crest(design)["legs"][4]["rise_mm"] = 5.0


def taped(design: Problem) -> None:
    """A joint under suction made with tape and a screw."""
    joints = over_a_crest(design)["joints"]
    next(one for one in joints if one["kind"] == "solvent-welded")["kind"] = "tape-and-screw"


def test_over_a_crest_and_down() -> None:
    """A siphon pipe outside a bed adds up in space, from its hole over its crest to the sump."""
    answer: Problem = dict(outcome_json(outside.answer()))
    the_order_is_the_objective(answer)
    assert Walk(answer, answer["designs"][0], {}).all() > 0


@pytest.mark.parametrize("spoil", [crest_lower, mouth_lower, without_tube, on_and_up, taped])
def test_a_spoilt_crest_is_seen(spoil: Callable[[Problem], None]) -> None:
    """The stranger passes none of them."""
    answer: Problem = copy.deepcopy(dict(outcome_json(outside.answer())))
    spoil(answer["designs"][0])
    with pytest.raises(AssertionError):
        Walk(answer, answer["designs"][0], {}).all()


def first(design: Problem, role: str) -> Problem:
    """The first thing of a role on any line."""
    found: Problem = next(item for run in design["runs"] for item in run["line"] if item["role"] == role)
    return found


def lose_a_part(design: Problem) -> None:
    """An adaptor is missing from its line."""
    run = next(r for r in design["runs"] if any(item["role"] == "adaptor" for item in r["line"]))
    run["line"].remove(next(item for item in run["line"] if item["role"] == "adaptor"))


def lose_a_joint(design: Problem) -> None:
    """One joint is not told."""
    design["runs"][0]["joints"].pop()


def another_size(design: Problem) -> None:
    """A coupling of another size stands on the line."""
    item = first(design, "adaptor")
    item["ends"] = [end.replace("40", "50").replace("32", "50") for end in item["ends"]]


def tape_where_it_is_a_washer(design: Problem) -> None:
    """Two parallel threads are told to seal with tape."""
    joint = next(j for run in design["runs"] for j in run["joints"] if j["kind"] == "threaded with washer")
    joint["kind"] = "threaded with tape"


def weld_one_and_screw_one(design: Problem) -> None:
    """One joint of the tank's drain is screwed and the others welded."""
    tape(next(run for run in design["runs"] if run["name"] == "tank drain")["joints"][:-1])


def screw_the_siphon(design: Problem) -> None:
    """All joints of the drain below the bell are screwed, and no others."""
    tape(next(run for run in design["runs"] if run["ends"][0]["siphon"])["joints"])


def tape(joints: list[Problem]) -> None:
    """Make these joints with tape and a screw where they are welded; there is one at least."""
    welded = [joint for joint in joints if joint["kind"] == "solvent-welded"]
    assert welded
    for joint in welded:
        joint["kind"] = "tape-and-screw"


def forget_to_buy(design: Problem) -> None:
    """The seals are not on the purchase list."""
    seal = first(design, "pipe")["through"] or next(
        item["through"] for run in design["runs"] for item in run["line"] if item["through"]
    )
    design["purchase"] = [line for line in design["purchase"] if line["part"] != seal]


def cut_short(design: Problem) -> None:
    """A piece is cut 10 mm short."""
    design["cuts"][0]["pieces_mm"][0] -= 10.0


def swap_ports(design: Problem) -> None:
    """A run is told to sit on another opening of its tee than its line does."""
    (junction,) = design["junctions"]
    item = next(run for run in design["runs"] if run["name"] == junction["ports"][0])["line"][-1]
    item["part"] = "tee-25"


def siphon_of(design: Problem) -> Problem:
    """The bell siphon of the bed's drain."""
    siphon: Problem = next(
        start["siphon"] for run in design["runs"] for start in run["ends"] if start["siphon"]
    )
    return siphon


def another_bell(design: Problem) -> None:
    """A bell too wide for its guard is told."""
    siphon_of(design)["bell"] = "bell-90"


def no_bell_bought(design: Problem) -> None:
    """The bell is not on the purchase list."""
    bell = siphon_of(design)["bell"]
    design["purchase"] = [line for line in design["purchase"] if line["part"] != bell]


def a_lip_too_high(design: Problem) -> None:
    """The lip is told higher than its pipe is long."""
    start = next(end for run in design["runs"] for end in run["ends"] if end["siphon"])
    start["standpipe_top_above_floor_mm"] += 5.0


def on_plan(design: Problem, kind: str) -> Problem:
    """The first run of a kind whose legs are known, with more than one of them."""
    found: Problem = next(
        run
        for run in design["runs"]
        if run["kind"] == kind and len(run["legs"]) > 1 and all("rise_mm" in leg for leg in run["legs"])
    )
    return found


def a_leg_too_long(design: Problem) -> None:
    """A level leg is told 3 mm longer than what there is on the plan."""
    leg = next(leg for leg in on_plan(design, "gravity")["legs"] if leg["toward"].startswith("level"))
    leg["length_mm"] += 3.0


def an_upright_too_short(design: Problem) -> None:
    """An upright does not reach down to where its run goes on."""
    leg = next(leg for leg in on_plan(design, "gravity")["legs"] if leg["toward"] == "down")
    leg["length_mm"] -= 3.0
    leg["rise_mm"] += 3.0


def a_hole_elsewhere(design: Problem) -> None:
    """A hole is told 3 mm above where its run goes out."""
    end = next(
        run["ends"][0]
        for run in design["runs"]
        if run["ends"][0]["hole_mm"] and not run["ends"][0]["in_floor"]
    )
    end["centre_above_floor_mm"] += 3.0


def a_drain_that_rises(design: Problem) -> None:
    """A leg of a drain goes up in the middle and nothing says so."""
    run = on_plan(design, "gravity")
    level = [leg for leg in run["legs"] if leg["toward"].startswith("level")]
    down = next(leg for leg in run["legs"] if leg["toward"] == "down")
    level[-1]["rise_mm"] += 10.0
    down["rise_mm"] -= 10.0
    down["length_mm"] += 10.0


def a_leg_not_told(design: Problem) -> None:
    """Nothing is told of the last leg of a run, of which a piece is cut."""
    on_plan(design, "pressure")["legs"].pop()


def a_piece_of_no_leg(design: Problem) -> None:
    """A piece is for a leg that its run does not have."""
    run = on_plan(design, "gravity")
    item = next(item for item in run["line"] if item["place"].startswith("leg "))
    item["place"] = f"leg {len(run['legs']) + 1}"


def a_tee_at_two_heights(design: Problem) -> None:
    """A run is told to begin 3 mm above the tee that another one ends at, as are its uprights."""
    run = next(
        run
        for run in design["runs"]
        if run["from"] in {junction["junction"] for junction in design["junctions"]}
    )
    run["start_height_mm"] += 3.0
    up = next(leg for leg in run["legs"] if leg["toward"] == "up")
    up["rise_mm"] -= 3.0
    up["length_mm"] -= 3.0


@pytest.mark.parametrize(
    "spoil",
    [
        a_leg_too_long,
        an_upright_too_short,
        a_hole_elsewhere,
        a_drain_that_rises,
        a_leg_not_told,
        a_piece_of_no_leg,
        a_tee_at_two_heights,
        another_bell,
        no_bell_bought,
        a_lip_too_high,
        lose_a_part,
        lose_a_joint,
        another_size,
        tape_where_it_is_a_washer,
        weld_one_and_screw_one,
        screw_the_siphon,
        forget_to_buy,
        cut_short,
        swap_ports,
    ],
)
def test_a_spoilt_answer_is_seen(smallest: Problem, spoil: Callable[[Problem], None]) -> None:
    """The walk is not blind: each thing that could be wrong is found."""
    spoilt = copy.deepcopy(smallest)
    spoil(spoilt["designs"][0])
    with pytest.raises(AssertionError):
        Walk(spoilt, spoilt["designs"][0], {}).all()


@pytest.mark.long
@pytest.mark.parametrize("name", ANSWERED)
def test_every_rank_of_the_worked_problems(name: str) -> None:
    """All five ranks hold together, not only the first."""
    met, answer = walked(PROBLEMS / name, top=5)
    assert len(answer["designs"]) == 5
    assert met > 0


def test_what_is_owned_need_not_be_bought(small: Path) -> None:
    """A part on a line that is owned is in no shop's order and not missed; it is told as what is at hand."""
    owned = {"seal-40": 2, "coupling-40": 3}
    _, answer = walked(small, top=1, owned=owned)
    (design,) = answer["designs"]
    mine = [line for line in design["purchase"] if line["part"] in owned]
    assert mine
    assert {(line["packs"], line["shop"]) for line in mine} == {(0, None)}
    assert {item["part"] for run in design["runs"] for item in run["line"]} >= {"coupling-40"}
    with pytest.raises(AssertionError):
        Walk(answer, design, {}).bought()


WIDE_ONLY = """drain-40-3m drain-32-3m drain-50-3m pn16-25-3m elbow-32-45 drain-bend-40-45 drain-sweep-40-90
    drain-tee-40 drain-coupling-40 elbow-25-90 elbow-25-45 seal-40 bulkhead-32 reducer-50-32
    union-female-25-34 tee-25 ball-25 pump-1600 pump-2200 bell-63 bell-75 bell-90 guard-110 guard-125
    snorkel-6"""


@pytest.mark.parametrize(
    ("floods", "more", "flare", "other"),
    [("3.8", "", "reducer-50-32", False), ("3", "pn16-20-metre bush-32-20", None, True)],
)
def test_a_flare_and_a_standpipe_of_another_pipe(
    tmp_path: Path, floods: str, more: str, flare: str, other: bool
) -> None:
    """380 L/h start a 32 mm drain by a flare on its own pipe; 300 need a bush and 20 mm, and no flare."""
    problem = tmp_path / "flared.toml"
    problem.write_text(one_bed(f'floods = "{floods}/hour"'))
    shelf = cut_down(autoplan.load_catalog("metric"), WIDE_ONLY + " " + more)
    outcome = autoplan.design(autoplan.load_problem(problem), shelf, top=1)
    answer: Problem = dict(outcome_json(outcome))
    (design,) = answer["designs"]
    walk = Walk(answer, design, {})
    assert walk.all() > 0
    ((run, start),) = walk.standing()
    assert start["siphon"]["flare"] == flare
    assert (start["standpipe"] is not None) is other
    assert [item["role"] for item in run["line"][:2]] == (
        ["standpipe", "adaptor"] if other else ["flare", "pipe"]
    )


@pytest.mark.parametrize(
    ("floods", "more", "wall_part"),
    [
        ("3.8", "coupling-32", "seal-32"),
        ("3", "pn16-20-metre bush-32-20", "bulkhead-32"),
    ],
)
def test_what_joins_on_a_seal_in_a_floor(tmp_path: Path, floods: str, more: str, wall_part: str) -> None:
    """With penetration-fit left aside a seal may hold a drain in a floor, if a coupling carries what stands.

    A bush has no socket for its end, so that there a bulkhead fitting is taken: nothing is drawn for the
    verdict to refuse.
    """
    problem = tmp_path / "sealed.toml"
    problem.write_text(one_bed(f'floods = "{floods}/hour"') + "[rules.penetration-fit]\noff = true\n")
    parts = {*WIDE_ONLY.split(), *more.split(), "seal-32"} - {"bulkhead-32"} | {wall_part}
    shelf = cut_down(autoplan.load_catalog("metric"), " ".join(sorted(parts)))
    outcome = autoplan.design(autoplan.load_problem(problem), shelf, top=1)
    assert outcome.solver.rejected == 0
    answer: Problem = dict(outcome_json(outcome))
    (design,) = answer["designs"]
    walk = Walk(answer, design, {})
    assert walk.all() > 0
    ((_, start),) = walk.standing()
    assert start["penetration"] == wall_part


@st.composite
def yards(draw: st.DrawFn) -> str:
    """A problem file: a tank over a sump, perhaps a settler that may sink, thin walls, up to two beds."""
    tank = draw(st.integers(500, 1500))
    beds = draw(st.integers(0, 2))
    lines = [
        'name = "Some yard"',
        f'catalog = "{draw(st.sampled_from(("metric", "inch", "bore-named")))}"',
        f'[tank]\nvolume = "{tank} L"\ndepth = "800 mm"\nfloor = "{draw(st.integers(250, 450))} mm"',
        f'wall = "{draw(st.sampled_from((4, 6, 10)))} mm"',
    ]
    if draw(st.booleans()):
        lines.append(
            f'[settler]\nvolume = "220 L"\ndepth = "850 mm"\nfloor = "{draw(st.integers(100, 150))} mm"'
        )
        lines.append(f'uncertain = "{draw(st.sampled_from((0, 20)))} mm"')
    if beds:
        lines.append(f'[beds]\ncount = {beds}\narea = "1 m2"\nfloor = "600 mm"')
    lines.append('[sump]\nvolume = "900 L"\ndepth = "600 mm"\nfloor = "-600 mm"')
    lines.append(f'[wishes]\ndrain_joints = "{draw(st.sampled_from(("any", "welded", "screwed")))}"')
    return "\n".join(lines) + "\n"


def holds_together(tmp_path: Path, text: str) -> None:
    """Whatever the price list, the walls and the wishes: each design can be put together as it is told."""
    problem = tmp_path / "yard.toml"
    problem.write_text(text)
    met, answer = walked(problem, top=1)
    assert answer["status"] in ("proven", "none")
    assert (met > 0) is (answer["status"] == "proven")


test_random_yards, test_many_random_yards = few_and_many(holds_together, 1, 20, text=yards())
