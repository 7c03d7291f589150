"""What a rank is in a line, and what a builder gets for the difference to rank 1."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from autoplan.catalog.mating import JointKind
from autoplan.outcome import Design, Outcome
from autoplan.report.figures import money
from autoplan.report.units import LITRE_M3, Units

COST = "cost"


@dataclass(frozen=True, slots=True)
class Gain:
    """One thing that can be measured, by which a rank is better or worse than rank 1.

    Attributes:
        what: its name.
        unit: of both numbers; "money" in the price list's currency.
        first, this: of rank 1 and of this rank.
        better: whether this rank is better by it.
        text: the difference in plain words.
    """

    what: str
    unit: str
    first: float
    this: float
    better: bool
    text: str


@dataclass(frozen=True, slots=True)
class _Comparison:
    """How one thing is measured and told.

    Attributes:
        what, unit: as for `Gain`.
        more_is_better: which way is better.
        of: the number of a design; None where it was not worked out.
        shown: a difference above 0 as a figure with its unit.
        phrase: a difference, with "{}" for its figure and "{more}" for the word that says which way.
        words: what stands there where there is more of it, and where there is less.
    """

    what: str
    unit: str
    more_is_better: bool
    of: Callable[[Design], float | None]
    shown: Callable[[float], str]
    phrase: str
    words: tuple[str, str] = ("more", "less")


def is_what(design: Design) -> str:
    """What a design is told apart by, in a line of plain words; "" where nothing was asked to differ."""
    return "; ".join(_trait(name, value) for name, value in design.traits.items())


def _trait(name: str, value: str) -> str:
    """What is told apart and what it is here; a pump's own name says already that it is one."""
    return value if name in value.split() else f"{name} {value}"


def gets(outcome: Outcome, design: Design, units: Units) -> list[Gain]:
    """What is better or worse than in rank 1, as far as it shows in the figures; cost comes first.

    Args:
        outcome: has rank 1.
        design: the rank; of rank 1 itself nothing is told.
        units: in which the words are put; the numbers are SI.
    """
    first, found = outcome.designs[0], []
    for measure in _measures(design.verdict.cost.currency, units):
        before, now = measure.of(first), measure.of(design)
        if before is None or now is None or not math.isfinite(now - before):
            continue
        figure = measure.shown(abs(now - before))
        if figure == measure.shown(0.0):
            continue
        more, less = measure.words
        text = measure.phrase.format(figure, more=more if now > before else less)
        better = (now > before) == measure.more_is_better
        found.append(Gain(measure.what, measure.unit, before, now, better, text))
    return found


def in_words(outcome: Outcome, design: Design, units: Units) -> str:
    """The same in a sentence or three."""
    found = gets(outcome, design, units)
    cost = [gain.text for gain in found if gain.what == COST]
    rest = [gain for gain in found if gain.what != COST]
    better = "; ".join(gain.text for gain in rest if gain.better) or "nothing that is measured"
    worse = "; ".join(gain.text for gain in rest if not gain.better)
    said = f"It costs {cost[0] if cost else 'the same'}. Better: {better}."
    return f"{said} Worse: {worse}." if worse else said


def in_short(outcome: Outcome, design: Design, units: Units, room: int) -> str:
    """What a rank is and what is got for it, in the whole phrases that find room [characters]."""
    first = outcome.designs[0]
    if design is first:
        names = [_trait(name, value) for name, value in design.traits.items() if name != "pump"]
        phrases = ["the cheapest" if outcome.rank_by != "margin" else "the most to spare", *names]
        return _within(phrases, room)
    differs = [_trait(k, v) for k, v in design.traits.items() if first.traits.get(k) != v]
    found = [gain for gain in gets(outcome, design, units) if gain.what != COST]
    better = [gain.text for gain in found if gain.better]
    worse = [gain.text for gain in found if not gain.better]
    worse[:1] = [f"but {text}" for text in worse[:1]]
    return _within([*(differs or ["small parts differ"]), *better, *worse], room)


def _within(phrases: Sequence[str], room: int) -> str:
    """The first phrase, and of the others those that find room."""
    said = phrases[0]
    for phrase in phrases[1:]:
        if len(said) + 2 + len(phrase) <= room:
            said = f"{said}; {phrase}"
    return said


def _measures(currency: str, units: Units) -> Iterator[_Comparison]:
    """What is compared, in the order in which it is told."""

    def cash(value: float) -> str:
        return money(value, currency)

    def count(value: float) -> str:
        return str(round(value))

    def litres(value: float) -> str:
        return units.volume.said(value * LITRE_M3)

    yield _Comparison(COST, "money", False, _to_pay, cash, "{} {more}")
    yield _Comparison("power a year", "money", False, _a_year, cash, "{} a year {more} for power")
    yield _Comparison("spare head", "m", True, _spare_head, units.head.said, "{} {more} spare head")
    worst = "{} {more} spilled by the worst fault"
    yield _Comparison("worst spill", "L", False, _worst_spill, litres, worst)
    counts = {"holes in walls": _holes, "joints welded for good": _welded, "kinds of part to buy": _kinds}
    for what, of in counts.items():
        yield _Comparison(what, "", False, of, count, f"{what}: {{}} {{more}}", ("more", "fewer"))


def _to_pay(design: Design) -> float:
    return design.verdict.cost.to_pay


def _a_year(design: Design) -> float:
    return design.verdict.cost.running_per_year


def _spare_head(design: Design) -> float | None:
    margins = [found.margin for found in design.verdict.findings if found.rule == "pump-duty"]
    return min(margins, default=None)


def _worst_spill(design: Design) -> float | None:
    """Most water that one fault spills in a night [L]."""
    return max((fault.spilled_l for fault in design.verdict.faults), default=None)


def _holes(design: Design) -> float:
    """Holes to drill in walls and floors."""
    built = (run for run in design.drawing.runs.values() if not run.later)
    return float(sum(1 for run in built for _ in run.holes()))


def _welded(design: Design) -> float:
    """Joints that cannot be taken apart."""
    return float(sum(joint.kind is JointKind.WELDED for joint in design.verdict.joints))


def _kinds(design: Design) -> float:
    """Different parts on the order."""
    return float(len({line.part for line in design.drawing.purchases}))
