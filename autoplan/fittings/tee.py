"""What a tee between two runs takes, for the model and the verdict alike."""

from __future__ import annotations

from autoplan.catalog.parts import Tee
from autoplan.hydraulics.fittings import dividing_tee_k, joining_tee_k
from autoplan.hydraulics.friction import velocity, velocity_head


def tee_loss(tee: Tee, came_m3_s: float, goes_m3_s: float, *, by_branch: bool) -> float:
    """Loss [m] inside a tee from the run that arrives to the run that leaves.

    Args:
        tee: the part.
        came_m3_s, goes_m3_s: flow of the two runs; water divides where less leaves than arrives, else joins.
        by_branch: whether the run that carries less sits on the branch.

    K is for the bores of its run and its branch, on the velocity head of the whole flow in its run.
    """
    if max(came_m3_s, goes_m3_s) <= 0.0:
        return 0.0
    port = "branch" if by_branch else "run"
    whole, part = max(came_m3_s, goes_m3_s), min(came_m3_s, goes_m3_s)
    k_of = dividing_tee_k if came_m3_s >= goes_m3_s else joining_tee_k
    k = k_of(port, whole, part, tee.bore_m, tee.branch_m)
    return k * velocity_head(velocity(whole, tee.bore_m))
