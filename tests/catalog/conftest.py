"""A small valid price list, alone or with some of its files replaced by broken ones."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture
def overlay(tmp_path: Path) -> Callable[[str], Path]:
    """A folder with the small price list and, over it, the files of tests/data/catalog-NAME."""

    def lay(name: str) -> Path:
        folder = tmp_path / name
        shutil.copytree(DATA / "catalog-small", folder)
        shutil.copytree(DATA / f"catalog-{name}", folder, dirs_exist_ok=True)
        return folder

    return lay


@pytest.fixture
def edited(tmp_path: Path) -> Callable[[str, str, str], Path]:
    """A folder with the small price list in which one text of one file is replaced."""

    def edit(file: str, old: str, new: str) -> Path:
        folder = tmp_path / "edited"
        shutil.copytree(DATA / "catalog-small", folder, dirs_exist_ok=True)
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text
        (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
        return folder

    return edit


@pytest.fixture(scope="session")
def small() -> Catalog:
    """The small price list."""
    return load_catalog(DATA / "catalog-small")


@pytest.fixture(scope="session")
def metric() -> Catalog:
    """The metric price list that comes with the program."""
    return load_catalog(Path(__file__).parents[2] / "catalogs" / "metric")
