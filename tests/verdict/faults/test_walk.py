"""Faults of a finished design against hand arithmetic, and every litre of a night accounted for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from autoplan.fittings.valve import CheckValveSet
from autoplan.hydraulics.basins import History, Waters, walk
from autoplan.outcome import Fault, FishWater
from autoplan.problem.site import Guard, VesselKind
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios, tighter
from autoplan.verdict.faults.walk import Judge, _among_alike, _badness, faults
from autoplan.verdict.hours.waterworks import BedSiphon, Waterworks
from autoplan.verdict.steady.network import steady
from autoplan.verdict.steady.supplies import Supplies
from tests.verdict import by_hand


def system(plan) -> tuple[Waterworks, Supplies]:
    """The plan as basins and passages, and its pump."""
    works = Waterworks(plan.survey, {})
    return works, Supplies(works)


def found(plan) -> dict[str, Fault]:
    """Faults by name."""
    return {fault.name: fault for fault in faults(*system(plan))}


def test_running_levels_are_those_of_the_outlets(plan) -> None:
    """Walked until it rests, tank and bed stand as by hand for their design flows; the sump has the rest."""
    works = Waterworks(plan.survey, {})
    links = [*works.drains(), *works.as_designed().passages(works.covers_m)]
    end = walk(works.basins, links, works.at_design(), 6 * 3600.0)
    levels = {basin.name: basin.level(end.waters.volumes_m3[basin.name]) for basin in works.basins}
    tank, bed = by_hand.tank_stands(plan, by_hand.TANK_FLOW), by_hand.bed_stands(plan, by_hand.BED_FLOW)
    assert levels["tank"] == pytest.approx(tank, abs=5e-4)
    assert levels["bed 1"] == pytest.approx(bed, abs=5e-4)
    rest = by_hand.sump_without(plan, by_hand.in_tank(plan, tank), by_hand.in_bed(plan, bed))
    assert levels["sump"] == pytest.approx(rest, abs=1e-3)


def test_every_litre_of_every_fault(plan) -> None:
    """In each fault what was there is there still or was lost, to 1e-9."""
    trials = Scenarios(*system(plan))
    for trial in trials.all():
        for mood in trials.moods:
            links, start = trial.links(mood), trial.start(mood)
            night = walk(trials.works.basins, links, start, NIGHT_S)
            lost = sum(night.spilled_m3.values())
            lost += sum(night.moved_m3[link.name] for link in links if link.target is None)
            had, has = sum(start.volumes_m3.values()), sum(night.waters.volumes_m3.values())
            assert has + lost == pytest.approx(had, rel=1e-9), trial.what


def test_a_shared_start_is_that_walked_alone(plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """The power comes back on the water that the cut left: walked once for both, with the same figures."""
    judge = Judge(Scenarios(*system(plan)))
    cut, back = list(judge.trials.all())[:2]
    assert back.after is cut
    alone = {mood.shut: back.start(mood) for mood in judge.trials.moods}
    walked: list[float] = []

    def counted(*given: Any) -> History:
        walked.append(given[3])
        return walk(*given)

    for module in ("walk", "scenarios"):
        monkeypatch.setattr(f"autoplan.verdict.faults.{module}.walk", counted)
    shared = judge.worst(cut), judge.worst(back)
    assert walked == [NIGHT_S] * 2 * len(judge.trials.moods)
    monkeypatch.undo()
    for mood in judge.trials.moods:
        night = judge.night(back, mood).history
        by_itself = walk(judge.works.basins, back.links(mood), alone[mood.shut], NIGHT_S)
        for name, volume in by_itself.waters.volumes_m3.items():
            assert night.waters.volumes_m3[name] == pytest.approx(volume, abs=1e-5)
    fresh = [Judge(judge.trials).worst(trial) for trial in (cut, back)]
    for told, again in zip(shared, fresh, strict=True):
        assert told.spilled_l == pytest.approx(again.spilled_l, abs=1e-6)
        assert told.margin_m == pytest.approx(again.margin_m, abs=1e-6)


@pytest.mark.parametrize(
    ("run", "vessel", "flow", "water"),
    [("tank drain", "tank", by_hand.TANK_FLOW, 1.0), ("bed drain 1", "bed 1", by_hand.BED_FLOW, 0.4)],
)
def test_a_blocked_drain_by_hand(plan, run: str, vessel: str, flow: float, water: float) -> None:
    """With its drain shut a vessel runs over after free wall x area x share of water / inflow."""
    fault = found(plan)[f"{run} fully blocked"]
    now, walls = by_hand.standing(plan), plan.site.vessels[vessel]
    free = (walls.rim_m - {"tank": now.tank_m, "bed 1": now.bed_m}[vessel]) * walls.area_m2 * water
    inflow = flow * now.share
    # The sump falls meanwhile, and the pump lifts a little less.
    assert fault.minutes == pytest.approx(free / inflow / 60, rel=0.03)
    assert fault.spilled_l > 0.0
    assert fault.margin_m < 0.0
    assert fault.where == vessel
    assert "overflow" in fault.saved_by


def test_a_blocked_drain_spills_what_the_pump_can_reach(plan) -> None:
    """The pump lifts the sump down to its cover; what finds no room in a tank without a drain is lost."""
    fault = found(plan)["tank drain fully blocked"]
    sump, tank = plan.site.vessels["sump"], plan.site.vessels["tank"]
    # The last centimetre under the cover is lifted too, and the bed runs down to its standpipe.
    left = (by_hand.cover(plan) - by_hand.FADES_M) * sump.area_m2 + by_hand.in_bed(plan, by_hand.lip(plan))
    lost = by_hand.whole_m3(plan) - left - by_hand.in_tank(plan, tank.rim_m)
    assert fault.spilled_l == pytest.approx(1000 * lost, abs=2.0)
    assert fault.lowest_cover_m is not None
    assert -0.0105 <= fault.lowest_cover_m < 0.0


def test_a_half_blocked_drain_stands_as_high_as_for_twice_the_flow(plan) -> None:
    """What passes half of its flow at each level stands where the open drain would for twice as much."""
    fault, tank = found(plan)["tank drain half blocked"], plan.site.vessels["tank"]
    # What the tank holds more is missing in the sump, whose pump then lifts a little less.
    high = by_hand.standing(plan).tank_m
    for _ in range(20):
        held = (high - by_hand.standing(plan).tank_m) * tank.area_m2
        high = by_hand.tank_stands(plan, 2 * by_hand.TANK_FLOW * by_hand.standing(plan, held).share)
    assert fault.margin_m == pytest.approx(tank.rim_m - high, abs=1e-3)
    assert fault.spilled_l == 0.0
    assert fault.minutes is None


def test_a_power_cut_by_hand(plan) -> None:
    """The sump takes the pipes' water and all but what tank and bed keep under their outlets."""
    fault = found(plan)["power cut"]
    works = Waterworks(plan.survey, {})
    kept = by_hand.in_tank(plan, by_hand.invert(plan)) + by_hand.in_bed(plan, by_hand.lip(plan))
    level = by_hand.sump_without(plan, kept, -by_hand.in_pipes(plan))
    assert fault.where == "sump"
    assert fault.margin_m == pytest.approx(plan.site.vessels["sump"].rim_m - level, abs=1e-3)
    assert works.in_pipes_m3 == {"sump": pytest.approx(by_hand.in_pipes(plan))}
    assert fault.spilled_l == 0.0
    assert fault.minutes is None
    assert fault.lowest_cover_m is None


