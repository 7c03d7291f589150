"""Which openings mate, and what kind of joint the two make: every row of the table, and every accident."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import pytest

from autoplan.catalog.ends import FORMS, SHORT
from autoplan.catalog.mating import JointKind, Mating, joint_kind, pipe_kind, sleeve_range
from autoplan.catalog.parts import Catalog, End, Size

JOINTS: Mapping[frozenset[str], JointKind] = {
    frozenset({"socket", "spigot"}): JointKind.WELDED,
    frozenset({"socket", SHORT}): JointKind.WELDED,
    frozenset({"compression", "spigot"}): JointKind.COMPRESSION,
    frozenset({"compression", "plain"}): JointKind.COMPRESSION,
    frozenset({"seal", "spigot"}): JointKind.SEAL,
    frozenset({"seal", "plain"}): JointKind.SEAL,
    frozenset({"sleeve", "spigot"}): JointKind.RUBBER,
    frozenset({"sleeve", SHORT}): JointKind.RUBBER,
    frozenset({"sleeve", "plain"}): JointKind.RUBBER,
    frozenset({"barb", "bore"}): JointKind.BARB,
    frozenset({"male", "female"}): JointKind.TAPE,
}
"""What a builder can join to what, and how; everything else is refused. Common practice, no source."""

THREADS = {("G", "G"), ("Rp", "Rp"), ("R", "R"), ("Rc", "Rc"), ("NPT", "NPT")} | {
    ("R", "Rp"),
    ("R", "Rc"),
    ("R", "G"),
    ("G", "Rp"),
}
"""(male, female): ISO 7-1 joins taper R outside with parallel Rp or taper Rc inside; G (ISO 228-1) is a
parallel thread of the same form and pitch. NPT (ASME B1.20.1) has another angle and pitch; from memory."""


def end(text: str) -> End:
    """An end in three words."""
    return End(*text.split())


def pipe_size(outside: float, least: float | None = None, most: float | None = None) -> Size:
    """A size named by its outside [mm], with its limits."""
    low, high = (outside if limit is None else limit for limit in (least, most))
    return Size(outside / 1000, None, None, None, "invented", low / 1000, high / 1000)


SIZES = {
    "metric": {"50": pipe_size(50, 50, 50.2), "32": pipe_size(32), "48": pipe_size(48), "56": pipe_size(56)},
    "inch": {"1-1/2": pipe_size(48.26, 48.1, 48.4), "50": pipe_size(50)},
    "iron": {"50": pipe_size(60.3)},
    "poly": {"25": Size(None, 0.025, None, None, "named by its bore")},
}


@pytest.fixture(scope="module")
def mating() -> Mating:
    """The rules of mating with a few sizes of three systems."""
    return Mating(SIZES)


def sized(form: str) -> End:
    """An end of a form, all of one name."""
    return End(form, "range", "48-56") if form == "sleeve" else End(form, "metric", "50")


@pytest.mark.parametrize(("a", "b"), list(product(FORMS, FORMS)))
def test_every_pair_of_forms(mating: Mating, a: str, b: str) -> None:
    """Of one size and system the pairs of the table mate, either way round, and no others do."""
    kind = JOINTS.get(frozenset({a, b})) if a != b else None
    assert mating.mates(sized(a), sized(b)) is (kind is not None)
    if kind is None:
        with pytest.raises(KeyError):
            joint_kind(sized(a), sized(b))
    else:
        assert joint_kind(sized(a), sized(b)) is joint_kind(sized(b), sized(a)) is kind


@pytest.mark.parametrize("pair", [pair for pair in JOINTS if "sleeve" not in pair], ids=sorted)
def test_another_size_does_not_fit(mating: Mating, pair: frozenset[str]) -> None:
    """The same two forms one size apart do not mate."""
    a, b = sorted(pair)
    assert mating.mates(End(a, "metric", "50"), End(b, "metric", "50"))
    assert not mating.mates(End(a, "metric", "50"), End(b, "metric", "32"))
    assert not mating.mates(End(a, "metric", "32"), End(b, "metric", "50"))


@pytest.mark.parametrize(("one", "other"), [("metric", "inch"), ("metric", "iron"), ("inch", "iron")])
@pytest.mark.parametrize("grip", ["socket", "compression", "seal"])
@pytest.mark.parametrize("pipe", ["spigot", "plain"])
def test_no_system_takes_another_by_accident(
    mating: Mating, one: str, other: str, grip: str, pipe: str
) -> None:
    """Metric, inch and iron-size pipe that happen to share a name, or nearly an outside, never mate."""
    for here, there in ((one, other), (other, one)):
        assert not mating.mates(End(grip, here, "50"), End(pipe, there, "50"))
        assert not mating.mates(End(pipe, there, "50"), End(grip, here, "50"))


@pytest.mark.parametrize(("one", "other"), [("poly", "hose"), ("poly-low", "poly"), ("hose", "metric")])
def test_a_tail_holds_in_its_own_kind_of_line(mating: Mating, one: str, other: str) -> None:
    """A barb for poly line is not one for hose, though both are named by the same bore."""
    assert mating.mates(End("barb", one, "25"), End("bore", one, "25"))
    assert not mating.mates(End("barb", one, "25"), End("bore", other, "25"))
    assert not mating.mates(End("barb", other, "25"), End("bore", one, "25"))


@pytest.mark.parametrize(("male", "female"), list(product(("G", "Rp", "R", "Rc", "NPT"), repeat=2)))
def test_threads(mating: Mating, male: str, female: str) -> None:
    """Taper goes into parallel and taper, parallel into parallel, never parallel into taper, NPT alone."""
    fits = (male, female) in THREADS
    assert mating.mates(End("male", male, "1"), End("female", female, "1")) is fits
    assert mating.mates(End("female", female, "1"), End("male", male, "1")) is fits
    assert not mating.mates(End("male", male, "1"), End("female", female, "3/4"))


@pytest.mark.parametrize(
    ("male", "female", "kind"),
    [
        ("G", "G", JointKind.WASHER),
        ("G", "Rp", JointKind.WASHER),
        ("R", "G", JointKind.TAPE),
        ("R", "Rp", JointKind.TAPE),
        ("R", "Rc", JointKind.TAPE),
        ("R", "R", JointKind.TAPE),
        ("NPT", "NPT", JointKind.TAPE),
    ],
)
def test_how_a_thread_is_sealed(male: str, female: str, kind: JointKind) -> None:
    """Two parallel threads seal on a washer (ISO 228-1: no tight joint on the thread), others by tape."""
    a, b = End("male", male, "1"), End("female", female, "1")
    assert joint_kind(a, b) is joint_kind(b, a) is kind


@pytest.mark.parametrize(
    ("least", "most", "sleeve", "fits"),
    [
        (48.0, 56.0, "48-56", True),
        (47.9, 56.0, "48-56", False),
        (48.0, 56.1, "48-56", False),
        (50.0, 50.2, "50-50.2", True),
        (50.0, 50.2, "50.1-56", False),
        (50.0, 50.2, "48-50.1", False),
        (50.0, 50.2, "48-50.2", True),
        (50.0, 50.0, "50-51", True),
        (50.0, 50.0, "49-50", True),
    ],
)
@pytest.mark.parametrize("form", ["spigot", "plain"])
def test_a_sleeve_closes_on_all_that_the_standard_allows(
    least: float, most: float, sleeve: str, fits: bool, form: str
) -> None:
    """Both limits of the pipe's outside lie within the range, each tried just inside and just past it."""
    mating = Mating({"metric": {"50": pipe_size((least + most) / 2, least, most)}})
    mouth, pipe = End("sleeve", "range", sleeve), End(form, "metric", "50")
    assert mating.mates(mouth, pipe) is mating.mates(pipe, mouth) is fits


