"""How siphon pipes outside beds may begin, read straight from the price list."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields

from autoplan.catalog.parts import Catalog, SiphonKind
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.wall import Pierced
from autoplan.problem.site import Site

STRIP_M, DRILL_M, MOUTH_M = 0.020, 0.005, 0.070
"""Sound wall under the hole, how far off it may come, the air tube's mouth over the floor."""


def begun_outside(site: Site, catalog: Catalog, wall: Pierced) -> Iterator[OutsideSiphon]:
    """A wall part as low as the wall lets it, with every air tube that there is."""
    vessel = site.vessels[wall.at]
    low = STRIP_M + catalog.penetrations[wall.penetration].hole_m / 2 + DRILL_M
    centre = vessel.floor_m + math.ceil(low * 1e3 - 1e-6) / 1e3
    own = {one.name: getattr(wall, one.name) for one in fields(wall)} | {"centre_m": centre}
    for part in catalog.siphons.values():
        if part.kind is SiphonKind.SNORKEL:
            yield OutsideSiphon(**own, air_tube=part.id, air_m=MOUTH_M)
