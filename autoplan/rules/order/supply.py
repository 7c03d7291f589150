"""Which wants of cement, clamps and the like the owned and ordered rows of a price list cover."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from autoplan.line.needs import Want, is_listed, rows_for
from autoplan.rules.survey import Survey
from autoplan.sentence import Text

FINEST = 1e-9
"""Least amount told apart: a cubic millimetre of cement [m3], and far less than a millimetre of tape [m]."""


def had(survey: Survey) -> dict[str, float]:
    """By row, the content of what is owned and ordered: cement [m3], tape [m], pieces of the rest."""
    sundries = survey.catalog.sundries
    pieces: Counter[str] = Counter({part: n for part, n in survey.site.owned.items() if part in sundries})
    for line in survey.drawing.purchases:
        if line.part in sundries:
            packs = {offer.shop: offer.pack for offer in sundries[line.part].offers}
            pieces[line.part] += line.packs * packs[line.shop]
    return {part: count * sundries[part].content for part, count in pieces.items()}


def had_of(survey: Survey, wanted: Mapping[Want, float]) -> Iterator[tuple[Want, float, float]]:
    """Of each want how much is owned and ordered for it, and how much is wanted."""
    missing = short(survey, wanted)
    yield from ((want, amount - missing.get(want, 0.0), amount) for want, amount in wanted.items())


def not_listed(survey: Survey, wanted: Iterable[Want]) -> Iterator[Text]:
    """A sentence on the kinds that a design takes and a price list has none of, if there are any."""
    kinds = {want.kind for want in wanted if not is_listed(survey.catalog, want.kind)}
    if kinds:
        yield f"not in the price list, so neither counted nor ordered: {', '.join(sorted(kinds))}"


def short(survey: Survey, wanted: Mapping[Want, float]) -> dict[Want, float]:
    """How much of each want stays uncovered however the rows are shared out, by a maximum flow.

    A row that fits several sizes, as a clamp does, covers each piece of only one.
    """
    import networkx as nx

    supply = had(survey)
    graph = nx.DiGraph()
    for want, amount in wanted.items():
        graph.add_edge(want, "sink", capacity=_whole(amount))
        for row in rows_for(survey.catalog, want):
            if supply.get(row.id):
                graph.add_edge("source", row.id, capacity=_whole(supply[row.id]))
                graph.add_edge(row.id, want)
    if "source" not in graph or not wanted:
        return dict(wanted)
    _, flow = nx.maximum_flow(graph, "source", "sink")
    return {
        want: (_whole(amount) - flow[want]["sink"]) * FINEST
        for want, amount in wanted.items()
        if flow[want]["sink"] < _whole(amount)
    }


def _whole(amount: float) -> int:
    return round(amount / FINEST)
