"""What the verdict tells the optimiser: the smallest cut for what it refused, and where the two disagree."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from autoplan.drawing import Drawing
from autoplan.fittings.ends import AtVessel
from autoplan.line.laid import slots_and_room
from autoplan.line.route import LEVEL_M
from autoplan.optimiser.decode import beside_adaptors
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.joints import InLine, JointChoice, Teed
from autoplan.outcome import Finding, Verdict
from autoplan.places import AtEnd, InVessel, OnRun
from autoplan.problem.site import Draw, Run
from autoplan.rules.base import Concern
from autoplan.rules.book import ALL, ROLES
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from autoplan.rules.survey import Survey
from autoplan.units import TENTH_MM

LOCAL: frozenset[str] = frozenset(kind.id for kind in ALL if kind.local)
"""Rules whose finding hangs on nothing but how its run is built."""

NOISE = 1e-3
"""Part of a tenth of a millimetre that floating point may lose [-]."""


def cut(draft: Draft, values: Sequence[int], verdict: Verdict) -> Linear:
    """The row that forbids what the verdict refused, and as much more as its reasons forbid.

    Where a broken rule hangs on nothing but how one run is built, no design may build that run's class so;
    else these very choices are never made together again. Either way no design that the verdict would accept
    is lost.

    Args:
        draft: the model.
        values: the answer that was refused.
        verdict: why.
    """
    broken = [found for found in verdict.findings if found.hard and not found.ok]
    for found in broken:
        if found.rule == ROLES[Concern.ROUTE] and isinstance(found.place, OnRun):
            crowded = _too_crowded(draft, values, draft.site.runs[found.place.run])
            if crowded is not None:
                return crowded
        for run_class in _classes(draft, found):
            (made,) = [var for var, _ in draft.candidates(run_class) if values[var]]
            return _never((made,))
    return _never(tuple(var for group in draft.model.groups for var in group if values[var]))


def _too_crowded(draft: Draft, values: Sequence[int], run: Run) -> Linear | None:
    """No way to build a run that has no room for its adaptors, at any heights, with as long ones or longer.

    Adaptors at a tee or pump are chosen for themselves, and a candidate is routed before they are known.
    None where room hangs on heights as well.
    """
    (made,) = [one for var, one in draft.candidates(run.run_class) if values[var]]
    lengths = draft.shelf.bench.lengths(made.pipe)
    line, least, beside = made.drawn[run.name], list[tuple[str, ...]](), list[list[Var]]()
    for end in (line.start, line.finish):
        ways = () if isinstance(end, AtVessel) else chains_to(draft.all_joints().get(end.at), run.name)
        own = next((chain for var, chain in ways if values[var]), ())
        least.append(own)
        if own:
            beside.append([var for var, chain in ways if lengths.taken(chain) >= lengths.taken(own)])
    start, finish = least
    alike = [
        (var, one) for var, one in draft.candidates(run.run_class) if one.pipe.family == made.pipe.family
    ]
    tight = [var for var, one in alike if room_beside(draft, one, run.name, start, finish) < -LEVEL_M]
    if not beside or not any(values[var] for var in tight):
        return None
    return weighted(((var, -1) for group in (tight, *beside) for var in group), len(beside))


def chains_to(joint: JointChoice | None, run: str) -> Sequence[tuple[Var, tuple[str, ...]]]:
    """The choices of a joint that put adaptors on a run, and those of each."""
    match joint:
        case InLine(names=(_, name)) if name == run:
            return [(var, way.chain) for var, way in joint.ways]
        case Teed() if run in joint.ports:
            return [(var, way.chain) for var, way in joint.ports[run]]
    return ()


def room_beside(
    draft: Draft, candidate: Candidate, run: str, start: tuple[str, ...], finish: tuple[str, ...]
) -> float:
    """The most room that the tightest straight of a run has over a stub [m], whatever the heights.

    Args:
        draft: the model.
        candidate, run: how it is built, and which run of its class.
        start, finish: adaptors from what stands at either end.
    """
    line, course, bench = candidate.drawn[run], candidate.courses.get(run), draft.shelf.bench
    if course is None:
        return math.inf
    ends = (
        end if isinstance(end, AtVessel) else replace(end, chain=chain)
        for end, chain in ((line.start, start), (line.finish, finish))
    )
    chained = line.with_ends(*ends)
    moved = beside_adaptors(bench.lengths(candidate.pipe), chained, course)
    # Adaptors move uprights along, whatever the heights are: what that does to each leg is told by any.
    shifts = zip(moved.legs(0.0, 0.0), course.legs(0.0, 0.0), candidate.legs_m[run], strict=True)
    most = [longest + after.length_m - before.length_m for after, before, longest in shifts]
    legs = tuple(replace(leg, length_m=length) for leg, length in zip(line.legs, most, strict=True))
    return slots_and_room(bench, draft.site, replace(chained, legs=legs))[1]


def _never(made: Sequence[Var]) -> Linear:
    """Not all of these choices."""
    return weighted(((var, -1) for var in made), len(made) - 1)


def _classes(draft: Draft, found: Finding) -> Iterator[str]:
    """The class of the run that a finding of a local rule speaks of."""
    if found.rule not in LOCAL:
        return
    for run in draft.site.runs.values():
        match found.place:
            case OnRun(name) | AtEnd(name) if name == run.name:
                yield run.run_class
            case InVessel(name) if name == run.start and run.draw is Draw.STANDPIPE:
                yield run.run_class


def disagreements(draft: Draft, values: Sequence[int], drawing: Drawing, verdict: Verdict) -> Iterator[str]:
    """Numbers on which optimiser and verdict differ by more than the stated rounding, a sentence each.

    The order's cost is the same to the cent. A loss in the model is rounded up part by part, so it is never
    less than the loss that the verdict works out, but where it is hopeless, which no rule in force minds.
    Where levels keep no range nothing is said of losses.

    Args:
        draft, values: the model and its answer.
        drawing, verdict: the answer drawn, and judged.
    """
    asked = evaluate(draft.spending(), values)
    paid = round(verdict.cost.to_pay * 100)
    if asked != paid:
        yield f"the order costs {paid / 100:.2f} by the verdict and {asked / 100:.2f} by the optimiser"
    if not draft.book.has(Concern.LEVELS):
        # A standpipe then stands as high as the water is put, and not as high as it was measured.
        return
    survey = Survey(draft.site, draft.catalog, drawing)
    for path in (*draft.open_paths(), *draft.pressure_paths()):
        real = survey.path_loss(path, survey.flows_at()) / TENTH_MM
        model = evaluate(draft.path_loss(path, 1.0), values)
        if real > model + NOISE and model < draft.hopeless:
            name = " + ".join(path)
            yield f"{name} loses {real / 10:.2f} mm by the verdict and {model / 10:.1f} mm by the optimiser"
