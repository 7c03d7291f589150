"""The JSON contract: its keys as agreed, its units, its strictness, and how it reaches a file."""

from __future__ import annotations

import json
import math
import os
import stat
from dataclasses import replace

import pytest

from autoplan.catalog.parts import End
from autoplan.drawing import CutStick, Purchase
from autoplan.errors import InternalError
from autoplan.fittings.base import Side
from autoplan.outcome import Clash, Fault, FishWater, LevelTrace, Outcome, PumpCurves, Status, TraceOf
from autoplan.report.contract import json_text, outcome_json, write_json
from autoplan.report.files import why_unwritable
from autoplan.report.sections.cautions import CAUTIONS

AGREED = {
    "": "format version status problem catalog solver assumptions designs",
    "solver": "bound wall_s seed workers versions",
    "designs[]": "rank proven cost pump runs levels purchase cuts rules faults",
    "designs[].cost": "purchase freight running_per_year ownership currency",
    "designs[].pump": "part mode duty_flow_l_h duty_head_m required_head_m watts",
    "designs[].runs[]": "name from to kind pipe bore_mm length_m flow_l_h velocity_m_s loss_mm turns ends "
    "valves joints",
    "designs[].runs[].turns[]": "kind style part count",
    "designs[].runs[].ends[]": "vessel penetration hole_mm centre_above_floor_mm",
    "designs[].levels[]": "vessel water_mm rim_mm overload_mm",
    "designs[].purchase[]": "part description quantity packs unit_price shop line_cost",
    "designs[].cuts[]": "pipe stick pieces_mm offcut_mm",
    "designs[].rules[]": "id sentence value limit unit margin ok",
    "designs[].faults[]": "name spilled_l margin_mm minutes",
}
"""The contract's keys by place; "[]" stands for every item of a list."""

ADDED = {
    "": "problem_file units rank_by differ clash notes wishes cautions answer ownership_years shops",
    "solver": "rejected solves interrupted",
    "designs[]": "bound objective differs traits pumps spares junctions filling siphons timers weeps running"
    " commissioning air hand_pumps growth margin kept_margin_mm kind gets vessels holes rims parts saw_cut_mm"
    " from_roll traces told orders build_order upkeep",
    "designs[].cost": "to_pay",
    "designs[].orders[]": "shop name goods charge charge_for total told",
    "designs[].build_order[]": "title steps",
    "designs[].told": "rank warnings not-judged levels junctions holes siphons timers weeps air cut joints "
    "spare-pump fill first-run growth hours cautions",
    "designs[].upkeep[]": "what often where",
    "designs[].gets[]": "what unit first this better text",
    "designs[].running[]": "phase sumps beds",
    "designs[].running[].sumps[]": "vessel lowest_mm highest_mm cover_mm reserve_l",
    "designs[].running[].beds[]": "bed floods_per_hour filling_s emptying_s",
    "designs[].pump": "vessel speed curve full_speed_curve system meets",
    "designs[].runs[]": "class overload_loss_mm pieces_mm line sides screen flush later cap check_valve told"
    " legs start_height_mm finish_height_mm level_mm corners start_inside_mm finish_inside_mm on_plan",
    "designs[].runs[].line[]": "part role ends length_mm place through ring",
    "designs[].runs[].joints[]": "kind left right left_end right_end",
    "designs[].runs[].turns[]": "parts",
    "designs[].runs[].ends[]": "way in_floor standpipe_top_above_floor_mm standpipe siphon drain_hole "
    "outside_siphon chain well well_mm down down_mm siphon_back mouth_above_floor_mm air_hole_above_floor_mm "
    "air_hole_mm",
    "designs[].levels[]": "floor_mm rest_mm",
    "designs[].purchase[]": "unit sold_as",
    "designs[].cuts[]": "stick_mm owned pieces",
    "designs[].cuts[].pieces[]": "pipe length_mm run place",
    "designs[].vessels[]": "name kind shape width_mm area_m2 volume_l depth_mm floor_mm rim_mm wall_mm "
    "base_mm cone_mm part spare bed x_mm y_mm facing_deg outside_length_mm outside_width_mm",
    "designs[].holes[]": "vessel run place hole_mm off_mm centre_above_floor_mm part saw saw_from stand"
    " around apart_mm inside_mm higher_mm higher_breaks lower_mm lower_breaks exact",
    "designs[].rims[]": "vessel run bracket bracket_from around apart_mm",
    "designs[].rules[]": "place hard source",
    "designs[].faults[]": "saved_by lowest_cover_mm where dry_minutes fish cure",
    "designs[].commissioning": "bucket_l outlets levels",
    "designs[].commissioning.outlets[]": "run vessel design_flow_l_h flow_l_h bucket_s open_flow_l_h "
    "open_bucket_s valve_run valve_loss_mm low_flow_l_h measure",
    "designs[].commissioning.outlets[].measure": "by area_m2 volume_l seconds open_seconds",
    "designs[].runs[].legs[]": "length_mm",
    "designs[].commissioning.levels[]": "vessel water_mm low_mm",
}


