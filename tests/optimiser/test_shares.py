"""Two drains that part a tank's water: enumerated with every part that sets a share, to the cent."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Way
from autoplan.drawing import Drawing, DrawnJunction, DrawnPump
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.line.row import Line
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Entry, Flow, Run, RunKind, Site
from autoplan.report.units import SI
from autoplan.rules.survey import Survey
from tests.lines import put
from tests.optimiser.everything import AIR_GAP_M, Everything, at_a_mark
from tests.optimiser.ways import Option
from tests.short_list import from_shortest_list

PROBLEMS = Path(__file__).parents[2] / "problems"

SHELF = """
    drain-50-2m drain-50-3m drain-75-2m pn10-32-3m
    drain-sweep-50-90 drain-bend-50-45 drain-sweep-75-90 elbow-32-90
    seal-50 seal-75 bulkhead-50 bulkhead-32
    drain-coupling-50 drain-coupling-75 coupling-32
    thread-female-32-1 union-female-32-1 thread-female-32-34 thread-bush-1-34 union-female-32-34
    pump-1600 pump-2200
"""
TRIMS = "turn-elbow-50 trim-sleeve-50 trim-sleeve-75"
VALVES = "ball-50"
LOWER_M = 0.005


class WithTrims(Everything):
    """Every design, each smaller stream's drain with every part that may set its share, and without."""

    def __init__(self, site: Site, catalog: Catalog) -> None:
        super().__init__(site, catalog)
        self.book = self.book.without("rim-bracket")
        drains = [run for run in site.runs.values() if run.kind is RunKind.GRAVITY]
        widest = max(drains, key=lambda run: site.flows[run.name].design_m3_s)
        self.smaller = {run.name for run in drains if run is not widest}

    def cut(self, run: Run, pipe: object, drawn: Line) -> Iterator[Line]:
        """The run as it is, and with each part on its inner end or in its line."""
        for way in (drawn, *(self._trimmed(drawn) if run.name in self.smaller else ())):
            yield from super().cut(run, pipe, way)  # type: ignore[arg-type]

    def _trimmed(self, drawn: Line) -> Iterator[Line]:
        own = self.catalog.pipes[drawn.pipe].end
        start = drawn.start
        assert isinstance(start, AtVessel)
        if start.way is Way.SEAL:
            # In place of the coupling that keeps the piece from sliding out.
            bare = drawn.with_ends(replace(start, inner_chain=()), drawn.finish)  # type: ignore[call-arg]
            fitting = [row.id for row in self.catalog.trims.values() if self.joining.mates(row.end, own)]
            yield from (put(bare, Trim(part)) for part in fitting)
        for valve in self.catalog.valves.values():
            if valve.style == "ball" and all(self.joining.mates(end, own) for end in valve.ends):
                yield put(drawn, TrimValve(valve.id))

    def option(
        self,
        runs: Mapping[str, Line],
        pumps: Mapping[str, DrawnPump],
        tees: Mapping[str, DrawnJunction],
    ) -> Option:
        """With what the parts take."""
        made = super().option(runs, pumps, tees)
        trims = [trim for line in runs.values() for trim in line.all(Trim)]
        more = Counter(part for trim in trims for part in trim.parts())
        return replace(made, shape=(made.shape, *trims), parts=made.parts + more)

    def holed(self, drawing: Drawing) -> Drawing:
        """Holes of drains whose share is set by hand 5 mm lower."""
        drawing = super().holed(drawing)
        runs = {**drawing.runs}
        for name, line in runs.items():
            if line.all(Trim):
                assert isinstance(line.start, AtVessel)
                assert line.start.centre_m is not None
                low = replace(line.start, centre_m=line.start.centre_m - LOWER_M)
                runs[name] = line.with_ends(low, line.finish)
        # A valve lets the water rise further at overload, and the inlet stays over it.
        survey = Survey(self.site, self.catalog, replace(drawing, runs=runs))
        flood = survey.standing_level("tank", survey.overload_factor())
        main = runs["main"]
        assert isinstance(main.finish, AtVessel)
        over = flood + AIR_GAP_M + survey.pipe("main").outside_m / 2
        high = at_a_mark(self.site.vessels["tank"], over)
        runs["main"] = main.with_ends(main.start, replace(main.finish, centre_m=high))
        return replace(drawing, runs=runs)


def two_drains(site: Site, smaller: float) -> Site:
    """The tank with a second drain to the sump that takes a part of its water, both of one pipe length."""
    whole, old = site.flows["drain"].design_m3_s, site.runs["drain"]
    runs = {**site.runs, "drain": replace(old, share=1 - smaller)}
    runs["clear drain"] = replace(old, name="clear drain", run_class="clear drain", share=smaller)
    flows = {**site.flows, "drain": Flow(whole * (1 - smaller), whole * (1 - smaller))}
    flows["clear drain"] = Flow(whole * smaller, whole * smaller)
    order = ("drain", "clear drain", "main")
    return replace(
        site,
        runs={name: runs[name] for name in order},
        flows={name: flows[name] for name in order},
        rule_settings={"purchase-list": {"waste": "0 %"}},
    )


@pytest.fixture
def shelf(metric: Catalog, shelf_of: Callable[[str], Catalog]) -> Callable[..., Catalog]:
    """A short price list with some of the parts that set a share."""

    def made(trims: str, valves: str = "") -> Catalog:
        kept = shelf_of(f"{SHELF} {trims} {valves}")
        return replace(kept, trims={name: metric.trims[name] for name in trims.split()})

    return made


