"""Openings of parts, and how they are written in a price list.

An `End` is what one opening of a part offers to its neighbour. It is written as three words, "form system
size": "socket metric 50", "male G 1", "barb poly 25", "sleeve range 48-61". Which mates with which is said in
`autoplan.catalog.mating`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from autoplan.catalog.columns import MM, Column, Number, Unit, mm
from autoplan.catalog.sheet import Row, shortened, suggest

RANGE = "range"
"""System of a sleeve, whose size is the range of outsides that it closes on, as in "48-61" [mm]."""

END = "form, system and size of an end, three words"

SHORT = "short spigot"
"""Form of a fitting's spigot that is made for a socket: too short to be gripped, or of unknown length."""

FORMS = {
    "spigot": "outside_m",
    SHORT: "outside_m",
    "plain": "outside_m",
    "socket": "outside_m",
    "compression": "outside_m",
    "seal": "outside_m",
    "male": "thread_major_m",
    "female": "thread_major_m",
    "barb": "bore_m",
    "bore": "bore_m",
    "sleeve": "outside_m",
}
"""Each form of an end, and which dimension of its size must be known (a sleeve states its own range)."""


WRITTEN = tuple(form for form in FORMS if form != SHORT)
"""Forms as they are written: of a fitting `spigot` is read as `SHORT`, until its row says that it is long."""


class End(NamedTuple):
    """One opening of a part: form, system and size.

    Form is "spigot" (a pipe's outside, to be welded, or a fitting's that is as good to grip), "short spigot"
    (a fitting's for a socket), "plain" (an outside that can only be gripped),
    "socket", "compression", "sleeve" (the mouth of a rubber coupling, its size a range of outsides in mm),
    "seal" (the ring that takes a pipe), "male", "female", "barb" or "bore".
    """

    form: str
    system: str
    size: str

    def __str__(self) -> str:
        return f"{'spigot' if self.form == SHORT else self.form} {self.system} {self.size}"


NO_END = End("", "", "")
"""Stands for an end that could not be read."""


def sleeve_range(sleeve: End) -> tuple[float, float]:
    """Outsides that a sleeve closes on [m]; not a number where its size is not "LEAST-MOST" in mm."""
    least, _, most = sleeve.size.partition("-")
    try:
        return float(least) / 1000, float(most) / 1000
    except ValueError:
        return math.nan, math.nan


def named_m(row: Row, end: End) -> float | None:
    """The dimension by which an end's form names its size [m], None where the row does not know it.

    Of a sleeve it is the widest outside that it closes on.
    """
    if end.form == "sleeve":
        return sleeve_range(end)[1]
    size = row.known.size(end)
    return None if size is None else getattr(size, FORMS[end.form])


@dataclass(frozen=True, eq=False)
class EndColumn(Column):
    """An end.

    Attributes:
        forms: forms that it may have.
        cut: whether it is the end of a pipe, which is as long as it is cut.
    """

    forms: tuple[str, ...] = WRITTEN
    cut: bool = False

    unreadable = NO_END

    def allowed(self, row: Row) -> tuple[str, ...]:
        """Forms that it may have beside what the row says so far."""
        del row
        return self.forms

    def read(self, cell: str, row: Row) -> End:
        """The end, whose size the systems know; `NO_END` if they know none. A fitting's spigot is short."""
        words = cell.split()
        if len(words) != 3:
            remedy = 'write form, system and size, as in "socket metric 50"'
            row.wrong(f'{self.name} "{shortened(cell)}" is not three words', remedy)
            return NO_END
        form, system, size = end = End(*words)
        known, allowed = row.known.systems, self.allowed(row)
        if form not in allowed:
            fault, remedy = " has an unknown form", suggest(form, allowed)
        elif form == "sleeve":
            least, most = sleeve_range(end)
            if system == RANGE and 0 < least < most:
                return end
            fault, remedy = " is no range", 'write the outsides it takes in mm: "sleeve range 48-61"'
        elif not known:
            return NO_END
        elif system not in known:
            fault, remedy = " has an unknown system", suggest(system, known)
        elif size not in known[system]:
            fault, remedy = " has an unknown size", suggest(size, known[system])
        elif named_m(row, end) is not None:
            return end._replace(form=SHORT) if form == "spigot" and not self.cut else end
        else:
            sizes = known[system][size]
            fitting = [form for form in WRITTEN if getattr(sizes, FORMS[form]) is not None]
            fault, remedy = f": {system} has no {form}", f"it has {', '.join(fitting)}"
        row.wrong(f'{self.name} "{end}"{fault}', remedy)
        return NO_END


@dataclass(frozen=True, eq=False)
class Bore(Number):
    """A smallest bore, less than the outside of every pipe, tail and thread that it leads to.

    Attributes:
        leads_to: places of those among the row's ends; all if none is named.
    """

    unit: Unit = MM
    leads_to: tuple[int, ...] = ()

    def read(self, cell: str, row: Row) -> float:
        """The bore [m]."""
        bore: float = super().read(cell, row)
        ends = row.so_far["ends"]
        for end in dict.fromkeys([ends[place] for place in self.leads_to] or ends):
            limit = named_m(row, end)
            if limit is None:
                continue
            if bore > limit + 1e-9 if end.form in ("barb", "bore") else bore >= limit:
                row.wrong(f"{self.name} {cell} is too large for {end}", f"the bore must be under {mm(limit)}")
        return bore


class Thread(Column):
    """System and size of a thread."""

    def read(self, cell: str, row: Row) -> tuple[str, str]:
        """System and size, which the systems know as a thread."""
        system, _, size = cell.partition(" ")
        found = row.known.size(End("male", system, size))
        if row.known.systems and (found is None or found.thread_major_m is None):
            problem = f'{self.name} "{system} {size}" is not in systems.csv'
            row.wrong(problem, 'write system and size, as in "G 3/4"')
        return system, size
