"""A stranger with the printed JSON and the price list walks every run from end to end.

The table of what goes into what is written here, the sizes are read from `systems.csv` by the reader below,
and nothing of the package is asked but the answer as JSON.
"""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise, takewhile
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.report.contract import outcome_json

ROOT = Path(__file__).parents[1]
PROBLEMS = ROOT / "problems"

GOES_INTO = {
    ("spigot", "socket"): {"solvent-welded", "tape-and-screw"},
    ("spigot", "compression"): {"compression"},
    ("plain", "compression"): {"compression"},
    ("spigot", "sleeve"): {"flexible rubber coupling"},
    ("plain", "sleeve"): {"flexible rubber coupling"},
    ("spigot", "seal"): {"push-in seal"},
    ("plain", "seal"): {"push-in seal"},
    ("barb", "bore"): {"barbed", "barbed with clamp"},
    ("male", "female"): {"threaded with tape", "threaded with washer"},
}
"""(inner form, outer form) to the kinds of joint that they can make."""

THREADS = {
    ("G", "G"): "threaded with washer",
    ("G", "Rp"): "threaded with washer",
    ("R", "G"): "threaded with tape",
    ("R", "Rp"): "threaded with tape",
    ("R", "Rc"): "threaded with tape",
    ("NPT", "NPT"): "threaded with tape",
}
"""(male, female) to how they seal: ISO 228-1 parallel threads on a washer, ISO 7-1 tapers on the thread."""

BORE_NAMED = ("barb", "bore")

OFF_MM = 2.0
"""Heights and level distances add up to so much [mm]."""

KEPT_MM = 10.0
"""So much of each stick that more than one piece is cut from is left, beside saw cuts."""

NO_LEG = (
    "riser",
    "across the floor",
    "between two 45s",
    "vent",
    "vent on the open tee",
    "standpipe",
    "spare connection",
)
"""Places of pieces that are of no leg."""

WALKED = ("adaptor", "stop inside the wall", "turn", "valve", "check valve", "wall part", "flare")
"""Roles of what is a piece of its own on the way of the water."""


Problem = dict[str, Any]
Row = Mapping[str, str]


class Folder:
    """A price list's folder, read row by row without the package."""

    def __init__(self, folder: Path) -> None:
        self.rows: dict[str, Row] = {}
        for file in sorted(folder.glob("*.csv")):
            with file.open(encoding="utf-8", newline="") as text:
                for row in csv.DictReader(text):
                    if row.get("id"):
                        self.rows[row["id"]] = row
        with (folder / "systems.csv").open(encoding="utf-8", newline="") as text:
            self.sizes = {(row["system"], row["size"]): row for row in csv.DictReader(text)}

    def ends(self, part: str) -> list[str]:
        """The openings of a part, in the order of its row."""
        names = ("end", "end_inside", "end_outside", "end_a", "end_b", "end_c", "outlet")
        return [self.rows[part][name] for name in names if self.rows[part].get(name)]

    def is_pipe(self, part: str) -> bool:
        """Whether the part is cut."""
        return "stick_m" in self.rows[part]

    def family(self, part: str) -> tuple[str, ...]:
        """What rows of one pipe share, whatever length they are sold in."""
        alike = ("end", "outside_mm", "wall_mm", "bore_mm", "rating_bar", "roughness_mm", "bend_radius_mm")
        return tuple(self.rows[part].get(name) or "" for name in alike)

    def kinds(self, left: str, right: str) -> set[str]:
        """How two ends can be joined; nothing where they do not mate."""
        one, other = (end.split(" ", 2) for end in (left, right))
        if (one[0], other[0]) not in GOES_INTO:
            one, other = other, one
        kinds = GOES_INTO.get((one[0], other[0]), set())
        if other[0] == "sleeve":
            return kinds if self.closes(other[2], (one[1], one[2])) else set()
        if one[2] != other[2]:
            return set()
        if one[0] == "male":
            return {THREADS[one[1], other[1]]} if (one[1], other[1]) in THREADS else set()
        return kinds if one[1] == other[1] else set()

    def closes(self, reach: str, size: tuple[str, str]) -> bool:
        """Whether a rubber coupling closes on the least and the most outside of a pipe [mm]."""
        least, most = map(float, reach.split("-"))
        row = self.sizes[size]
        thin, thick = (float(row[f"outside_{which}_mm"] or row["outside_mm"]) for which in ("min", "max"))
        return least <= thin and thick <= most