def _found(data: object, place: str) -> list[dict[str, object]]:
    """Every object at a place of the tree."""
    found = [data]
    for step in filter(None, place.split(".")):
        key, each = step.removesuffix("[]"), step.endswith("[]")
        found = [item[key] for item in found]
        if each:
            found = [inner for item in found for inner in item]
    return found


@pytest.mark.parametrize("place", {**AGREED, **ADDED})
def test_keys_are_the_agreed_ones(outcome: Outcome, place: str) -> None:
    """Each object has the contract's keys, and besides them only additions known by name."""
    objects = _found(json.loads(json_text(outcome)), place)
    assert objects
    for found in objects:
        assert set(found) == set(f"{AGREED.get(place, '')} {ADDED.get(place, '')}".split())


def test_numbers_carry_the_units_in_their_names(outcome: Outcome) -> None:
    """Metres become millimetres and m3/s litres per hour: 0.0005 m3/s x 3600 s/h x 1000 L/m3 = 1800 L/h."""
    data = json.loads(json_text(outcome))
    first = data["designs"][0]
    drain = first["runs"][0]
    assert (data["format"], data["version"], data["status"]) == ("autoplan-outcome", 1, "proven")
    assert drain["flow_l_h"] == pytest.approx(1800)
    assert drain["loss_mm"] == pytest.approx(12.3)
    assert drain["bore_mm"] == pytest.approx(46.4)
    # Hole at 1.2345 m above the datum in a tank whose floor is at 0.5 m.
    assert drain["ends"][0]["centre_above_floor_mm"] == pytest.approx(734.5)
    assert drain["ends"][0]["hole_mm"] == pytest.approx(63.5)
    assert drain["turns"] == [
        {"kind": "90", "style": "swept", "part": "sweep-50", "count": 2, "parts": ["sweep-50"]}
    ]
    assert first["levels"][0] == {
        "vessel": "fish tank",
        "floor_mm": 500.0,
        "water_mm": 1271.2,
        "rim_mm": 1400.0,
        "overload_mm": 1310.5,
        "rest_mm": None,
    }
    assert first["faults"][1]["margin_mm"] == pytest.approx(-4.0)
    assert first["running"][0]["sumps"][0]["reserve_l"] == pytest.approx(150.0)


