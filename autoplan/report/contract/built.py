"""Rows of what is built: runs, vessels, holes, pieces, parts, air."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from autoplan.report.contract.base import (
    From,
    JsonRow,
    Name,
    Number,
    Size,
    Text,
    Texts,
    Unread,
    Whole,
    Worded,
    Yes,
)
from autoplan.report.sections import cutting
from autoplan.report.units import MM_M, Gauge

GRAVITY, PRESSURE = "gravity", "pressure"
"""Kinds of run."""


class TurnRow(JsonRow):
    """Turns made alike."""

    kind: Text
    style: Text
    part: Text | None
    count: Whole
    parts: Texts


class BellRow(JsonRow):
    """What makes a bell siphon of a standpipe."""

    bell: Text | None
    guard: Text | None
    snorkel: Text | None
    flare: Text | None
    cut_out_mm: Number


class DrainHoleRow(JsonRow):
    """The hole by which a bed with a timer or a weep hole runs empty."""

    hole_mm: Number
    centre_above_floor_mm: Annotated[Number, From("height_m")]
    guard: Text | None


class OutsideRow(JsonRow):
    """What makes a siphon of a pipe that goes up to a crest outside its bed, and over."""

    lip_above_floor_mm: Number | None
    air_tube: Text | None
    air_above_floor_mm: Annotated[Number, From("air_m")]


class EndRow(JsonRow):
    """An end of a run.

    `well_mm` is from the rim down to the foot of a stilling well, `down_mm` from the middle of the pipe down
    to the mouth of the turn inside on its end.
    """

    vessel: Annotated[Text, From("at")]
    way: Text | None
    penetration: Text | None
    hole_mm: Number | None
    centre_above_floor_mm: Number | None
    in_floor: Yes
    standpipe_top_above_floor_mm: Number | None
    standpipe: Text | None
    siphon: BellRow | None
    drain_hole: DrainHoleRow | None
    outside_siphon: OutsideRow | None = None
    chain: Unread[Texts] = None
    siphon_back: Unread[Text] = None
    mouth_above_floor_mm: Number | None
    air_hole_above_floor_mm: Unread[Number] = None
    air_hole_mm: Unread[Number] = None
    well: Text | None = None
    well_mm: Number | None = None
    down: Text | None = None
    down_mm: Number | None = None


class ItemRow(JsonRow):
    """A thing on a run."""

    part: Text
    role: Text
    ends: Unread[tuple[Worded, ...]] = None
    length_mm: Number | None
    place: Text
    through: Text | None
    ring: Unread[Worded] = None


class SideRow(ItemRow):
    """A thing on the third opening of another; `at` is that one's place in the row."""

    on: Unread[Text] = None
    at: Whole


class JointRow(JsonRow):
    """A joint of two parts."""

    kind: Text | None
    left: Text
    right: Text
    left_end: Unread[Worded] = None
    right_end: Unread[Worded] = None


class LegRow(JsonRow):
    """A straight piece of a run, from corner to corner.

    A measured one has neither a way nor how much higher it ends than it starts.
    """

    length_mm: Number
    toward: Text | None = None
    rise_mm: Number | None = None


class SpotRow(JsonRow):
    """A place on the plan."""

    x_mm: Number
    y_mm: Number


class RunRow(JsonRow):
    """A run from start to end."""

    name: Name
    start: Name = Field(alias="from")
    finish: Name = Field(alias="to")
    kind: Text
    run_class: Text = Field(alias="class")
    pipe: Text
    bore_mm: Number
    length_m: Number
    flow_l_h: Number
    velocity_m_s: Number
    loss_mm: Number
    overload_loss_mm: Unread[Number] = None
    pieces_mm: Unread[tuple[Number, ...]] = None
    turns: Unread[tuple[TurnRow, ...]] = None
    ends: tuple[EndRow, ...]
    screen: Unread[Text] = None
    flush: Unread[Texts] = None
    later: Yes
    cap: Unread[Text] = None
    valves: Unread[Texts] = None
    check_valve: Unread[Text] = None
    line: tuple[ItemRow, ...]
    sides: tuple[SideRow, ...]
    joints: tuple[JointRow, ...]
    told: Text
    legs: tuple[LegRow, ...] = ()
    start_height_mm: Number | None = None
    finish_height_mm: Number | None = None
    level_mm: tuple[Number, ...] | None = None
    corners: tuple[Whole, ...] = ()
    start_inside_mm: Number = 0.0
    finish_inside_mm: Number = 0.0
    on_plan: tuple[SpotRow, ...] = ()


