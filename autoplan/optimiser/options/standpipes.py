"""What may stand on a bed's floor outlet: a plain standpipe, one with a drain hole, or one under a bell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from autoplan.catalog.parts import End, Pipe, SiphonKind, Way
from autoplan.fittings.floor import BellSiphon, SideHole, ThroughFloor
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.wall import Pierced
from autoplan.optimiser.options.making import Making, Offered
from autoplan.problem.site import BedTimer, Draw, Site
from autoplan.problem.weep import WeepHole
from autoplan.rules.asked import LetIn, OverPart, Starting, StartingAmply
from autoplan.rules.base import Given

FLARE_SHARE = 1.5
"""A flare's bore over its standpipe's at least: FAO Technical Paper 589, appendix 8, has 40 mm on 25 mm."""


BARE = ThroughFloor("", way=Way.BULKHEAD, penetration="")
"""A floor outlet of which only what stands on it is looked at."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A standpipe: its pipe, and the siphon made of it or the drain hole in it, if any."""

    pipe: Pipe
    siphon: BellSiphon | None
    drain_hole: SideHole | None = None

    def on(self, wall: Pierced, pipe: Pipe) -> ThroughFloor:
        """A wall part with this on it, in a floor, on a drain of a pipe."""
        return ThroughFloor(
            wall.at,
            wall.chain,
            way=wall.way,
            penetration=wall.penetration,
            inner_chain=wall.inner_chain,
            standpipe=None if self.pipe is pipe else self.pipe.id,
            siphon=self.siphon,
            drain_hole=self.drain_hole,
        )


def standings(making: Making, pipe: Pipe) -> list[Standing]:
    """Every standpipe worth considering on a drain of this pipe.

    A plain one is of the drain's own pipe, and so is one with a drain hole. A siphon's may be narrower, for
    it must run full: of each size of pipe one, with its flare only where it does not start amply without.
    """
    hole = _hole(making)
    if hole is not None:
        return [Standing(pipe, None, drilled) for drilled in _drain_holes(making, pipe, hole)]
    if not _siphon(making):
        return [Standing(pipe, None)]
    found: list[Standing] = []
    for stood in _pipes(making, pipe):
        plain = [Standing(stood, made) for made in _made(making, pipe, stood, None)]
        found += plain
        flare = _flare(making, stood)
        if flare is not None and not (plain and _amply(making, pipe, plain[0])):
            found += [Standing(stood, made) for made in _made(making, pipe, stood, flare)]
    return found


def _amply(making: Making, pipe: Pipe, standing: Standing) -> bool:
    """Whether every drain of the class starts by a plain standpipe so well that a flare makes no odds."""
    other = None if standing.pipe is pipe else standing.pipe.id
    for run in making.members:
        end = replace(BARE, at=run.start, standpipe=other, siphon=standing.siphon)
        if making.book.refusing(StartingAmply(making.site, making.catalog, run, pipe, end)):
            return False
    return True


def _siphon(making: Making) -> bool:
    """Whether the class drains beds by bell siphons."""
    beds = [making.site.vessels[run.start].bed for run in making.members if run.start in making.site.vessels]
    upright = making.first.draw is Draw.STANDPIPE and not making.first.idle
    return upright and any(bed is not None and bed.siphon for bed in beds)


def _hole(making: Making) -> BedTimer | WeepHole | None:
    """The hole by which the first bed of the class runs empty; runs of one class do so all or none."""
    if making.first.idle:
        return None
    return making.site.drilled_beds().get(making.first.start)


def _drain_holes(making: Making, pipe: Pipe, asked: BedTimer | WeepHole) -> list[SideHole]:
    """The drain hole with each media guard that the rules allow, none dearer than another.

    Hole and height are the first bed's; where the run is drawn it gets its own. A wider guard goes over a
    wider wall part (`over`).
    """
    guards = [part.id for part in making.catalog.siphons.values() if part.kind is SiphonKind.GUARD]
    found: list[str | None] = [part for part in guards if part not in making.shelf.gone] if guards else [None]
    admitted = []
    for guard in found:
        hole = SideHole(asked.hole_m, asked.height_m, guard)
        if _goes_round(making, pipe, guard) and stands_so(making, pipe, replace(BARE, drain_hole=hole)):
            admitted.append(hole)
    wide = [Offered(_bought(hole), _narrow(making, hole.guard)) for hole in admitted]
    best = {fitting.parts for fitting in making.pareto(wide)}
    return [hole for hole in admitted if _bought(hole) in best]


def _bought(hole: SideHole) -> tuple[str, ...]:
    """What is bought for a drain hole."""
    return () if hole.guard is None else (hole.guard,)


def _narrow(making: Making, part: str | None) -> tuple[float, ...]:
    """What a wider bell or guard is better by: less is better, and nothing counts without one."""
    return () if part is None else (-making.catalog.siphons[part].inside_m,)


def over(making: Making, part: str, stood: Sequence[Standing]) -> list[Standing]:
    """Of all that may stand on a floor outlet what goes over this wall part, of like use none dearer."""
    found: dict[object, list[Standing]] = {}
    for one in stood:
        end = replace(BARE, siphon=one.siphon, drain_hole=one.drain_hole)
        if making.allows("wall part under what stands on it", (OverPart(making.catalog, part, end),)):
            flare = None if one.siphon is None else one.siphon.flare
            found.setdefault((one.pipe.id, flare), []).append(one)
    kept: list[Standing] = []
    for alike in found.values():
        offered = {
            id(one): Offered(replace(BARE, siphon=one.siphon, drain_hole=one.drain_hole).upright_parts, ())
            for one in alike
        }
        best = {id(fitting) for fitting in making.pareto(list(offered.values()))}
        kept += [one for one in alike if id(offered[id(one)]) in best]
    return kept


