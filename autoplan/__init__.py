"""autoplan: designs the plumbing of a recirculating fish-and-plant system. The public door.

problem = autoplan.load_problem("problems/four-beds.toml")
outcome = autoplan.design(problem, autoplan.load_catalog(problem.catalog))
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from autoplan.errors import AutoplanError, InputError, InternalError, Mistake

if TYPE_CHECKING:
    from autoplan.catalog.parts import Catalog
    from autoplan.outcome import Outcome
    from autoplan.problem.problem import Problem
    from autoplan.problem.site import Site

__all__ = [
    "AutoplanError",
    "InputError",
    "InternalError",
    "Mistake",
    "design",
    "load_catalog",
    "load_problem",
]


def load_problem(path: str | Path) -> Problem:
    """Read a problem file.

    Raises:
        InputError: everything that is wrong with it.
    """
    from autoplan.problem.toml.load import load_problem as load

    return load(path)


def load_catalog(name_or_folder: str | Path, beside: Path | None = None) -> Catalog:
    """Read a price list by its folder, or by its name beside a problem file or among those that come along.

    Raises:
        InputError: everything that is wrong with it.
    """
    from autoplan.catalog.load import find_catalog
    from autoplan.catalog.load import load_catalog as load

    return load(find_catalog(str(name_or_folder), beside))


def design(
    asked: Problem | Site,
    catalog: Catalog,
    *,
    top: int = 5,
    budget: float | None = None,
    without: Sequence[str] = (),
    rank_by: str = "purchase",
    differ: Sequence[str] = (),
    price_wishes: bool = False,
    time_limit: float | None = None,
    progress: Callable[[str, float | None, float | None], None] | None = None,
) -> Outcome:
    """Ranked, verified designs; see `autoplan.door.design`, and `autoplan.options.Options` for the rest."""
    from autoplan import door
    from autoplan.options import Options

    # A word alone is a sequence too, of letters.
    kinds, parts = ((words,) if isinstance(words, str) else tuple(words) for words in (differ, without))
    options = Options(top, budget, parts, rank_by, kinds, price_wishes, time_limit, progress)
    return door.design(asked, catalog, options)