def test_what_drawings_need_is_there(outcome: Outcome) -> None:
    """Vessels with their sizes, holes with their heights, parts with words, pieces with what they are for.

    A round tank of 1.2 m2 is 2 sqrt(1.2 / pi) = 1.236 m wide; the sump of 1 m2 as a square 1 m.
    """
    data = json.loads(json_text(outcome))
    first = data["designs"][0]
    tank, sump = first["vessels"]
    assert (data["units"], tank["shape"], sump["shape"]) == ("si", "round", "flat")
    assert (tank["width_mm"], sump["width_mm"]) == (pytest.approx(1236.08, abs=0.01), 1000.0)
    assert (tank["volume_l"], tank["depth_mm"], tank["floor_mm"], tank["wall_mm"]) == (
        1080.0,
        900.0,
        500.0,
        6.0,
    )
    assert [hole["centre_above_floor_mm"] for hole in first["holes"]] == [734.5, 450.0]
    assert first["holes"][0]["saw"] == "saw-63"
    assert first["parts"]["drain-50"] == {
        "description": "drain pipe 50 mm, 3 m",
        "kind": "pipe",
        "size": "metric 50",
        "outside_mm": 50.0,
        "bore_mm": 46.4,
    }
    assert first["parts"]["saw-63"]["kind"] == "hole saw"
    drain, main = first["cuts"]
    assert [(piece["length_mm"], piece["run"], piece["place"]) for piece in drain["pieces"]] == [
        (1200.0, "tank drain", "leg 1"),
        (900.0, "tank drain", "leg 2"),
    ]
    assert [piece["place"] for piece in main["pieces"]] == ["leg 2", "leg 1", "between two 45s"]
    assert [(piece["pipe"], piece["length_mm"]) for piece in first["from_roll"]] == [("hose-25", 1900.0)]
    assert first["traces"] == []


def test_curves_and_traces_are_told(outcome: Outcome) -> None:
    """Curves in L/h and metres, traces in seconds and millimetres: 0.0005 m3/s is 1800 L/h."""
    first = outcome.designs[0]
    curve = ((0.0, 3.0), (0.0008, 0.5))
    curves = PumpCurves(curve, curve, ((0.0, 1.0), (0.0005, 1.9)), (0.0005, 1.9))
    trace = LevelTrace(TraceOf.POWER_CUT, "sump", ((0.0, 0.1), (60.0, 0.15)), 0.0, 60.0)
    verdict = replace(first.verdict, curves={"sump": curves}, traces=(trace,), resting={"sump": 0.15})
    (told,) = json.loads(json_text(replace(outcome, designs=(replace(first, verdict=verdict),))))["designs"]
    assert told["pump"]["curve"][1] == {"flow_l_h": 2880.0, "head_m": 0.5}
    assert told["pump"]["system"][0] == {"flow_l_h": 0.0, "head_m": 1.0}
    assert told["pump"]["meets"] == {"flow_l_h": 1800.0, "head_m": 1.9}
    assert told["traces"] == [
        {
            "what": "power cut",
            "vessel": "sump",
            "off_s": 0.0,
            "on_s": 60.0,
            "points": [{"s": 0.0, "mm": 100.0}, {"s": 60.0, "mm": 150.0}],
        }
    ]
    assert [level["rest_mm"] for level in told["levels"]] == [None, 150.0]


def test_what_is_left_for_the_fish(outcome: Outcome) -> None:
    """A fault's water for the fish stands beside its litres, in millimetres and litres; None where enough."""
    first = outcome.designs[0]
    left = FishWater("fish tank", 0.03, 0.0225, 0.36, None)
    dry = Fault("main bursts", 368.0, 0.06, 0.0, dry_minutes=22.0, fish=left)
    told = replace(first, verdict=replace(first.verdict, faults=(dry, *first.verdict.faults)))
    data = json.loads(json_text(replace(outcome, designs=(told, *outcome.designs[1:]))))
    answer = data["designs"][0]["faults"]
    assert answer[0]["fish"] == {
        "vessel": "fish tank",
        "depth_mm": 30.0,
        "volume_l": 22.5,
        "needed_mm": 360.0,
        "spilled_l": None,
    }
    assert answer[0]["dry_minutes"] == 22.0
    assert answer[1]["fish"] is None


def test_ends_without_a_hole_have_none(outcome: Outcome) -> None:
    """A pump, a junction and a rim have no hole; a bending pipe has no part at its turn."""
    runs = json.loads(json_text(outcome))["designs"][0]["runs"]
    assert [end["hole_mm"] for run in runs[1:] for end in run["ends"]] == [None] * 4
    assert runs[1]["ends"][1]["chain"] == ["tail-32-25"]
    assert runs[2]["turns"][0]["part"] is None
    assert runs[2]["valves"] == ["ball-32"]


