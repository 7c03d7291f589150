"""Where the water of a drawing is open to the air on its way down, as the drawing shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING
from weakref import proxy

from autoplan.fittings.vent import Vent
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.search import root
from autoplan.problem.flows import gravity_paths

if TYPE_CHECKING:
    from autoplan.rules.survey import Survey


class Falls:
    """The ways down of a drawing, each as far as its fall pulls.

    Args:
        survey: the drawing measured.
    """

    def __init__(self, survey: Survey) -> None:
        # The survey keeps this, and is there as long as it is asked.
        self.survey: Survey = proxy(survey)
        self.site = survey.site
        self.drawing = survey.drawing

    def leaving(self, place: str) -> str | None:
        """The drain that leaves a junction; None at a vessel."""
        if place in self.site.vessels:
            return None
        return next((run.name for run in self.survey.gravity_runs() if run.start == place), None)

    @cached_property
    def in_air(self) -> frozenset[str]:
        """The junctions of drains, of known height, at which air gets in as it is drawn.

        By a vent on the drain that leaves, or where drains meet by the standpipe of a bed that rests.
        """
        found = set()
        for name, junction in self.site.junctions.items():
            came = [run.name for run in self.survey.gravity_runs() if run.finish == name]
            goes = self.leaving(name)
            if junction.height_m is None or goes is None or not came:
                continue
            stands = len(came) > 1 and any(self.drawing.runs[run].floor is not None for run in came)
            if stands or self.drawing.runs[goes].one(Vent) is not None:
                found.add(name)
        return frozenset(found)

    @cached_property
    def paths(self) -> tuple[tuple[str, ...], ...]:
        """Every way by gravity from a vessel to a junction that air comes to, or to the next vessel."""
        runs = self.site.runs
        return tuple(
            path[:number]
            for path in gravity_paths(self.site)
            for number in range(1, len(path) + 1)
            if number == len(path) or runs[path[number - 1]].finish in self.in_air
        )

    @cached_property
    def pieces(self) -> tuple[tuple[str, ...], ...]:
        """Every way by gravity from a vessel, or a junction that air comes to, to the next of them."""
        runs, found = self.site.runs, dict[tuple[str, ...], None]()
        for path in self.paths:
            first = max((n for n in range(len(path)) if runs[path[n]].start in self.in_air), default=0)
            found[path[first:]] = None
        return tuple(found)

    def downstream(self, path: Sequence[str]) -> tuple[str, ...]:
        """The runs of a way by gravity, and the one that leaves the junction it ends at."""
        goes = self.leaving(self.site.runs[path[-1]].finish)
        return tuple(path) if goes is None else (*path, goes)

    def head_in_air(self, junction: str, flows: Mapping[str, float]) -> float:
        """Crown of the water in the drain that leaves a junction, with its velocity head [m].

        Raises:
            ValueError: no drain leaves there at a known height.
        """
        at, goes = self.site.junctions[junction].height_m, self.leaving(junction)
        if at is None or goes is None:
            raise ValueError(f"{junction}: no drain leaves there at a known height")
        bore = self.survey.pipe(goes).bore_m
        return at + bore / 2 + velocity_head(velocity(flows[goes], bore))

    def against(self, path: Sequence[str], flows: Mapping[str, float], water_m: float | None = None) -> float:
        """What one of its ways or pieces runs against at its end [m], at flows by run [m3/s].

        At a vessel that is its water, as drawn or as given [m], or the crown of the end; at a junction
        `head_in_air` and what the way through its tee takes.
        """
        survey, place = self.survey, self.site.runs[path[-1]].finish
        goes = self.leaving(place)
        if goes is not None:
            return self.head_in_air(place, flows) + survey.junction_loss(path[-1], goes, flows)
        return survey.receiving_level(path, survey.level(place) if water_m is None else water_m)

    def flow(self, path: Sequence[str], water_m: float) -> float:
        """Flow by one of its ways [m3/s] from a height above the datum [m].

        What joins it further down runs at its design flow meanwhile.
        """
        survey = self.survey
        own = survey.design_flow(path[0])
        others = {name: survey.design_flow(name) - own for name in self.downstream(path)}

        def short(flow: float) -> float:
            flows = {name: flow + other for name, other in others.items()}
            return survey.path_loss(path, flows) + self.against(path, flows) - water_m

        if short(0.0) >= 0.0:
            return 0.0
        low, high = 0.0, own
        while short(high) <= 0.0:
            low, high = high, 2 * high
        return root(short, low, high)[0]
