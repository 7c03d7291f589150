"""Every kind of mistake in a problem file, by a broken file each, and the full text that the builder reads.

Each message stands on one line, as it does in the terminal.
"""
# ruff: noqa: E501

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from autoplan.errors import InputError
from autoplan.problem.toml.load import load_problem

DATA = Path(__file__).parents[1] / "data"

EXPECTED = {
    "arrangement": [
        'arrangement: "serial" is not an arrangement that is known here; did you mean "series".',
    ],
    "any-has-no-way": [
        "beds.floor: parallel: the floor of bed 1 at 300 mm is lower than the water that it falls to, up to 520 mm in sump; raise the bed or lower sump, so that the bed can run empty.",
        "beds.floor: series: the floor of bed 1 at 300 mm is lower than the water that it falls to, up to 520 mm in sump; raise the bed or lower sump, so that the bed can run empty.",
        "beds.floor: no sump: the floor of bed 1 at 300 mm is lower than the water that it falls to, up to 1.22 m in tank; raise the bed or lower tank, so that the bed can run empty.",
    ],
    "any-misspelt": [
        'tank.volum: there is no key "volum" here; did you mean "volume".',
        'tank.volume: is missing; write e.g. volume = "1600 L".',
        'sump.deep: there is no key "deep" here; did you mean "depth".',
        'distances.settler_to_bed: this system has no such line; did you mean "trunk_to_bed".',
    ],
    "bare-numbers": [
        'tank.volume: 1600 has no unit; write e.g. "1600 L" or "1600 gal".',
        'tank.depth: "900" has no unit; write e.g. "900 mm" or "900 in".',
        'beds.area: 1.2 has no unit; write e.g. "1.2 m2" or "1.2 ft2".',
    ],
    "bed-lower-than-sump": [
        "beds.floor: the floor of bed 1 at 100 mm is lower than the water that it falls to, up to 520 mm in sump; raise the bed or lower sump, so that the bed can run empty.",
    ],
    "drain-would-climb": [
        "tank.floor: water would have to climb from tank, at most at 620 mm, to settler, at least at 980 mm; raise tank or lower settler.",
    ],
    "drains-in-a-circle": [
        "run.drain.to: water cannot fall in a circle: tank, settler, tank; let a pump lift it somewhere on the way.",
    ],
    "dry-run": [
        "run.idle: no water runs in idle, since nothing that it feeds asks for any; give the vessel it feeds a turnover, or take the run out.",
        "run.fall: no water runs in fall, since nothing that it feeds asks for any; give the vessel it feeds a turnover, or take the run out.",
    ],
    "empty": [
        'tank: there is no [tank]; write [tank] and below it e.g. volume = "1000 L".',
        'sump: there is no [sump]; write [sump] and below it e.g. volume = "1000 L".',
    ],
    "floods-range": [
        'beds.floods: ["4/hour", "1/hour"] does not begin with the lesser; write e.g. ["1/hour", "4/hour"].',
        'sump.choose: [] is not a list of vessels; write e.g. ["tub-600", "tub-1000"], or "any".',
        "sump: both choose and volume are given; take volume out: the price list says it.",
    ],
    "floods-three": [
        "vessel.tank: both choose and volume are given; take volume out: the price list says it.",
        'vessel.bed.floods: ["1/hour", "2/hour", "4/hour"] is not a range of floods; write the least and the most, e.g. ["1/hour", "4/hour"], or one value.',
        "vessel.sump: both choose and depth are given; take depth out: the price list says it.",
    ],
    "junctions": [
        "junction.lone: 0 runs meet at lone; let two or three runs meet at a junction.",
        "junction.one way: no run leads out of one way; let water come in and go out.",
        "junction.mixed: gravity and pressure runs meet at mixed; let them meet in a vessel.",
        "junction.divides: a drain divides at divides, where nothing says how much goes where; let both drains start at the vessel, each with its share.",
    ],
    "legs-and-turns": [
        'run.drain.legs: "0 m" is too small; write something like "2.5 m".',
        'run.main.length: pieces of equal legs are of no line that anyone builds; write level = "2.5 m" from wall to wall and its corners, or the legs one by one.',
        'run.second.level: is missing; write e.g. level = "2.5 m" from wall to wall, or the legs one by one.',
        "run.low drain.legs: 1 leg cannot go with 1 turn; give one leg more than there are turns.",
    ],
    "lines": [
        "turns: uprights and their turns follow from heights now; take [turns] out, and write the corners on the plan below [corners].",
        'distances.trunk_to_bed: "0 m" is too small; write something like "2.5 m".',
        "corners.bed_to_sump: [90, 60] is not a list of turns; write each turn as 45 or 90, e.g. [90, 45], or how many 90s.",
        'corners.tank_to_sump: "two" is not a list of turns; write each turn as 45 or 90, e.g. [90, 45], or how many 90s.',
        "distances.between_beds: 3 level pieces do not go with the corners [90]; give one piece more than there are corners, or the whole distance.",
        "distances.sump_to_tank: the whole way from the pump is 3 m, of which 3 m lead to the split; make it longer than sump_to_split.",
        "distances.sump_to_first_bed: the whole way from the pump is 3 m, of which 3 m lead to the split; make it longer than sump_to_split.",
    ],
    "places": [
        'tank.at: ["0 m"] is not a place on the plan; write how far it is along and across from a point of your own, e.g. ["2.4 m", "0 m"].',
        "settler: facing is given but not where it stands; write at too, or take it out.",
        'biofilter.facing: "north" is not a direction; write degrees from along to across, e.g. 30.',
        'beds.at: 0 has no unit; write e.g. "0 mm" or "0 in".',
        'sump.step: there is no key "step" here; known are area, depth, wall, base, shape, uncertain, floor, ground, at, facing, side, volume, freeboard, water_min, water_max, top_up, cover.',
    ],
    "rows": [
        'beds: at says where the first bed is, and nothing where the next is; write step too, e.g. step = ["1.5 m", "0 m"].',
        "sump: nobody knows where the walls are of what is still to be chosen; take at out, and give the distances to it.",
    ],
    "overlap": [
        'tank.side: tank is round, so it has no side of its own; write shape = "square", or take it out.',
        "settler.at: tank and settler overlap on the plan: their middles are 800 mm apart, and with their walls they need 889 mm that way; move one of them, or let it stand wholly above the other.",
        "beds.step: bed 1 and bed 2 overlap on the plan: their middles are 1 m apart, and with their walls they need 1.265 m that way; move one of them, or let it stand wholly above the other.",
        "heights.bed_to_sump: bed drain 1 would run at 594 mm, and leaves bed 1 under 594 mm; let it run lower.",
    ],
    "plan": [
        'run.old.length: pieces of equal legs are of no line that anyone builds; write level = "2.5 m" from wall to wall and its corners, or the legs one by one.',
        "run.no way.level: by their places there is no way from wall to wall with one corner or none; give its level distance too.",
        "run.other corners.corners: by their places its corners are [90], and [45] are given; give its level distance too.",
        'run.unknown way.level: is missing; write e.g. level = "2.5 m" from wall to wall, or the legs one by one.',
        "junction.wye: 0 runs meet at wye; let two or three runs meet at a junction.",
        "junction.tee: 0 runs meet at tee; let two or three runs meet at a junction.",
    ],
    "falls": [
        "run.main: 1.8 m of pipe cannot lead from sump to tee: tee is 1.9 m above the rim of sump; make it 1.9 m at least, uprights included, or check the heights.",
        "run.feed: 500 mm of pipe cannot lead from tee to tank: tee is 600 mm above the rim of tank; make it 600 mm at least, uprights included, or check the heights.",
        "run.high.level: a level piece of high is 59 mm long, and it needs 60 mm: 60 mm off each wall; move what it joins further apart, or measure again.",
        "run.high.height: high would run at 1.32 m, and leaves tank under 1.32 m; let it run lower.",
        "junction.wye.height: high leaves tank at 1.32 m at most, and wye is at 1.321 m; let it be lower.",
        "junction.low wye.height: low wye is at -500 mm, and the floor of sump is at -500 mm; let it be higher.",
    ],
    "missing-keys": [
        'tank.volume: is missing; write e.g. volume = "1600 L".',
        "beds.count: is missing; write e.g. count = 4.",
        'sump: there is no [sump]; write [sump] and below it e.g. volume = "1000 L".',
    ],
    "no-pump-behind": [
        "run.round.from: no pump feeds round; let a pressure run lead there from a vessel.",
        "run.and round.from: no pump feeds and round; let a pressure run lead there from a vessel.",
        "run.out.from: no pump feeds out; let a pressure run lead there from a vessel.",
    ],
    "no-sump-with-sump": [
        'distances.bed_to_sump: this system has no such line; did you mean "bed_to_tank".',
        "settler: a system without a sump has no [settler]; take it out: the beds are the filter.",
        "sump: a system without a sump has no [sump]; take it out.",
    ],
    "no-way-out": [
        "vessel.well: water runs into well but no run leads out of it; add a run from it.",
        "vessel.header: water runs out of header but no run leads into it; add a run to it.",
        "vessel.settler: no run leads to or from settler; connect it or take it out.",
    ],
    "not-arrays": [
        "vessel: 3 is not an array of tables; write [[vessel]] above each.",
        'run.number 1: "x" is not a table; write a table with its keys.',
    ],
    "not-finite": [
        "wishes.budget: inf is not a finite number; write an ordinary number.",
        "tank.volume: nan is not a finite number; write an ordinary number.",
        'tank.depth: "1e999 m" is not a finite number; write an ordinary number.',
    ],
    "not-text": [
        "line 2: is not text in UTF-8; save the file as text in UTF-8.",
    ],
    "out-of-range": [
        'wishes.turnover: "0/hour" is too small; write something like "1.5/hour".',
        'wishes.water: "90 degC" is too large; write something like "20 degC".',
        'wishes.overload: "pumps" is not known here; write a multiple of the design flow like 1.5, or "pump".',
        'tank.volume: "0 L" is too small; write something like "1600 L".',
        'tank.depth: "-900 mm" is too small; write something like "900 mm".',
        "beds.count: -1 is too small; write a whole number from 0 to 40.",
        'beds.area: "2000 m2" is too large; write something like "1.2 m2".',
        'beds.void: "140 %" is too large; write something like 0.4.',
        "beds.drain_peak: 0.5 is too small; write something like 3.",
    ],
    "pump-and-drain": [
        "vessel.tank: both a pump and a drain take water from tank, so nothing says how much falls; take it by the pump alone or by gravity alone.",
        "vessel.sump: 2 pressure runs start at sump, which has one pump; let one run start there and divide at a junction.",
    ],
    "repeated-names": [
        'vessel.tank: the name "tank" is given more than once; give every vessel, junction and run a name of its own.',
        'run.sump: the name "sump" is given more than once; give every vessel, junction and run a name of its own.',
        'run.drain: the name "drain" is given more than once; give every vessel, junction and run a name of its own.',
    ],
    "rim-below-water": [
        "sump: both freeboard and water_max are given; give one of them.",
        "tank.water_max: the water of tank may stand 950 mm high but its rim is at 900 mm; keep the highest water below the rim.",
        "settler.freeboard: a freeboard of 600 mm leaves no water in settler, which is 600 mm deep; keep it less than the depth.",
        "biofilter.water_min: the lowest water of biofilter, 700 mm, is above its highest, 600 mm; keep it at or below the highest.",
        "beds.flood: bed 1 is flooded 250 mm deep but only 200 mm deep itself; keep the flood below the rim.",
    ],
    "run-to-nowhere": [
        'run.drain.to: no vessel or junction is called "sumpp"; did you mean "sump".',
        'run.main.to: no vessel or junction is called "roof"; known are tank, sump.',
    ],
    "shares-leave-nothing": [
        "run.clear.share: the shares of what leaves tank leave nothing for its other drains; give each drain a share above zero.",
    ],
    "shares-short": [
        "run.clear.share: the shares of what leaves tank add up to only 0.9; let them add up to 1, or leave one share out.",
    ],
    "shares": [
        "run.clear.share: the shares of what leaves tank add up to 1.2; let them add up to 1.",
    ],
    "short-and-long": [
        "[tank] of the short form and [[vessel]] of the long form stand in one file; keep to one form; `autoplan expand` turns the short one into the long one.",
    ],
    "series-without-beds": [
        'beds.count: without beds "series" is no arrangement; write a count of 1 or more.',
    ],
    "sump-runs-dry": [
        "vessel.sump: 1125 L/h run into sump but its pump takes 749.88 L/h; lead back to it what its pump takes out.",
        "vessel.well: 375.12 L/h run into well but its pump takes 749.88 L/h; lead back to it what its pump takes out.",
    ],
    "timer-hardly-shut": [
        "beds.on_time: bed 1 would need a drain hole of 129 mm to run empty in the 0.1 min its valve is shut; make it shorter, or let the bed flood less often.",
    ],
    "timer-hole-too-high": [
        "beds.hole_height: the drain hole of bed 1 is not under its flood, which is 60 mm deep; put it near the floor.",
    ],
    "timer-hole-too-low": [
        "beds.hole_height: the drain hole of bed 1 would reach under the bed's floor; put its centre half its diameter up or more.",
    ],
    "timer-keys": [
        'beds: "on_time" is for a timed bed; write drain = "timer" too, or take on_time out.',
    ],
    "timer-never-shut": [
        "beds.on_time: the valve of bed 1 would be open 30 min of every 30 min; make it shorter than the time from flood to flood.",
    ],
    "timer-no-sump": [
        "beds.drain: the pump in tank feeds nothing but timed beds, and would run against shut valves; let it feed a vessel that is always open too, or give one bed another drain.",
    ],
    "timer-range": [
        'beds: a timed bed floods by the clock, not within a range; write e.g. floods = "2/hour".',
    ],
    "timer-runs": [
        "vessel.basil.drain: 2 runs feed basil, which has one timed valve; let one run with a valve feed it.",
        "run.basil feed.valve: basil feed feeds a timed bed, whose timer works its valve; write valve = true.",
        'run.basil drain.draw: basil drain drains a timed bed, whose drain hole is in a standpipe; write draw = "standpipe".',
        "vessel.mint.drain: 2 drains leave mint, whose drain hole is in one standpipe; let one drain leave it.",
        "vessel.mint.drain: the water of pond would turn over only while the valves of its timed beds are open; let a pump in a sump feed them, or give them another drain.",
        'run.basil feed.class: runs of the class "feed" go to timed beds and to others; give those of timed beds a class of their own.',
    ],
    "timer-series": [
        "beds.drain: bed 1 is fed by gravity, where a shut valve would only send its water elsewhere; let a pump feed it, or give it another drain.",
    ],
    "timer-words": [
        'beds.drain: "timed" is not known here; did you mean "timer".',
        'beds.on_time: "12 mm" is a length, a time is needed; write e.g. "12 min" or "12 s".',
        'beds.hole: "0 mm" is too small; write something like "8 mm".',
    ],
    "too-high": [
        "vessel.tank.floor: the rim of tank is 25.4 m above the floor of sump; check floor and ground: a site may be at most 20 m high.",
    ],
    "two-pumps": [
        "junction.tee: two pressure runs lead into tee, so two pumps would work against each other; lead each pump's run to its vessels by itself.",
    ],
    "unit-and-heights": [
        'tank.volume: "1000" has no unit; write e.g. "1000 L" or "1000 gal".',
        "beds.floor: the floor of bed 1 at -100 mm is lower than the water that it falls to, up to 20 mm in sump; raise the bed or lower sump, so that the bed can run empty.",
    ],
    "unknown-keys": [
        'wishes.turn_over: there is no key "turn_over" here; did you mean "turnover".',
        'budget: there is no key "budget" here; write it below [wishes].',
        'tanks: there is no key "tanks" here; did you mean "tank".',
        'tank.heigth: there is no key "heigth" here; known are area, depth, wall, base, shape, uncertain, floor, ground, at, facing, side, volume, freeboard, water_min, water_max, top_up, cover, screen, siphon_back, draw, overflow.',
        'tank.dept: there is no key "dept" here; did you mean "depth".',
        'distances.tank_to_settler: this system has no such line; did you mean "tank_to_sump".',
        'distances.sump_to_tanks: there is no key "sump_to_tanks" here; did you mean "sump_to_tank".',
    ],
    "wrong-run-keys": [
        'run.drain.valve: "yes" is neither true nor false; write e.g. valve = true.',
        'run.third.kind: "presure" is not known here; did you mean "pressure".',
        "run.clear.entry: only a run on the plan or of a pump that ends at a vessel has an entry; take it out.",
        "run.main.draw: only a gravity run that starts at a vessel has a draw; take it out.",
        "run.main.share: only a gravity run that starts at a vessel has a share; take the share out.",
    ],
    "wrong-types": [
        'name: 7 is not a short text; write e.g. name = "Four beds by the shed".',
        'catalog: ["metric"] is not the name of a price list; write e.g. catalog = "metric".',
        'unavailable: "seal-50" is not a list of part ids; write e.g. unavailable = ["seal-50"].',
        'owned.seal-50: "two" is not a number of pieces; write e.g. seal-50 = 2.',
        "rules.turnover: 3 is not a table; write [rules.turnover] and its settings below it.",
        'rules.overload.freeboard: ["20 mm"] cannot be a setting; write text with a unit, a number, or true or false.',
        'tank.depth: true is not a number with a unit; write e.g. "1.5 mm" or "1.5 in".',
        'tank.shape: "oval" is not known here; write one of "round", "square".',
        'tank.draw: 3 is not known here; write one of "wall", "solids-lifting", "standpipe".',
        "beds.count: 2.5 is not a whole number; write e.g. count = 4.",
        'beds.area: ["1 m2"] is not a number with a unit; write e.g. "1.5 m2" or "1.5 ft2".',
    ],
    "wrong-units": [
        'wishes.water: "20 m" is a length, a temperature is needed; write e.g. "20 degC" or "20 degF".',
        'tank.volume: "1600 kg" is a mass, a volume is needed; write e.g. "1600 L" or "1600 gal".',
        'tank.depth: "900 mn" has an unknown unit "mn"; write e.g. "900 mm" or "900 in".',
        'tank.floor: "1,2 m" has a comma, which may mark thousands or decimals; write the number without a comma and with a point for decimals, as in 1600 or 1.6.',
        'tank.wall: "1 5/4 in" is not one number; write it as in "1.5 in" or "1 1/2 in".',
        'tank.base: "6\'" has a foot or inch mark; write the unit out, as in "6 ft" or "6 ft 3 in".',
        'beds.area: "1.2 m" is a length, an area is needed; write e.g. "1.2 m2" or "1.2 ft2".',
        'beds.floods: "2 hours" is a time, a rate is needed; write e.g. "2/hour" or "2/day".',
        'sump.volume: "lots" does not start with a number; write e.g. "1.5 L" or "1.5 gal".',
    ],
    "wrong-vessels": [
        'vessel. tank.name: " tank" is not a good name; write 1 to 40 visible characters without a blank at either end.',
        'vessel. tank.kind: "tnak" is not known here; did you mean "tank".',
        'vessel.bed: a bed has no "turnover"; take it out.',
        'vessel.sump: a sump has no "flood"; take it out.',
        "vessel.header.volume: 900 L do not fit into header: its area times its depth is 800 L; give the volume to the rim, or leave the area out.",
    ],
}