@pytest.mark.parametrize(("spare_mm", "spills"), [(5.0, False), (-5.0, True)])
def test_a_sump_too_full_for_a_power_cut(plan, spare_mm: float, spills: bool) -> None:
    """Five millimetres under what a power cut needs it holds, five over it spills as much of its area."""
    trials, area = Scenarios(*system(plan)), plan.site.vessels["sump"].area_m2
    more = found(plan)["power cut"].margin_m - spare_mm / 1000
    (mood,) = trials.moods
    volumes = dict(mood.running.volumes_m3)
    volumes["sump"] += more * area
    trials.moods = (replace(mood, running=Waters(volumes)),)
    (cut,) = [trial for trial in trials.all() if trial.what == "power cut"]
    fault = Judge(trials).worst(cut)
    assert (fault.spilled_l > 0.0) == (fault.minutes is not None) == spills
    if spills:
        assert fault.spilled_l == pytest.approx(5.0 * area, rel=0.1)
        assert "sump" in fault.saved_by


def test_worst_first(plan) -> None:
    """Litres lost never rise down the table."""
    litres = [fault.spilled_l for fault in faults(*system(plan))]
    assert litres == sorted(litres, reverse=True)
    assert litres[0] > 0.0
    assert litres[-1] == 0.0


def test_a_burst_loses_what_the_pump_can_reach(plan) -> None:
    """The pump throws out the sump down to its cover, and all that the tank and the bed let go meanwhile."""
    fault = found(plan)["main bursts"]
    lost = by_hand.within_reach(plan, dry_level(plan))
    assert fault.spilled_l == pytest.approx(1000 * lost, rel=5e-3)
    assert fault.minutes == 0.0
    assert "float switch" in fault.saved_by
    assert "worst place" in fault.saved_by


