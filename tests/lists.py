"""Price lists with other rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from autoplan.catalog.parts import KINDS, Catalog, Part

GROUPS = tuple(kind.name for kind in KINDS)
"""Every kind of part, as the price list's attribute is called."""


def rewritten(catalog: Catalog, row: Callable[[Any], Part | None], groups: Iterable[str] = GROUPS) -> Catalog:
    """The same price list, each row of some kinds as it is given; without those given as None."""
    left: dict[str, Any] = {
        group: {old.id: new for old in getattr(catalog, group).values() if (new := row(old)) is not None}
        for group in groups
    }
    return replace(catalog, **left)


def with_row(catalog: Catalog, part: str, **changes: Any) -> Catalog:
    """The same price list with one row changed."""
    assert catalog.part(part)
    return rewritten(catalog, lambda row: replace(row, **changes) if row.id == part else row)
