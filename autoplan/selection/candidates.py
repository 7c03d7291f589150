"""Ways to build each class of runs, from the parts that the rules admit, less those that lose everywhere."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from autoplan.catalog.joining import Chain
from autoplan.catalog.parts import Catalog, End, Penetration, Pipe, Turn, TurnStyle, Way
from autoplan.drawing import DrawnEnd, DrawnRun, DrawnTurn
from autoplan.errors import AutoplanError
from autoplan.hydraulics.gravity import part_full_inlet_head, standpipe_head
from autoplan.problem.graph import gravity_paths
from autoplan.problem.site import Draw, Entry, Run, RunKind, Site
from autoplan.rules.base import Candidate, Place
from autoplan.rules.book import RuleBook
from autoplan.rules.circuit import (
    VENT_STUB_M,
    inlet_bore,
    inlet_k,
    least_rating,
    line_of,
    site_water,
    turn_resistance,
    valve_resistance,
)
from autoplan.selection.counting import candidate_pieces, candidate_uses
from autoplan.selection.shelf import Shelf
from autoplan.units import tenth_mm_down

RIM_CLEARANCE_M = 0.03
"""Pipe axis over a rim that it crosses, besides half its own outside; common practice, no source."""

DROP_M = 0.15
"""Piece that turns down over a rim towards the water; common practice, no source."""

INSIDE_STUB_M = 0.1
"""Pipe that stands into a vessel beyond a seal, to carry a tee; common practice, no source."""


PAIR_GAP_M = 0.02
"""Over the pipe's outside, the length of the piece that joins two 45s: two socket depths of half the outside
and 6 mm each (ISO 727, from memory) and 8 mm between the sockets (common practice, no source) [m]."""

TENTH_MM = 1e-4

FREE_FALL_M = 0.25
"""Fall over the crown from which a drain enters a sump high in its wall; common practice, no source."""

LEAST_SHARE = 0.6
"""A wall part is not narrower than this share of its pipe's bore; common practice, no source."""

MOST_ADAPTORS = 1
"""Adaptors between a pipe and its valve or wall part on either side; common practice, no source."""


class NoOptionError(AutoplanError):
    """A class has no way to be built at all; names the class and the rules that refused the last options."""

    def __init__(self, run_class: str, what: str, rules: Sequence[str]) -> None:
        self.run_class = run_class
        self.what = what
        self.rules = tuple(rules)
        super().__init__(f"{run_class}: no {what} is admitted")


@dataclass(frozen=True, slots=True)
class Fitting:
    """Parts of a candidate before it is drawn, and what to compare them by; less is better in every place."""

    parts: tuple[str, ...]
    score: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class EndOption:
    """One way for an end: drawn but for its heights, and the hole it needs [m], 0 for none."""

    end: DrawnEnd
    bore_m: float
    hole_m: float


def candidates_for(
    site: Site, shelf: Shelf, book: RuleBook, run_class: str, members: Sequence[Run]
) -> list[Candidate]:
    """Every way worth considering to build one class.

    Args:
        site, shelf, book: the problem, the parts that may be used, the rules in force.
        run_class: name of the class.
        members: its runs.

    Returns:
        Candidates in the order of the price list. Within one pipe and one pair of ways through the walls, a
        candidate that costs no less and loses no less than another is left out, if both use the same parts
        of limited stock.

    Raises:
        NoOptionError: nothing is left; names the rules that refused the last options.
    """
    return _Builder(site, shelf, book, run_class, members).build()


