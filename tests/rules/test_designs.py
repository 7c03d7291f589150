"""Rules at work in whole designs: a tighter setting is obeyed, a rule switched off is not.

The optimiser writes each rule in whole tenths of a millimetre and the judge measures it on real numbers; that
no design is refused between the two shows that they agree on the same rule.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, TurnStyle, Way
from autoplan.outcome import Finding, Outcome, Status
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.short_list import from_shorter_list, gone

PROBLEM = """
name = "A tank, a filter and a sump"
[tank]
volume = "700 L"
shape = "square"
floor = "300 mm"
[settler]
volume = "200 L"
shape = "square"
floor = "150 mm"
[sump]
volume = "500 L"
floor = "-500 mm"
"""

TIGHTER = {
    "drain-bore": ("large", "60 mm"),
    "pump-duty": ("margin", "300 %"),
    "pressure-velocity": ("most", "0.5 m/s"),
    "sump-high": ("freeboard", "250 mm"),
    "purchase-list": ("kerf", "95 mm"),
}
"""One setting of some rules, tight enough to be felt and not to leave nothing."""


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


DESIGNED: dict[str, Outcome] = {}
"""What was designed before, by rule settings: several tests ask for the same."""


def designed(folder: Path, catalog: Catalog, rules: str = "") -> Outcome:
    """The cheapest design under some rule settings; nothing the optimiser made may have been refused."""
    if rules not in DESIGNED:
        path = folder / "filter.toml"
        path.write_text(from_shorter_list(PROBLEM) + rules)
        DESIGNED[rules] = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    outcome = DESIGNED[rules]
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    return outcome


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory, catalog: Catalog) -> Outcome:
    """The design under the default rules."""
    return designed(tmp_path_factory.mktemp("usual"), catalog)


def findings(outcome: Outcome, rule: str) -> list[Finding]:
    """What one rule says of the cheapest design."""
    return [finding for finding in outcome.designs[0].verdict.findings if finding.rule == rule]


@pytest.mark.parametrize("rule", TIGHTER)
def test_a_tighter_setting_is_obeyed(tmp_path: Path, catalog: Catalog, usual: Outcome, rule: str) -> None:
    """The usual design breaks the tighter limit; the new one keeps it, as judged, and costs no less."""
    key, text = TIGHTER[rule]
    tight = designed(tmp_path, catalog, f'[rules.{rule}]\n{key} = "{text}"\n')
    (strict,) = [kept for kept in read_rules(tight.site).rules if kept.id == rule]
    before = Survey(usual.site, catalog, usual.designs[0].drawing)
    assert not all(finding.ok for finding in strict.check(before))
    assert findings(tight, rule)
    assert all(finding.ok for finding in findings(tight, rule))
    assert tight.designs[0].objective >= usual.designs[0].objective - 1e-9


@pytest.mark.parametrize(
    "rule",
    [
        *("drain-bore", "drain-turns", "pump-duty"),
        *(
            pytest.param(rule, marks=pytest.mark.long)
            for rule in ("drain-rigid", "pressure-velocity", "sump-high")
        ),
    ],
)
def test_a_rule_off_is_not_kept(tmp_path: Path, catalog: Catalog, usual: Outcome, rule: str) -> None:
    """Without the rule no finding speaks of it, and the design costs no more."""
    free = designed(tmp_path, catalog, f"[rules.{rule}]\noff = true\n")
    assert findings(usual, rule)
    assert not findings(free, rule)
    assert free.designs[0].objective <= usual.designs[0].objective + 1e-9


def test_a_narrow_drain_is_cheaper(tmp_path: Path, catalog: Catalog, usual: Outcome) -> None:
    """Without the least bore the drain is narrower: the rule, and not the price list, made it wide."""
    free = designed(tmp_path, catalog, "[rules.drain-bore]\noff = true\n")
    bores = [outcome.designs[0].verdict.runs["tank drain"].bore_m for outcome in (free, usual)]
    assert bores[0] < bores[1]
    assert free.designs[0].objective < usual.designs[0].objective


def test_a_tight_turn_is_a_choice(tmp_path: Path, catalog: Catalog, usual: Outcome) -> None:
    """A tight 90 enters a drain only where its rule is off."""
    free = designed(tmp_path, catalog, "[rules.drain-turns]\noff = true\n[rules.drain-bore]\noff = true\n")
    styles = [
        {
            turn.style
            for name in ("tank drain", "settler drain")
            for turn in outcome.designs[0].drawing.runs[name].turns
            if turn.angle == 90
        }
        for outcome in (free, usual)
    ]
    assert TurnStyle.TIGHT in styles[0]
    assert TurnStyle.TIGHT not in styles[1]


@pytest.mark.parametrize(("wall", "stands"), [("2 mm", True), ("6 mm", False), ("7 mm", False)])
def test_a_thin_wall_gets_a_stand_with_its_seal(
    tmp_path: Path, catalog: Catalog, wall: str, stands: bool
) -> None:
    """Seals in a 2 mm wall are bought with a stand for each, in 6 or 7 mm with none (common practice)."""
    text = PROBLEM.replace("[settler]", f'wall = "{wall}"\n[settler]')
    other = frozenset(part.id for part in catalog.penetrations.values() if part.way is not Way.SEAL)
    path = tmp_path / "thin.toml"
    path.write_text(f"unavailable = {sorted(other.union(gone('shortest')))}\n" + text)
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    assert outcome.designs[0].drawing.runs["tank drain"].start.way is Way.SEAL
    bought = [p.part for p in outcome.designs[0].drawing.purchases if p.part.startswith("stand-")]
    assert bool(bought) is stands
    assert bool(findings(outcome, "seal-stand")) is stands
