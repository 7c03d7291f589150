"""A rule's two halves share no arithmetic: no helper in `rules` serves both `encode` and `check` of one rule.

An error in such a helper would pass both. What a rule's settings allow, and who is above whom on a site, is
common ground; so is what `hydraulics`, `line` and `fittings` say of parts.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import autoplan
from autoplan.rules.book import ALL

COMMON = {
    "over_rim_start.OverRimStart.share": "a setting, held under 1",
    "flood_rate.FloodRate.limits": "settings, or the bed's own range",
    "timer_shut.TimerShut._allowed": "a setting, or the site's overload",
    "timer_shut.open_outlets": "which runs lead where",
    "full_bed_start._ways": "which runs lead where",
    "full_bed_start._above": "which vessel is above which",
    "trunk_bore.TrunkBore.kept": "a setting, which runs lead where and the site's flows",
    "trunk_bore._goes_on": "which runs lead where",
    "free_outlet._outlets": "which runs lead where",
    "surge._downwards": "which vessel is above which",
    "surge._outlets": "which runs lead where",
    "surge.surged": "which runs lead where",
    "surge._flood_m": "a number of the site",
    "quantities.drowned": "of which runs the problem asks it",
    "half_blocked.HalfBlocked.concerns": "a wish",
    "half_blocked.fed_while_shut": "which runs lead where",
    "waste_drain.open_end": "a number of the site",
}
"""Read by both halves: no sum, no formula."""

Function = tuple[str, str, str]
"""Module, class or nothing, name."""


def functions() -> Iterator[tuple[Function, ast.FunctionDef]]:
    """Every function and method of the rules."""
    for path in sorted(Path(autoplan.__file__).parent.glob("rules/**/*.py")):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.FunctionDef):
                yield (path.stem, "", node.name), node
            if isinstance(node, ast.ClassDef):
                methods = (part for part in node.body if isinstance(part, ast.FunctionDef))
                yield from (((path.stem, node.name, part.name), part) for part in methods)


def imports() -> dict[str, dict[str, Function]]:
    """By module what it calls the functions of other modules of the rules."""
    found: dict[str, dict[str, Function]] = {}
    for path in sorted(Path(autoplan.__file__).parent.glob("rules/**/*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and str(node.module).startswith("autoplan.rules."):
                for alias in node.names:
                    origin = str(node.module).split(".")[-1], "", alias.name
                    found.setdefault(path.stem, {})[alias.asname or alias.name] = origin
    return found


KNOWN, IMPORTED = dict(functions()), imports()


def used_by(function: Function, seen: frozenset[Function] = frozenset()) -> frozenset[Function]:
    """Functions of the rules that one uses, and those that they use; of the survey those of its name."""
    module, owner, _ = function
    for node in ast.walk(KNOWN[function]):
        called: Function | None = None
        if isinstance(node, ast.Name):
            called = IMPORTED.get(module, {}).get(node.id, (module, "", node.id))
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            held = {"self": (module, owner), "survey": ("survey", "Survey")}.get(node.value.id)
            called = None if held is None else (*held, node.attr)
        if called in KNOWN and called not in seen and called is not None:
            seen = used_by(called, seen | {called})
    return seen


@pytest.mark.parametrize("kind", [kind for kind in ALL if "encode" in vars(kind)], ids=lambda kind: kind.id)
def test_no_helper_serves_both_halves(kind: type) -> None:
    """What `encode` uses of the rules `check` does not use, but for settings and what leads where."""
    module = kind.__module__.split(".")[-1]
    halves = [used_by((module, kind.__name__, half)) for half in ("encode", "check")]
    shared = {".".join(filter(None, one)) for one in halves[0] & halves[1]}
    assert not shared - set(COMMON)


def test_what_is_common_is_shared() -> None:
    """Nothing stands on the list that no rule shares any more, and helpers are seen through others."""
    shared = set()
    for kind in ALL:
        if "encode" in vars(kind):
            own = kind.__module__.split(".")[-1], kind.__name__
            both = used_by((*own, "encode")) & used_by((*own, "check"))
            shared |= {".".join(filter(None, one)) for one in both}
    assert shared == set(COMMON)
    through = used_by(("pump_duty", "PumpDuty", "check"))
    assert ("survey", "Survey", "low_level") in through