def _told(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        load_problem(path)
    assert all(mistake.file == str(path) for mistake in caught.value.mistakes)
    return [str(mistake).removeprefix(f"{path}: ") for mistake in caught.value.mistakes]


@pytest.mark.parametrize("defect", EXPECTED)
def test_all_mistakes_of_a_file_are_told_at_once(defect: str) -> None:
    """Each broken file gives exactly its mistakes, each with place, problem and remedy."""
    assert _told(DATA / f"problem-{defect}.toml") == EXPECTED[defect]


@pytest.mark.parametrize(
    ("defect", "line"), [("not-toml", "line 2"), ("unclosed-text", "line 1"), ("unclosed-array", "line 2")]
)
def test_what_is_not_toml_is_told_with_its_line(defect: str, line: str) -> None:
    """The line is ours to promise, the parser's own words are not."""
    (told,) = _told(DATA / f"problem-{defect}.toml")
    assert told.startswith(f"{line}: is not TOML (")


def test_every_broken_file_is_tested() -> None:
    """No broken file lies about without a test that reads it."""
    named = {path.stem.removeprefix("problem-") for path in DATA.glob("problem-*.toml")}
    assert named == {*EXPECTED, "not-toml", "unclosed-text", "unclosed-array"}


def test_a_missing_file_suggests_its_neighbours(tmp_path: Path) -> None:
    """A close name in the same folder is suggested; without one, or without the folder, that is said."""
    (tmp_path / "four-beds.toml").write_text("")
    near, far = tmp_path / "four-bed.toml", tmp_path / "xyz.toml"
    assert _told(near) == [f'there is no such file; did you mean "{tmp_path / "four-beds.toml"}".']
    assert _told(far) == ["there is no such file; check the name and the folder."]
    lost = tmp_path / "gone" / "x.toml"
    assert _told(lost) == [f'there is no such file; there is no folder "{lost.parent}" either.']


def test_a_folder_is_no_problem_file(tmp_path: Path) -> None:
    """Naming the folder is told as such."""
    assert _told(tmp_path) == ["is a folder; name the problem file inside it."]


SMALL = """
[tank]
volume = "1000 L"
[beds]
count = 2
area = "1.2 m2"
floor = "600 mm"
[sump]
volume = "800 L"
"""


@pytest.mark.parametrize(
    ("given_text", "changed", "right"),
    [
        ('floor = "600 mm"', 'floor = "20 mm"', True),
        ('floor = "600 mm"', 'floor = "19 mm"', False),
        ("count = 2", "count = 40", True),
        ("count = 2", "count = 41", False),
        ('area = "1.2 m2"', 'area = "1.2 m2"\ndepth = "251 mm"', True),
        ('area = "1.2 m2"', 'area = "1.2 m2"\ndepth = "250 mm"', False),
        ('"800 L"', '"800 L"\n[distances]\nsump_to_tank = "720 mm"', True),
        ('"800 L"', '"800 L"\n[distances]\nsump_to_tank = "719 mm"', False),
        ('"1000 L"', '"1000 L"\nwater_max = "899 mm"', True),
        ('"1000 L"', '"1000 L"\nwater_max = "900 mm"', False),
        ('"1000 L"', '"1000 L"\nwater_min = "820 mm"', True),
        ('"1000 L"', '"1000 L"\nwater_min = "821 mm"', False),
        ('"1000 L"', '"1000 L"\narea = "1.11112 m2"', True),
        ('"1000 L"', '"1000 L"\narea = "1.1111 m2"', False),
        ('"800 L"', '"800 L"\n[distances]\ntank_to_sump = "120 mm"\n[corners]\ntank_to_sump = 0', True),
        ('"800 L"', '"800 L"\n[distances]\ntank_to_sump = "119 mm"\n[corners]\ntank_to_sump = 0', False),
        ('"800 L"', '"800 L"\n[distances]\ntrunk_to_bed = "60 mm"', True),
        ('"800 L"', '"800 L"\n[distances]\ntrunk_to_bed = "59 mm"', False),
        ('"800 L"', '"800 L"\n[heights]\nbed_to_sump = "593 mm"', True),
        ('"800 L"', '"800 L"\n[heights]\nbed_to_sump = "594 mm"', False),
        ('"800 L"', '"800 L"\n[heights]\ntank_to_sump = "1219 mm"', True),
        ('"800 L"', '"800 L"\n[heights]\ntank_to_sump = "1.22 m"', False),
        ('"800 L"', '"800 L"\n[distances]\nbetween_beds = "500 m"\nbed_to_sump = ["0.1 m", "0.2 m"]', False),
        ('"800 L"', '"800 L"\n[distances]\nbetween_beds = "499 m"\nbed_to_sump = ["0.1 m", "0.2 m"]', True),
        ('"1000 L"', '"1000 L"\nat = ["100 m", "-100 m"]', True),
        ('"1000 L"', '"1000 L"\nat = ["100 m", "-101 m"]', False),
        ('"600 mm"', '"600 mm"\nat = ["0 m", "0 m"]\nstep = ["1108 mm", "0 m"]', True),
        ('"600 mm"', '"600 mm"\nat = ["0 m", "0 m"]\nstep = ["1107 mm", "0 m"]', False),
    ],
)
def test_both_sides_of_every_limit(tmp_path: Path, given_text: str, changed: str, right: bool) -> None:
    """At the limit a file loads, a step beyond it does not.

    By hand: the sump's water reaches -500 + 600 - 80 = 20 mm; the flood is 250 mm; the split is 600 mm from the
    sump, and of two pieces behind it the last needs 60 mm; the tank is 900 mm deep with 80 mm freeboard;
    1000 L / 900 mm = 1.1111... m2; fittings need 60 mm at each wall; the bed's floor is 6 mm thick; the tank's
    water is at 400 + 820 mm at most; a bed of 1.2 m2 is 1095.4 mm long, 1107.4 mm with its walls.
    """
    path = tmp_path / "x.toml"
    path.write_text(SMALL.replace(given_text, changed, 1))
    if right:
        load_problem(path)
    else:
        assert len(_told(path)) == 1


VALUES = st.one_of(
    st.text(max_size=12).filter(str.isprintable).map(lambda text: text),
    st.sampled_from(["1 m", "-3 mm", "65", "nan m", "1e308 m", "2/hour", "wall", "40 %", "7 gal"]),
).map(lambda text: '"' + text.replace("\\", "").replace('"', "") + '"') | st.one_of(
    st.integers().map(str),
    st.floats().map(lambda value: repr(value)),
    st.sampled_from(["true", "[]", "{}", "[[1]]", '["1 m", "0 m"]', '["-2.5 m", "100 m"]', '["0 m", "2 m"]']),
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(
            [
                "depth",
                "floor",
                "ground",
                "shape",
                "area",
                "water_min",
                "freeboard",
                "draw",
                "at",
                "facing",
                "side",
            ]
        ),
        VALUES,
    ),
    st.dictionaries(
        st.sampled_from(["flood", "void", "floods", "depth", "floor", "volume", "at", "step", "facing"]),
        VALUES,
    ),
    st.dictionaries(st.sampled_from(["turnover", "overload", "budget", "water", "years"]), VALUES),
)
def test_any_values_load_or_are_told(
    tmp_path: Path, tank: dict[str, str], beds: dict[str, str], wishes: dict[str, str]
) -> None:
    """Whatever stands behind a key, the answer is a site or an `InputError`, never another exception."""
    text = "".join(f"{key} = {value}\n" for key, value in tank.items())
    more = "".join(f"{key} = {value}\n" for key, value in beds.items())
    rest = "".join(f"{key} = {value}\n" for key, value in wishes.items())
    path = tmp_path / "x.toml"
    path.write_text(
        f'[tank]\nvolume = "1000 L"\n{text}[beds]\ncount = 2\narea = "1 m2"\n{more}'
        f'[sump]\nvolume = "800 L"\nat = ["3 m", "0 m"]\n[wishes]\n{rest}',
        encoding="utf-8",
    )
    try:
        site = load_problem(path).outline
    except InputError:
        return
    assert all(flow.design_m3_s > 0 for flow in site.flows.values())
