"""What joins a spare pump with another outlet: by hand, and from a shipped price list."""

from __future__ import annotations

from dataclasses import replace

import autoplan
from autoplan.catalog.joining import Joining, least_price
from autoplan.catalog.materials import Grade, Material
from autoplan.catalog.mating import Mating
from autoplan.catalog.parts import Catalog, End
from autoplan.fittings.ends import LineEnd
from autoplan.line.row import Line
from autoplan.line.spare_half import SpareHalf, half_on_line, spare_halves

SITE = autoplan.load_problem("problems/one-tank-one-bed.toml").outline
METRIC = autoplan.load_catalog("metric")
LINE = Line("main", "pn10-32-3m", (LineEnd("sump"), LineEnd("split")))
SMALL = next(row for row in METRIC.pumps.values() if str(row.outlet) == "male G 1")
"""The pump that is there."""


def halves(catalog: Catalog = METRIC, site=SITE, flow_m3_s: float = 1e-5, head_m: float = 0.5):
    """What the list has for another outlet on 32 mm pipe, by outlet."""
    found = spare_halves(site, catalog, SMALL.id, LINE, flow_m3_s, head_m)
    return {str(catalog.pumps[half.pump].outlet): half for half in found}


def joined(catalog: Catalog, half: SpareHalf) -> bool:
    """Whether each part of it mates with the next, from the outlet to the line, and one comes apart."""
    rows = [
        catalog.adaptors[part].ends if part in catalog.adaptors else (catalog.pipes[part].end,) * 2
        for part in half.parts
    ]
    open_ends = {catalog.pumps[half.pump].outlet}
    for ends in rows:
        open_ends = {
            other for here, other in (ends, ends[::-1]) if any(mates(catalog, here, end) for end in open_ends)
        }
    apart = any(catalog.adaptors[part].apart for part in half.parts if part in catalog.adaptors)
    return apart and any(mates(catalog, end, catalog.pipes[LINE.pipe].end) for end in open_ends)


def mates(catalog: Catalog, one: End, other: End) -> bool:
    """Whether two ends join."""
    return Mating(catalog.systems).mates(one, other)


def test_each_other_outlet_once() -> None:
    """Each outlet but that of the pump there is told once, with parts to the line and their price."""
    found = halves()
    assert "male G 1" not in found
    assert set(found) == {str(row.outlet) for row in METRIC.pumps.values()} - {"male G 1"}
    for half in found.values():
        assert joined(METRIC, half)
        assert half.cents == sum(least_price(METRIC, part) for part in half.parts)


def test_only_pumps_that_do_the_duty() -> None:
    """A pump that gives the flow against just the head is told, one that is a millimetre short is not."""
    strongest = max(METRIC.pumps.values(), key=lambda row: row.curve[0][1])
    flow, head = strongest.curve[1]
    assert str(strongest.outlet) != "male G 1"
    assert {half.pump for half in halves(flow_m3_s=flow, head_m=head).values()} == {strongest.id}
    assert not halves(flow_m3_s=flow, head_m=head + 0.001)


def test_what_is_owned_costs_nothing() -> None:
    """A half that is in the drawer already costs nothing, and one that is not to be had is not told."""
    outlet, half = next(iter(halves().items()))
    owning = replace(SITE, owned=dict.fromkeys(half.parts, 1))
    assert halves(site=owning)[outlet] == replace(half, cents=0)
    gone = halves(site=replace(SITE, unavailable=frozenset(half.parts)))
    assert outlet not in gone or not set(half.parts) & set(gone[outlet].parts)


def test_nothing_that_harms_fish() -> None:
    """Neither brass nor what is sold for drains is told of."""
    outlet, half = next(iter(halves().items()))
    first = METRIC.adaptors[half.parts[0]]
    for change in ({"material": Material.BRASS}, {"grade": Grade.DRAIN}):
        adaptors = {**METRIC.adaptors, first.id: replace(first, **change)}
        found = halves(replace(METRIC, adaptors=adaptors))
        assert outlet not in found or first.id not in found[outlet].parts


def test_what_fits_the_half_on_the_line() -> None:
    """On a union's half only what has the other half is told, on a gripped one only what is gripped too."""
    for there, far in (("union-female-32-1", "socket"), ("compression-female-32-1", "compression")):
        line = replace(LINE, fittings=(LineEnd("sump", chain=(there,)), LineEnd("split")))
        found = spare_halves(SITE, METRIC, SMALL.id, line, 1e-5, 0.5)
        assert {str(METRIC.pumps[half.pump].outlet) for half in found} == set(halves())
        for half in found:
            last = [METRIC.adaptors[part] for part in half.parts if part in METRIC.adaptors][-1]
            assert last.apart
            assert far in {end.form for end in last.ends}


def test_what_stays_on_the_line() -> None:
    """Of a chain the end of its last part that comes apart stays, with what is behind it; else nothing."""
    outlet = SMALL.outlet
    joining = Joining(METRIC)
    socket = End("socket", "metric", "32")
    assert half_on_line(METRIC, joining, outlet, ("union-female-32-1",)) == (socket, ())
    long = "union-female-32-1", "pn10-32-3m", "coupling-32"
    assert half_on_line(METRIC, joining, outlet, long) == (socket, long[1:])
    assert half_on_line(METRIC, joining, outlet, ("thread-female-32-1",)) is None
