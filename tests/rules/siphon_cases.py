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


def least_bore(share: float) -> Any:
    """A plan whose rule asks for a share of its standpipe's bore."""

    def changed(plan: Any) -> Any:
        bore = plan.survey.standpipe("bed drain 1").bore_m * 1000 * share
        return plan.rules({"siphon-start": {"least_bore": f"{bore:.9f} mm"}})

    return changed


def fitted(what: str, key: str, extra_mm: float) -> Any:
    """A plan whose bell or guard measures what it must in one way, give or take."""

    def changed(plan: Any) -> Any:
        finding = plan.findings("bell-fit")[f"bed 1: {what}"]
        part = plan.drawing.runs["bed drain 1"].start.siphon
        changed_part = part.guard if what.endswith("guard") else part.bell
        return plan.part(changed_part, **{key: (finding.limit + extra_mm) / 1000})

    return changed


def fit(what: str, key: str) -> Case:
    """A measure of the bell or of the guard."""
    return Case("bell-fit", f"bed 1: {what}", fitted(what, key, 0.01), fitted(what, key, -0.01))


SIPHON_CASES = (
    scaled_to_limit("siphon-start", "bed 1", "bed drain 1", -1),
    Case("siphon-start", "bed 1: bore", least_bore(0.9999), least_bore(1.0001)),
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
    fit("inside of the bell", "inside_m"),
    fit("height of the bell", "tallest_m"),
    fit("inside of the guard", "inside_m"),
    fit("height of the guard", "tallest_m"),
)