def _goes_round(making: Making, pipe: Pipe, guard: str | None) -> bool:
    """Whether a guard goes round the standpipe at all, whatever rules are in force."""
    return guard is None or making.catalog.siphons[guard].inside_m > pipe.outside_m


def stands_so(making: Making, pipe: Pipe, end: ThroughFloor, screen: InletScreen | None = None) -> bool:
    """Whether the rules allow every drain of the class to start so in its bed's floor, under this screen."""
    what = "standpipe"
    if end.siphon is not None or end.drain_hole is not None:
        what = "standpipe for a bell siphon" if end.siphon is not None else "standpipe with a drain hole"
    part = None if screen is None else screen.part
    for run in making.members:
        own = end
        if end.at != run.start or end.drain_hole is not None:
            own = replace(end, at=run.start, drain_hole=bored(making.site, run.start, end.drain_hole))
        drain = (making.site, making.catalog, run, pipe, own)
        if not making.allows(what, (Starting(*drain), LetIn(*drain, part))):
            return False
    return True


def stood_up(site: Site, end: ThroughFloor) -> ThroughFloor:
    """A floor outlet in its bed: its lip at the highest water, its drain hole as the problem has it."""
    vessel = site.vessels[end.at]
    hole = bored(site, end.at, end.drain_hole)
    return replace(end, centre_m=vessel.floor_m, standpipe_top_m=vessel.water_max_m, drain_hole=hole)


def bored(site: Site, bed: str, hole: SideHole | None) -> SideHole | None:
    """A drain hole as the problem has it for one bed; None without one."""
    asked = None if hole is None else site.drilled_beds().get(bed)
    if hole is None or asked is None:
        return hole
    return replace(hole, hole_m=asked.hole_m, height_m=asked.height_m)


def _pipes(making: Making, pipe: Pipe) -> list[Pipe]:
    """The drain's own pipe and one narrower rigid pipe of each opening, the cheapest by length."""
    best: dict[object, Pipe] = {}
    for other in making.shelf.pipe_families():
        if other.bend_radius_m > 0 or other.bore_m >= pipe.bore_m or other.end == pipe.end:
            continue
        held = best.get(other.end)
        if held is None or making.shelf.metre_cents(other) < making.shelf.metre_cents(held):
            best[other.end] = other
    return [pipe, *best.values()]


def _flare(making: Making, stood: Pipe) -> str | None:
    """The cheapest adaptor that widens a standpipe's top, if there is one."""
    known = making.shelf.flares
    if stood.id not in known:
        known[stood.id] = _found_flare(making, stood)
    return known[stood.id]


def _found_flare(making: Making, stood: Pipe) -> str | None:
    wide = [
        part.id
        for part in making.catalog.adaptors.values()
        if part.id not in making.shelf.gone and _widens(making, part.ends, stood)
    ]
    return min(wide, key=lambda part: (making.shelf.prices([part])[-1], part), default=None)


def _widens(making: Making, ends: Sequence[End], stood: Pipe) -> bool:
    joining = making.shelf.joining
    for near, far in (ends, ends[::-1]):
        # The wide end must be an open cup; a bush is as narrow there as the pipe.
        if near.form == far.form == "socket" and joining.mates(near, stood.end):
            return making.shelf.nominal(far) >= FLARE_SHARE * stood.bore_m
    return False


def _made(making: Making, pipe: Pipe, stood: Pipe, flare: str | None) -> Iterator[BellSiphon]:
    """Bells, guards and air tubes that fit over a standpipe, none dearer than another of the same use.

    A wider bell goes over a wider wall part (`over`); the guard goes round the bell.
    """
    cut_out = making.book.given(Given.CUT_OUT)
    parts = making.catalog.siphons.values()
    kinds: list[list[str | None]] = []
    for kind in (SiphonKind.BELL, SiphonKind.GUARD, SiphonKind.SNORKEL):
        known = [part.id for part in parts if part.kind is kind]
        kinds.append([part for part in known if part not in making.shelf.gone] if known else [None])
    bells, guards, snorkels = kinds
    outside = replace(BARE, siphon=BellSiphon(None, None, None, flare, cut_out)).outside_m(
        making.catalog, stood
    )
    # A bell must go over the standpipe at all, whatever rules are in force.
    bells = [bell for bell in bells if bell is None or making.catalog.siphons[bell].inside_m > outside]
    bare = replace(BARE, at=making.first.start, standpipe=None if stood is pipe else stood.id)
    made = []
    for bell, guard, snorkel in product(bells, guards, snorkels):
        siphon = BellSiphon(bell, guard, snorkel, flare, cut_out)
        if stands_so(making, pipe, replace(bare, siphon=siphon)):
            made.append(siphon)
    kept = making.pareto(
        [Offered(siphon.parts, _narrow(making, siphon.bell or siphon.guard)) for siphon in made]
    )
    best = {fitting.parts for fitting in kept}
    yield from (siphon for siphon in made if siphon.parts in best)
