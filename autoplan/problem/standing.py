"""Where lines begin and end beside their holes: pumps inside a vessel, floors above the ground, rims."""

from __future__ import annotations

from autoplan.problem.site import Draw, Run, RunKind, Site, Vessel

PUMP_OUTLET_M = 0.15
"""Outlet of a pump over the floor that it stands on; common practice, no source."""

PUMP_IN_M = 0.15
"""From a vessel's wall to the axis of the pump that stands in it; common practice, no source."""

FLOOR_IN_M = 0.15
"""From a bed's wall to the axis of the drain in its floor; common practice, no source."""

MOUTH_IN_M = 0.10
"""From a vessel's wall to the axis of a mouth behind its rim; common practice, no source."""

OFF_WALL_M = 0.06
"""From the outside of a wall to the axis of an upright that stands before it; common practice, no source."""

OFF_CORNER_M = 0.10
"""From a corner inside a vessel to the axis of a pipe at its wall: half the widest hole, that for pipe of
110 mm, and the strip that holes keep; common practice, no source."""

RIM_CLEARANCE_M = 0.03
"""Pipe axis over a rim that it crosses, besides half its own outside; common practice, no source."""


def stands_in(site: Site, run: Run) -> Vessel | None:
    """The vessel whose pump a run starts at, if it does."""
    return site.vessels.get(run.start) if run.kind is RunKind.PRESSURE else None


def leaves_over_rim(site: Site, run: Run) -> bool:
    """Whether a run comes out of the vessel that its pump stands in over the rim, as the plan shows."""
    return run.plan is not None and stands_in(site, run) is not None


def through_floor(site: Site, run: Run) -> bool:
    """Whether a run starts in a vessel's floor."""
    return run.kind is RunKind.GRAVITY and run.draw is Draw.STANDPIPE and run.start in site.vessels


def begins_at(site: Site, run: Run) -> float | None:
    """Height at which a run begins above the datum [m], where no hole in a wall decides it.

    At a pump's outlet, under a floor, at a junction that is on the plan.
    """
    pumped = stands_in(site, run)
    if pumped is not None:
        return pumped.floor_m + PUMP_OUTLET_M
    if through_floor(site, run):
        vessel = site.vessels[run.start]
        return vessel.floor_m - vessel.base_m
    return None if run.start in site.vessels else site.junctions[run.start].at_m


def inside_m(site: Site, run: Run) -> float:
    """How far inside the outer face of its vessel's wall a run begins [m]: at a pump, in a floor; else 0."""
    pumped = stands_in(site, run)
    if pumped is not None:
        return pumped.wall_m + PUMP_IN_M
    return site.vessels[run.start].wall_m + FLOOR_IN_M if through_floor(site, run) else 0.0
