"""What the verdict tells the optimiser: the smallest cut for what it refused, and where the two disagree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.drawing import Drawing
from autoplan.optimiser.cutting.sticks import TENTH_MM
from autoplan.optimiser.model.draft import Draft
from autoplan.outcome import Finding, Verdict
from autoplan.places import AtEnd, InVessel, OnRun
from autoplan.problem.site import Draw
from autoplan.rules.base import Concern
from autoplan.rules.book import ALL
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from autoplan.rules.survey import Survey

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
        for run_class in _classes(draft, found):
            (made,) = [var for var, _ in draft.candidates(run_class) if values[var]]
            return _never((made,))
    return _never(tuple(var for group in draft.model.groups for var in group if values[var]))


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
