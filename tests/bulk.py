"""One property, a few examples of it every day and many in the long runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import SearchStrategy

Check = Callable[..., None]


def few_and_many(check: Check, few: int, many: int, **strategies: SearchStrategy[Any]) -> tuple[Check, Check]:
    """The same check as two tests, the second for the long runs; examples are the same in every run."""

    def of(count: int) -> Check:
        held: Check = settings(
            max_examples=count,
            deadline=None,
            derandomize=True,
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
        )(given(**strategies)(check))
        return held

    return of(few), pytest.mark.long(of(many))
