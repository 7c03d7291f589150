"""A design whose problem and price list are full of what would do harm on a screen or in a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pydantic import TypeAdapter

from autoplan.catalog.parts import Catalog
from autoplan.outcome import Design, Outcome, SolverReport, Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import complete, judge
from tests.lists import rewritten
from tests.stored import kept, loaded, read

EVIL = (
    "<script>alert(1)</script><img src=x onerror=alert(2)></style></title></svg>{{ 7 * 7 }}$\\frac{1}{2}$"
    "[red]red[/red][link=https://example.org]=1+1;=2+2|@3&amp;\x1b[31m\x1b]0;title\x07\x9b2J"
    "\u202e\u200f\r\nforged: line"
)
LONG = "W" * 300
CURRENCY = "E\x1b[31m<b>[red]"

SITE = TypeAdapter(Site)


def hostile() -> Outcome:
    """The small site, every name of the problem and every text of the price list made hostile."""
    held = kept("small")
    site, catalog = read(held["problem"])
    names = {
        name: f"{EVIL}{LONG if number == 0 else ''} {name}"
        for number, name in enumerate([*site.vessels, *site.junctions, *site.runs])
    }
    dumped = _renamed(SITE.dump_python(site, mode="json"), names)
    evil_site = replace(SITE.validate_python(dumped), name=EVIL)
    drawing = loaded(_renamed(held["drawing"], names))
    evil_list = _evil(catalog)
    book = read_rules(evil_site)
    verdict = complete(evil_site, evil_list, book, drawing, judge(evil_site, evil_list, book, drawing))
    design = Design(1, True, held["objective"], held["objective"], drawing, verdict, variant=EVIL)
    solver = SolverReport(held["objective"], 0.0, 0, 1, {"autoplan": EVIL})
    return Outcome(Status.PROVEN, evil_site, evil_list, (design,), solver, notes=(EVIL,))


def _renamed(data: Any, names: Mapping[str, str]) -> Any:
    """Data with each name set anew, as a value and as a key; words for a kind stay as they are."""
    if isinstance(data, dict):
        return {
            names.get(key, key): value if key == "kind" else _renamed(value, names)
            for key, value in data.items()
        }
    if isinstance(data, list):
        return [_renamed(item, names) for item in data]
    return names.get(data, data) if isinstance(data, str) else data


def _evil(catalog: Catalog) -> Catalog:
    """The price list with hostile descriptions, sources, shops and currency."""
    shops = {name: replace(shop, name=f"={EVIL}") for name, shop in catalog.shops.items()}
    parts = rewritten(
        catalog, lambda row: replace(row, description=f"={EVIL} {row.description}", source=EVIL)
    )
    return replace(parts, currency=CURRENCY, name=EVIL, shops=shops)