def dry_level(plan) -> float:
    """Where the pump lifts no more [m]: a centimetre under its cover."""
    return plan.site.vessels["sump"].floor_m + by_hand.cover(plan) - by_hand.FADES_M


@pytest.mark.parametrize(
    ("drain", "flow"), [("tank drain", by_hand.TANK_FLOW), ("bed drain 1", by_hand.BED_FLOW)]
)
def test_a_drain_that_comes_apart_by_hand(plan, drain: str, flow: float) -> None:
    """Its vessel's feed goes to the ground until the pump draws air: water in reach / flow of the feed.

    In the end all is lost that a burst would lose, but the vessels keep what stands under their drains.
    """
    fault, vessel = found(plan)[f"{drain} comes apart"], plan.site.runs[drain].start
    full, dry = by_hand.standing(plan).sump_m, plan.site.vessels["sump"].floor_m + by_hand.cover(plan)
    # The flow falls with the level, in a straight line or nearly: the mean is that of the middle.
    mean = flow * by_hand.share_of_flows(plan, (full + dry) / 2)
    reach = (full - dry) * plan.site.vessels["sump"].area_m2
    assert fault.dry_minutes == pytest.approx(reach / mean / 60, rel=0.03)
    assert fault.minutes == 0.0
    most = 1000 * by_hand.within_reach(plan, dry_level(plan))
    assert most - 5.0 <= fault.spilled_l <= most + 0.1
    assert "Strap" in fault.saved_by
    trials = Scenarios(*system(plan))
    (trial,) = [trial for trial in trials.all() if (trial.place, trial.what) == (drain, "comes apart")]
    basins = trials.works.basins
    (mood, *_) = trials.moods
    end = walk(basins, trial.links(mood), Waters(mood.running.volumes_m3), NIGHT_S).waters
    basin = next(basin for basin in basins if basin.name == vessel)
    outlet = {"tank": by_hand.invert(plan), "bed 1": by_hand.lip(plan)}[vessel]
    assert basin.level(end.volumes_m3[vessel]) == pytest.approx(outlet, abs=2e-3)


def test_drains_that_join_are_lost_where_their_joint_run_comes_apart(plan) -> None:
    """A way through the broken run ends outside without its pipe; one beside it goes where it went."""
    works = Waterworks(plan.survey, {})
    joined, alone = ("bed drain 1", "tank drain"), ("bed drain 1",)
    works.paths = {joined: works.paths[alone], alone: works.paths[alone]}
    lost, kept = works.drains(apart=("tank drain",))
    assert (lost.source, lost.target) == ("bed 1", None)
    assert lost.passage == replace(kept.passage, line=None)
    assert (kept.source, kept.target) == ("bed 1", "sump")


def with_fish(plan, lowest_m: float):
    """The plan with fish in its sump, whose lowest design water is so high over its floor [m]."""
    sump = plan.site.vessels["sump"]
    return plan.vessel("sump", kind=VesselKind.TANK, water_min_m=sump.floor_m + lowest_m)


