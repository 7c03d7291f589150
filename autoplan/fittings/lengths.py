"""How much of a straight each part takes, and so how long the pipe between two parts is cut.

Straights are measured from corner to corner (crossing of the centre lines), from the face of a wall, or from
the centre of a tee. Pipe goes into a socket down to its stop, so a piece is the straight less what lies
between each corner and the stop, and the depth of the sockets is in the piece. Where a row does not state
its body the length is estimated, short rather than long: pipe may be cut again, never stretched.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.catalog.ends import SHORT
from autoplan.catalog.joining import adaptor_like, stub_length
from autoplan.catalog.parts import Adaptor, Catalog, End, Pipe, Turn, Valve

SHOWING_M = 0.02
"""Pipe that shows between a wall and the coupling on either side of it [m]; common practice, no source."""

STOP_M = 0.0015
"""Half the ridge between the two stops of a coupling [m]; typical, no source."""

VALVE_BODY = 1.0
"""Least length between the stops of a valve, in bores; typical, no source."""


class Lengths:
    """Lengths that go with one pipe.

    Args:
        catalog: the price list.
        pipe: the pipe that is cut.
    """

    def __init__(self, catalog: Catalog, pipe: Pipe) -> None:
        self.catalog = catalog
        self.pipe = pipe
        self.stub = stub_length(catalog, pipe)
        self._taken: dict[tuple[str, ...], float] = {}
        self._deeper: dict[str, float] = {}
        self.tee_half = pipe.outside_m / 2
        """From the centre of a tee to the stop in it, at least: half of what crosses there [m]."""

    @property
    def depth(self) -> float:
        """Depth to which the pipe goes into a socket [m]."""
        return socket_depth(self.catalog, self.pipe.end)

    def deeper(self, part: str) -> float:
        """How much deeper than into a socket the pipe goes into a part [m]: past ring and grip of an end."""
        if part not in self._deeper:
            end = self.pipe.end
            size = self.catalog.systems.get(end.system, {}).get(end.size)
            openings = self.catalog.part(part).openings
            gripped = any(one.form == "compression" and one[1:] == end[1:] for one in openings)
            more = size.grips_m - self.depth if gripped and size is not None else 0.0
            self._deeper[part] = max(0.0, more)
        return self._deeper[part]

    def nipple_outside(self, chain: Sequence[str]) -> float:
        """From a wall to the end of the piece that passes it, in the first part of a chain [m]."""
        return self.depth + SHOWING_M + sum(map(self.deeper, chain[:1]))

    def nipple(self, wall_m: float, *chains: Sequence[str]) -> float:
        """Piece through a seal in a wall, with a chain from the wall on each side [m]."""
        return wall_m + sum(map(self.nipple_outside, chains))

    def taken(self, parts: tuple[str, ...]) -> float:
        """What a whole chain takes [m], worked out once."""
        if not parts:
            return 0.0
        if parts not in self._taken:
            self._taken[parts] = sum(self.chain(parts))
        return self._taken[parts]

    def chain(self, parts: Sequence[str]) -> Iterator[float]:
        """What each part of a chain takes [m]; a stub takes all of its length."""
        for part in parts:
            if part in self.catalog.valves:
                yield self._valve(self.catalog.valves[part])
                continue
            row = adaptor_like(self.catalog, part)
            yield stub_length(self.catalog, row) if isinstance(row, Pipe) else self._adaptor(row)

    def _valve(self, valve: Valve) -> float:
        return valve.body_m if valve.body_m is not None else VALVE_BODY * valve.bore_m

    def _adaptor(self, row: Adaptor) -> float:
        """Between the ends of what the part joins: its own, or the least that its ends need."""
        if row.body_m is not None:
            return row.body_m
        return sum(
            socket_depth(self.catalog, end) if end.form in ("spigot", SHORT) else STOP_M for end in row.ends
        )


def tangent_of(turn: Turn) -> float:
    """From the corner to the stop of a bend [m]: radius x tan(angle / 2), by the geometry of an arc."""
    return turn.radius_over_bore * turn.bore_m * math.tan(math.radians(turn.angle) / 2)


def socket_depth(catalog: Catalog, end: End) -> float:
    """Depth to which pipe of an end's size goes into a socket [m]: half the outside and 6 mm if not stated.

    ISO 727, from memory; nothing where the system is not named by its outside.
    """
    size = catalog.systems.get(end.system, {}).get(end.size)
    if size is None:
        return 0.0
    if size.socket_m is not None:
        return size.socket_m
    return size.outside_m / 2 + 0.006 if size.outside_m is not None else 0.0