def test_a_sleeve_asks_no_system(mating: Mating) -> None:
    """Any outside within the range will do, of whatever system; what is named by its bore has none."""
    mouth = end("sleeve range 48-56")
    taken = [End("spigot", system, size) for system, sizes in SIZES.items() for size in sizes]
    assert [str(pipe) for pipe in taken if mating.mates(mouth, pipe)] == [
        "spigot metric 50",
        "spigot metric 48",
        "spigot metric 56",
        "spigot inch 1-1/2",
        "spigot inch 50",
    ]
    assert not mating.mates(mouth, end("bore poly 25"))
    assert not mating.mates(mouth, mouth)
    assert not mating.mates(mouth, end("socket metric 50"))
    assert not mating.mates(mouth, end("spigot metric 51"))
    assert not mating.mates(end("sleeve range wide"), end("spigot metric 50"))


def test_what_a_range_says() -> None:
    """ "48-56" is 48 to 56 mm; what is no range compares with nothing."""
    assert sleeve_range(end("sleeve range 48-56")) == pytest.approx((0.048, 0.056))
    for text in ("sleeve range 48", "sleeve range a-b", "sleeve metric -"):
        assert all(limit != limit for limit in sleeve_range(end(text)))


def test_plain_pipe_is_never_welded(metric: Catalog) -> None:
    """Polyethylene takes no cement: no opening of the price list makes a welded joint with it."""
    mating = Mating(metric.systems)
    plain = {pipe.end for pipe in metric.pipes.values() if pipe.end.form == "plain"}
    ends = {e for group in metric.groups() for part in group.values() for e in part.openings}
    made = {joint_kind(a, b) for a in plain for b in ends if mating.mates(a, b)}
    assert made == {JointKind.COMPRESSION, JointKind.SEAL, JointKind.RUBBER}


@pytest.mark.parametrize(
    ("end", "kind"),
    [
        ("spigot metric 50", "rigid pipe"),
        ("spigot inch 2", "rigid pipe"),
        ("plain metric 25", "polyethylene pipe"),
        ("bore poly 19", "poly line"),
        ("bore poly-inch 1", "poly line"),
        ("bore hose 19", "hose"),
        ("bore hose-inch 3/4", "hose"),
    ],
)
def test_what_a_builder_calls_a_pipe(end: str, kind: str) -> None:
    """What can be welded is rigid, what is only gripped polyethylene; poly line says so."""
    assert pipe_kind(End(*end.split())) == kind