def test_a_pumped_fish_tank_may_lose_its_water(plan) -> None:
    """A burst leaves the fish what no pump lifts; stopped at their lowest water it loses what is over it."""
    fishy, sump = with_fish(plan, 0.2), plan.site.vessels["sump"]
    worst = faults(*system(fishy))[0]
    left = by_hand.cover(plan) - by_hand.FADES_M
    assert "comes apart" in worst.name or "bursts" in worst.name
    assert worst.fish.vessel == "sump"
    assert worst.fish.depth_m == pytest.approx(left, abs=1e-3)
    assert worst.fish.volume_m3 == pytest.approx(left * sump.area_m2, rel=0.05)
    assert worst.fish.needed_m == pytest.approx(0.2)
    over = by_hand.within_reach(plan, sump.floor_m + 0.2)
    assert worst.fish.spilled_l == pytest.approx(1000 * over, rel=0.01)
    assert "sump's lowest design water" in worst.saved_by
    assert "fish" in worst.saved_by
    blocked = found(fishy)["tank drain fully blocked"]
    assert blocked.fish is not None
    assert "overflow" in blocked.saved_by
    assert found(fishy)["power cut"].fish is None


@pytest.mark.parametrize(("more_mm", "told"), [(-1.0, False), (1.0, True)])
def test_a_quarter_less_is_too_little_for_the_fish(plan, more_mm: float, told: bool) -> None:
    """Three quarters of the lowest design depth are left, to a millimetre more or less."""
    left = by_hand.cover(plan) - by_hand.FADES_M
    fault = found(with_fish(plan, left / 0.75 + more_mm / 1000))["main bursts"]
    assert (fault.fish is not None) == told
    # Steps of the walk end at that level too, and err a little otherwise.
    assert fault.spilled_l == pytest.approx(found(plan)["main bursts"].spilled_l, abs=0.1)


def test_fish_left_too_little_are_the_worst() -> None:
    """Before any litres lost on the ground come the fish, before a pump that draws air the litres."""
    water = FishWater("tank", 0.03, 0.02, 0.36, None)
    fish = Fault("siphons back", 0.0, 0.1, None, fish=water)
    litres = Fault("bursts", 500.0, 0.1, 0.0, lowest_cover_m=0.1)
    dry = Fault("dries", 0.0, 0.1, 9.0, lowest_cover_m=-0.01)
    safe = Fault("power cut", 0.0, 0.05, None)
    assert sorted([safe, dry, litres, fish], key=_badness, reverse=True) == [fish, litres, dry, safe]


def test_rounding_does_not_pick_the_worst_of_alike() -> None:
    """Litres that no walk can tell apart are equal: then the one that gets into trouble sooner is worse."""
    slow = Fault("bursts", 500.0 + 1e-6, 0.1 - 1e-9, 0.0, lowest_cover_m=-0.01, dry_minutes=30.0)
    quick = Fault("bursts", 500.0, 0.1, 0.0, lowest_cover_m=-0.01, dry_minutes=25.0)
    more = replace(slow, spilled_l=500.2)
    assert _badness(slow) > _badness(quick)
    assert sorted([slow, quick, more], key=_among_alike) == [slow, quick, more]


def test_a_shut_valve_leaves_its_vessel_without_water(plan) -> None:
    """With the tank's valve shut its outlet holds the water; sump and bed keep what it let go."""
    fault, trials = found(plan)["tank feed valve shut"], Scenarios(*system(plan))
    (trial,) = [t for t in trials.all() if (t.place, t.what) == ("tank feed", "valve shut")]
    start = Waters(trials.moods[0].running.volumes_m3)
    end = walk(trials.works.basins, trial.links(trials.moods[0]), start, NIGHT_S).waters.volumes_m3
    kept = by_hand.in_tank(plan, by_hand.invert(plan))
    assert end["tank"] == pytest.approx(kept, abs=2e-3)
    # The bed gets more from a pump that works for it alone, and stands higher.
    assert end["bed 1"] > by_hand.in_bed(plan, by_hand.standing(plan).bed_m) + 1e-3
    assert end["sump"] + end["bed 1"] == pytest.approx(by_hand.whole_m3(plan) - kept, abs=2e-3)
    assert (fault.spilled_l, fault.minutes) == (0.0, None)
    assert "tank gets no water" in fault.saved_by


