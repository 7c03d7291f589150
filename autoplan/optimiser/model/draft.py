"""The model of one problem: variables behind named queries, and every rule written in.

This is what a rule sees (`autoplan.rules.base.ModelView`) and what the solver gets (`Draft.model`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise

import numpy as np

from autoplan.catalog.parts import Catalog, End
from autoplan.clock import earlier
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.needs import Want
from autoplan.line.water import site_water
from autoplan.optimiser.model.heads import head_in_air, inlet_rise
from autoplan.optimiser.model.joints import JointChoice, OpeningSize, by_opening, encode_in_line, encode_tee
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import Orders, cuts_by_choice, encode_orders
from autoplan.optimiser.model.spare_half import SpareChoice, encode_spare_halves, is_wished, opening_chains
from autoplan.optimiser.model.sundries import Stores, Taking, encode_sundries
from autoplan.optimiser.model.whole import encode_hand_pumps, encode_tubs
from autoplan.optimiser.options.air import AirChoice, air_choices
from autoplan.optimiser.options.consumables import Counting
from autoplan.optimiser.options.counting import Cuts, candidate_uses, pieces_by_pipe, valve_watts
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Built, Leniency, Workshop
from autoplan.optimiser.options.plenty import in_doubt, likely, run_short
from autoplan.optimiser.options.shelf import Shelf
from autoplan.optimiser.options.speeds import pump_choices
from autoplan.optimiser.search.clock import SearchClock, Unhurried
from autoplan.problem.brief import Overload
from autoplan.problem.flows import flows_at, leaving, open_paths, open_pieces, peaks, pressure_paths
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import AirAt, AirLine, ByHand, Narrowed
from autoplan.rules.balance import pumped_flow, run_out_factor
from autoplan.rules.base import Concern, Given, OverloadCase, PumpChoice
from autoplan.rules.book import ROLES, RuleBook
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.rules.quantities import CROWN, Quantity, Seen, Value
from autoplan.units import tenth_mm_down, tenth_mm_up, tenths_mm_up


class Draft:
    """The model of one problem under one rule book.

    Args:
        site, catalog, book: the problem, the whole price list, the rules in force.
        reserve: height kept over every limit of `rules.margin` besides [0.1 mm].
        workshop: what earlier drafts from the same price list worked out, or None.
        lenient: see there.
        deadline: `time.monotonic()` by which the draft must be made, or None.

    Attributes:
        hopeless: the most that a run is said to lose [0.1 mm]: no pump and no height there overcomes it.

    Raises:
        NoOptionError: some class, junction or pump has no way to be built at all.
        DraftLateError: the deadline, or that of the workshop, was passed.
    """

    def __init__(
        self,
        site: Site,
        catalog: Catalog,
        book: RuleBook,
        reserve: int = 0,
        workshop: Workshop | None = None,
        lenient: Leniency | None = None,
        deadline: float | None = None,
    ) -> None:
        self.site, self.catalog, self.book = site, catalog, book
        self.reserve = reserve
        self._lenient = lenient
        self.workshop = workshop if workshop is not None else Workshop(catalog)
        self._clock = SearchClock(earlier(deadline, self.workshop.until))
        self.workshop.scarce |= likely(site, catalog)
        try:
            self._choose()
            while scarce := self._scarce():
                self.workshop.scarce |= scarce
                self._choose()
            self._write()
        finally:
            # What is drawn from the shelf later on is drawn, late or not.
            self.shelf.clock = Unhurried()

    def _write(self) -> None:
        """Buying, and every rule."""
        if self._lenient is None:
            self._uses = self._build_uses()
            self.stores: Stores = self._build_stores()
            cuts = self.book.given(Given.SAW_CUT), self.book.given(Given.EACH)
            taken = self._uses, self.pipe_pieces, self.choices_with_parts()
            self.orders: Orders = encode_orders(self.model, self.shelf, self.stores.lines, *taken, *cuts)
        for rule in self.book.rules:
            self._clock.check()
            if self._lenient is None or not rule.of_money:
                rule.encode(self)

    def _choose(self) -> None:
        """The choices there are, by the stocks that are known to be scarce."""
        self.shelf: Shelf = self.workshop.shelf(self.site, self.book)
        self.shelf.clock = self._clock
        self.counting = Counting(self.site, self.shelf, self.book, free=self._lenient is not None)
        self.model = Model()
        self.water = site_water(self.site)
        grown = self.book.given(Given.GROWN)
        self._seen = Seen(self.site, self.catalog, self.water, self.shelf.shut_off_m, grown)
        self.hopeless = tenth_mm_up(self.shelf.hopeless_loss_m(self.site))
        self._runs_at: dict[str, tuple[Run, ...]] = {
            name: tuple(
                sorted(
                    (run for run in self.site.runs.values() if name in (run.start, run.finish)),
                    key=lambda run: run.finish != name,
                )
            )
            for name in (*self.site.vessels, *self.site.junctions)
        }
        self.refusing: dict[str, frozenset[str]] = {}
        """By class the rules that refused something, each the first to do so; so of air and hand pumps."""
        self._air = self._build_air()
        self._tubs = encode_tubs(self.model, self.site, self.shelf, self.book)
        if self.site.hand_pumps:
            self.refusing["hand pumps"] = frozenset(self.book.deciding(ByHand))
        self._hand_pumps = encode_hand_pumps(self.model, self.site, self.shelf, self.book)
        self._ways: dict[str, Built] = {}
        self._lost: dict[tuple[str, float, float, int], Linear] = {}
        self._candidates = self._build_candidates()
        self._pumps = self._build_pumps()
        self._joints = self._build_joints()
        self._spares = encode_spare_halves(self.model, self.counting, self._joints, self._pumps)
        self._levels = self._build_levels("water")
        self._overload_levels = self._build_levels("overload water")

    def _scarce(self) -> frozenset[str]:
        """Parts whose stated stocks may bind, of those that were taken not to."""
        if self._lenient is not None or not in_doubt(self.shelf):
            return frozenset()
        takings, saws = self._takings()
        needs = [(one.var, way) for one in takings for way in (one.welded, one.screwed)]
        kerf = self.book.given(Given.SAW_CUT)
        every = list(self._every_choice_with_parts())
        return run_short(self.model, self.counting, every, self._cuts(every), needs, saws, kerf)

    def _book_for(self, run_class: str) -> RuleBook:
        """The rules that have a say in how a class is built."""
        if self._lenient is None or run_class not in self._lenient.classes:
            return self.book
        return self.book.without(*self._lenient.rules)

    # --- what there is to choose from -------------------------------------------------------------------

    def _build_candidates(self) -> dict[str, list[tuple[Var, Candidate]]]:
        built, classes = {}, self.site.classes()
        books = {name: self._book_for(name) for name in classes}
        self.workshop.build_all(self.site, books, self.counting)
        for name, members in classes.items():
            ways = self.workshop.built(self.site, books[name], self.counting, name, members)
            self.refusing[name] = ways.refusing
            self._ways[name] = ways
            found = ways.candidates
            built[name] = [(self.model.choice(f"{name} #{i}"), found[i]) for i in range(len(found))]
            self.model.exactly_one([var for var, _ in built[name]])
        return built

    def _build_pumps(self) -> dict[str, list[tuple[Var, PumpChoice]]]:
        built = {}
        for vessel in self.site.pumped_vessels():
            flow = pumped_flow(self.site, vessel)
            choices = [choice for pump in self.shelf.pumps() for choice in pump_choices(pump, flow)]
            if not choices:
                raise NoOptionError(vessel, "pump for this flow", [ROLES[Concern.LIFT]])
            built[vessel] = [
                (self.model.choice(f"pump in {vessel} {c.pump.id} {c.speed:g}"), c) for c in choices
            ]
            self.model.exactly_one([var for var, _ in built[vessel]])
        return built

    def _build_air(self) -> list[list[tuple[Var, AirChoice]]]:
        """The ways to bring air, and those for a power cut: of each one is chosen."""
        wish, built = self.site.air, []
        if wish is None:
            return []
        for battery in (False, True):
            if battery and not wish.in_power_cut(self.site.tanks()):
                continue
            self.refusing["air"] = frozenset(self.book.deciding(AirAt, AirLine))
            found = air_choices(self.shelf, self.book, wish, battery=battery)
            name = "air in a power cut" if battery else "air"
            built.append([(self.model.choice(f"{name} #{i}"), choice) for i, choice in enumerate(found)])
            self.model.exactly_one([var for var, _ in built[-1]])
        return built

    def _sizes(self, run_class: str) -> dict[End, OpeningSize]:
        """The openings that a class may have, with the choices that give it each."""
        return by_opening(
            (candidate.pipe.end, candidate.pipe.bore_m, var) for var, candidate in self._candidates[run_class]
        )

    def _build_joints(self) -> dict[str, JointChoice]:
        """Ways to join what meets at each pump outlet and junction."""
        built: dict[str, JointChoice | None] = {}
        for vessel in self.site.pumped_vessels():
            (main, *others) = [
                run for run in self._runs_at[vessel] if run.start == vessel and run.kind is RunKind.PRESSURE
            ]
            if others:
                raise NoOptionError(vessel, "single main from its pump", [ROLES[Concern.JOINTS]])
            outlets = by_opening(
                (choice.pump.outlet, choice.pump.outlet_bore_m, var) for var, choice in self._pumps[vessel]
            )
            sizes = (outlets, self._sizes(main.run_class))
            built[vessel] = encode_in_line(
                self.model,
                self.counting,
                vessel,
                (f"pump in {vessel}", main.name),
                sizes,
                under_pressure=True,
                need=self._book_for(main.run_class).asks_of_end(self.site, main, "start"),
                also=opening_chains if is_wished(self.counting) else None,
            )
        for junction, point in self.site.junctions.items():
            if point.open_m is not None:
                continue
            runs = self._runs_at[junction]
            by_run = {run.name: self._sizes(run.run_class) for run in runs}
            if len(runs) == 3:
                books = {run.name: self._book_for(run.run_class) for run in runs}
                asked = {run.name: books[run.name].asks_at(self.site, run, junction) for run in runs}
                built[junction] = encode_tee(
                    self.model, self.counting, junction, runs, self.site.flows, by_run, asked
                )
            else:
                first, second = runs
                names, both = (first.name, second.name), (by_run[first.name], by_run[second.name])
                pressed = first.kind is RunKind.PRESSURE
                built[junction] = encode_in_line(
                    self.model, self.counting, junction, names, both, under_pressure=pressed
                )
        joints = {}
        for name, joint in built.items():
            if joint is None:
                rules = (ROLES[Concern.JOINTS], *self.book.deciding(Narrowed))
                raise NoOptionError(name, "way to join what meets there", rules)
            joints[name] = joint
        return joints

    def _build_levels(self, what: str) -> dict[str, Var]:
        return {
            name: self.model.integer(
                f"{what} in {name}", tenth_mm_down(vessel.floor_m), tenth_mm_up(vessel.rim_m)
            )
            for name, vessel in self.site.vessels.items()
        }

    # --- named queries (rules ask these) ----------------------------------------------------------------

    def open_paths(self) -> Sequence[tuple[str, ...]]:
        """Every way by gravity from a vessel to where water is open to the air, as run names."""
        return open_paths(self.site)

    def open_pieces(self) -> Sequence[tuple[str, ...]]:
        """Every way by gravity from one place where water is open to the air to the next."""
        return open_pieces(self.site)

    def pressure_paths(self) -> Sequence[tuple[str, ...]]:
        """Every way under pressure from a pump to a vessel, as run names."""
        return pressure_paths(self.site)

    def shared_classes(self) -> Sequence[str]:
        """Classes of runs under pressure by which several vessels are fed, in the order of the water."""
        passed = Counter(run for path in self.pressure_paths() for run in path)
        shared = (run for run, paths in passed.items() if paths > 1)
        return tuple(dict.fromkeys(self.site.runs[run].run_class for run in shared))

    def level(self, vessel: str) -> Linear:
        """Design water level above the datum [0.1 mm]."""
        return weighted([(self._levels[vessel], 1)])

    def receiving_levels(self, path: Sequence[str], *, overloaded: bool = False) -> Sequence[Linear]:
        """What a path by gravity runs against at its end: the water there, and a fixed end's crown."""
        last = self.site.runs[path[-1]]
        water = self.overload_level(last.finish) if overloaded else self.level(last.finish)
        found = self.each(CROWN, last.name)
        crowns = [(var, tenth_mm_up(crown)) for var, crown in found if crown is not None]
        return (water, weighted(crowns)) if crowns else (water,)

    def against(
        self, path: Sequence[str], flows: Mapping[str, float], *, overloaded: bool = False
    ) -> Sequence[Linear]:
        """What one of `open_paths` runs against at its end, at flows by run [m3/s]."""
        if (goes := leaving(self.site, path)) is None:
            return self.receiving_levels(path, overloaded=overloaded)
        tee = self._joints[self.site.runs[goes].start].loss(path[-1], goes, flows)
        return (self.head_in_air(goes, flows, up=True) + tee,)

    def head_in_air(self, drain: str, flows: Mapping[str, float], up: bool = False) -> Linear:
        """Crown of a drain that leaves an open junction, with its velocity head [0.1 mm, down or up]."""
        ways = self._candidates[self.site.runs[drain].run_class]
        return head_in_air(self.site, drain, flows[drain], ways, up=up)

    def overload_level(self, vessel: str) -> Linear:
        """Water level allowed for at overload [0.1 mm]; a pumped vessel stays at its design level."""
        if vessel in self._pumps:
            return self.level(vessel)
        return weighted([(self._overload_levels[vessel], 1)])

    def overloads(self) -> Sequence[OverloadCase]:
        """Every overload that the design must survive."""
        if self.site.wishes.overload is Overload.FACTOR:
            return [OverloadCase(self.site.wishes.overload_factor, None)]
        return [
            OverloadCase(run_out_factor(self.site, vessel, PumpCurve(c.pump.curve).at_speed(c.speed)), var)
            for vessel, choices in self._pumps.items()
            for var, c in choices
        ]

    def candidates(self, run_class: str) -> Sequence[tuple[Var, Candidate]]:
        """The ways to build a class; exactly one is chosen."""
        return self._candidates[run_class]

    def each(self, quantity: Quantity[Value], run: str) -> Sequence[tuple[Var, Value]]:
        """Of every way to build a run's class a quantity of the run."""
        asked = self.site.runs[run]
        return [(var, quantity.of(self._seen, way, asked)) for var, way in self._candidates[asked.run_class]]

    def pumps(self, vessel: str) -> Sequence[tuple[Var, PumpChoice]]:
        """The pumps for a pumped vessel; exactly one is chosen."""
        return self._pumps[vessel]

    def air(self) -> Sequence[Sequence[tuple[Var, AirChoice]]]:
        """Groups of ways to bring air; of each exactly one is chosen."""
        return self._air

    def hand_pumps(self) -> Mapping[str, Sequence[tuple[Var, str]]]:
        """By vessel the hand pumps for its waste; exactly one is chosen."""
        return self._hand_pumps

    def spares(self) -> Mapping[str, SpareChoice]:
        """By pumped vessel what may lie ready for another pump, where that is wished for."""
        return self._spares

    def watts(self) -> list[tuple[Var, float]]:
        """Every choice that takes mains power, with how much [W]."""
        pumps = [(var, choice.watts) for choices in self._pumps.values() for var, choice in choices]
        valves = [
            (var, valve_watts(self.catalog, self.site, candidate))
            for choices in self._candidates.values()
            for var, candidate in choices
        ]
        air = [(var, choice.watts) for group in self._air for var, choice in group]
        return pumps + [(var, watts) for var, watts in (*valves, *air) if watts]

    def joints(self) -> Mapping[str, Sequence[Sequence[tuple[Var, float]]]]:
        """By pumped vessel and junction, groups of choices with their least rating [m of water]."""
        return {name: joint.rated() for name, joint in self._joints.items()}

    def all_joints(self) -> Mapping[str, JointChoice]:
        """What joins at each pumped vessel and junction."""
        return self._joints

    def path_loss(self, path: Sequence[str], factor: float, *, grown: bool = False) -> Linear:
        """Loss along runs and what lies between them at `factor` x design flow [0.1 mm, rounded up]."""
        return self.loss_at(path, flows_at(self.site, factor), grown=grown)

    def run_loss(self, run: str, *, grown: bool = False) -> Linear:
        """Loss along one run at design flow, without what happens at its ends [0.1 mm, rounded up]."""
        return self._run_loss(run, self.site.flows[run].design_m3_s, grown=grown)

    def drain_loss(self, path: Sequence[str]) -> Linear:
        """Loss along gravity runs at their peak flow [0.1 mm, rounded up]."""
        return self.loss_at(path, peaks(self.site))

    def loss_at(self, path: Sequence[str], flows: Mapping[str, float], *, grown: bool = False) -> Linear:
        """Loss along runs and what lies between them at the given flows by run [0.1 mm, rounded up]."""
        parts = [self._run_loss(name, flows[name], grown=grown) for name in path]
        for came, goes in pairwise(path):
            parts.append(self._joints[self.site.runs[came].finish].loss(came, goes, flows))
        first = self.site.runs[path[0]]
        if first.kind is RunKind.PRESSURE and first.start in self._pumps:
            parts.append(self._joints[first.start].loss("", first.name, flows))
        return total(parts)

    def _run_loss(self, run: str, flow_m3_s: float, *, grown: bool) -> Linear:
        run_class, rough = self.site.runs[run].run_class, self.book.given(Given.GROWN) if grown else 0.0
        ways = self._ways[run_class]
        key = (run, flow_m3_s, rough, self.hopeless)
        if key not in ways.losses:
            losses = tenths_mm_up(ways.lines(run).loss(flow_m3_s, self.water, rough))
            ways.losses[key] = np.minimum(losses, self.hopeless).tolist()
        if key not in self._lost:
            variables = (var for var, _ in self._candidates[run_class])
            self._lost[key] = weighted(zip(variables, ways.losses[key], strict=True))
        return self._lost[key]

    def inlet_rise(self, run: str, factor: float) -> Linear:
        """How much higher an inlet holds its vessel at `factor` x design flow than at design [0.1 mm, up]."""
        ways, low = self._candidates[self.site.runs[run].run_class], self.book.given(Given.TRIM)
        return inlet_rise(self.site, self.catalog, run, ways, factor, low)

    def uses(self) -> Mapping[str, Linear]:
        """Pieces of each part that the choices use, by part id, pipe left out."""
        return self._uses

    def may_run_short(self, part: str) -> bool:
        """Whether some answer might want more of a part than a shop says that it has."""
        return part in self.shelf.scarce

    def spending(self) -> Linear:
        """Purchase and freight [cents]."""
        return self.orders.spending

    def one_of(self, *names: str) -> Sequence[Var]:
        """New choices of which exactly one is made."""
        choices = [self.model.choice(name) for name in names]
        self.model.exactly_one(choices)
        return choices

    def at_least(self, rule: str, left: Linear, right: Linear | int, when: Var | None = None) -> None:
        """Require left >= right, where `when` is chosen or always."""
        self.model.at_least(rule, left, right, when)

    def choices_with_parts(self) -> Sequence[tuple[Var, Mapping[str, int]]]:
        """Every choice with the pieces of each part that it uses, stubs of pipe among them."""
        return self._with_parts

    @cached_property
    def _with_parts(self) -> list[tuple[Var, Mapping[str, int]]]:
        return list(self._every_choice_with_parts())

    def _every_choice_with_parts(self) -> Iterator[tuple[Var, Mapping[str, int]]]:
        for choices in self._candidates.values():
            for var, candidate in choices:
                yield var, candidate_uses(candidate)
        for joint in self._joints.values():
            yield from joint.parts()
        for pumps in self._pumps.values():
            for var, choice in pumps:
                yield var, {choice.pump.id: 1}
        for group in self._air:
            for var, way in group:
                yield var, way.pieces
        for spare in self._spares.values():
            yield from ((var, Counter(way.chain)) for var, way in spare.ways)
        for var, tub in self._tubs:
            yield var, {tub: 1}
        for hand in self._hand_pumps.values():
            for var, part in hand:
                yield var, {part: 1}

    def _build_stores(self) -> Stores:
        """Cement, clamps and the like for all that the choices take."""
        return encode_sundries(self.model, self.counting, *self._takings())

    def _takings(self) -> tuple[list[Taking], list[tuple[Var, tuple[Want, ...]]]]:
        """What the choices take of sundries, and the saws for their holes."""
        chosen = [pair for choices in self._candidates.values() for pair in choices]
        takings = [Taking(var, candidate.needs, candidate.screwed_needs) for var, candidate in chosen]
        takings += [Taking(*taken) for joint in self._joints.values() for taken in joint.needs()]
        takings += [Taking(v, way.needs, way.needs) for one in self._spares.values() for v, way in one.ways]
        return takings, [(var, candidate.saws) for var, candidate in chosen]

    def _build_uses(self) -> dict[str, Linear]:
        pairs: dict[str, list[tuple[Var, int]]] = {}
        for var, parts in self.choices_with_parts():
            for part, count in parts.items():
                if part not in self.catalog.pipes:
                    pairs.setdefault(part, []).append((var, count))
        return {part: weighted(uses) for part, uses in pairs.items()}

    @cached_property
    def cuts_by_group(self) -> dict[str, list[list[tuple[Var, list[float]]]]]:
        """As `pipe_pieces`, one entry per choice, gathered by the groups of which one choice is made."""
        by_pipe = {}
        for pipe, cuts in self.pipe_pieces.items():
            merged = cuts_by_choice(cuts)
            groups = [[(var, merged[var]) for var in group if var in merged] for group in self.model.groups]
            by_pipe[pipe] = [group for group in groups if group]
        return by_pipe

    @cached_property
    def pipe_pieces(self) -> Cuts:
        """By the first row of each pipe's family: every choice that cuts it, and the pieces [m]."""
        return self._cuts(self.choices_with_parts())

    def _cuts(self, choices: Sequence[tuple[Var, Mapping[str, int]]]) -> Cuts:
        chosen = (pair for candidates in self._candidates.values() for pair in candidates)
        return pieces_by_pipe(self.shelf, chosen, choices, self.book.given(Given.WASTE))
