"""More water to beds whose siphons do not start: how much there is, how much is asked for, what would do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from autoplan.advice.at_once import LITRES_PER_HOUR
from autoplan.advice.case import Case, named
from autoplan.advice.flow import FINEST, PER_HOUR, PLACES
from autoplan.catalog.parts import Pipe
from autoplan.hydraulics.siphon import start_flow
from autoplan.problem.flows import flows
from autoplan.problem.site import Draw, Run, Site
from autoplan.rules.base import Given
from autoplan.sentence import Amount, Text, say

MOST_TIMES = 4
"""Largest multiple of their inflow that beds are given in trying; common practice, no source."""

STRIDE = 0.05
"""First step in looking for more, as a share of what is asked for; the next is twice that [-]."""


def more_inflow(case: Case) -> Iterator[Text]:
    """What each siphon gets and the narrowest standpipe asks for; then by how much more there is a design."""
    drains = _drains(case.site)
    pipe = _narrowest(case)
    if not drains or pipe is None:
        return
    plain, flared = (_asked(case, pipe, flare) for flare in (1.0, case.book.given(Given.FLARED)))
    crest = _asked_over_crest(case, pipe)
    for run in drains:
        inflow = case.site.flows[run.name].design_m3_s
        if run.draw is Draw.OUTSIDE and inflow < crest:
            yield say(
                "{} gets {}; a siphon pipe outside of the narrowest to be had, {} bore, starts from {}.",
                run.start,
                Amount(inflow, "L/h", 0),
                Amount(pipe.bore_m, "mm", 1),
                Amount(crest, "L/h", 0),
            )
        elif run.draw is not Draw.OUTSIDE and inflow < plain:
            yield say(
                "{} gets {}; a siphon on the narrowest standpipe to be had, {} bore, starts from {}, "
                "or from {} with a flared top.",
                run.start,
                Amount(inflow, "L/h", 0),
                Amount(pipe.bore_m, "mm", 1),
                Amount(plain, "L/h", 0),
                Amount(flared, "L/h", 0),
            )
    beds = [run.start for run in drains]
    asked = sum(case.site.vessels[bed].demand_m3_s for bed in beds) * LITRES_PER_HOUR
    most = math.floor((MOST_TIMES - 1) * asked)
    what = f"more inflow to {named(beds)}"
    if most < 1 or not case.begin(what):
        return
    starts = {run.name: crest if run.draw is Draw.OUTSIDE else flared for run in drains}
    first = _guess(case, drains, starts, asked, most)
    least = case.remedy(what, lambda more: fed(case.site, beds, 1 + more / asked), first, most)
    if least is not None:
        at_most = "" if least.proven else "at most "
        more, whole = (Amount(flow / LITRES_PER_HOUR, "L/h", 0) for flow in (least.step, asked + least.step))
        bed = fed(case.site, beds, 1 + least.step / asked).vessels[beds[0]].bed
        assert bed is not None
        told = f'floods = "{bed.floods_per_s * PER_HOUR:.{PLACES}g}/hour"'
        in_all = say("{} in all ({})", whole, told)
        yield say("{}{} more to {}, {}, would leave a design.", at_most, more, named(beds), in_all)


def fed(site: Site, beds: list[str], times: float) -> Site:
    """The site with beds that are flooded so many times as often, in a number that can be written."""
    vessels = dict(site.vessels)
    for name in beds:
        bed = vessels[name].bed
        assert bed is not None
        rate = math.ceil(bed.floods_per_s * times * PER_HOUR * FINEST - 1e-9) / FINEST / PER_HOUR
        vessels[name] = replace(vessels[name], bed=replace(bed, floods_per_s=rate))
    more = replace(site, vessels=vessels)
    return replace(more, flows=flows(more))


def _drains(site: Site) -> list[Run]:
    """The drains of beds with a siphon."""
    beds = {name for name, vessel in site.vessels.items() if vessel.bed is not None and vessel.bed.siphon}
    return [run for run in site.runs.values() if run.start in beds and not run.idle]


def _narrowest(case: Case) -> Pipe | None:
    """The narrowest rigid pipe on the shelf that may be a standpipe."""
    least = case.book.given(Given.LEAST_STANDPIPE) - 1e-9
    pipes = (
        pipe
        for pipe in case.workshop.shelf(case.site, case.book).pipe_families()
        if pipe.bend_radius_m == 0.0 and pipe.bore_m >= least
    )
    return min(pipes, key=lambda pipe: pipe.bore_m, default=None)


def _asked(case: Case, pipe: Pipe, flare: float) -> float:
    """Inflow that is asked for so that a standpipe of a pipe starts [m3/s]."""
    margin = 1 + case.book.given(Given.PRIMING_MARGIN)
    return margin * start_flow(pipe.bore_m, case.book.given(Given.PRIMING), flare)


def _asked_over_crest(case: Case, pipe: Pipe) -> float:
    """The same so that a siphon pipe outside its bed starts [m3/s]."""
    margin = 1 + case.book.given(Given.CREST_MARGIN)
    return margin * start_flow(pipe.bore_m, case.book.given(Given.CREST))


def _guess(
    case: Case, drains: list[Run], least_m3_s: Mapping[str, float], asked: float, most: int
) -> int | None:
    """The least more that arithmetic does not refuse [L/h]; None where it refuses all that is tried.

    No bed can do with less than the narrowest standpipe asks for; from there on further and further.
    """
    beds = [run.start for run in drains]
    lacks = (least_m3_s[run.name] / case.site.flows[run.name].design_m3_s - 1 for run in drains)
    more, stride = max(1, math.ceil(max(lacks) * asked - 1e-6)), max(1, math.ceil(STRIDE * asked))
    while more <= most and case.none_at(fed(case.site, beds, 1 + more / asked)):
        if more == most or not case.clock.allows("draft"):
            return None
        more, stride = min(most, more + stride), 2 * stride
    return more if more <= most else None