class _Builder:
    def __init__(
        self, site: Site, shelf: Shelf, book: RuleBook, run_class: str, members: Sequence[Run]
    ) -> None:
        self.site = site
        self.shelf = shelf
        self.catalog: Catalog = shelf.catalog
        self.book = book
        self.run_class = run_class
        self.members = members
        self.first = members[0]
        self.pressed = self.first.kind is RunKind.PRESSURE
        self.water = site_water(site)
        self.refused: list[str] = []
        self.lost = "pipe"
        air_gap = book.settings["siphon-back"]["air_gap"]
        self.air_gap_m = air_gap
        self.strip_m = book.settings["hole-place"]["strip"]

    def build(self) -> list[Candidate]:
        found: list[Candidate] = []
        for pipe in self.shelf.pipe_families():
            if self._admitted("pipe", [(r, run, pipe) for r in self.book.rules for run in self.members]):
                found += self._with_pipe(pipe)
        if not found:
            raise NoOptionError(self.run_class, self.lost, list(dict.fromkeys(self.refused)))
        return found

    def _admitted(self, what: str, questions: Iterable[tuple[object, Run, Pipe]]) -> bool:
        for rule, run, pipe in questions:
            if not rule.admits_pipe(self.site, run, pipe):  # type: ignore[attr-defined]
                self._note(what, rule.id)  # type: ignore[attr-defined]
                return False
        return True

    def _note(self, what: str, rule_id: str) -> None:
        self.lost = what
        self.refused.append(rule_id)

    def _with_pipe(self, pipe: Pipe) -> Iterator[Candidate]:
        angles = sorted({angle for run in self.members for angle in run.turns} | self._extra_angles())
        turns = [self._turns(pipe, angle) for angle in angles]
        valves = self._valves(pipe) if self.first.valve else [Fitting((), ())]
        starts = self._starts(pipe)
        finishes = self._finishes(pipe)
        for what, options in (
            ("valve", valves),
            ("start", starts),
            ("finish", finishes),
            *(("turn", t) for t in turns),
        ):
            if not options:
                self.lost = what
        kept: dict[object, list[tuple[tuple[float, ...], Candidate]]] = {}
        for start, finish, valve in product(starts, finishes, valves):
            for made in product(*turns):
                built = self._candidate(pipe, dict(zip(angles, made, strict=True)), valve, start, finish)
                if built is not None:
                    self._keep(kept, built)
        for group in kept.values():
            yield from (candidate for _, candidate in group)

    def _extra_angles(self) -> set[int]:
        over_rim = self.first.kind is RunKind.PRESSURE and self.first.finish in self.site.vessels
        lifting = self.first.draw is Draw.SOLIDS_LIFTING and self.first.kind is RunKind.GRAVITY
        return {90} if lifting or (over_rim and self.first.entry is not Entry.WALL) else set()

    # --- fittings ---------------------------------------------------------------------------------------

    def _turns(self, pipe: Pipe, angle: int) -> list[Fitting]:
        """Turn styles for one angle on one pipe, those worth considering."""
        made: list[tuple[TurnStyle, tuple[str, ...]]] = []
        if pipe.bend_radius_m > 0:
            made.append((TurnStyle.BEND, ()))
        for turn in self.shelf.turns_on(pipe.end):
            if turn.angle == angle:
                made.append((turn.style, (turn.id,)))
            if angle == 90 and turn.angle == 45 and turn.style is TurnStyle.TIGHT:
                made.append((TurnStyle.PAIRED, (turn.id, turn.id)))
        options = []
        for style, parts in made:
            refused = [
                r.id for r in self.book.rules for run in self.members if not r.admits_turn(run, angle, style)
            ]
            if refused:
                self._note("turn", refused[0])
                continue
            resistance = turn_resistance(self.catalog, pipe, DrawnTurn(angle, style, parts))
            rating = min((self.catalog.turns[part].rating_m for part in parts), default=math.inf)
            score = self._score_parts(parts, resistance.k / resistance.bore_m**4, rating)
            options.append(Fitting((style, *parts), score))
        return self._pareto(options)

    def _score_parts(self, parts: Sequence[str], loss: float, rating_m: float) -> tuple[float, ...]:
        """Prices by every set of shops, loss, and the rating as far as any pump could test it."""
        enough = min(rating_m, self.shelf.shut_off_m) if self.pressed else 0.0
        return (*self.shelf.prices(parts), loss, -enough)

    def _pareto(self, options: Sequence[Fitting]) -> list[Fitting]:
        """Options that no other is as good as on every count, parts of limited supply kept apart."""
        kept: list[Fitting] = []
        for option in sorted(options, key=lambda o: (o.score, o.parts)):
            limited = {part for part in option.parts if part in self.shelf.limited}
            if not any(
                _no_worse(other.score, option.score)
                and limited == {part for part in other.parts if part in self.shelf.limited}
                for other in kept
            ):
                kept.append(option)
        return kept

    def _valves(self, pipe: Pipe) -> list[Fitting]:
        """Balancing valves with their adaptors; first the valve, then the chain."""
        options = []
        for valve in self.shelf.balancing_valves():
            chains = [self._chain(end, pipe.end) for end in valve.ends]
            if chains[0] is None or chains[1] is None or len(chains[0].parts) != len(chains[1].parts):
                continue
            if len(chains[0].parts) > MOST_ADAPTORS:
                continue
            resistance = valve_resistance(self.catalog, pipe, valve.id)
            parts = (valve.id, *chains[0].parts, *chains[1].parts)
            narrow = min(chains[0].bore_m, chains[1].bore_m, pipe.bore_m)
            loss = resistance.k / resistance.bore_m**4 + (pipe.bore_m / narrow) ** 4 - 1
            rating = min(valve.rating_m, chains[0].rating_m, chains[1].rating_m)
            options.append(Fitting(parts, self._score_parts(parts, loss, rating)))
        return self._pareto(options)

    # --- ends -------------------------------------------------------------------------------------------

    def _starts(self, pipe: Pipe) -> list[EndOption]:
        run = self.first
        if run.kind is RunKind.PRESSURE or run.start in self.site.junctions:
            return [EndOption(DrawnEnd(run.start), pipe.bore_m, 0.0)]
        return self._through(pipe, "start", in_floor=run.draw is Draw.STANDPIPE)

    def _finishes(self, pipe: Pipe) -> list[EndOption]:
        run = self.first
        if run.finish in self.site.junctions:
            return [EndOption(DrawnEnd(run.finish), pipe.bore_m, 0.0)]
        options: list[EndOption] = []
        if run.kind is RunKind.GRAVITY or run.entry is not Entry.OVER_RIM:
            options += self._through(pipe, "finish", in_floor=False)
        if run.kind is RunKind.PRESSURE and run.entry is not Entry.WALL:
            rim = DrawnEnd(run.finish, way=Way.OVER_RIM)
            options.append(EndOption(rim, pipe.bore_m, 0.0))
        return options

    def _through(self, pipe: Pipe, side: str, *, in_floor: bool) -> list[EndOption]:
        """Wall parts for one end: of each way, those that are not both dearer and narrower than another."""
        by_way: dict[Way, list[tuple[Fitting, EndOption]]] = {}
        for part in self.shelf.penetrations():
            refused = [
                rule.id
                for rule in self.book.rules
                for run in self.members
                if not rule.admits_penetration(self.site, run, getattr(run, side), in_floor, part)
            ]
            option = self._wall_part(pipe, part, getattr(self.first, side), side, in_floor=in_floor)
            if option is None:
                continue
            if refused:
                self._note("wall part", refused[0])
                continue
            parts = (part.id, *option.end.chain, *option.end.inner_chain)
            rating = least_rating(self.catalog, option.end.chain)
            score = (*self._score_parts(parts, -option.bore_m, rating), option.hole_m)
            by_way.setdefault(part.way, []).append((Fitting(parts, score), option))
        kept = []
        for options in by_way.values():
            best = {id(fitting) for fitting in self._pareto([fitting for fitting, _ in options])}
            kept += [option for fitting, option in options if id(fitting) in best]
        return kept

    def _chain(self, a: End, b: End) -> Chain | None:
        return self.shelf.chain(a, b, under_pressure=self.pressed)

    def _wall_part(
        self, pipe: Pipe, part: Penetration, at: str, side: str, *, in_floor: bool
    ) -> EndOption | None:
        """A wall part with the adaptors that it needs on this pipe, or None if it cannot take it."""
        chain: tuple[str, ...] = ()
        inner: tuple[str, ...] = ()
        bore = pipe.bore_m
        if part.way is Way.SEAL:
            mates = self.shelf.joining.mates(part.ends[1], pipe.end)
            if not mates or pipe.bend_radius_m > 0:
                return None
        else:
            outside = self._chain(part.ends[1], pipe.end)
            if outside is None or len(outside.parts) > MOST_ADAPTORS:
                return None
            if min(outside.bore_m, part.bore_m) < LEAST_SHARE * pipe.bore_m:
                return None
            chain = outside.parts
            bore = min(bore, part.bore_m, outside.bore_m)
            behind = self._behind(pipe) if side == "start" else None
            if behind is not None:
                inside = self._chain(part.ends[0], behind)
                if inside is None or len(inside.parts) > MOST_ADAPTORS:
                    return None
                inner = inside.parts
        end = DrawnEnd(
            at, way=part.way, penetration=part.id, in_floor=in_floor, chain=chain, inner_chain=inner
        )
        return EndOption(end, bore, part.hole_m)

    def _behind(self, pipe: Pipe) -> End | None:
        """What a wall part carries on the inside of a drain's start: tee, standpipe, or nothing."""
        if self.first.draw is Draw.SOLIDS_LIFTING:
            tee = self.shelf.plain_tee(pipe.end)
            return tee.ends[2] if tee is not None else None
        return pipe.end if self.first.draw is Draw.STANDPIPE else None

    # --- the whole --------------------------------------------------------------------------------------

    def _candidate(
        self, pipe: Pipe, turns: Mapping[int, Fitting], valve: Fitting, start: EndOption, finish: EndOption
    ) -> Candidate | None:
        drawn: dict[str, DrawnRun] = {}
        places: dict[tuple[str, str], Place] = {}
        for run in self.members:
            template = self._draw(run, pipe, turns, valve, start, finish)
            if template is None:
                return None
            drawn[run.name] = template
            places.update(self._places(run, pipe, template, start, finish))
        one = drawn[self.first.name]
        return Candidate(
            self.run_class, pipe, start.end.way, finish.end.way, self._rating(pipe, one), drawn, places
        )

    def _draw(
        self,
        run: Run,
        pipe: Pipe,
        turns: Mapping[int, Fitting],
        valve: Fitting,
        start: EndOption,
        finish: EndOption,
    ) -> DrawnRun | None:
        """The run as drawn, its heights open where a level decides them."""
        pieces, made, extras = list(run.legs_m), list(run.turns), []
        start_end = replace(start.end, at=run.start)
        finish_end = replace(finish.end, at=run.finish, centre_m=self._fixed_finish(run, pipe, finish))
        if run.kind is RunKind.GRAVITY and run.draw is Draw.SOLIDS_LIFTING and run.start in self.site.vessels:
            tee = self.shelf.plain_tee(pipe.end)
            if tee is None:
                self.lost = "tee for the solids-lifting outlet"
                return None
            vessel = self.site.vessels[run.start]
            across = math.sqrt(vessel.area_m2 / math.pi)
            if start.end.way is Way.SEAL:
                pieces[0] += INSIDE_STUB_M
            pieces = [across, vessel.water_max_m - vessel.floor_m, VENT_STUB_M, *pieces]
            made = [90, *made]
            extras.append(tee.id)
        if run.draw is Draw.STANDPIPE and run.start in self.site.vessels:
            vessel = self.site.vessels[run.start]
            pieces = [vessel.water_max_m - vessel.floor_m, *pieces]
            start_end = replace(start_end, centre_m=vessel.floor_m)
        if finish.end.way is Way.OVER_RIM:
            pieces.append(DROP_M)
            made.append(90)
        drawn_turns = tuple(
            DrawnTurn(angle, TurnStyle(turns[angle].parts[0]), turns[angle].parts[1:]) for angle in made
        )
        length = sum(pieces) - (VENT_STUB_M if extras else 0.0)
        for turn in drawn_turns:
            if turn.style is TurnStyle.PAIRED and _sockets(self.catalog.turns[turn.parts[0]]):
                # The legs measure to the corner, so the water's way already holds what joins the two.
                pieces.append(pipe.outside_m + PAIR_GAP_M)
        if pipe.bend_radius_m > 0 and all(turn.style is TurnStyle.BEND for turn in drawn_turns):
            pieces = [sum(pieces)]
        cut = self.shelf.cut(pipe, pieces, under_pressure=self.pressed)
        if cut is None:
            self.lost = "coupling"
            return None
        return DrawnRun(
            run=run.name,
            pipe=pipe.id,
            pieces_m=cut.pieces_m,
            length_m=length,
            turns=drawn_turns,
            extras=(*extras, *cut.couplings),
            valve=valve.parts[0] if valve.parts else None,
            valve_chain=valve.parts[1:],
            start=start_end,
            finish=finish_end,
        )

    def _fixed_finish(self, run: Run, pipe: Pipe, finish: EndOption) -> float | None:
        """Height of a finish that no level decides [m]: over a rim, or high in a sump that a drain falls to.

        A drain enters a sump as high as the wall allows where its fall is ample, so that the hole of a buried
        sump is not under ground and water; otherwise it ends in the water, where it needs the least fall.
        """
        vessel = self.site.vessels.get(run.finish)
        if vessel is None:
            return None
        if finish.end.way is Way.OVER_RIM:
            return vessel.rim_m + RIM_CLEARANCE_M + pipe.outside_m / 2
        if self.pressed or run.finish not in self.site.pumped_vessels():
            return None
        high = vessel.rim_m - self.strip_m - finish.hole_m / 2
        if self._least_drive(run) - high - pipe.outside_m / 2 < FREE_FALL_M:
            return None
        return tenth_mm_down(high) * TENTH_MM

    def _least_drive(self, run: Run) -> float:
        """Lowest level that drives a drain's last run [m]: a bed's floor, another vessel's lowest water."""
        starts = [
            self.site.vessels[self.site.runs[path[0]].start]
            for path in gravity_paths(self.site)
            if path[-1] == run.name
        ]
        return min(vessel.floor_m if vessel.bed else vessel.water_min_m for vessel in starts)

    def _places(
        self, run: Run, pipe: Pipe, drawn: DrawnRun, start: EndOption, finish: EndOption
    ) -> Iterator[tuple[tuple[str, str], Place]]:
        """The holes that a level decides."""
        flow = self.site.flows[run.name].design_m3_s
        if start.hole_m and not start.end.in_floor:
            bore = inlet_bore(self.catalog, drawn)
            head = part_full_inlet_head(flow, bore, inlet_k(drawn.start))
            yield (run.name, "start"), Place(bore / 2 - head, start.hole_m, bore)
        if finish.hole_m and drawn.finish.centre_m is None:
            above = run.kind is RunKind.PRESSURE
            half = pipe.outside_m / 2
            offset = self.air_gap_m + half if above else -half
            yield (run.name, "finish"), Place(offset, finish.hole_m, finish.bore_m)

    def _rating(self, pipe: Pipe, drawn: DrawnRun) -> float:
        """Least rating of what pressure can reach [m of water]."""
        catalog = self.catalog
        ratings = [pipe.rating_m]
        ratings += [catalog.turns[part].rating_m for turn in drawn.turns for part in turn.parts]
        ratings += [catalog.adaptors[part].rating_m for part in drawn.extras if part in catalog.adaptors]
        ratings += [least_rating(catalog, drawn.valve_chain), least_rating(catalog, drawn.finish.chain)]
        if drawn.valve is not None:
            ratings.append(catalog.valves[drawn.valve].rating_m)
        return min(ratings)

    # --- dominance --------------------------------------------------------------------------------------

    def _keep(
        self, kept: dict[object, list[tuple[tuple[float, ...], Candidate]]], candidate: Candidate
    ) -> None:
        """Add a candidate to its group unless one there is no worse on every count; drop those it beats."""
        score = self._score(candidate)
        uses = candidate_uses(candidate)
        limited = tuple(sorted((part, n) for part, n in uses.items() if part in self.shelf.limited))
        group = kept.setdefault((candidate.start_way, candidate.finish_way, limited), [])
        if any(_no_worse(other, score) for other, _ in group):
            return
        group[:] = [(other, old) for other, old in group if not _no_worse(score, other)]
        group.append((score, candidate))

    def _score(self, candidate: Candidate) -> tuple[float, ...]:
        """What a candidate takes of everything shared; less is better in every place."""
        enough = min(candidate.rating_m, self.shelf.shut_off_m) if self.pressed else 0.0
        pieces = candidate_pieces(candidate)
        prices = self.shelf.prices(candidate_uses(candidate).elements())
        score = [*prices, -enough, sum(pieces), float(len(pieces)), max(pieces)]
        for run in self.members:
            drawn = candidate.drawn[run.name]
            flow = self.site.flows[run.name]
            line = line_of(self.catalog, run, drawn)
            score.append(line.loss(max(flow.design_m3_s, flow.peak_m3_s), self.water))
            for side in ("start", "finish"):
                place = candidate.places.get((run.name, side))
                if place is not None:
                    score += [place.hole_m, abs(place.offset_m)]
            if drawn.start.in_floor:
                score.append(standpipe_head(flow.design_m3_s, inlet_bore(self.catalog, drawn)))
        return tuple(score)


def _sockets(turn: Turn) -> bool:
    return all(end.form == "socket" for end in turn.ends)


def _no_worse(a: Sequence[float], b: Sequence[float]) -> bool:
    return all(x <= y for x, y in zip(a, b, strict=True))
