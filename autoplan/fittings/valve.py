"""A valve in a line with its adaptors: by hand, by a timer, or one that lets no water back."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import ClassVar, Self

from autoplan.catalog.naming import row_of
from autoplan.catalog.parts import Catalog, Pipe, Valve
from autoplan.fittings.base import Fitting, Layout, Offering, Role
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import least_rating, passage, smallest_bore
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import CHECK_LIFT_M_S, ball_valve_k, check_valve_k, gate_valve_k, k_from_kv

_ball_valve_k = lru_cache(maxsize=None)(ball_valve_k)
_gate_valve_k = lru_cache(maxsize=None)(gate_valve_k)
_check_valve_k = lru_cache(maxsize=None)(check_valve_k)
_k_from_kv = lru_cache(maxsize=None)(k_from_kv)


@dataclass(frozen=True, slots=True)
class ValveSet(Fitting):
    """A balancing valve, or the timed valve of a bed.

    Attributes:
        valve: part id.
        chain: adaptors on each side of the valve, each side from the valve to the pipe.
    """

    word: ClassVar[str] = "valve"
    on_straight: ClassVar[bool] = True
    listed: ClassVar[int] = 5
    role: ClassVar[Role] = Role.VALVE
    valve: str
    chain: tuple[str, ...] = ()

    @classmethod
    def of_row(cls, on: Offering, valve: Valve) -> Iterator[Self]:
        """A valve of the price list with adaptors on each side, as many on the one as on the other."""
        for before, after in product(*(on.chains(end, on.pipe.end) for end in valve.ends)):
            if len(before.parts) == len(after.parts):
                yield cls(valve.id, (*before.parts, *after.parts))

    def watts(self, catalog: Catalog) -> float:
        """What a timed valve takes [W]."""
        return catalog.valves[self.valve].watts

    def parts(self) -> tuple[str, ...]:
        """The valve, then its adaptors."""
        return (self.valve, *self.chain)

    def lay(self, on: Layout) -> None:
        """Adaptors, valve, adaptors."""
        half = len(self.chain) // 2
        on.chain(self.chain[:half][::-1], Role.ADAPTOR)
        on.part(self.valve, self.role, on.catalog.valves[self.valve].ends)
        on.chain(self.chain[half:], Role.ADAPTOR)

    def takes_m(self, lengths: Lengths) -> float:
        """The valve with its adaptors [m]."""
        half = len(self.chain) // 2
        return lengths.taken((*self.chain[:half], self.valve, *self.chain[half:]))

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """The valve fully open, and its narrowest adaptor."""
        yield valve_resistance(catalog, pipe, self.valve)
        yield passage(pipe.bore_m, smallest_bore(catalog, self.chain), pipe.bore_m)

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The valve with its adaptors."""
        yield f"{self.word}: {row_of(catalog, self.parts())}"

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:
        """Of the valve and of its adaptors [m of water]."""
        yield least_rating(catalog, self.chain)
        yield catalog.valves[self.valve].rating_m


@dataclass(frozen=True, slots=True)
class CheckValveSet(ValveSet):
    """A check valve: it shuts as its pump stops."""

    word: ClassVar[str] = "check valve"
    listed: ClassVar[int] = 2
    role: ClassVar[Role] = Role.CHECK

    def flap_head(self, catalog: Catalog, pipe: Pipe) -> float:
        """Head that lifts its flap [m]."""
        return valve_resistance(catalog, pipe, self.valve).loss(0.0)


def valve_resistance(catalog: Catalog, pipe: Pipe, valve_id: str) -> Resistance:
    """The resistance of a valve fully open, from its measured Kv or its bore, with a check valve's flap."""
    valve = catalog.valves[valve_id]
    if valve.style == "check":
        return _check_resistance(valve, pipe)
    if valve.kv_m3_h is not None:
        return Resistance(_k_from_kv(valve.kv_m3_h, pipe.bore_m), pipe.bore_m)
    seat_k = _gate_valve_k if valve.style == "gate" else _ball_valve_k
    return Resistance(seat_k(min(valve.bore_m, pipe.bore_m), pipe.bore_m), pipe.bore_m)


def _check_resistance(valve: Valve, pipe: Pipe) -> Resistance:
    """The resistance of a check valve, whose flap weighs what Crane's does also where its Kv is measured."""
    k = _check_valve_k(valve.bore_m)
    if valve.kv_m3_h is None:
        return Resistance(k, min(valve.bore_m, pipe.bore_m), CHECK_LIFT_M_S)
    measured = _k_from_kv(valve.kv_m3_h, valve.bore_m)
    return Resistance(measured, valve.bore_m, CHECK_LIFT_M_S * math.sqrt(max(1.0, k / measured)))