def test_lines_tell_part_by_part_what_joins_what(outcome: Outcome) -> None:
    """A line is its parts in the order of the water; its joints name both ends; a vent stands beside it."""
    first = outcome.designs[0]
    line = first.verdict.lines["pump main"]
    vent = Side(1, End("socket", "metric", "32"), replace(line.items[0], length_m=0.15, place="vent"))
    lines = {**first.verdict.lines, "pump main": replace(line, sides=(vent,))}
    changed = replace(first, verdict=replace(first.verdict, lines=lines))
    drain, main, feed = outcome_json(replace(outcome, designs=(changed,)))["designs"][0]["runs"]
    assert [item["part"] for item in drain["line"]] == [
        "drain-50",
        "sweep-50",
        "drain-50",
        "sweep-50",
        "bulk-50",
    ]
    assert drain["line"][0] == {
        "part": "drain-50",
        "role": "pipe",
        "ends": ["spigot metric 50", "spigot metric 50"],
        "length_mm": 1200.0,
        "place": "leg 1",
        "through": "seal-50",
        "ring": None,
    }
    assert drain["line"][1]["length_mm"] is None
    assert drain["joints"][2] == {
        "kind": "solvent-welded",
        "left": "sweep-50",
        "right": "drain-50",
        "left_end": "socket metric 50",
        "right_end": "spigot metric 50",
    }
    assert [joint["kind"] for joint in feed["joints"]] == ["barbed with clamp"]
    assert [(side["on"], side["length_mm"], side["place"]) for side in main["sides"]] == [
        ("bend-32-45", 150.0, "vent")
    ]


def test_order_adds_up(outcome: Outcome) -> None:
    """The order's lines sum to the purchase cost, each being packs x unit price."""
    first = json.loads(json_text(outcome))["designs"][0]
    for line in first["purchase"]:
        assert line["line_cost"] == pytest.approx(line["packs"] * line["unit_price"])
    assert sum(line["line_cost"] for line in first["purchase"]) == pytest.approx(first["cost"]["purchase"])


def test_sundries_have_quantities_in_named_units(outcome: Outcome) -> None:
    """Cement is in millilitres, tape in metres, whatever the drawing counts in."""
    first = outcome.designs[0]
    lines = (Purchase("cement-250", "reed", 80e-6, 1), Purchase("tape-12", "reed", 3.5, 1))
    design = replace(first, drawing=replace(first.drawing, purchases=lines))
    made = outcome_json(replace(outcome, designs=(design,)))["designs"][0]["purchase"]
    assert [(line["quantity"], line["unit"], line["sold_as"]) for line in made] == [
        (80.0, "ml", "tin"),
        (3.5, "m", "roll"),
    ]


def test_sticks_are_numbered_within_their_pipe(outcome: Outcome) -> None:
    """The second stick of a pipe is number 2, whatever lies between."""
    first = outcome.designs[0]
    cuts = (*first.drawing.cuts, CutStick("drain-50", 3.0, (0.5,), 2.5))
    design = replace(first, drawing=replace(first.drawing, cuts=cuts))
    data = outcome_json(replace(outcome, designs=(design,)))
    assert [cut["stick"] for cut in data["designs"][0]["cuts"]] == [1, 1, 2]


def test_every_caution_is_carried(outcome: Outcome) -> None:
    """The cautions travel with the JSON too."""
    assert outcome_json(outcome)["cautions"] == list(CAUTIONS)


def test_only_the_wall_time_varies(outcome: Outcome) -> None:
    """Another search time, and the same versions in another order, change `solver.wall_s` alone."""
    versions = dict(reversed(list(outcome.solver.versions.items())))
    again = replace(outcome, solver=replace(outcome.solver, wall_s=99.0, versions=versions))
    one, two = (json.loads(json_text(each)) for each in (outcome, again))
    assert one["solver"].pop("wall_s") != two["solver"].pop("wall_s")
    assert json.dumps(one) == json.dumps(two)