def checked(site: Site, catalog: Catalog) -> tuple[Outcome, Drawing]:
    """Design and enumerate; assert the same cost to the cent."""
    outcome = autoplan.design(site, catalog, top=1)
    cents, drawing, _ = WithTrims(site, catalog).cheapest()
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    assert round(outcome.designs[0].objective * 100) == cents
    return outcome, drawing


@pytest.mark.parametrize(
    ("trims", "valves", "chosen"),
    [
        (TRIMS, VALVES, "trim-sleeve-50"),
        pytest.param("turn-elbow-50", VALVES, "turn-elbow-50", marks=pytest.mark.long),
        pytest.param("", VALVES, "ball-50", marks=pytest.mark.long),
    ],
)
def test_the_cheapest_part_sets_the_share(
    site_of: Callable[..., Site], shelf: Callable[..., Catalog], trims: str, valves: str, chosen: str
) -> None:
    """Inverts close together: a sleeve where there is one, else an elbow, else a valve; none is cheaper."""
    site = two_drains(site_of(entry=Entry.WALL, flow_l_h=900.0), 0.4)
    outcome, drawing = checked(site, shelf(trims, valves))
    for found in (drawing, outcome.designs[0].drawing):
        assert [trim.part for trim in found.runs["clear drain"].all(Trim)] == [chosen]
        assert not found.runs["drain"].all(Trim)


@pytest.mark.parametrize(
    ("flow_l_h", "trimmed"), [pytest.param(880.0, True, marks=pytest.mark.long), (1100.0, False)]
)
def test_inverts_far_enough_apart_need_none(
    site_of: Callable[..., Site], shelf: Callable[..., Catalog], flow_l_h: float, trimmed: bool
) -> None:
    """A tenth and the rest of 880 L/h ask for heads 18.5 mm apart, those of 1100 L/h for 22.4 mm: over 20."""
    site = two_drains(site_of(entry=Entry.WALL, flow_l_h=flow_l_h), 0.1)
    outcome, drawing = checked(site, shelf("turn-elbow-50"))
    for found in (drawing, outcome.designs[0].drawing):
        assert bool(found.runs["clear drain"].all(Trim)) is trimmed


def test_a_list_without_any_says_how_true_the_holes_must_be(
    site_of: Callable[..., Site], shelf: Callable[..., Catalog]
) -> None:
    """Where nothing sets the share the rule refuses, and tells how exact the hole would have to be."""
    site = two_drains(site_of(entry=Entry.WALL, flow_l_h=900.0), 0.4)
    outcome = autoplan.design(site, shelf(""), top=1)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert outcome.clash.rules == ("share-trim",)
    (said,) = map(SI.told, outcome.clash.sentences)
    found = re.search(r"a hole (\d+\.\d) mm too high or too low moves what clear drain takes .* by 10%", said)
    assert found is not None
    # Of 18.1 mm of head a tenth more of the stream, which goes with its square, asks for about 2 x 10 %,
    # less what the level gives way by.
    assert 1.0 < float(found[1]) < 2 * 0.1 * 20.9


@pytest.mark.parametrize("rule", ["", "\n[rules.share-trim]\noff = true\n"], ids=["on", "off"])
def test_a_header_sets_the_smaller_share(tmp_path: Path, rule: str) -> None:
    """Tanks that get no more than they ask for cannot share by drilling: turnover alone asks for a part."""
    file = tmp_path / "header.toml"
    file.write_text(from_shortest_list((PROBLEMS / "two-tanks.toml").read_text() + rule))
    problem = autoplan.load_problem(file)
    outcome = autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    runs = outcome.designs[0].drawing.runs
    assert runs["small feed"].all(Trim)
    assert not runs["big feed"].all(Trim)
    found = {str(one.place): one for one in outcome.designs[0].verdict.findings if one.rule == "turnover"}
    assert [one.ok for one in found.values()] == [True, True, True]


@pytest.mark.parametrize(("asked", "trimmed"), [(0.97, False), (1.0, True)])
def test_a_vessel_below_decides(
    site_of: Callable[..., Site], shelf: Callable[..., Catalog], asked: float, trimmed: bool
) -> None:
    """Inverts 22 mm apart need no part where a pond spares 3 % of its water, and one where it spares none."""
    site = two_drains(site_of(entry=Entry.WALL, flow_l_h=1100.0), 0.1)
    part = site.flows["clear drain"].design_m3_s
    pond = replace(site.vessels["sump"], name="pond", turnover_volume_m3=1.0, turnover_per_s=asked * part)
    on = replace(site.runs["drain"], name="pond drain", start="pond", run_class="pond drain", share=None)
    led = replace(site.runs["clear drain"], finish="pond")
    site = replace(
        site,
        vessels={**site.vessels, "pond": replace(pond, floor_m=-0.1, water_min_m=0.35, water_max_m=0.35)},
        runs={**site.runs, "clear drain": led, "pond drain": on},
        flows={**site.flows, "pond drain": site.flows["clear drain"]},
    )
    outcome = autoplan.design(site, shelf("turn-elbow-50"), top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    assert bool(outcome.designs[0].drawing.runs["clear drain"].all(Trim)) is trimmed
