"""A tee loses by the bores of its run and its branch, in the model and in the verdict alike."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog, End, Tee
from autoplan.fittings.tee import tee_loss
from autoplan.hydraulics.fittings import contraction_k, expansion_k
from autoplan.optimiser.model.joints import PortWay, Teed, TeeWay
from autoplan.rules.linear import Var
from tests.rules.conftest import Plan, outcome, plan

__all__ = ["outcome", "plan"]

GRAVITY = 9.80665
FLOW = 1.0 / 3600


def head(flow_m3_s: float, bore_m: float) -> float:
    """Velocity head [m]."""
    return (flow_m3_s / (math.pi / 4 * bore_m**2)) ** 2 / (2 * GRAVITY)


def by_crane(run_m: float, branch_m: float, share: float) -> float:
    """K of a branch that leaves square, d2/d1 up to 2/3: 1 + (Q2 d1^2 / (Q1 d2^2))^2 (Crane TP-410)."""
    assert branch_m / run_m <= 2 / 3
    return 1 + (share * (run_m / branch_m) ** 2) ** 2


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_reducing_tee_by_crane(catalog: Catalog, share: float) -> None:
    """32 by 20 mm: K of the branch by its own bore, on the velocity head of the whole flow in the run's."""
    tee = catalog.tees["tee-32-20"]
    assert (tee.bore_m, tee.branch_m) == pytest.approx((0.0272, 0.017))
    by_branch = tee_loss(tee, FLOW, share * FLOW, by_branch=True)
    assert by_branch == pytest.approx(by_crane(0.0272, 0.017, share) * head(FLOW, 0.0272), rel=1e-3)
    # Where flows join, K on the way from run to run is 1.55 q - q^2, q the branch's share, at any ratio.
    run = 1.55 * (1 - share) - (1 - share) ** 2
    joins = tee_loss(tee, share * FLOW, FLOW, by_branch=False)
    assert joins == pytest.approx(run * head(FLOW, 0.0272), rel=1e-3)


def test_what_the_wider_run_saves(catalog: Catalog) -> None:
    """Taken as narrow as its branch all along a tee loses more on either way; a narrower branch more too."""
    tee = catalog.tees["tee-32-20"]
    narrow, throttled = replace(tee, bore_m=tee.branch_m), replace(tee, branch_bore_m=0.016)
    for by_branch in (False, True):
        least = tee_loss(tee, FLOW, 0.3 * FLOW, by_branch=by_branch)
        assert least < tee_loss(narrow, FLOW, 0.3 * FLOW, by_branch=by_branch)
        assert least <= tee_loss(throttled, FLOW, 0.3 * FLOW, by_branch=by_branch)
    assert tee_loss(tee, FLOW, 0.3 * FLOW, by_branch=True) < tee_loss(
        throttled, FLOW, 0.3 * FLOW, by_branch=True
    )


def test_a_branch_wider_than_the_run(catalog: Catalog) -> None:
    """It counts as the run's; one a little narrower counts by itself."""
    tee = catalog.tees["tee-32"]
    assert replace(tee, branch_bore_m=0.03).branch_m == tee.bore_m == 0.0272
    assert replace(tee, branch_bore_m=0.0271).branch_m == 0.0271


def reducing(tee: Tee) -> Tee:
    """A tee whose run is wider than its branch, as none of its pipe is."""
    return replace(tee, bore_m=0.044, branch_bore_m=0.022)


def lost(plan: Plan, tee: Tee, part: str, whole: str) -> float:
    """By hand [m]: from the whole flow's run into the tee, through it, and out into a part's; no adaptors."""
    flows = {name: flow.design_m3_s for name, flow in plan.site.flows.items()}
    before, after = plan.survey.pipe(whole).bore_m, plan.survey.pipe(part).bore_m
    ports = plan.drawing.junctions["split"].ports
    total, by_branch = flows[whole], ports[2] == part
    at = tee.branch_m if by_branch else tee.bore_m
    into = step(before, tee.bore_m) * head(total, min(before, tee.bore_m))
    out = step(at, after) * head(flows[part], min(at, after))
    return into + tee_loss(tee, total, flows[part], by_branch=by_branch) + out


def step(before_m: float, after_m: float) -> float:
    """K of a sudden step, on the velocity head of its narrow side."""
    return contraction_k(before_m, after_m) if before_m > after_m else expansion_k(before_m, after_m)


def in_model(plan: Plan, tee: Tee, part: str, whole: str) -> int:
    """What the model counts for the same [0.1 mm, each of two terms rounded up]."""
    ports, main = plan.drawing.junctions["split"].ports, plan.survey.pipe(whole)
    way = TeeWay(tee, main.end, (main.bore_m,), (ports[0], ports[1], ports[2]), ({}, {}))
    reached: dict[str, list[tuple[Var, PortWay]]] = {}
    for place, run in enumerate(ports[1:], 1):
        pipe, opening = plan.survey.pipe(run), End("socket", "made", str(place))
        both = (tee.bore_at(place),), (pipe.bore_m,)
        port = PortWay((opening,), pipe.end, both, (), math.inf, math.inf, ({}, {}))
        reached[run] = [(Var(place), port)]
    flows: Mapping[str, float] = {name: flow.design_m3_s for name, flow in plan.site.flows.items()}
    return sum(Teed(whole, [(Var(0), way)], reached).loss(whole, part, flows).terms.values())


@pytest.mark.parametrize("part", ["tank feed", "bed feed 1"])
def test_model_and_verdict_by_hand(plan: Plan, part: str) -> None:
    """Trunk, run and branch each meet the bore of their own end of the tee."""
    junction = plan.drawing.junctions["split"]
    assert junction.tee is not None
    tee = reducing(plan.catalog.tees[junction.tee])
    own = plan.part(tee.id, bore_m=tee.bore_m, branch_bore_m=tee.branch_bore_m)
    for run in junction.ports[1:]:
        own = own.end(run, "start", chain=())
    own = own.end("main", "finish", chain=())
    flows = {name: flow.design_m3_s for name, flow in own.site.flows.items()}
    by_hand = lost(own, tee, part, "main")
    assert own.survey.junction_loss("main", part, flows) == pytest.approx(by_hand)
    counted = in_model(own, tee, part, "main") / 1e4
    assert by_hand <= counted <= by_hand + 2e-4
