"""Which opening mates with which, and what kind of joint the two make.

A rigid pipe is named by its outside, poly line and hose by their bore, and systems never mate with each
other: metric, inch and iron-size pipe differ by too little to see and too much to seal. Only the mouth of a
rubber coupling asks for nothing but an outside within its range, whatever the system.

Pipe goes into compression ends and rubber seals. The spigot of a fitting ends before it has passed ring and
grip, so it goes there only where the price list says that it is long enough (`sizes.Size.grips_m`).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from autoplan.catalog.ends import SHORT, End, sleeve_range
from autoplan.catalog.sizes import Size


class JointKind(StrEnum):
    """How two neighbouring ends are made into one joint."""

    WELDED = "solvent-welded"
    SCREWED = "tape-and-screw"
    TAPE = "threaded with tape"
    WASHER = "threaded with washer"
    BARB = "barbed"
    CLAMPED = "barbed with clamp"
    SEAL = "push-in seal"
    COMPRESSION = "compression"
    RUBBER = "flexible rubber coupling"


class PipeKind(StrEnum):
    """What a builder calls a pipe, whatever its size and wall."""

    RIGID = "rigid pipe"
    POLYETHYLENE = "polyethylene pipe"
    POLY_LINE = "poly line"
    HOSE = "hose"


_KINDS = {
    frozenset(("socket", "spigot")): JointKind.WELDED,
    frozenset(("socket", SHORT)): JointKind.WELDED,
    frozenset(("compression", "spigot")): JointKind.COMPRESSION,
    frozenset(("compression", "plain")): JointKind.COMPRESSION,
    frozenset(("seal", "spigot")): JointKind.SEAL,
    frozenset(("seal", "plain")): JointKind.SEAL,
    frozenset(("sleeve", "spigot")): JointKind.RUBBER,
    frozenset(("sleeve", SHORT)): JointKind.RUBBER,
    frozenset(("sleeve", "plain")): JointKind.RUBBER,
    frozenset(("barb", "bore")): JointKind.BARB,
    frozenset(("male", "female")): JointKind.TAPE,
}

_PARALLEL = {"G", "Rp"}
"""Parallel threads: two of them seal on a washer (ISO 228-1: not made pressure-tight on the thread)."""

_THREADS = {("R", "G"), ("R", "Rp"), ("R", "Rc"), ("G", "Rp")}
"""(male, female) thread systems that go together beside those of equal name, after ISO 7-1: a taper male in a
parallel or taper female. A parallel male in a taper female touches at one turn and does not seal. `G` and
`Rp` are the same parallel thread, `R` (male) and `Rc` (female) the taper one."""


class Mating:
    """The rules of mating, with the dimensions that they need.

    Args:
        systems: sizes by system, as in the price list.
    """

    def __init__(self, systems: Mapping[str, Mapping[str, Size]]) -> None:
        self._systems = systems
        self._known: dict[tuple[End, End], bool] = {}

    def mates(self, a: End, b: End) -> bool:
        """Whether two openings join without anything between them, in either order."""
        key = (a, b)
        if key not in self._known:
            self._known[key] = self._look_up(a, b)
        return self._known[key]

    def _look_up(self, a: End, b: End) -> bool:
        if frozenset((a.form, b.form)) not in _KINDS:
            return False
        if "sleeve" in (a.form, b.form):
            sleeve, pipe = (a, b) if a.form == "sleeve" else (b, a)
            return self._within(sleeve, pipe)
        if a.size != b.size:
            return False
        if a.system == b.system:
            return True
        male, female = (a, b) if a.form == "male" else (b, a)
        return male.form == "male" and (male.system, female.system) in _THREADS

    def _within(self, sleeve: End, pipe: End) -> bool:
        """Whether a sleeve closes on every outside that the pipe's standard allows."""
        size = self._systems.get(pipe.system, {}).get(pipe.size)
        if size is None or size.outside_min_m is None or size.outside_max_m is None:
            return False
        least, most = sleeve_range(sleeve)
        return least - 1e-9 <= size.outside_min_m and size.outside_max_m <= most + 1e-9


def joint_kind(a: End, b: End) -> JointKind:
    """The kind of joint that two mating openings make; a barb's clamp and a screwed drain are for the caller.

    Raises:
        KeyError: no joint is made of these two forms.
    """
    kind = _KINDS[frozenset((a.form, b.form))]
    if kind is JointKind.TAPE and {a.system, b.system} <= _PARALLEL:
        return JointKind.WASHER
    return kind


def pipe_kind(end: End) -> PipeKind:
    """What pipe with such a cut end is: rigid where it can be welded, polyethylene where only gripped."""
    if end.form != "bore":
        return PipeKind.POLYETHYLENE if end.form == "plain" else PipeKind.RIGID
    return PipeKind.POLY_LINE if is_poly(end) else PipeKind.HOSE


def is_poly(end: End) -> bool:
    """Whether a bore-named system is poly line, which grips barbs by itself (common practice, no source)."""
    return end.system.startswith("poly")