@cache
def folder(name: str) -> Folder:
    """A price list of the project by name."""
    return Folder(ROOT / "catalogs" / name)


class Walk:
    """One design walked along every run.

    Args:
        answer: the whole JSON.
        design: one of its designs.
        owned: pieces that the builder has, by part id.
    """

    def __init__(self, answer: Problem, design: Problem, owned: Mapping[str, int]) -> None:
        self.folder = folder(answer["catalog"])
        self.design, self.owned = design, owned
        self.metric = answer["units"] == "si"
        self.runs: dict[str, Problem] = {run["name"]: run for run in design["runs"]}
        self.tees: dict[str, tuple[float, float]] = {}

    def all(self) -> int:
        """Walk everything; returns how many joints were met."""
        met = sum(self.along(run) for run in self.runs.values())
        for run in self.runs.values():
            self.coupled(run)
            self.in_space(run)
            self.pieces_are_legs(run)
        self.meets_at_one_height()
        self.ports()
        self.drains_are_made_one_way()
        self.siphons()
        self.outside()
        self.bought()
        self.cut()
        return met

    def along(self, run: Problem) -> int:
        """Every end meets the next, and the list of joints says so, joint by joint, in kind too."""
        line, told = run["line"], iter(run["joints"])
        valve = next((i for i, item in enumerate(line) if item["role"] == "valve"), None)
        if run["later"] and not line:
            assert not run["joints"]
            return 0
        assert len(run["joints"]) == len(line) - 1 + len(run["sides"]) + self.seals(run), run["name"]
        assert (valve is not None) is bool(run["valves"])
        for item in line:
            self.is_itself(item)
        for place, (before, item) in enumerate(pairwise([None, *line])):
            held = self.closes_beyond(run) or (valve is not None and place <= valve)
            if before is not None:
                self.meets(next(told), before, item, held=held)
            if item["through"] is not None:
                self.passes(next(told), item)
            for side in run["sides"]:
                if side["at"] == place:
                    assert side["on"] == item["part"]
                    self.vent(next(told), side, item)
        assert next(told, None) is None
        return len(run["joints"])

    def coupled(self, run: Problem) -> None:
        """Pieces of one leg have one coupling between each two, and go far enough into it on either side.

        None is longer than what can be bought of that pipe.
        """
        where = [i for i, item in enumerate(run["line"]) if item["role"] == "pipe"]
        for i, j in pairwise(where):
            before, after = run["line"][i], run["line"][j]
            if before["place"] != after["place"] or not before["place"].startswith("leg"):
                continue
            between = run["line"][i + 1 : j]
            assert [item["role"] for item in between] == ["adaptor"]
            assert before["part"] == after["part"] == run["pipe"]
            size = self.folder.sizes[tuple(before["ends"][1].split()[1:])]  # type: ignore[index]
            for item in (before, after):
                assert item["length_mm"] >= 2 * float(size["socket_mm"] or 0)

    # --- in space ----------------------------------------------------------------------------------------

    def height(self, name: str, above_floor_mm: float) -> float:
        """A height above a vessel's floor as one above the datum [mm]."""
        (vessel,) = [one for one in self.design["vessels"] if one["name"] == name]
        return float(vessel["floor_mm"] + above_floor_mm)

    def in_space(self, run: Problem) -> None:
        """Legs lead from the height of the start to that of the finish, and as far as it is on the plan."""
        legs = run["legs"]
        self.ends_are_there(run)
        if not all("rise_mm" in leg for leg in legs):
            assert not any("rise_mm" in leg or "toward" in leg for leg in legs)
            assert run["level_mm"] is None
            return
        level = 0.0
        for leg in legs:
            rise, length = leg["rise_mm"], leg["length_mm"]
            assert leg["toward"] in ("level along", "level across", "over", "up", "down")
            if leg["toward"] in ("up", "down"):
                assert (rise >= 0) is (leg["toward"] == "up") or abs(rise) < OFF_MM
                # Upright, or between two 45s.
                assert min(abs(length - abs(rise)), abs(length - math.sqrt(2) * abs(rise))) <= OFF_MM
            assert length >= abs(rise) - OFF_MM
            level += math.sqrt(max(0.0, length**2 - rise**2))
        rises = sum(leg["rise_mm"] for leg in legs)
        assert abs(run["start_height_mm"] + rises - run["finish_height_mm"]) <= OFF_MM, run["name"]
        plan = sum(run["level_mm"]) + run["start_inside_mm"] + run["finish_inside_mm"]
        assert abs(level - plan) <= OFF_MM, run["name"]
        assert len(run["corners"]) == len(run["level_mm"]) - 1
        self.on_plan(run)
        if not run["later"]:
            # A riser's open tee stands inside its vessel; a vent's stands behind the wall and on no riser.
            inside = takewhile(lambda item: not item["through"] and item["role"] != "wall part", run["line"])
            in_vessel = run["from"] in {vessel["name"] for vessel in self.design["vessels"]}
            lifts = in_vessel and any(item["role"] == "open tee" for item in inside)
            assert sum(turn["count"] for turn in run["turns"]) == len(legs) - 1 + lifts
            self.falls(run)

    def on_plan(self, run: Problem) -> None:
        """Where places are told, a run goes from the one wall to the other by its level distances."""
        spots = [(spot["x_mm"], spot["y_mm"]) for spot in run["on_plan"]]
        if not spots:
            return
        assert [math.dist(a, b) for a, b in pairwise(spots)] == pytest.approx(run["level_mm"], abs=OFF_MM)
        for name, spot in ((run["from"], spots[0]), (run["to"], spots[-1])):
            (own,) = [one for one in self.design["vessels"] if one["name"] == name] or [None]
            if own is None:
                # A tee: every run that it joins has the same spot for it.
                assert spot == pytest.approx(self.tees.setdefault(name, spot), abs=OFF_MM)
                continue
            turn, half = math.radians(own["facing_deg"]), own["outside_length_mm"] / 2
            x, y = spot[0] - own["x_mm"], spot[1] - own["y_mm"]
            if own["shape"] == "round":
                assert math.hypot(x, y) == pytest.approx(half, abs=OFF_MM)
                continue
            along = abs(x * math.cos(turn) + y * math.sin(turn)) - half
            across = abs(y * math.cos(turn) - x * math.sin(turn)) - own["outside_width_mm"] / 2
            # On one of its walls, and past none.
            assert max(along, across) == pytest.approx(0.0, abs=OFF_MM)

    def ends_are_there(self, run: Problem) -> None:
        """A run begins and ends at its hole, under its floor, at its mouth; as far inside as these are."""
        vessels = {vessel["name"]: vessel for vessel in self.design["vessels"]}
        start, finish = run["ends"]
        if start["in_floor"]:
            own = vessels[start["vessel"]]
            assert abs(run["start_height_mm"] - own["floor_mm"] + own["base_mm"]) <= OFF_MM
            assert own["wall_mm"] < run["start_inside_mm"] < own["wall_mm"] + own["width_mm"]
        for side, end in (("start", start), ("finish", finish)):
            hole, mouth = end["centre_above_floor_mm"], end["mouth_above_floor_mm"]
            if mouth is not None:
                own = vessels[end["vessel"]]
                assert abs(run[f"{side}_height_mm"] - self.height(end["vessel"], mouth)) <= OFF_MM
                assert own["wall_mm"] < run[f"{side}_inside_mm"] < own["wall_mm"] + own["width_mm"]
                self.hangs(run, end["vessel"], mouth)
            elif hole is not None and end["hole_mm"] and not end["in_floor"]:
                assert abs(run[f"{side}_height_mm"] - self.height(end["vessel"], hole)) <= OFF_MM
                assert run[f"{side}_inside_mm"] == 0

    def hangs(self, run: Problem, vessel: str, mouth_mm: float) -> None:
        """A drain's mouth hangs free of the water however high it stands, or in it and clear of the floor."""
        (level,) = [one for one in self.design["levels"] if one["vessel"] == vessel]
        at = self.height(vessel, mouth_mm)
        if run["kind"] == "gravity":
            free = at > max(level["water_mm"], level["overload_mm"])
            assert free or (at < level["water_mm"] and mouth_mm > OFF_MM), run["name"]
            assert free or "under the running water" in str(self.design["told"]["holes"])

    def falls(self, run: Problem) -> None:
        """A drain falls all the way, or it is said where it does not."""
        if run["kind"] != "gravity":
            return
        for leg in run["legs"]:
            if leg["rise_mm"] > OFF_MM:
                word = "up" if leg["toward"] == "up" else "rising"
                # Halfway between two millimetres either may be said.
                near = {math.floor(leg["rise_mm"] + half) for half in (0.49, 0.51)}
                said = [f" {word} {mm} mm" if self.metric else f" {word} " for mm in near]
                assert any(words in run["told"] for words in said), run["name"]
            elif leg["rise_mm"] > -0.1 and leg["length_mm"] > 1.0 and leg["toward"].startswith("level"):
                assert "level legs laid level (0 " in run["told"], run["name"]

    def meets_at_one_height(self) -> None:
        """Runs that meet at a junction begin and end there at one height."""
        at: dict[str, list[float]] = {}
        for run in self.runs.values():
            for side, place in (("start", run["from"]), ("finish", run["to"])):
                if run[f"{side}_height_mm"] is not None and run["level_mm"] is not None:
                    at.setdefault(place, []).append(run[f"{side}_height_mm"])
        for junction in self.design["junctions"]:
            heights = at.get(junction["junction"], [0.0])
            assert max(heights) - min(heights) <= OFF_MM

    def pieces_are_legs(self, run: Problem) -> None:
        """Every piece is of a leg that is told, no longer than that leg, or one of those that are none."""
        legs = run["legs"]
        for item in (*run["line"], *run["sides"]):
            if item["length_mm"] is None or item["role"] in ("stub", "standpipe"):
                continue
            place = item["place"]
            if place in NO_LEG or place.startswith("through the wall of "):
                continue
            found = re.fullmatch(
                r"legs? (\d+)(?: to (\d+))?(?:, ([a-z ]+?))?(?:, before the [a-z ]+)?", place
            )
            assert found is not None, place
            first, last = int(found[1]), int(found[2] or found[1])
            assert 1 <= first <= last <= len(legs)
            if found[3] is not None and not found[3].startswith("before the"):
                assert legs[first - 1].get("toward", found[3]) == found[3]
            if all("rise_mm" in leg for leg in legs):
                assert item["length_mm"] <= sum(leg["length_mm"] for leg in legs[first - 1 : last]) + OFF_MM
        known = {(run["name"], item["place"]) for item in (*run["line"], *run["sides"])}
        for cut in self.design["cuts"]:
            for piece in cut["pieces"]:
                assert piece["run"] != run["name"] or (piece["run"], piece["place"]) in known

    def longest(self, part: str) -> float:
        """The longest piece to be had of a row [mm]: a stick, what is said of metres, 6 m of rigid pipe."""
        row = self.folder.rows[part]
        told = row["stick_m"] or row.get("longest_piece_m")
        if told:
            return 1000 * float(told)
        return math.inf if row["bend_radius_mm"] else 6000.0

    def seals(self, run: Problem) -> int:
        """Pieces of a line that pass a seal."""
        return sum(item["through"] is not None for item in run["line"])

    def is_itself(self, item: Problem) -> None:
        """What stands on a line has the ends that its row has, and a length if it is a piece of pipe."""
        ends = self.folder.ends(item["part"])
        for end in item["ends"]:
            assert end in ends, item
        if item["role"] in WALKED:
            assert sorted(item["ends"]) == sorted(ends), item
        if item["role"] in ("pipe", "stub") and item["length_mm"] is not None:
            assert item["length_mm"] > 0
            assert self.folder.is_pipe(item["part"])

    def meets(self, joint: Problem, before: Problem, item: Problem, *, held: bool) -> None:
        """One joint along the line."""
        left, right = before["ends"][1], item["ends"][0]
        assert (joint["left"], joint["right"]) == (before["part"], item["part"])
        assert (joint["left_end"], joint["right_end"]) == (left, right)
        assert joint["kind"] in self.folder.kinds(left, right), joint
        if joint["kind"] == "compression":
            # A fitting's spigot is made for a socket: too short for ring and grip.
            spigot = before if left.startswith(("spigot", "plain")) else item
            assert self.folder.is_pipe(spigot["part"]), joint
        if {left.split()[0], right.split()[0]} == set(BORE_NAMED):
            hose = not left.split()[1].startswith("poly")
            assert (joint["kind"] == "barbed with clamp") is (hose and held), joint

    def closes_beyond(self, run: Problem) -> bool:
        """Whether a valve further on than this run can shut off what stands in it."""
        if run["kind"] != "pressure":
            return False
        ahead = [other for other in self.runs.values() if other["from"] == run["to"]]
        return any(other["kind"] == "pressure" and self.closable(other) for other in ahead)

    def closable(self, run: Problem) -> bool:
        """Whether a valve is in a run or beyond it."""
        return bool(run["valves"]) or self.closes_beyond(run)

    def passes(self, joint: Problem, item: Problem) -> None:
        """A piece of pipe in the ring of a seal."""
        ring = self.folder.ends(item["through"])[0]
        assert self.folder.kinds(item["ends"][0], ring) == {"push-in seal"}
        assert (joint["kind"], joint["left"], joint["right"]) == (
            "push-in seal",
            item["part"],
            item["through"],
        )

    def vent(self, joint: Problem, side: Problem, item: Problem) -> None:
        """The open piece on the third end of a tee: the end that the line does not use."""
        left = Counter(self.folder.ends(item["part"])) - Counter(item["ends"])
        (third,) = left.elements()
        assert joint["kind"] in self.folder.kinds(third, side["ends"][0])
        assert (joint["left"], joint["right"]) == (item["part"], side["part"])

    def ports(self) -> None:
        """Each run at a tee begins or ends on the opening that it was given."""
        for junction in self.design["junctions"]:
            if junction["tee"] is None:
                continue
            ends = self.folder.ends(junction["tee"])
            for end, name in zip(ends, junction["ports"], strict=True):
                run = self.runs[name]
                leaves = run["from"] == junction["junction"]
                item = run["line"][0 if leaves else -1]
                assert (item["part"], item["role"]) == (junction["tee"], "tee")
                assert item["ends"][leaves] == end

    def drains_are_made_one_way(self) -> None:
        """All sockets of drains are welded or all screwed; under pressure and suction all are welded."""
        made: dict[str, set[str]] = {"gravity": set(), "pressure": set()}
        sucked = {run["name"] for run, start in self.standing() if start["siphon"] is not None}
        sucked |= {run["name"] for run, _, _ in self.over_a_crest()}
        vessels = {vessel["name"] for vessel in self.design["vessels"]}
        junctions = {run["to"] for run in self.runs.values()} - vessels
        # How far along a collector a siphon sucks hangs on where air comes in, which is left open here.
        beyond = {self.runs[name]["to"] for name in sucked} & junctions
        for _ in junctions:
            beyond |= {run["to"] for run in self.runs.values() if run["from"] in beyond} & junctions
        for run in self.runs.values():
            own = {joint["kind"] for joint in run["joints"]}
            assert run["name"] not in sucked or "tape-and-screw" not in own
            if run["name"] not in sucked and run["from"] not in beyond:
                made[run["kind"]] |= own
        assert not {"solvent-welded", "tape-and-screw"} <= made["gravity"]
        assert not made["pressure"] & {"tape-and-screw", "flexible rubber coupling"}

    def standing(self) -> Iterator[tuple[Problem, Problem]]:
        """Every drain out of a floor, with its start."""
        for run in self.runs.values():
            if run["ends"][0]["in_floor"] and not run["later"]:
                yield run, run["ends"][0]

    def siphons(self) -> None:
        """Each standpipe is as high as its lip and of the pipe that is told; bell and guard go over it."""
        for run, start in self.standing():
            line, siphon = run["line"], start["siphon"]
            flare = None if siphon is None else siphon["flare"]
            stands = line[0 if flare is None else 1]
            assert stands["role"] == ("pipe" if start["standpipe"] is None else "standpipe")
            assert stands["part"] == (start["standpipe"] or run["pipe"])
            assert abs(stands["length_mm"] - start["standpipe_top_above_floor_mm"]) <= 0.1
            if flare is not None:
                self.flares(line[0], flare, stands)
            if siphon is not None:
                self.goes_over(siphon, stands, flare)
            self.stands_on_the_floor(start)
            if start["drain_hole"] is not None:
                assert siphon is None
                self.is_drilled(start["drain_hole"], stands)

    def over_a_crest(self) -> Iterator[tuple[Problem, Problem, Problem]]:
        """Every siphon pipe outside a bed, with its start and what makes a siphon of it."""
        for run in self.runs.values():
            start = run["ends"][0]
            if start["outside_siphon"] is not None and not run["later"]:
                yield run, start, start["outside_siphon"]

    def outside(self) -> None:
        """Each such pipe goes out, up to its crest, over and down, and so do its air tube and its water.

        Its hole is under the mouth of its air tube by 5 mm, its crest under the rim by 20 mm, its end
        under its hole; a tube of 6 to 8 mm reaches from its mouth up over the rim and down to the crest.
        """
        rows = self.folder.rows
        for run, start, made in self.over_a_crest():
            (bed,) = (one for one in self.design["vessels"] if one["name"] == start["vessel"])
            pipe, legs, depth = rows[run["pipe"]], run["legs"], bed["rim_mm"] - bed["floor_mm"]
            outside, bore = float(pipe["outside_mm"]), float(pipe["bore_mm"])
            lip, hole, mouth = (
                made["lip_above_floor_mm"],
                start["centre_above_floor_mm"],
                made["air_above_floor_mm"],
            )
            assert not start["in_floor"]
            assert start["standpipe_top_above_floor_mm"] is None
            assert [leg["toward"] for leg in legs[:4]] == ["level along", "up", "over", "down"]
            assert all(leg["rise_mm"] <= OFF_MM for leg in (legs[0], *legs[2:]))
            assert legs[1]["rise_mm"] == pytest.approx(lip + bore / 2 - hole, abs=OFF_MM)
            assert run["finish_height_mm"] < self.height(bed["name"], hole)
            assert mouth >= hole + outside / 2 + 5
            assert lip + bore + 20 <= depth
            tube = rows[made["air_tube"]]
            assert tube["kind"] == "snorkel"
            assert 6 <= float(tube["inside_mm"]) <= 8
            assert float(tube["tallest_mm"]) >= 2 * depth - mouth - lip - bore + bed["wall_mm"]

    def is_drilled(self, hole: Problem, stands: Problem) -> None:
        """A hole of 6 mm or more, half the bore at most, under the lip; a guard that goes round and over."""
        row, guard = self.folder.rows[stands["part"]], self.folder.rows[hole["guard"]]
        assert 6 <= hole["hole_mm"] <= float(row["bore_mm"]) / 2
        assert hole["hole_mm"] / 2 <= hole["centre_above_floor_mm"]
        assert hole["centre_above_floor_mm"] + hole["hole_mm"] / 2 < stands["length_mm"]
        assert guard["kind"] == "media guard"
        assert float(guard["inside_mm"]) >= float(row["outside_mm"]) + 20
        assert float(guard["tallest_mm"]) >= stands["length_mm"] + 25

    def flares(self, item: Problem, flare: str, stands: Problem) -> None:
        """A flare takes the standpipe in a socket and opens in one half as wide again as its bore."""
        assert (item["part"], item["role"]) == (flare, "flare")
        wide, narrow = item["ends"]
        assert self.folder.kinds(narrow, stands["ends"][0]) == GOES_INTO["spigot", "socket"]
        assert wide.startswith("socket ")
        bore = float(self.folder.rows[stands["part"]]["bore_mm"])
        assert self.opening(wide) >= 1.5 * bore

    def opening(self, end: str) -> float:
        """Bore of the widest pipe of an end's size [mm]."""
        size = end.split(" ", 1)[1]
        rows = [row for row in self.folder.rows.values() if row.get("stick_m") is not None]
        return max(float(row["bore_mm"]) for row in rows if row["end"].split(" ", 1)[1] == size)

    def goes_over(self, siphon: Problem, stands: Problem, flare: str | None) -> None:
        """Ring of twice the bore's area, 25 mm over the lip, 10 mm between bell and guard."""
        rows = self.folder.rows
        outside = float(rows[stands["part"]]["outside_mm"])
        if flare is not None:
            sizes = [
                self.folder.sizes[system, size] for _, system, size in map(str.split, self.folder.ends(flare))
            ]
            outside = 1.15 * max(float(size["outside_mm"]) for size in sizes)
        bore, lip = float(rows[stands["part"]]["bore_mm"]), stands["length_mm"]
        bell, guard, tube = (rows[siphon[kind]] for kind in ("bell", "guard", "snorkel"))
        assert [row["kind"] for row in (bell, guard, tube)] == ["bell", "media guard", "snorkel"]
        assert float(bell["inside_mm"]) ** 2 - outside**2 >= 2 * bore**2
        assert float(guard["inside_mm"]) >= float(bell["outside_mm"]) + 20
        for row in (bell, guard):
            assert float(row["tallest_mm"]) >= lip + 25
        assert float(bell["tallest_mm"]) >= lip + bore
        assert 6 <= float(tube["inside_mm"]) <= 8

    def stands_on_the_floor(self, start: Problem) -> None:
        """Bell and guard go over the wall part's flange and 4 mm; the guard reaches to the bed's rim."""
        (bed,) = (vessel for vessel in self.design["vessels"] if vessel["name"] == start["vessel"])
        held = start["siphon"] or start["drain_hole"] or {}
        flange = float(self.folder.rows[start["penetration"]]["flange_mm"])
        for part in filter(None, (held.get("bell"), held.get("guard"))):
            assert float(self.folder.rows[part]["inside_mm"]) >= flange + 4
        if held.get("guard"):
            assert float(self.folder.rows[held["guard"]]["tallest_mm"]) >= bed["rim_mm"] - bed["floor_mm"]

    def pieces(self) -> Iterator[Problem]:
        """Everything on the lines and beside them."""
        for run in self.runs.values():
            yield from run["line"]
            yield from run["sides"]

    def lies_ready(self) -> list[str]:
        """What is made up for a spare pump with another outlet, and on no line yet."""
        return [part for spare in self.design["spares"].values() for part in spare["chain"]]

    def bought(self) -> None:
        """Each part on a line is on the purchase list in that number, or owned."""
        needed = Counter(
            item["part"]
            for item in self.pieces()
            if item["role"] not in ("tee", "pump") and not self.folder.is_pipe(item["part"])
        )
        needed.update(item["through"] for item in self.pieces() if item["through"] is not None)
        needed.update(j["tee"] for j in self.design["junctions"] if j["tee"] is not None)
        needed.update(pump["part"] for pump in self.design["pumps"])
        for _, start in self.standing():
            siphon = start["siphon"] or {}
            needed.update(siphon[kind] for kind in ("bell", "guard", "snorkel") if siphon.get(kind))
            needed.update([start["drain_hole"]["guard"]] if start["drain_hole"] else [])
        needed.update(made["air_tube"] for _, _, made in self.over_a_crest())
        needed.update(part for part in self.lies_ready() if not self.folder.is_pipe(part))
        had: Counter[str] = Counter(dict(self.owned))
        for line in self.design["purchase"]:
            # What is told without a pack of it is at hand, and must be owned to count.
            had[line["part"]] += round(line["quantity"]) if line["unit"] == "piece" and line["packs"] else 0
        assert not needed - had

    def cut(self) -> None:
        """The pieces on the lines are the pieces that are cut; of pipe cut to measure the metres suffice."""
        needed: dict[tuple[str, ...], Counter[float]] = {}
        for item in self.pieces():
            if self.folder.is_pipe(item["part"]) and item["length_mm"] is not None:
                family = self.folder.family(item["part"])
                needed.setdefault(family, Counter())[round(item["length_mm"], 1)] += 1
        cuts: dict[tuple[str, ...], Counter[float]] = {}
        for cut in self.design["cuts"]:
            found = cuts.setdefault(self.folder.family(cut["pipe"]), Counter())
            found.update(round(piece, 1) for piece in cut["pieces_mm"])
        lines = [line for line in self.design["purchase"] if self.folder.is_pipe(line["part"])]
        self.metres(lines)
        for family, pieces in needed.items():
            ready = [part for part in self.lies_ready() if self.folder.is_pipe(part)]
            stubs = sum(self.folder.family(part) == family for part in ready)
            if family in cuts:
                assert not pieces - cuts[family]
                assert (cuts[family] - pieces).total() == stubs
                continue
            bought = [l_["part"] for l_ in lines if self.folder.family(l_["part"]) == family]
            assert max(pieces) <= max(map(self.longest, bought)) + 0.05
            metres = sum(l_["packs"] for l_ in lines if self.folder.family(l_["part"]) == family)
            assert sum(length * count for length, count in pieces.items()) <= metres * 1000 + 0.05

    def metres(self, lines: Sequence[Problem]) -> None:
        """Pieces fit the length they are cut of; a shop cuts none too long, and no more than is ordered."""
        taken: Counter[str] = Counter()
        for cut in self.design["cuts"]:
            assert sum(cut["pieces_mm"]) <= cut["stick_mm"] + 0.05
            if len(cut["pieces_mm"]) > 1 and (
                cut["owned"] or float(self.folder.rows[cut["pipe"]]["stick_m"] or 0)
            ):
                left = cut["stick_mm"] - sum(cut["pieces_mm"])
                assert left - self.design["saw_cut_mm"] * (len(cut["pieces_mm"]) - 1) >= KEPT_MM
            if not cut["owned"]:
                assert cut["stick_mm"] <= self.longest(cut["pipe"]) + 0.05
                taken[cut["pipe"]] += cut["stick_mm"]
        for part, length in taken.items():
            packs = sum(line["packs"] for line in lines if line["part"] == part)
            assert length <= packs * 1000 * float(self.folder.rows[part]["stick_m"] or 1) + 0.05


def walked(problem: Path, **options: Any) -> tuple[int, Problem]:
    """Design, write as JSON, walk every design; the number of joints met, and the JSON."""
    site = autoplan.load_problem(problem)
    site = replace(site, owned={**site.owned, **options.pop("owned", {})})
    outcome = autoplan.design(site, autoplan.load_catalog(site.catalog), **options)
    answer: Problem = dict(outcome_json(outcome))
    designs = answer["designs"]
    return sum(Walk(answer, design, site.owned).all() for design in designs), answer
