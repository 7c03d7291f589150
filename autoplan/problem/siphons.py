"""Which siphons the beds of a site flood by, or what else their water goes by."""

from __future__ import annotations

from autoplan.problem.site import BedDrain, Site


def under_bells(site: Site) -> bool:
    """Whether any bed has a bell siphon."""
    return BedDrain.SIPHON in _drains(site)


def siphoned_outside(site: Site) -> bool:
    """Whether any bed has a siphon pipe outside."""
    return BedDrain.OUTSIDE in _drains(site)


def _drains(site: Site) -> set[BedDrain]:
    return {vessel.bed.drain for vessel in site.vessels.values() if vessel.bed is not None}
