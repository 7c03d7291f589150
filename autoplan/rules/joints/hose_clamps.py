"""Hose is clamped where the pump's head against closed valves can reach, and nowhere else."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.mating import JointKind, is_poly
from autoplan.catalog.parts import SundryKind
from autoplan.fittings.valve import ValveSet
from autoplan.line.joints import Joint
from autoplan.line.needs import Want, joint_needs
from autoplan.outcome import Finding
from autoplan.places import OfAll, OfWant, OnRun
from autoplan.problem.site import RunKind
from autoplan.rules.base import Rule
from autoplan.rules.order.sundries import usual_amounts
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text


class HoseClamps(Rule):
    """A barb in hose lets go under the head of a pump against a closed valve, and holds without it.

    From the pump to the last valve of each leg hose is clamped; past it, where the end is always open, and in
    poly line, which grips by itself, it is not. Switched off, no clamp is counted at all. What the model
    needs is written by the orders, which count the joints of what is chosen.
    """

    id = "hose-clamps"
    sentence = "Hose is clamped on each barb that the pump's head can reach, and on no other."
    source = "common practice, no source"
    unit = "clamps"
    negotiable = True
    of_money = True
    of_taste = True
    counts = frozenset((SundryKind.CLAMP,))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per run with barbs in hose: clamps where they must be, and where they need not.

        And one for each size of clamp: how many are owned or ordered. Where there is no hose, only that.
        """
        if not any(_in_hose(joint) for joint in survey.joints):
            yield self.at_most(OfAll("no hose anywhere"), 0.0, 0.0)
            return
        by_run: dict[str, list[tuple[int, Joint]]] = {}
        for joint in survey.joints:
            made = by_run.setdefault(joint.run, [])
            made.append((len(made), joint))
        for name, made in by_run.items():
            hose = [(number, joint) for number, joint in made if _in_hose(joint)]
            shut = _last_shut(survey, name, [joint for _, joint in made])
            under = [joint for number, joint in hose if number <= shut]
            beyond = [joint for number, joint in hose if number > shut]
            if under:
                yield self.not_under(OnRun(name), float(_clamped(under)), float(len(under)))
            if beyond:
                yield self.at_most(OnRun(name, "past its last valve"), float(_clamped(beyond)), 0.0)
        if any(row.kind is SundryKind.CLAMP for row in survey.catalog.sundries.values()):
            yield from self._bought(survey)

    def _bought(self, survey: Survey) -> Iterator[Finding]:
        """Whether each size of clamp is owned or ordered."""
        for want, had, count in sorted(had_of(survey, self._wanted(survey))):
            yield self.not_under(OfWant(want), had, count, 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """That there is no clamp to be had."""
        return not_listed(survey, self._wanted(survey))

    def _wanted(self, survey: Survey) -> dict[Want, float]:
        """Clamps by size."""
        wanted: dict[Want, float] = {}
        amounts = usual_amounts()
        for joint in survey.joints:
            if joint.kind is JointKind.CLAMPED:
                for want, count in joint_needs(survey.catalog, joint, amounts).items():
                    wanted[want] = wanted.get(want, 0.0) + count
        return wanted


def _in_hose(joint: Joint) -> bool:
    return joint.kind in (JointKind.BARB, JointKind.CLAMPED) and not is_poly(joint.left_end)


def _clamped(joints: list[Joint]) -> int:
    return sum(joint.kind is JointKind.CLAMPED for joint in joints)


def _last_shut(survey: Survey, name: str, joints: list[Joint]) -> float:
    """Number of a run's last joint that a closed valve, or a capped end, keeps under a head; or -1."""
    run = survey.run(name)
    if run.kind is not RunKind.PRESSURE:
        return -1
    if survey.drawn(name).later or any(
        survey.drawn(other).one(ValveSet) is not None or survey.drawn(other).later
        for path in survey.pressure_paths
        if name in path
        for other in path[path.index(name) + 1 :]
    ):
        return len(joints)
    valve = survey.drawn(name).one(ValveSet)
    part = None if valve is None else valve.valve
    return max((n for n, joint in enumerate(joints) if joint.right == part), default=-1)