class JunctionRow(JsonRow):
    """A tee and the runs on its ends, and its place on the plan where that is known."""

    junction: Text
    tee: Text | None
    ports: Texts
    x_mm: Number | None = None
    y_mm: Number | None = None


class SpareRow(JsonRow):
    """What lies ready at a pump for one with another outlet."""

    line: Text
    outlet: Text
    chain: Texts


class PieceRow(JsonRow):
    """A piece of pipe and what it is for."""

    pipe: Text
    length_mm: Number
    run: Text | None
    place: Text | None


class CutRow(JsonRow):
    """A stick, numbered within its pipe, and what is cut from it."""

    pipe: Text
    stick: Whole
    stick_mm: Size
    pieces_mm: tuple[Number, ...]
    pieces: tuple[PieceRow, ...]
    offcut_mm: Number
    owned: Yes

    def marks(self, gauge: Gauge) -> tuple[tuple[int, ...], int]:
        """Where to mark it: its pieces and what is left over, in steps of the gauge."""
        return cutting.marks([piece * MM_M for piece in self.pieces_mm], self.offcut_mm * MM_M, gauge)


class BedRow(JsonRow):
    """What makes a bed of a vessel."""

    drain: Unread[Text] = None
    flood_mm: Unread[Number] = None
    void_fraction: Unread[Number] = None


class VesselRow(JsonRow):
    """A vessel; the width of one that is not round is the side of a square of its area."""

    name: Name
    kind: Text
    shape: Text
    width_mm: Size
    area_m2: Unread[Number] = None
    volume_l: Number
    depth_mm: Size
    floor_mm: Number
    rim_mm: Number
    wall_mm: Number
    base_mm: Number
    part: Unread[Text] = None
    spare: Yes
    bed: BedRow | None
    x_mm: Number | None = None
    y_mm: Number | None = None
    facing_deg: Number = 0.0
    outside_length_mm: Number | None = None
    outside_width_mm: Number | None = None
    cone_mm: Number = 0.0


class HoleRow(JsonRow):
    """A hole to drill."""

    vessel: Text
    run: Text
    place: Text
    hole_mm: Number
    off_mm: Number | None
    centre_above_floor_mm: Annotated[Number | None, From("centre_m")]
    part: Text
    saw: Text | None
    saw_from: Text
    stand: Text | None
    around: Text = ""
    apart_mm: Number | None = None
    inside_mm: Number | None = None
    higher_mm: Number | None = None
    higher_breaks: Annotated[Text, From("above")] = ""
    lower_mm: Number | None = None
    lower_breaks: Annotated[Text, From("below")] = ""
    exact: Yes = False


class RimRow(JsonRow):
    """A pipe over a rim, and the bracket that holds it there."""

    vessel: Text
    run: Text
    bracket: Text | None
    bracket_from: Text
    around: Text
    apart_mm: Number | None


class PartRow(JsonRow):
    """A part, with the sizes that there are for its kind."""

    description: Text
    kind: Text
    size: Text | None = None
    outside_mm: Number | None = None
    inside_mm: Number | None = None
    bore_mm: Number | None = None
    tallest_mm: Number | None = None
    hole_mm: Number | None = None
    way: Unread[Text] = None
    style: Text | None = None


class AirLineRow(JsonRow):
    """A line from an air pump."""

    vessel: Text
    depth_mm: Number
    line: Text
    length_m: Number
    diffuser: Text
    tap: Text | None
    check: Text | None
    flow_l_h: Number


class AirRow(JsonRow):
    """An air pump."""

    part: Text
    battery: Yes
    manifolds: Unread[Texts] = None
    lines: tuple[AirLineRow, ...]