def test_a_pump_flat_out_is_what_the_network_says(plan) -> None:
    """With the valves open every vessel stands as its outlet holds the network's flow.

    The bed's feed is so narrow that the bed does not run over and the sump keeps its water.
    """
    plan = plan.pipe_of("bed feed 1", bore_m=0.013)
    works, supplies = system(plan)
    trials = Scenarios(works, supplies)
    (trial,) = [trial for trial in trials.all() if trial.kind == "pump"]
    (mood,) = trials.moods
    end = walk(works.basins, trial.links(mood), trial.start(mood), NIGHT_S).waters
    sump, tank = (next(b for b in works.basins if b.name == name) for name in ("sump", "tank"))
    level = sump.level(end.volumes_m3["sump"])
    flows = steady(plan.survey, flat_out=True, levels={"sump": level}).flows
    stands = by_hand.tank_stands(plan, flows["tank feed"])
    assert sum(end.volumes_m3.values()) == pytest.approx(sum(trial.start(mood).volumes_m3.values()))
    assert tank.level(end.volumes_m3["tank"]) == pytest.approx(stands, abs=1e-3)


def test_siphons_that_fail_leave_the_bed_full_or_empty(plan) -> None:
    """One that never starts fills its bed to the lip; one that never stops keeps it near its floor."""
    floor = plan.site.vessels["bed 1"].floor_m
    works = Waterworks(plan.survey, {"bed drain 1": BedSiphon(4e-5, floor + 0.03)})
    named = {fault.name: fault for fault in faults(works, Supplies(works))}
    never = named["bed drain 1 siphon never starts"]
    always = named["bed drain 1 siphon never stops"]
    assert never.spilled_l == always.spilled_l == 0.0
    assert "full" in never.saved_by
    assert "empty" in always.saved_by
    trials = Scenarios(works, Supplies(works))
    full, empty = (mood.running.volumes_m3["bed 1"] for mood in trials.moods)
    area = 0.4 * plan.site.vessels["bed 1"].area_m2
    assert full / area == pytest.approx(by_hand.bed_stands(plan, by_hand.BED_FLOW) - floor, abs=2e-3)
    assert empty / area < 0.03


def test_wall_left_is_over_the_water_of_every_mood(plan) -> None:
    """With beds empty the sump runs at its drawn level less what trickles: no fault leaves more wall.

    Full, the beds keep the sump lower by their floods over its area, far more than the 30 mm allowed here. A
    bed whose siphon never starts stands at its lip and what runs over it, however empty it was.
    """
    bed, sump = plan.site.vessels["bed 1"], plan.site.vessels["sump"]
    works = Waterworks(plan.survey, {"bed drain 1": BedSiphon(4e-5, bed.floor_m + 0.03)})
    named = {fault.name: fault for fault in faults(works, Supplies(works))}
    drawn = sump.rim_m - plan.drawing.levels["sump"].design_m
    assert plan.drawing.levels["sump"].design_m - by_hand.standing(plan).sump_m > 0.09
    stops = named["bed drain 1 siphon never stops"]
    assert 0.01 < stops.margin_m <= drawn + 0.03
    # Power comes back over what ran down in the cut, less what fills the pipes again.
    back, filled = named["power back"], by_hand.in_pipes(plan) / sump.area_m2
    assert back.where == "sump"
    assert back.margin_m == pytest.approx(named["power cut"].margin_m + filled, abs=2e-3)
    never = named["bed drain 1 siphon never starts"]
    assert never.where == "bed 1"
    lip = by_hand.bed_stands(plan, by_hand.BED_FLOW)
    assert never.margin_m == pytest.approx(bed.rim_m - lip, abs=3e-3)
    for fault in named.values():
        if fault.where == "sump":
            assert fault.margin_m <= drawn + 0.03, fault


def test_a_blocked_drain_loses_more_with_every_bed_empty(plan) -> None:
    """With a siphon the bed may be empty as the tank's drain blocks, and its water is lost as well."""
    floor = plan.site.vessels["bed 1"].floor_m
    works = Waterworks(plan.survey, {"bed drain 1": BedSiphon(4e-5, floor + 0.03)})
    named = {fault.name: fault for fault in faults(works, Supplies(works))}
    more = named["tank drain fully blocked"].spilled_l - found(plan)["tank drain fully blocked"].spilled_l
    assert more == pytest.approx(1000 * by_hand.in_bed(plan, by_hand.lip(plan)), rel=0.05)


