"""How joints are made, and where hose is clamped."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import End
from autoplan.fittings.valve import ValveSet
from autoplan.line.joints import chain_joints, kind_of
from autoplan.problem.flows import Reach, reaches
from tests.lines import the, without


def end(text: str) -> End:
    """An end in three words."""
    return End(*text.split())


KINDS = [
    ("socket metric 50", "spigot metric 50", JointKind.WELDED, JointKind.SCREWED),
    ("male R 1", "female R 1", JointKind.TAPE, JointKind.TAPE),
    ("male G 1", "female G 1", JointKind.WASHER, JointKind.WASHER),
    ("seal metric 50", "spigot metric 50", JointKind.SEAL, JointKind.SEAL),
    ("compression metric 50", "plain metric 50", JointKind.COMPRESSION, JointKind.COMPRESSION),
    ("sleeve range 48-56", "spigot metric 50", JointKind.RUBBER, JointKind.RUBBER),
    ("barb poly 25", "bore poly 25", JointKind.BARB, JointKind.BARB),
]


@pytest.mark.parametrize(("a", "b", "usual", "screwed"), KINDS)
@pytest.mark.parametrize("pressed", [False, True])
def test_every_kind(a: str, b: str, usual: JointKind, screwed: JointKind, pressed: bool) -> None:
    """Tape and a screw replace cement only; pressure clamps hose only, never poly (common practice)."""
    for one, other in ((end(a), end(b)), (end(b), end(a))):
        assert kind_of(one, other, pressed=pressed, screwed=False) is usual
        assert kind_of(one, other, pressed=pressed, screwed=True) is screwed


@pytest.mark.parametrize(("pressed", "kind"), [(True, JointKind.CLAMPED), (False, JointKind.BARB)])
def test_hose_under_the_shut_off_head(pressed: bool, kind: JointKind) -> None:
    """A barb in hose is clamped where the head can reach, and not elsewhere (common practice, no source)."""
    for a, b in (("barb hose 25", "bore hose 25"), ("bore hose 25", "barb hose 25")):
        assert kind_of(end(a), end(b), pressed=pressed, screwed=False) is kind


@pytest.mark.parametrize(
    ("reach", "clamped"),
    [
        (Reach.NOWHERE, [False, False, False]),
        (Reach.TO_VALVE, [True, True, False]),
        (Reach.WHOLE, [True, True, True]),
    ],
)
def test_clamps_from_the_pump_to_the_valve(built, reach: Reach, clamped: list[bool]) -> None:
    """Tail, valve's inlet, and past the valve, whose end is always open (common practice, no source)."""
    one = built["hose"]
    kinds = [joint.kind for joint in one.yard.joints(one.laid(), reach)]
    assert kinds[0] is JointKind.WASHER
    assert [kind is JointKind.CLAMPED for kind in kinds[1:]] == clamped


@pytest.mark.parametrize(("valve", "clamps"), [(True, 2), (False, 0)])
def test_a_leg_without_a_valve_needs_no_clamp(built, valve: bool, clamps: int) -> None:
    """From a pump to an always-open end no pressure builds up (common practice, no source)."""
    one = built["hose"]
    yard = one.yard.run("feed", valve=valve).only("drain", "feed")
    feed = one.line if valve else without(one.line, ValveSet)
    kinds = [j.kind for j in yard.joints(yard.laid(feed, one.start), reaches(yard.site)["feed"])]
    assert kinds.count(JointKind.CLAMPED) == clamps


def test_the_main_before_valves_is_under_pressure_all_along(built, yard) -> None:
    """What leads to legs that can be closed is clamped to its end; without valves nowhere."""
    hose = replace(without(built["hose"].line, ValveSet), run="main")
    assert reaches(yard.site)["main"] is Reach.WHOLE
    kinds = [j.kind for j in yard.joints(yard.laid(hose, built["hose"].start), Reach.WHOLE)]
    assert kinds.count(JointKind.CLAMPED) == len(kinds) - 1
    open_ends = yard.run("feed", valve=False).run("bed feed", valve=False)
    assert reaches(open_ends.site)["main"] is Reach.NOWHERE


def test_screwed_drains(built) -> None:
    """Every socket of a screwed drain has tape and a screw; the seals stay seals."""
    one = built["solids-lifting, seals"]
    welded = [joint.kind for joint in one.yard.joints(one.laid())]
    screwed = [joint.kind for joint in one.yard.joints(one.laid(), screwed=True)]
    assert welded.count(JointKind.SEAL) == screwed.count(JointKind.SEAL) == 2
    assert welded.count(JointKind.WELDED) == screwed.count(JointKind.SCREWED) > 0
    assert JointKind.WELDED not in screwed


def test_strangers_have_no_kind(built) -> None:
    """Where neighbours do not mate the joint is there, without a kind."""
    one = built["plain wall"].changed(pipe="pn10-40-3m")
    assert None in [joint.kind for joint in one.yard.joints(one.laid())]


def test_a_chains_joints_are_those_of_the_line(built) -> None:
    """A chain counted by itself makes the joints that it makes in the run, whichever way round it lies."""
    one = built["valve with adaptors"]
    valve, pipe = one.yard.catalog.valves["ball-25"], one.yard.catalog.pipes["pn10-32-3m"]
    chain = the(one.line, ValveSet).chain[:3]
    ends = (("ball-25", valve.ends[1]), ("pn10-32-3m", pipe.end))
    alone = chain_joints(one.yard.catalog, one.yard.bench.joining, "feed", ends, chain)
    whole = one.yard.joints(one.laid())
    at = next(i for i, joint in enumerate(whole) if joint.left == "ball-25")
    assert alone == whole[at : at + len(alone)]
