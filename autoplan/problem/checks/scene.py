"""A layout as it grows out of a file, with where in the file each thing of it stands."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from autoplan.errors import Mistake
from autoplan.problem.brief import HandPumpWish
from autoplan.problem.problem import VesselChoice
from autoplan.problem.site import Junction, Run, Spot, Vessel
from autoplan.sentence import Sentence, Text, as_written

ALIKE = 1e-6
"""Relative difference below which two flows or volumes are the same."""


@dataclass(slots=True)
class Scene:
    """A layout as it grows out of a file, and is checked.

    Attributes:
        file: as the user named it.
        vessels, junctions, runs: those that could be read.
        places: key path of each vessel and run by name ("vessel.tank", "beds"); junctions by name too.
        unread: names of vessels and junctions whose tables have mistakes; nothing more is said of them.
        hand_pumps: vessels whose waste is pumped out by hand.
        choices: what is to be chosen, by vessel.
        offered: runs that are built only where there is no doing without them, or where that costs more;
            those of the short form, which need no check.
    """

    file: str
    vessels: dict[str, Vessel] = field(default_factory=dict)
    junctions: dict[str, Junction] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    hand_pumps: list[HandPumpWish] = field(default_factory=list)
    choices: dict[str, VesselChoice] = field(default_factory=dict)
    offered: dict[str, Run] = field(default_factory=dict)

    def stand(self, vessel: Vessel, place: str, choice: VesselChoice | None = None) -> None:
        """One more vessel, from the key path of its table."""
        self.vessels[vessel.name] = vessel
        self.places[vessel.name] = place
        if choice is not None:
            self.choices[vessel.name] = choice

    def meet(
        self,
        name: str,
        place: str,
        open_m: float | None = None,
        height_m: float | None = None,
        spot: Spot | None = None,
        at_once: int | None = None,
        along: str = "",
    ) -> None:
        """One more junction at a height, or open end."""
        self.junctions[name] = Junction(name, open_m, height_m, spot, at_once, along)
        self.places[name] = place

    def lay(self, run: Run, place: str) -> None:
        """One more run, from the key path that gives its length; one of a bed to come later is its own."""
        spare = any(end in self.vessels and self.vessels[end].spare for end in (run.start, run.finish))
        self.runs[run.name] = replace(run, spare=spare)
        self.places[run.name] = place

    def mistake(self, name: str, key: str, problem: Text, remedy: str) -> Mistake:
        """A mistake at one key of a vessel, junction or run."""
        place = self.places[name]
        told = problem if isinstance(problem, Sentence) else None
        return Mistake(self.file, f"{place}.{key}" if key else place, as_written(problem), remedy, told)

    def starting(self, place: str) -> list[Run]:
        """Runs that start there."""
        return [run for run in self.runs.values() if run.start == place]

    def ending(self, place: str) -> list[Run]:
        """Runs that end there."""
        return [run for run in self.runs.values() if run.finish == place]
