"""What ranked designs must differ in, and how a builder tells them apart."""

from __future__ import annotations

from autoplan.problem.graph import pumped_from
from autoplan.problem.site import Guard, RunKind
from autoplan.rules.base import Candidate
from autoplan.rules.linear import Var
from autoplan.selection.draft import Draft
from autoplan.selection.draw import Chosen

_GUARDS = {Guard.HOLE: "siphon-break hole", Guard.CHECK_VALVE: "check valve"}


def trait_groups(draft: Draft) -> dict[str, dict[str, list[Var]]]:
    """What ranks must differ in: for each trait, the choices by the trait's value."""
    groups: dict[str, dict[str, list[Var]]] = {}
    for vessel in draft.site.pumped_vessels():
        group: dict[str, list[Var]] = {}
        for var, choice in draft.pumps(vessel):
            group.setdefault(choice.pump.id, []).append(var)
        groups[f"pump in {vessel}"] = group
    for name in _told_apart(draft):
        group = {}
        for var, candidate in draft.candidates(name):
            group.setdefault(_candidate_trait(candidate), []).append(var)
        groups[f"runs {name}"] = group
    return groups


def _told_apart(draft: Draft) -> list[str]:
    """Classes by which ranks differ: every drain, and the pressure runs with half a pump's flow or more.

    A builder does not call it another design because one feed of many is a size narrower.
    """
    roots = pumped_from(draft.site)
    flows = draft.site.flows
    whole = {
        run.start: flows[run.name].design_m3_s
        for run in draft.site.runs.values()
        if run.start in draft.site.pumped_vessels()
    }
    return [
        name
        for name, members in draft.site.classes().items()
        if any(
            not run.waste
            if run.kind is RunKind.GRAVITY
            else flows[run.name].design_m3_s >= whole[roots[run.name]] / 2
            for run in members
        )
    ]


def _candidate_trait(candidate: Candidate) -> str:
    return f"{candidate.pipe.end} {candidate.start_way} {candidate.finish_way}"


def traits_of(draft: Draft, chosen: Chosen) -> dict[str, str]:
    """What a builder tells designs apart by, in plain words: pump, then pipe and wall parts by class."""
    traits = {
        f"pump in {vessel}": draft.catalog.pumps[choice.pump.id].description
        for vessel, choice in chosen.pumps.items()
    }
    for name, candidate in chosen.candidates.items():
        ways = [str(way) for way in (candidate.start_way, candidate.finish_way) if way is not None]
        guards = {drawn.finish.guard for drawn in candidate.drawn.values()}
        ways += [words for guard, words in _GUARDS.items() if guard in guards]
        end = candidate.pipe.end
        # Pipe of one size comes to be welded or only to be gripped, as PE is: another way to build it.
        gripped = " for compression joints" if end.form == "plain" else ""
        traits[name] = ", ".join((f"{end.system} {end.size}{gripped}", *ways))
    return traits
