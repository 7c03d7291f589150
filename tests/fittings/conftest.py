"""The metric price list, of whose parts single fittings are made."""

from __future__ import annotations

import pytest

import autoplan
from autoplan.catalog.parts import Catalog


@pytest.fixture(scope="session")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")
