"""The same small plan as the rules are tried on."""

from __future__ import annotations

import runpy
from pathlib import Path

_rules = runpy.run_path(str(Path(__file__).parents[1] / "rules" / "conftest.py"))
outcome, plan = _rules["outcome"], _rules["plan"]
