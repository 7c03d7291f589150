"""Parts by the names that builders give them: no id where it is not typed in or ordered by."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from autoplan.catalog.naming import name_of, names_of, row_of
from autoplan.outcome import Outcome
from autoplan.report.contract.told import design_told, run_told
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.contents import NAMES, sections
from autoplan.report.units import SI
from tests.stored import kept, stored


@pytest.fixture(
    scope="module",
    params=["four-beds", "two-beds-on-clocks", "sludge-to-the-garden", "screens", "two-drains"],
)
def found(request: pytest.FixtureRequest) -> Outcome:
    """A proven design of parts of the metric price list."""
    name: str = request.param
    return stored(name, str(kept(name)["problem"]))


def _ids(outcome: Outcome, text: str) -> set[str]:
    """The ids of the price list's parts that stand in a text by themselves."""
    ids = {part for group in outcome.catalog.groups() for part in group}
    return ids & set(re.findall(r"[\w.+/-]*[\w+/]", text))


@pytest.mark.parametrize(
    ("description", "name"),
    [
        ("pressure pipe 50 x 2.4 mm, stick of 3 m", "pressure pipe 50 x 2.4 mm"),
        ("irrigation line 13 mm bore, by the metre", "irrigation line 13 mm bore"),
        ("polyethylene line 1/2 in, by the foot, priced by the metre", "polyethylene line 1/2 in"),
        ("elbow 40 mm, 90 degrees, tight", "elbow 40 mm, 90 degrees, tight"),
        ("clear hose 25 mm by the metre", "clear hose 25 mm by the metre"),
    ],
)
def test_a_name_is_not_how_a_part_is_sold(outcome: Outcome, description: str, name: str) -> None:
    """The description, without the stick, metre or foot that it is bought by."""
    pipe = replace(outcome.catalog.pipes["drain-50"], description=description)
    catalog = replace(outcome.catalog, pipes={pipe.id: pipe})
    assert name_of(catalog, pipe.id) == name


def test_alike_parts_are_counted(outcome: Outcome) -> None:
    """Each name once, with how often it comes, in the order in which it comes first."""
    parts = ("bend-32-45", "seal-50", "bend-32-45")
    names = ["2 x bend 32 mm 45 degrees", "push-in rubber seal 50 mm"]
    assert names_of(outcome.catalog, parts) == names
    assert row_of(outcome.catalog, parts) == " + ".join(names)
    assert names_of(outcome.catalog, ()) == []
    assert row_of(outcome.catalog, ()) == ""


def test_a_part_that_is_not_there_has_no_name(outcome: Outcome) -> None:
    """What the price list lacks is a fault of ours and not called something."""
    with pytest.raises(KeyError):
        name_of(outcome.catalog, "seal-51")


@pytest.mark.parametrize("section", [name for name in NAMES if name not in ("buy", "all")])
def test_no_section_tells_ids(found: Outcome, section: str) -> None:
    """But for the purchase list, nothing that is printed calls a part by its id."""
    assert _ids(found, plain_text(sections(found, SI, (section,)))) == set()


def test_the_purchase_list_tells_them_whole(found: Outcome) -> None:
    """Whatever is bought stands there by its id, in one line."""
    bought = {line.part for line in found.designs[0].drawing.purchases if line.packs}
    assert bought <= _ids(found, plain_text(sections(found, SI, ("buy",))))


def test_no_sentence_of_the_json_tells_ids(found: Outcome) -> None:
    """What is told in words goes by names there too; the ids stand in keys of their own."""
    (design,) = found.designs
    told = design_told(found, design)
    said = [str(told["told"]), str(told["build_order"])]
    said += [run_told(found, design, name) for name in design.drawing.runs]
    assert len(said) > 4
    assert _ids(found, " ".join(said)) == set()


@pytest.mark.parametrize("section", ["levels", "fill"])
def test_levels_are_whole_millimetres(found: Outcome, section: str) -> None:
    """What is marked on a wall or read off a tape has no tenths."""
    text = plain_text(sections(found, SI, (section,)))
    assert re.search(r"\d \(\d", text)
    assert not re.search(r"\d\.\d", text)
