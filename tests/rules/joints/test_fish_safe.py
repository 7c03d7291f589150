"""Nothing in the water poisons fish: both halves of the rule, and the cheap brass part that it refuses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.materials import Material
from autoplan.catalog.parts import AirKind, FixtureKind, SundryKind
from autoplan.fittings.valve import ValveSet
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.making import NoOptionError
from autoplan.outcome import Status
from autoplan.report.render.plain import plain_text
from autoplan.report.shelf import shelf
from autoplan.rules.asked import OnShelf
from autoplan.rules.book import read_rules
from autoplan.rules.joints.fish_safe import POISONOUS, FishSafe, touches
from tests.lines import the
from tests.short_list import from_short_list
from tests.words import at, by_place

LOOSE = "\n[rules.feed-handle]\noff = true\n[rules.feed-bore]\noff = true\n"
"""What else stands in the way of the narrow brass valves of the price list, whose handles stay on."""

BASE = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")
OFF = "\n[rules.fish-safe]\noff = true\n"


def cheapest(folder: Path, extra: str = "") -> autoplan.outcome.Outcome:
    """The cheapest design of the smallest shipped problem with something added."""
    path = folder / "brass.toml"
    path.write_text(from_short_list(BASE) + LOOSE + extra, encoding="utf-8")
    return autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)


def brass(outcome: autoplan.outcome.Outcome) -> set[str]:
    """Parts of brass on the order."""
    bought = (outcome.catalog.part(line.part) for line in outcome.designs[0].drawing.purchases)
    return {row.id for row in bought if row.material is Material.BRASS}


def test_the_cheaper_brass_valve_is_bought_only_without_the_rule(tmp_path: Path) -> None:
    """With the rule no brass is bought; without it the brass valves come in, and the plan costs less."""
    safe, loose = cheapest(tmp_path), cheapest(tmp_path, OFF)
    assert safe.status is loose.status is Status.PROVEN
    assert brass(safe) == set()
    assert brass(loose)
    paid = [one.designs[0].verdict.cost for one in (safe, loose)]
    assert paid[1].purchase + paid[1].freight < paid[0].purchase + paid[0].freight
    told = by_place(found for found in safe.designs[0].verdict.findings if found.rule == "fish-safe")
    (clean,) = told.values()
    assert (at(clean), clean.value, clean.limit, clean.ok) == ("everything in the water", 0.0, 0.0, True)


@pytest.mark.parametrize("material", list(Material))
def test_each_material(plan, material: Material) -> None:
    """Plastic, rubber and stainless steel hold, copper, its alloys and zinc do not, on a valve or a pipe."""
    for part in (the(plan.drawing.runs["tank feed"], ValveSet).valve, plan.drawing.runs["tank drain"].pipe):
        found = plan.part(part, material=material).findings("fish-safe")
        assert all(one.ok for one in found.values()) is (material not in POISONOUS)
        if material in POISONOUS:
            assert (found[part].value, found[part].limit, found[part].margin) == (1.0, 0.0, -1.0)
    assert set(POISONOUS) == {Material.BRASS, Material.BRONZE, Material.COPPER, Material.GALVANISED}


def test_owned_brass_is_told_too(plan) -> None:
    """A part that is not on the order, because it is owned, is in the water all the same."""
    part = the(plan.drawing.runs["tank feed"], ValveSet).valve
    order = tuple(line for line in plan.drawing.purchases if line.part != part)
    owned = replace(plan, drawing=replace(plan.drawing, purchases=order))
    assert not owned.part(part, material=Material.BRASS).findings("fish-safe")[part].ok


def test_what_stays_dry_may_be_brass(plan) -> None:
    """Clamps, saws, stands, air taps and hand pumps touch none of the fish's water; screws and screens do."""
    catalog = autoplan.load_catalog("metric")
    dry = [row for row in catalog.sundries.values() if row.kind is SundryKind.CLAMP]
    dry += [row for row in catalog.air.values() if row.kind is AirKind.TAP]
    dry += [row for row in catalog.fixtures.values() if row.kind is FixtureKind.HAND_PUMP]
    wet = [row for row in catalog.sundries.values() if row.kind is SundryKind.SCREW]
    wet += [row for row in catalog.air.values() if row.kind is AirKind.DIFFUSER]
    wet += [row for row in catalog.fixtures.values() if row.kind is FixtureKind.SCREEN]
    wet += [*catalog.pumps.values(), *catalog.vessels.values()]
    assert dry
    assert not any(map(touches, dry))
    assert all(map(touches, wet))
    rule = FishSafe({})
    assert all(rule.admits(OnShelf(replace(row, material=Material.COPPER), plan.site)) for row in dry)
    assert not any(rule.admits(OnShelf(replace(row, material=Material.COPPER), plan.site)) for row in wet)


def test_a_galvanised_tub_is_no_sump() -> None:
    """A sump that can only be bought galvanised leaves no design, and the rule is what is named."""
    catalog = autoplan.load_catalog("metric")
    tub = replace(catalog.vessels["tub-400"], material=Material.GALVANISED)
    catalog = replace(catalog, vessels={**catalog.vessels, "tub-400": tub})
    site = autoplan.load_problem("problems/one-tank-one-bed.toml").outline
    sump = replace(site.vessels["sump"], part="tub-400")
    site = replace(site, vessels={**site.vessels, "sump": sump})
    with pytest.raises(NoOptionError) as caught:
        Draft(site, catalog, read_rules(site))
    assert caught.value.rules == ("fish-safe",)


def test_the_price_list_tells_what_it_says() -> None:
    """Listing the parts says how many rows are brass, how silence is taken, and how many handles come off."""
    catalog = autoplan.load_catalog("metric")
    count = sum(part.material is Material.BRASS for part in catalog.valves.values())
    rows = (part for group in catalog.groups() for part in group.values())
    rubber = sum(getattr(part, "material", None) is Material.RUBBER for part in rows)
    text = " ".join(plain_text(shelf(catalog)).split())
    assert f"By their rows {count} of brass, {rubber} of rubber; every other part is taken as plastic" in text
    off = sum(valve.handle_off for valve in catalog.valves.values())
    balls = sum(valve.style == "ball" for valve in catalog.valves.values())
    assert f"The handle of {off} of {balls} ball valves comes off." in text