def test_unknown_bounds_are_null(outcome: Outcome) -> None:
    """An infinite bound means that nothing is proven, which JSON writes as null."""
    design = replace(outcome.designs[0], bound=-math.inf)
    solver = replace(outcome.solver, bound=math.inf)
    data = outcome_json(replace(outcome, designs=(design,), solver=solver))
    assert data["designs"][0]["bound"] is None
    assert data["solver"]["bound"] is None


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_is_refused(outcome: Outcome, bad: float) -> None:
    """A cost or a margin that is not finite is our fault and never reaches a file."""
    first = outcome.designs[0]
    finding = replace(first.verdict.findings[0], margin=bad)
    design = replace(first, verdict=replace(first.verdict, findings=(finding,)))
    with pytest.raises(InternalError, match=r"margin is (nan|-?inf)"):
        json_text(replace(outcome, designs=(design,)))


def test_an_order_from_a_shop_that_does_not_sell_is_refused(outcome: Outcome) -> None:
    """A price is never made up: a line without an offer is our fault."""
    first = outcome.designs[0]
    line = replace(first.drawing.purchases[0], shop="brook")
    design = replace(first, drawing=replace(first.drawing, purchases=(line,)))
    with pytest.raises(InternalError, match="does not sell"):
        json_text(replace(outcome, designs=(design,)))


def test_no_design_still_says_why(outcome: Outcome) -> None:
    """A proven "none" carries its clash and no designs."""
    clash = Clash(("drain-fall", "overload"), ("Raise the fish tank by 35 mm.",))
    none = replace(outcome, status=Status.NONE, designs=(), clash=clash)
    data = outcome_json(none)
    assert (data["status"], data["designs"]) == ("none", [])
    assert data["clash"] == {"rules": list(clash.rules), "sentences": list(clash.sentences)}
    assert outcome_json(outcome)["clash"] is None


def test_names_beyond_ascii_survive(outcome: Outcome) -> None:
    """A name with an accent reads back as it was."""
    named = replace(outcome, site=replace(outcome.site, name="bassin d'été"))
    text = json_text(named)
    assert text.isascii()
    assert json.loads(text)["problem"] == "bassin d'été"


def test_file_is_replaced_whole(outcome: Outcome, tmp_path) -> None:
    """The file holds the whole answer, keeps its permissions, and no half-written file stays beside it."""
    target = tmp_path / "plan.json"
    target.write_text("old")
    target.chmod(0o640)
    write_json(outcome_json(outcome), str(target))
    assert target.read_text() == json_text(outcome)
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [target]


def test_a_failed_write_leaves_the_old_file(outcome: Outcome, tmp_path, monkeypatch) -> None:
    """If the last step fails the old file is untouched and nothing lies beside it."""
    target = tmp_path / "plan.json"
    target.write_text("old")

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space"):
        write_json(outcome_json(outcome), str(target))
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_link_is_followed(outcome: Outcome, tmp_path) -> None:
    """A symbolic link stays a link; the file it names is written."""
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    real.write_text("old")
    link.symlink_to(real)
    write_json(outcome_json(outcome), str(link))
    assert link.is_symlink()
    assert real.read_text() == json_text(outcome)


def test_a_device_is_written_to_and_not_replaced(outcome: Outcome) -> None:
    """The null device is still a device afterwards."""
    write_json(outcome_json(outcome), os.devnull)
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)


def test_dash_is_standard_output(outcome: Outcome, capsys) -> None:
    """With "-" the JSON is all there is on standard output."""
    write_json(outcome_json(outcome), "-")
    assert capsys.readouterr().out == json_text(outcome)


def test_unwritable_targets_are_told_beforehand(tmp_path) -> None:
    """A folder, and a file in a folder that does not exist, are refused; a new file is not, nor touched."""
    assert why_unwritable(str(tmp_path)) == "it is a folder"
    assert why_unwritable(str(tmp_path / "no" / "plan.json")) == "no such file or directory"
    assert why_unwritable(str(tmp_path / "plan.json")) is None
    assert why_unwritable("-") is None
    assert why_unwritable(os.devnull) is None
    assert list(tmp_path.iterdir()) == []
