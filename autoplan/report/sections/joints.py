"""Which joints to make: counted run by run, kind by kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.catalog.naming import times
from autoplan.catalog.parts import End
from autoplan.line.joints import Joint
from autoplan.outcome import Design
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, numbers


def joints_of(design: Design) -> dict[str, list[Joint]]:
    """The joints of each run that has any, in the order of the water."""
    grouped: dict[str, list[Joint]] = {}
    for joint in design.verdict.joints:
        grouped.setdefault(joint.run, []).append(joint)
    return grouped


def kind_words(joint: Joint) -> str:
    """How a joint is made, in the trade's words."""
    return "does not fit" if joint.kind is None else str(joint.kind)


def joints(design: Design) -> Iterator[Block]:
    """For each run how many joints of each kind join which ends, then how many there are of each kind."""
    grouped = joints_of(design)
    if not grouped:
        return
    yield Heading("Joints to make")
    yield Grid(
        (GridColumn("run", 18), GridColumn("joint", 26), GridColumn("ends", 42), numbers("count", 6)),
        tuple(row for run, made in grouped.items() for row in _rows(run, made)),
    )
    whole = Counter(kind_words(joint) for joint in design.verdict.joints)
    yield Para(f"All together: {', '.join(times(count, kind) for kind, count in whole.items())}.")


def _rows(run: str, made: list[Joint]) -> Iterator[tuple[str, ...]]:
    """Alike joints together; the run is named in its first row."""
    counts = Counter((kind_words(joint), _ends(joint)) for joint in made)
    for number, ((kind, ends), count) in enumerate(counts.items()):
        yield (run if number == 0 else "", kind, ends, str(count))


def _ends(joint: Joint) -> str:
    """Both ends, whichever way the water goes."""
    return " - ".join(sorted((_end(joint.left_end), _end(joint.right_end))))


def _end(end: End) -> str:
    """An end in words; a sleeve by the outsides that it takes."""
    return f"sleeve for {end.size} mm" if end.form == "sleeve" else str(end)
