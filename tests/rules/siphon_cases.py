"""The limits of the rules on bell siphons."""

from __future__ import annotations

from typing import Any

from tests.rules.limits import Case, scaled_to_limit


def at_share(rule: str, key: str, share: float, unit: str) -> Any:
    """A plan whose rule asks for a share of what the finding says it has."""

    def changed(plan: Any) -> Any:
        finding = plan.findings(rule)["bed 1"]
        wanted = finding.value * share
        if rule == "siphon-break":
            wanted = (wanted / plan.findings("siphon-start")["bed 1"].value - 1) * 100
        return plan.rules({rule: {key: f"{wanted:.9f}{unit}"}})

    return changed


def bell(plan: Any) -> str:
    """The bell of the plan's siphon."""
    return plan.drawing.runs["bed drain 1"].start.siphon.bell


def bored(extra_mm: float) -> Any:
    """A plan whose bell is as wide inside as it must be, give or take."""

    def changed(plan: Any) -> Any:
        finding = plan.findings("bell-fit")["bed 1: inside of the bell"]
        return plan.part(bell(plan), inside_m=(finding.limit + extra_mm) / 1000)

    return changed


SIPHON_CASES = (
    scaled_to_limit("siphon-start", "bed 1", "bed drain 1", -1),
    Case(
        "siphon-break",
        "bed 1",
        at_share("siphon-break", "margin", 0.9999, " %"),
        at_share("siphon-break", "margin", 1.0001, " %"),
    ),
    Case(
        "flood-rate",
        "bed 1",
        at_share("flood-rate", "least", 0.9999, "/hour"),
        at_share("flood-rate", "least", 1.0001, "/hour"),
    ),
    Case(
        "flood-rate",
        "bed 1",
        at_share("flood-rate", "most", 1.0001, "/hour"),
        at_share("flood-rate", "most", 0.9999, "/hour"),
    ),
    Case("bell-fit", "bed 1: inside of the bell", bored(0.01), bored(-0.01)),
)
