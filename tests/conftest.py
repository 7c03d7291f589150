"""What holds for every test."""

from __future__ import annotations

import gc
import os
import sys

import pytest

from autoplan import side_by_side

MANY = 4_000_000
"""New objects after which garbage cycles are looked for, once the test is over."""

# Amid a search there is nothing but its model to go through, which stays: a tenth of the suite's time.
gc.disable()

# Every core has tests to run; copies of a process that has kept so much only cost time. Where they are tested
# they are taken back in.
side_by_side.COPIES = False

# Whatever the environment says: without it every start of the tests, and of the program, compiles anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown() -> None:
    """Looks for garbage between two tests; what is kept to serve others is not gone through again."""
    if gc.get_count()[0] > MANY:
        gc.collect()
        gc.freeze()
