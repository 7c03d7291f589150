"""Each of the stored answers drawn."""

from __future__ import annotations

import pytest

from tests.report.drawings.drawn import STORED, Drawn, drawing_of


@pytest.fixture(scope="package", params=STORED)
def drawn(request: pytest.FixtureRequest) -> Drawn:
    """Each of the stored problems drawn."""
    return drawing_of(request.param)
