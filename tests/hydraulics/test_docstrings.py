"""Docstrings agree with signatures, and imports stay light."""

from __future__ import annotations

import importlib
import inspect
import re
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest

MODULES = [
    "basins",
    "drain_hole",
    "friction",
    "fittings",
    "gravity",
    "conduit",
    "network",
    "passage",
    "pump",
    "search",
    "water",
]


def public_functions() -> Iterator[tuple[str, Callable[..., object]]]:
    """Every public function of the package, and every public method whose docstring lists arguments."""
    for name in MODULES:
        module = importlib.import_module(f"autoplan.hydraulics.{name}")
        for label, member in inspect.getmembers(module):
            if label.startswith("_") or getattr(member, "__module__", None) != module.__name__:
                continue
            if inspect.isfunction(member):
                yield f"{name}.{label}", member
            elif inspect.isclass(member):
                for method, function in inspect.getmembers(member, inspect.isfunction):
                    if not method.startswith("_") and "Args:" in (function.__doc__ or ""):
                        yield f"{name}.{label}.{method}", function


FUNCTIONS = dict(public_functions())


def test_all_are_found() -> None:
    """The list holds functions and methods that are known to exist."""
    assert {"friction.friction_head", "conduit.Conduit.flow", "pump.PumpCurve.head"} <= set(FUNCTIONS)


@pytest.mark.parametrize("label", FUNCTIONS)
def test_arguments_are_documented(label: str) -> None:
    """The docstring lists exactly the arguments of the signature, in order, and what is returned."""
    function = FUNCTIONS[label]
    text = inspect.getdoc(function) or ""
    section = re.search(r"^Args:\n(.*?)(?=^\S|\Z)", text, re.DOTALL | re.MULTILINE)
    assert section is not None
    documented = re.findall(r"^    (\w+): ", section.group(1), re.MULTILINE)
    assert documented == [name for name in inspect.signature(function).parameters if name != "self"]
    assert "Returns:" in text


def test_hydraulics_does_not_load_scipy_or_a_solver() -> None:
    """Importing every module loads neither scipy nor ortools."""
    code = (
        "import importlib, sys\n"
        f"for name in {MODULES!r}: importlib.import_module('autoplan.hydraulics.' + name)\n"
        "print(sorted({'scipy', 'ortools', 'pint', 'networkx'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
