"""What lies ready for a spare pump with another outlet: parts from that outlet to the line that is there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import le

from autoplan.catalog.joining import Chain
from autoplan.catalog.parts import End
from autoplan.drawing import DrawnSpare
from autoplan.line.spare_half import half_on_line
from autoplan.optimiser.model.joints import InLine, InLineWay, JointChoice
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.options.consumables import Counting, Needs
from autoplan.optimiser.options.shelf import Shelf
from autoplan.rules.base import Concern, PumpChoice
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, Var, weighted

Half = tuple[End, tuple[str, ...]]
"""What stays on a line once its joint with the pump is opened; see `half_on_line`."""


@dataclass(frozen=True, slots=True)
class SpareWay:
    """Parts for one outlet.

    Attributes:
        outlet: of the spare pump.
        line: the opening of the line.
        half: what of it is on the line already.
        chain: from the outlet to the line.
        needs: what their joints take.
    """

    outlet: End
    line: End
    half: Half
    chain: tuple[str, ...]
    needs: Needs


@dataclass(frozen=True, slots=True)
class SpareChoice:
    """What may lie ready at one pump.

    Attributes:
        run: the line from that pump.
        none: that nothing does.
        ways: each way with its choice.
        heads: by outlet the most head that a pump which has it gives at the design flow [m].
    """

    run: str
    none: Var
    ways: tuple[tuple[Var, SpareWay], ...]
    heads: Mapping[End, float]

    def gives(self) -> list[tuple[Var, float]]:
        """Each way with the head of the strongest pump with its outlet [m]."""
        return [(var, self.heads[way.outlet]) for var, way in self.ways]

    def drawn(self, values: Sequence[int]) -> DrawnSpare | None:
        """What an answer has lie ready."""
        chosen = (way for var, way in self.ways if values[var])
        return next((DrawnSpare(self.run, way.outlet, way.chain) for way in chosen), None)


def opening_chains(shelf: Shelf, outlet: End, line: End) -> tuple[Chain, ...]:
    """Chains from a pump's outlet to a line that come apart; see `Joining.opening`."""
    return shelf.joining.opening(outlet, line, shelf.shut_off_m)


def is_wished(counting: Counting) -> bool:
    """Whether something is to lie ready for a pump with another outlet."""
    return counting.site.wishes.second_half and counting.book.has(Concern.SECOND_HALF)


def encode_spare_halves(
    model: Model,
    counting: Counting,
    joints: Mapping[str, JointChoice],
    pumps: Mapping[str, Sequence[tuple[Var, PumpChoice]]],
) -> dict[str, SpareChoice]:
    """By pumped vessel what may lie ready there for another pump; nothing where that is not wished for.

    Args:
        model, counting: the model, and what joints take of the shelf's sundries.
        joints: by pumped vessel its pump's joint with the line.
        pumps: by pumped vessel the pumps for it, each that gives the flow.
    """
    if not is_wished(counting):
        return {}
    lines = {
        vessel: joint for vessel, joint in joints.items() if vessel in pumps and isinstance(joint, InLine)
    }
    return {
        vessel: _encode_spare_half(model, counting, vessel, joint, pumps[vessel])
        for vessel, joint in lines.items()
    }


def _encode_spare_half(
    model: Model,
    counting: Counting,
    vessel: str,
    joint: InLine,
    pumps: Sequence[tuple[Var, PumpChoice]],
) -> SpareChoice:
    """The choices of what lies ready, or nothing: it goes on the half that the joint has, for another outlet.

    Args:
        model, counting: the model, and what joints take of the shelf's sundries.
        vessel: where the pump stands.
        joint: its joint with the line.
        pumps: the pumps for it, each that gives the flow.
    """
    shelf, run = counting.shelf, joint.names[1]
    heads: dict[End, float] = {}
    for _, choice in pumps:
        heads[choice.pump.outlet] = max(heads.get(choice.pump.outlet, 0.0), choice.head_m)
    there = _by_half(shelf, joint.ways)
    found = [
        SpareWay(outlet, line, half, chain.parts, counting.of_spare(run, outlet, line, chain.parts))
        for outlet in heads
        for line in dict.fromkeys(line for line, _ in there)
        for half, chain in _worth_while(shelf, outlet, line)
        if (line, half) in there
    ]
    none = model.choice(f"nothing for another pump in {vessel}")
    ways = [(model.choice(f"{vessel}: {way.outlet} {' '.join(way.chain)}"), way) for way in found]
    model.exactly_one([none, *(var for var, _ in ways)])
    for (line, half), own in there.items():
        fits = weighted((var, 1) for var, way in ways if (way.line, way.half) == (line, half))
        model.at_least(ROLES[Concern.JOINTS], weighted((var, 1) for var in own), fits)
    for outlet in heads:
        same = [var for var, way in ways if way.outlet == outlet]
        same += [var for var, choice in pumps if choice.pump.outlet == outlet]
        model.at_least(ROLES[Concern.JOINTS], Linear(constant=1), weighted((var, 1) for var in same))
    return SpareChoice(run, none, tuple(ways), heads)


def _by_half(shelf: Shelf, ways: Sequence[tuple[Var, InLineWay]]) -> dict[tuple[End, Half], list[Var]]:
    """The ways of a joint that come apart, by the opening of the line and the half that is on it."""
    found: dict[tuple[End, Half], list[Var]] = {}
    for var, way in ways:
        half = half_on_line(shelf.catalog, shelf.joining, way.keys[0], way.chain)
        if half is not None:
            found.setdefault((way.keys[1], half), []).append(var)
    return found


def _worth_while(shelf: Shelf, outlet: End, line: End) -> list[tuple[Half, Chain]]:
    """Chains by the half that they go on, less those that another on the same half costs no more than.

    By no set of shops; one with parts that are owned or few stays.
    """
    kept: list[tuple[Half, Chain]] = []
    for chain in sorted(opening_chains(shelf, outlet, line), key=lambda one: (one.prices, one.parts)):
        half = half_on_line(shelf.catalog, shelf.joining, outlet, chain.parts)
        assert half is not None
        rest = [one for on, one in kept if on == half]
        bill = shelf.bill(chain.parts)
        if not any(
            all(map(le, other.prices, chain.prices)) and shelf.no_dearer(shelf.bill(other.parts), bill)
            for other in rest
        ):
            kept.append((half, chain))
    return kept