def under_water(plan, guard: Guard, depth_m: float = 0.1):
    """The plan with the tank's inlet lower, its mouth so deep under water, guarded or not."""
    low = plan.survey.level("tank") - depth_m - plan.drawing.runs["tank feed"].finish.mouth_m
    moved = plan.raised("tank feed", "finish", 1000 * low).end("tank feed", "finish", guard=guard)
    return moved.put("tank feed", CheckValveSet("check-25")) if guard is Guard.CHECK_VALVE else moved


def test_an_inlet_under_water_siphons_back(plan) -> None:
    """A power cut draws the tank down to the mouth of its inlet, but not past a check valve that holds."""
    low = under_water(plan, Guard.AIR_GAP)
    works, supplies = system(low)
    (cut,) = [trial for trial in Scenarios(works, supplies).all() if trial.what == "power cut"]
    (mood,) = Scenarios(works, supplies).moods
    end = walk(works.basins, cut.links(mood), cut.start(mood), NIGHT_S).waters
    tank = next(basin for basin in works.basins if basin.name == "tank")
    mouth = low.drawing.runs["tank feed"].finish.mouth_m
    assert tank.level(end.volumes_m3["tank"]) == pytest.approx(mouth, abs=1e-3)
    checked = found(under_water(plan, Guard.CHECK_VALVE))
    stuck, held = checked["tank feed check valve stuck open in a power cut"], checked["power cut"]
    assert stuck.margin_m < held.margin_m
    assert stuck.margin_m == pytest.approx(found(low)["power cut"].margin_m, abs=2e-3)
    assert not any("stuck" in name for name in found(plan))


def test_a_tank_siphoned_back_leaves_the_fish_too_little(plan) -> None:
    """Drawn down to a mouth 250 mm under water a tank without a pump lacks over a quarter of its lowest."""
    low = under_water(plan, Guard.CHECK_VALVE, 0.25)
    checked, tank = found(low), plan.site.vessels["tank"]
    mouth = low.drawing.runs["tank feed"].finish.mouth_m - tank.floor_m
    assert mouth < 0.75 * (tank.water_min_m - tank.floor_m)
    stuck = checked["tank feed check valve stuck open in a power cut"]
    assert stuck.fish.vessel == "tank"
    assert stuck.fish.depth_m == pytest.approx(mouth, abs=1e-3)
    assert stuck.fish.spilled_l is None
    assert "alarm in tank" in stuck.saved_by
    assert checked["power cut"].fish is None


def test_tighter_bores_and_other_water_change_the_flow(plan) -> None:
    """Cold water and bores 5 % less pass less of the flow; all three are reported."""
    works, supplies = system(plan)
    design = supplies.as_set.flows_m3_s["sump"]["tank"][1]
    by_name = {trial.what: trial for trial in Scenarios(works, supplies).all() if trial.kind == "flow"}
    got = {name: trial.supply.flows_m3_s["sump"]["tank"][1] for name, trial in by_name.items()}
    assert got["water at 5 C"] < design < got["water at 30 C"]
    assert got["every bore 5 % less"] < got["water at 5 C"]
    # Losses go with the fifth power of the bore, and the valve takes up most of the head.
    assert 0.8 < got["every bore 5 % less"] / design < 0.99


def test_tighter_changes_bores_only(plan) -> None:
    """Every bore is a twentieth less, outsides and prices are as they were."""
    tight = tighter(plan.catalog, 0.95)
    for part, row in plan.catalog.pipes.items():
        assert tight.pipes[part] == replace(row, bore_m=row.bore_m * 0.95)
    for part, tee in plan.catalog.tees.items():
        assert tight.tees[part].bore_m == pytest.approx(0.95 * tee.bore_m)
    assert tight.pumps == plan.catalog.pumps


def test_alike_runs_are_told_once(outcome) -> None:
    """No two faults of one design bear one name, and each drain, valve and pressure run is spoken of."""
    names = [fault.name for fault in outcome.designs[0].verdict.faults]
    assert len(names) == len(set(names))
    for what in ("fully blocked", "half blocked", "valve shut", "bursts", "comes apart"):
        assert any(what in name for name in names)
