"""Runs that a class has built alike though they carry unlike water."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.problem.site import Run, RunKind, Site
from autoplan.sentence import Amount, Text, say

SAME = 1e-3
"""Share by which flows may differ and still be alike [-]."""


def unlike(site: Site, run_class: str | None = None, vessels: frozenset[str] = frozenset()) -> Iterator[Text]:
    """How much each class of drains from vessels, or of feeds to them, carries at least and most, if unlike.

    Pieces of a trunk always are, and are of one size for the one that carries most.

    Args:
        site: what the problem asks.
        run_class: the class that is spoken of, if one is.
        vessels: those of whose water it is spoken, and so of the drains that they stand over.
    """
    for name, members in site.classes().items():
        own = sorted((run for run in members if _own(run) in site.vessels), key=lambda run: _flow(site, run))
        drained = {run.start for run in own if run.kind is RunKind.GRAVITY}
        spoken_of = run_class == name or not vessels.isdisjoint(drained)
        if spoken_of and own and _flow(site, own[-1]) > _flow(site, own[0]) * (1 + SAME):
            yield say(
                'The {} runs of the class "{}" are built alike, of one size and kind, though they carry '
                "from {} ({}) to {} ({}). A run without the key class is built by itself.",
                str(len(members)),
                name,
                Amount(_flow(site, own[0]), "L/h", 0),
                own[0].name,
                Amount(_flow(site, own[-1]), "L/h", 0),
                own[-1].name,
            )


def _own(run: Run) -> str:
    """Where nothing but its own water is: of a drain where it starts, of a feed where it ends."""
    return run.start if run.kind is RunKind.GRAVITY else run.finish


def _flow(site: Site, run: Run) -> float:
    """What a run carries [m3/s]."""
    return site.flows[run.name].design_m3_s
