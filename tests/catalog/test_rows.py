"""Row models: columns follow from the attributes of a part, and whatever a new kind declares is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

import pytest

from autoplan.catalog.columns import Kinds, Mm, SquareCm, Whole, Yes
from autoplan.catalog.ends import NO_END, End
from autoplan.catalog.kinds.part import Part, Rating, TwoEnds
from autoplan.catalog.parts import COMMON, KINDS, Catalog
from autoplan.catalog.rows import columns_of, read
from autoplan.catalog.sheet import References, Row


@dataclass(frozen=True, slots=True)
class Strainer(Part):
    """A kind of part that no price list has: a basket in a line, some with a drain on it."""

    ends: TwoEnds
    kind: Annotated[str, Kinds("plain or drained", choices=("plain", "drained"))]
    open_m2: Annotated[float, SquareCm("all openings together", name="mesh_cm2")]
    drain_m: Annotated[float, Mm("bore of its drain", None, 0.0, ("drained",))]
    rating_m: Rating
    baskets: Annotated[int, Whole("baskets in it", "1")] = 1
    clear: Annotated[bool, Yes("yes where its lid can be seen through", "no")] = False


CELLS = {
    "id": "strainer-32",
    "description": "strainer 32 mm",
    "shop": "mill",
    "price": "12.50",
    "source": "invented",
    "end_a": "socket metric 32",
    "end_b": "socket metric 32",
    "kind": "plain",
    "mesh_cm2": "20",
    "rating_bar": "10",
}


def row(known: References, **cells: str) -> Row:
    """A row that says the above but for some cells."""
    return Row("strainers.csv", 2, "strainers.csv: line 2", {**CELLS, **cells}, frozenset(), False, known)


@pytest.fixture
def known(small: Catalog) -> References:
    """The sizes and shops of the small price list."""
    return References(small.systems, tuple(small.shops))


def told(known: References, **cells: str) -> list[str]:
    """What is wrong with such a row."""
    one = row(known, **cells)
    read(Strainer, one, place=one.place)
    return [mistake.problem for mistake in one.mistakes]


def test_columns_follow_from_attributes() -> None:
    """Stem and unit of an attribute, or the name given; what has a default stands last and may be absent."""
    own = columns_of(Strainer)[len(COMMON) :]
    names = [
        "end_a",
        "end_b",
        "kind",
        "mesh_cm2",
        "drain_mm",
        "rating_bar",
        "baskets",
        "clear",
        "material",
        "grade",
    ]
    assert [column.name for column in own] == names
    assert [column.name for column in own if column.spare] == ["baskets", "clear", "material", "grade"]
    assert {column.name: column.unit.word for column in own if column.name.startswith(("mesh", "drain"))} == {
        "mesh_cm2": "cm2",
        "drain_mm": "mm",
    }
    assert [one.name for one in columns_of(Strainer)[: len(COMMON)]] == [one.name for one in COMMON]


def test_a_new_kind_is_read(known: References) -> None:
    """Cells become SI, empty ones what their attribute has, and its ends join."""
    one = row(known)
    part = read(Strainer, one, place=one.place)
    assert not one.mistakes
    assert (part.open_m2, part.drain_m, part.baskets, part.clear) == (pytest.approx(0.002), 0.0, 1, False)
    assert part.rating_m == pytest.approx(101.97, abs=0.01)
    assert part.openings == (End("socket", "metric", "32"),) * 2
    assert (part.offers[0].price_cents, part.offers[0].pack, part.place) == (1250, 1, "strainers.csv: line 2")


@pytest.mark.parametrize(
    ("cells", "wrong"),
    [
        ({"kind": "drained", "drain_mm": "20", "baskets": "2", "clear": "Yes"}, []),
        ({"kind": "drained"}, ["drain_mm is empty"]),
        ({"drain_mm": "20"}, ["drain_mm is given for plain"]),
        ({"kind": "washed", "drain_mm": "x"}, ['kind "washed" is not known']),
        ({"baskets": "0"}, ["baskets is 0"]),
        ({"mesh_cm2": "100000"}, []),
        ({"mesh_cm2": "100001"}, ["mesh_cm2 is 100001"]),
        (
            {"end_a": "", "mesh_cm2": "", "clear": "often"},
            ["end_a is empty", "mesh_cm2 is empty", 'clear is "often"'],
        ),
    ],
)
def test_mistakes_of_a_new_kind(known: References, cells: Mapping[str, str], wrong: list[str]) -> None:
    """All of a row at once; what its kind leaves empty is not asked where the kind is not known."""
    assert told(known, **cells) == wrong


def test_an_end_that_cannot_be_read_joins_nothing(known: References) -> None:
    """It stands for none, so that the rest of the row is still looked at."""
    one = row(known, end_a="socket metric 33", rating_bar="-1")
    part = read(Strainer, one, place=one.place)
    assert part.openings[0] == NO_END
    assert len(one.mistakes) == 2


def test_every_kind_is_an_attribute_of_the_catalogue(small: Catalog) -> None:
    """The registry is what a price list holds: each group has parts of its kind, read from its file."""
    for kind, group in zip(KINDS, small.groups(), strict=True):
        assert group is getattr(small, kind.name)
        assert all(
            type(part) is kind.part and part.place.startswith(f"{kind.file}:") for part in group.values()
        )
    assert len({kind.part for kind in KINDS}) == len({kind.file for kind in KINDS}) == len(KINDS)
