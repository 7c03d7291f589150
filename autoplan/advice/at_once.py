"""What can be refused before anything is drafted: by the site, the pumps to be had and the rules' settings.

Every refusal is a proof that the model has no answer. It leaves all losses out, so what sums up here may
still have no design; what does not never has.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.advice.heights import Refusal, clashing
from autoplan.catalog.parts import Pump
from autoplan.hydraulics.pump import PumpCurve
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Site
from autoplan.rules.balance import pumped_flow
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES, RuleBook
from autoplan.rules.heights import DATUM, AtLeast, WaterOf, at_overload
from autoplan.sentence import Amount, Text, joined, say
from autoplan.units import tenth_mm_down, tenth_mm_up

LITRES_PER_HOUR = 3_600_000.0


def refused_at_once(site: Site, book: RuleBook, shelf: Shelf) -> tuple[Refusal, ...]:
    """Why a site certainly has no design, as far as that can be told without drafting it.

    Args:
        site, book: the problem and the rules in force.
        shelf: the parts that may be used under them.

    Returns:
        A refusal for each pumped vessel of which no pump gives the flow; else one for heights that cannot all
        hold, whatever pumps are chosen; empty where nothing is refused.
    """
    weak = tuple(too_weak(site, book, shelf))
    if weak:
        return weak
    found = clashing([*_levels(site, book), *_pumps(site, book, shelf)])
    if found is not None:
        return (found,)
    fixed = list(_levels(site, book))
    return tuple(
        none
        for vessel in site.pumped_vessels()
        if (none := _no_pump_alone(site, book, shelf, fixed, vessel)) is not None
    )


def giving(site: Site, shelf: Shelf, vessel: str) -> list[Pump]:
    """The pumps that give a vessel's design flow at all."""
    flow = pumped_flow(site, vessel)
    curves = ((pump, PumpCurve(pump.curve)) for pump in shelf.pumps())
    return [pump for pump, curve in curves if flow <= curve.run_out_m3_s and curve.head(flow) > 0]


def too_weak(site: Site, book: RuleBook, shelf: Shelf) -> Iterator[Refusal]:
    """Vessels of which no pump gives the flow even against nothing."""
    for vessel in site.pumped_vessels():
        if giving(site, shelf, vessel):
            continue
        most = max(
            shelf.pumps(), key=lambda pump: (PumpCurve(pump.curve).run_out_m3_s, pump.id), default=None
        )
        asked = Amount(pumped_flow(site, vessel), "L/h", 0)
        said: Text = "and there is no pump to be had at all."
        if most is not None:
            gives = Amount(PumpCurve(most.curve).run_out_m3_s, "L/h", 0)
            said = say("and the largest to be had, {}, gives {} against no head at all.", most.id, gives)
        rules = (ROLES[Concern.LIFT],) if book.has(Concern.LIFT) else ()
        yield Refusal(rules, say("The pump in {} must give {}, {}", vessel, asked, said))


def _levels(site: Site, book: RuleBook) -> Iterator[AtLeast]:
    """What the site and the rules ask of levels, whatever is built."""
    for name, vessel in site.vessels.items():
        for level in dict.fromkeys((WaterOf(name), at_overload(site, name))):
            yield AtLeast("", level, DATUM, tenth_mm_down(vessel.floor_m), "its floor")
            yield AtLeast("", DATUM, level, -tenth_mm_up(vessel.rim_m), "its rim")
    for rule in book.rules:
        yield from rule.levels_at_once(site)


def _pumps(
    site: Site, book: RuleBook, shelf: Shelf, only: dict[str, Pump] | None = None
) -> Iterator[AtLeast]:
    """What pumps ask of their vessel's level: by the least cover and the most head of all that give the flow.

    Args:
        only: by vessel the one pump that counts, where not all do.
    """
    for name in site.pumped_vessels():
        pumps = giving(site, shelf, name)
        if only is not None and name in only:
            pumps = [only[name]]
        for rule in book.rules:
            yield from rule.pumps_at_once(site, name, pumps)


def _no_pump_alone(
    site: Site, book: RuleBook, shelf: Shelf, fixed: Sequence[AtLeast], vessel: str
) -> Refusal | None:
    """Where each pump clashes with the heights, one for what it lifts and another for the water it needs."""
    found = []
    for pump in giving(site, shelf, vessel):
        none = clashing([*fixed, *_pumps(site, book, shelf, {vessel: pump})])
        if none is None:
            return None
        found.append((pump.id, none))
    rules = tuple(dict.fromkeys(rule for _, none in found for rule in none.rules))
    shortest = {none.rules: (pump, none) for pump, none in reversed(found)}
    said = joined(" ", [say("With {}: {}", pump, none.sentence) for pump, none in shortest.values()])
    return Refusal(rules, say("No pump to be had suits {}. {}", vessel, said))
