"""The page itself: an answer's JSON and its drawings through the templates."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from autoplan.report.contract.reading import read_answer
from autoplan.report.contract.rows import AnswerRow, DesignRow
from autoplan.report.drawings import sheets
from autoplan.report.drawings.paint import DARK
from autoplan.report.page import views
from autoplan.report.page.figures import Figures
from autoplan.report.units import fixed

if TYPE_CHECKING:
    from jinja2 import Environment

    from autoplan.report.drawings.view import Sheet

SECTIONS = (
    ("summary", "What it is and what it costs"),
    ("cautions", "Before you begin"),
    ("levels", "Levels"),
    ("plan", "Plan of the runs"),
    ("holes", "Drilling, vessel by vessel"),
    ("shopping", "Shopping"),
    ("runs", "Each run, part by part"),
    ("cutting", "Cutting, stick by stick"),
    ("siphons", "Bells and standpipes"),
    ("order", "Order of work"),
    ("filling", "Filling and first run"),
    ("pump", "Pump"),
    ("hours", "The sump through the hours"),
    ("faults", "When something goes wrong"),
    ("upkeep", "Looking after it"),
    ("ranks", "Other ranks"),
    ("rules", "Rules"),
    ("assumed", "Assumed, because the problem does not say"),
    ("sources", "Sources and version"),
)
"""Each section's word, which its template is named after, and its heading; in the order of the work."""


def sheet_html(
    answer: Mapping[str, Any] | AnswerRow, rank: int = 1, drawn: Sequence[Sheet] | None = None
) -> str:
    """The build sheet of one rank as one HTML page that needs nothing but itself.

    Args:
        answer: an answer as `contract.outcome_json` makes it, or as it is read back.
        rank: which of its designs.
        drawn: that design's drawings, where they are made already.

    Raises:
        KeyError: the answer has no such rank.
        ValueError: it lacks something; `contract.reading.wrong_in` tells all of it beforehand.
    """
    answer = read_answer(answer)
    design = next((design for design in answer.designs if design.rank == rank), None)
    if design is None:
        raise KeyError(f"rank {rank}")
    figures = Figures.of(answer, design)
    page = _environment(figures)
    drawn = sheets(answer, rank, figures.units) if drawn is None else drawn
    context = _context(answer, design, figures)
    text = page.get_template("sheet.html").render(drawings=_figures(drawn), **context)
    return re.sub(r"\n\s*\n+", "\n", text)


def _environment(figures: Figures) -> Environment:
    """The templates and what they call; imported late, since only a page needs the library."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("autoplan.report.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= figures.filters()
    return made


def _figures(drawn: Sequence[Sheet]) -> list[dict[str, Any]]:
    """Every drawing of a design: its kind (the first word of its name), what it is about, its SVG."""
    from markupsafe import Markup

    return [
        {"kind": sheet.name.partition("-")[0], "about": sheet.about, "svg": Markup(sheet.svg)}
        for sheet in drawn
    ]


def _context(answer: AnswerRow, design: DesignRow, figures: Figures) -> dict[str, Any]:
    """What templates read, by name."""
    units = figures.units
    levels = {level.vessel: level for level in design.levels}
    return {
        "answer": answer,
        "design": design,
        "sections": [(word, title, f"{word}.html") for word, title in SECTIONS],
        "units": units,
        "dark": DARK,
        "years": fixed(answer.ownership_years, 1).removesuffix(".0"),
        "spare_head": views.spare_by(design, "pump-duty"),
        "worst": views.worst(design),
        "floors": {name: level.floor_mm for name, level in levels.items()},
        "rims": {name: level.rim_mm for name, level in levels.items()},
        "holes_by_vessel": views.holes_by_vessel(design),
        "orders": views.orders(design),
        "owned_lines": [line for line in design.purchase if not line.packs],
        "rows_of_runs": views.rows_of_runs(design, units.piece),
        "joint_counts": views.joint_counts,
        "sticks": views.sticks(design, units.piece),
        "outlets": views.outlets(design, units),
        "set_to": lambda name: views.set_to(design, name, units),
        "fault_blocks": views.fault_blocks(design, units),
        "rule_blocks": views.rule_blocks(design, units),
        "assumptions": answer.assumptions if design.assumptions is None else design.assumptions,
        "sources": views.sources(design),
        "over": figures.over,
        "depth": figures.depth,
        "off": figures.off,
    }
