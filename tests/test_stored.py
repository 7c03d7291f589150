"""Designs that are kept for other tests are those that a search finds."""

from __future__ import annotations

import pytest

from tests.stored import FOLDER, kept, searched, stored

NAMES = sorted(path.stem for path in FOLDER.glob("*.json"))


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_a_search_finds_what_is_kept(name: str) -> None:
    """Searched again, the same drawing is proven at the same cost."""
    held = kept(name)
    assert searched(held["problem"]) == held


@pytest.mark.parametrize("name", NAMES[:1])
def test_another_problem_is_not_taken_for_it(name: str) -> None:
    """A kept design answers the problem that it was searched for and no other."""
    with pytest.raises(AssertionError, match="another problem"):
        stored(name, kept(name)["problem"] + "# another\n")
