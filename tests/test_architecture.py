"""The shape of the house: imports go down only, the solver stays in its room, nothing grows too long."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import autoplan
from autoplan.rules.book import ALL

HOUSE = Path(autoplan.__file__).parent

FLOORS = (
    ("sentence",),
    ("bed_facts", "clock", "errors", "side_by_side"),
    ("options", "units"),
    ("hydraulics",),
    ("catalog", "problem"),
    ("fittings",),
    ("line",),
    ("drawing",),
    ("places", "wished"),
    ("outcome",),
    ("rules",),
    ("optimiser", "verdict"),
    ("advice", "report"),
    ("asked", "begin", "telling"),
    ("plan",),
    ("door", "delivery"),
    ("autoplan",),
    ("cli",),
    ("__main__",),
)
"""Rooms from the ground up; a room imports from floors below and from itself, never from its neighbours."""

FLOOR = {room: height for height, rooms in enumerate(FLOORS) for room in rooms}

MOST_FUNCTION, MOST_FILE = 60, 500


@cache
def sources() -> tuple[tuple[Path, str, ast.Module], ...]:
    """Every module of the package: path inside it, room, syntax tree."""
    found = []
    for path in sorted(HOUSE.rglob("*.py")):
        inside = path.relative_to(HOUSE)
        room = inside.parts[0].removesuffix(".py")
        found.append((inside, "autoplan" if room == "__init__" else room, ast.parse(path.read_text())))
    return tuple(found)


@cache
def imported(tree: ast.Module) -> tuple[str, ...]:
    """Full names of the modules that a module imports, wherever in it."""
    return tuple(_imported(tree))


def _imported(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            if node.module == "autoplan":
                yield from (f"autoplan.{alias.name}" for alias in node.names)
            else:
                yield str(node.module)


def test_every_room_has_its_floor() -> None:
    """No room stands outside the order, and none of the order is missing."""
    assert {room for _, room, _ in sources()} == set(FLOOR)


def test_imports_go_down_only() -> None:
    """No module imports from its own floor's neighbours or from above."""
    wrong = [
        f"{inside} imports {name}"
        for inside, room, tree in sources()
        for name in imported(tree)
        if name.split(".")[0] == "autoplan"
        for other in [([*name.split("."), "autoplan"])[1]]
        if other != room and FLOOR[other] >= FLOOR[room]
    ]
    assert not wrong, "\n".join(wrong)


def test_only_the_optimiser_knows_the_solver() -> None:
    """No other room imports ortools, and the optimiser does."""
    rooms = {
        room for _, room, tree in sources() for name in imported(tree) if name.split(".")[0] == "ortools"
    }
    assert rooms == {"optimiser"}


def test_the_report_works_nothing_out() -> None:
    """What a fitting does to water is nothing that the report asks for."""
    rooms = {
        room
        for _, room, tree in sources()
        for name in imported(tree)
        if name.startswith("autoplan.hydraulics")
    }
    assert "report" not in rooms
    assert "fittings" in rooms


def test_only_units_knows_pint() -> None:
    """Texts with units are read in one place."""
    rooms = {room for _, room, tree in sources() for name in imported(tree) if name.split(".")[0] == "pint"}
    assert rooms == {"units"}


def loaded(module: str) -> set[str]:
    """Top-level packages in memory after importing a module in a fresh interpreter."""
    code = f"import sys, {module}; print(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


HYDRAULICS = ", ".join(
    f"autoplan.hydraulics.{path.stem}" for path in sorted(HOUSE.glob("hydraulics/[a-z]*.py"))
)


def test_loads_without_the_solver() -> None:
    """Rules, verdict, report and hydraulics work where the solver is not even loaded."""
    modules = ["autoplan.rules.book", "autoplan.verdict.judge", "autoplan.report.render.show", HYDRAULICS]
    assert "ortools" not in loaded(", ".join(modules))


def test_the_solver_would_be_seen() -> None:
    """The check above does see the solver where it is loaded."""
    assert "ortools" in loaded("autoplan.optimiser.search.attempt")


def test_the_command_line_starts_light() -> None:
    """Help and version cost no heavy library, and not even the one that writes on terminals."""
    heavy = {"rich", "ortools", "scipy", "numpy", "pint", "networkx", "pydantic", "fluids"}
    assert not loaded("autoplan.cli") & heavy


def test_pages_and_drawings_are_loaded_late() -> None:
    """Who asks for no page and no drawing waits for neither of their libraries."""
    assert not loaded("autoplan.report.render.show, autoplan.report.contract") & {"jinja2", "matplotlib"}
    assert "jinja2" not in loaded("autoplan.report.page.stored")


def test_no_two_classes_of_one_name() -> None:
    """A name that is read is one thing in the whole house."""
    names = [
        node.name
        for _, _, tree in sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    ]
    assert not {name for name in names if names.count(name) > 1}


def test_no_function_is_long() -> None:
    """No function is longer than a screen."""
    long = [
        f"{inside}: {node.name} has {lines} lines"
        for inside, _, tree in sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (lines := (node.end_lineno or node.lineno) - node.lineno + 1) > MOST_FUNCTION
    ]
    assert not long, "\n".join(long)


def test_no_file_is_long() -> None:
    """No file is longer than can be read in one go."""
    long = [
        f"{inside} has {lines} lines"
        for inside, _, _ in sources()
        if (lines := len((HOUSE / inside).read_text().splitlines())) > MOST_FILE
    ]
    assert not long, "\n".join(long)


def test_no_rule_is_known_by_its_name() -> None:
    """Who searches, advises and wires a call speaks of rules by what they are, and never by their ids."""
    ids = {kind.id for kind in ALL}
    lists = {path.stem for path in (HOUSE.parent / "catalogs" / "metric").glob("*.csv")}
    wrong = [
        f"{inside}:{node.lineno} knows {node.value!r}"
        for inside, room, tree in sources()
        if room in ("optimiser", "advice", "plan")
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and node.value in ids - lists
    ]
    assert not wrong, "\n".join(wrong)
