"""A pipe line with its fittings, as one relation between flow and head."""

from __future__ import annotations

from dataclasses import dataclass, replace

from autoplan.hydraulics.friction import friction_head, grown, velocity, velocity_head
from autoplan.hydraulics.search import root
from autoplan.hydraulics.water import Water


@dataclass(frozen=True, slots=True)
class Resistance:
    """A local loss on the velocity head in a bore.

    Attributes:
        k: K [-].
        bore_m: the bore [m].
        lifts_m_s: velocity [m/s] from which K holds, 0 for any. A flap hangs lower in slower water, and is
            taken to lose what it does when just lifted: loss rises with flow, so that it is no more.
    """

    k: float
    bore_m: float
    lifts_m_s: float = 0.0

    def loss(self, flow_m3_s: float) -> float:
        """Head lost at a flow, K v^2 / 2g [m]; flow 0 or more [m3/s]."""
        speed = velocity(flow_m3_s, self.bore_m)
        return self.k * velocity_head(speed if speed >= self.lifts_m_s else self.lifts_m_s)

    def held_open(self) -> Resistance:
        """The same with its flap out of the way at any flow."""
        return replace(self, lifts_m_s=0.0)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A length [m] of another pipe on a line, of its own bore [m] and roughness [m]."""

    bore_m: float
    roughness_m: float
    length_m: float


@dataclass(frozen=True, slots=True)
class Conduit:
    """A pipe of one bore and the local losses along it.

    Attributes:
        bore_m: bore of the pipe [m].
        roughness_m: absolute roughness of the pipe [m].
        length_m: length of the pipe [m].
        resistances: local losses, each on its own bore.
        stretches: lengths of other pipe in line with it.
    """

    bore_m: float
    roughness_m: float
    length_m: float
    resistances: tuple[Resistance, ...] = ()
    stretches: tuple[Stretch, ...] = ()

    def loss(self, flow_m3_s: float, water: Water, grown_m: float = 0.0) -> float:
        """Head lost at a flow: pipe friction plus the sum of K v^2 / 2g.

        Args:
            flow_m3_s: flow, 0 or more [m3/s].
            water: gives the kinematic viscosity.
            grown_m: roughness that every pipe has at least [m]; what stands on it stays as new.

        Returns:
            Head loss [m]; it never falls as flow rises.

        Raises:
            ValueError: negative flow, or dimensions out of range.
        """
        pipes = [(self.bore_m, self.roughness_m, self.length_m)]
        pipes += [(part.bore_m, part.roughness_m, part.length_m) for part in self.stretches]
        friction = 0.0
        for bore, rough, metres in pipes:
            friction += friction_head(flow_m3_s, bore, metres, grown(rough, grown_m, bore), water)
        local = 0.0
        for one in self.resistances:
            local += one.loss(flow_m3_s)
        return friction + local

    def held_open(self) -> Conduit:
        """The same with every flap out of the way at any flow."""
        return replace(self, resistances=tuple(one.held_open() for one in self.resistances))

    def flow(self, head_m: float, water: Water) -> float:
        """Flow that a head drives: the inverse of `loss`, rounded down.

        Args:
            head_m: head available, 0 or more [m].
            water: gives the kinematic viscosity.

        Returns:
            Flow [m3/s] whose loss does not exceed the head.

        Raises:
            ValueError: negative head, or a line without any resistance.
        """
        if not head_m >= 0.0:
            raise ValueError(f"head must be 0 or more, not {head_m:g} m")
        if self.length_m <= 0.0 and not any(resistance.k > 0.0 for resistance in self.resistances):
            raise ValueError("a line without length or fittings passes any flow")
        if head_m == 0.0:
            return 0.0
        low, high = 0.0, self.bore_m * self.bore_m
        while self.loss(high, water) <= head_m:
            low, high = high, high * 4.0
        return root(lambda flow: self.loss(flow, water) - head_m, low, high)[0]
