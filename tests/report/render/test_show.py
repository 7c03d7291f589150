"""What is printed: everything a builder needs, in plain text and on a terminal."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from dataclasses import replace

import pytest

from autoplan.outcome import Clash, Fault, Finding, FishWater, Outcome, Status
from autoplan.places import InVessel
from autoplan.problem.brief import PrintUnits
from autoplan.report.blocks import Grid, GridColumn, numbers
from autoplan.report.figures import charge_words, order_lines, shop_orders
from autoplan.report.render import terminal
from autoplan.report.render.plain import GAP, WIDTH, fitted, fold, plain_text
from autoplan.report.render.show import report, show
from autoplan.report.sections.cautions import CAUTIONS
from autoplan.report.sections.contents import sections
from autoplan.report.sections.judged import fault_name, faults, rules
from autoplan.report.sections.table import ranked
from autoplan.report.shelf import shelf
from autoplan.report.units import SI, fixed, whole_marks


def _plain(outcome: Outcome) -> str:
    stream = io.StringIO()
    show(report(outcome), stream)
    return stream.getvalue()


def _words(text: str) -> str:
    """The text with every fold undone."""
    return " ".join(text.split())


def _with_first(outcome: Outcome, **changes: object) -> Outcome:
    return replace(outcome, designs=(replace(outcome.designs[0], **changes), *outcome.designs[1:]))


def test_plain_text_is_plain(outcome: Outcome) -> None:
    """Off a terminal there is no escape code, nothing beyond ASCII, and no line over the stated width."""
    text = _plain(outcome)
    assert text.isascii()
    assert all(char == "\n" or char.isprintable() for char in text)
    assert max(map(len, text.splitlines())) <= WIDTH


def test_grids_fit_the_width(outcome: Outcome) -> None:
    """Every grid's columns with their gaps fit the stated width, and every title its column."""
    grids = [block for block in (*report(outcome), *shelf(outcome.catalog)) if isinstance(block, Grid)]
    assert len(grids) > 8
    for grid in grids:
        assert sum(column.width for column in grid.columns) + len(GAP) * (len(grid.columns) - 1) <= WIDTH
        for column in grid.columns:
            assert all(len(word) <= column.width for word in column.title.split()), column


def test_long_names_are_folded_and_not_cut(outcome: Outcome) -> None:
    """A name longer than any column can be is printed to its last letter."""
    long = "pump-" + "abcdefghij" * 8
    pump = replace(outcome.catalog.pumps["pump-3000"], description=long)
    changed = replace(outcome, catalog=replace(outcome.catalog, pumps={pump.id: pump}))
    text = plain_text(ranked(changed, SI))
    title = next(line for line in text.splitlines() if line.startswith("rank "))
    pumps = slice(title.index("pump "), title.index("main "))
    rows = text[text.index("\n   1") : text.index("\n   2")].splitlines()
    assert "".join(row[pumps].strip() for row in rows) == long
    assert max(map(len, text.splitlines())) <= WIDTH


def test_names_cannot_command_a_terminal(outcome: Outcome) -> None:
    """Control characters in a user's names reach neither plain text nor a terminal."""
    evil = replace(outcome, site=replace(outcome.site, name="tank\x1b]0;gone\x07 [red]x[/red]"))
    stream = io.StringIO()
    terminal.show(ranked(evil, SI), stream, width=100)
    for text in (_plain(evil), stream.getvalue()):
        assert "\x1b]" not in text
        assert "\x07" not in text
        assert "[red]x[/red]" in text


@pytest.mark.parametrize("width", [60, 80, 160])
def test_terminal_shows_the_same_words(outcome: Outcome, width: int) -> None:
    """A terminal of any width shows every caution and every part, and no line is wider than it."""
    stream = io.StringIO()
    terminal.show(report(outcome), stream, width=width)
    text = stream.getvalue()
    assert max(map(len, text.splitlines())) <= width
    for caution in CAUTIONS:
        assert caution in _words(text)
    assert "\N{HORIZONTAL ELLIPSIS}" not in text


def test_a_terminal_of_no_columns(outcome: Outcome, monkeypatch: pytest.MonkeyPatch) -> None:
    """COLUMNS=0, as some editors set it, prints what a terminal of the usual width does."""
    shown = []
    for columns in ("0", "80"):
        monkeypatch.setenv("COLUMNS", columns)
        stream = io.StringIO()
        terminal.show(report(outcome), stream)
        shown.append(stream.getvalue())
    assert shown[0].strip()
    assert shown[0] == shown[1]


def test_terminal_columns_break_no_word_that_fits() -> None:
    """Spare room goes where most is missing; words break only when all columns are too wide."""
    grid = Grid(
        (GridColumn("run", 9), numbers("flow L/h", 9)), (("fish tank drain", "1800"), ("feed", "12345"))
    )
    # Longest words: 5 ("drain") and 5 ("12345"); whole texts: 15 and 8; one gap of 2.
    assert terminal.widths(grid, 100) == [15, 8]
    assert terminal.widths(grid, 25) == [15, 8]
    assert terminal.widths(grid, 24) in ([14, 8], [15, 7])
    assert terminal.widths(grid, 12) == [5, 5]
    assert sum(terminal.widths(grid, 11)) == 9


def test_ranked_table_holds_what_is_compared(outcome: Outcome) -> None:
    """Cost with freight, sizes, the smallest margins of the two rules, and the differences of rank 2."""
    text = plain_text(ranked(outcome, SI))
    first = " ".join(text[text.index("\n   1") : text.index("\n   2")].splitlines())
    # 156.30 + 9.90; 0.30 m of spare head; the smaller of 31.25 and 12.5 mm of spare fall.
    for cell in ("166.20 EUR", "pond pump", "3000 L/h", "metric 32", "metric 50", "0.30 m", "12.5 mm"):
        assert cell in first
    assert "pump-3000" not in first
    assert "31.2" not in text
    assert "differs from rank 1: drain metric 63 for metric 50; bulkhead fitting for push-in seal" in _words(
        text
    )
    assert "Rank 1 is proven cheapest" in text


def test_ranking_by_ownership_shows_ownership(outcome: Outcome) -> None:
    """Ranked by ownership the table shows 156.30 + 9.90 + 3 x 91.98 = 442.14."""
    text = plain_text(ranked(replace(outcome, rank_by="ownership"), SI))
    assert "442.14 EUR" in text
    assert "3 years of power" in _words(text)


def test_an_unproven_design_is_not_called_proven(outcome: Outcome) -> None:
    """Without proof the bound is told, and an unknown bound is told as such."""
    feasible = replace(_with_first(outcome, proven=False, bound=150.0), status=Status.FEASIBLE)
    text = _words(_plain(feasible))
    assert "is not proven cheapest" in text
    assert "no design costs less than 150.00 EUR" in text
    unknown = _words(_plain(_with_first(outcome, proven=False, bound=float("-inf"))))
    assert "nothing is proven yet" in unknown
    assert "inf " not in unknown


@pytest.mark.parametrize(
    ("count", "said"),
    [(0, None), (1, "refused 1 other answer; the search"), (12, "refused 12 other answers; the search")],
)
def test_how_often_the_verdict_refused(outcome: Outcome, count: int, said: str | None) -> None:
    """What the verdict sent back is told by number, and not at all where it was nothing."""
    text = _words(_plain(replace(outcome, solver=replace(outcome.solver, rejected=count))))
    assert ("Checking refused" in text) is (said is not None)
    assert said is None or said in text


def test_no_design_tells_remedies_and_assumptions(outcome: Outcome) -> None:
    """Proven none: the remedies and what was assumed; undecided is not told as none."""
    clash = Clash(("drain-fall",), ("Raise the fish tank by 35 mm.",))
    none = _words(_plain(replace(outcome, status=Status.NONE, designs=(), clash=clash)))
    assert "No design keeps every rule" in none
    assert "Raise the fish tank by 35 mm." in none
    assert "tank.turnover = 1.5/hour" in none
    undecided = _words(_plain(replace(outcome, status=Status.UNDECIDED, designs=())))
    assert "not proven that there is none" in undecided
    assert "No design keeps every rule" not in undecided


def test_notes_and_interruptions_are_told(outcome: Outcome) -> None:
    """Notes are printed as they are, and an interrupted search is owned up to."""
    solver = replace(outcome.solver, interrupted=True)
    text = _words(_plain(replace(outcome, notes=("Without it the plan costs 12.00 more.",), solver=solver)))
    assert "Without it the plan costs 12.00 more." in text
    assert "interrupted" in text


def test_every_caution_and_assumption_is_printed(outcome: Outcome) -> None:
    """All cautions word by word, all assumptions with their marks."""
    text = _words(_plain(outcome))
    for caution in CAUTIONS:
        assert caution in text
    for assumed in outcome.site.assumptions:
        assert f"{assumed.place} = {assumed.text}: {assumed.why} ({assumed.mark})" in text


@pytest.mark.parametrize(
    "subject",
    [
        "residual-current",
        "licensed electrician",
        "Local codes",
        "cover or fence",
        "handles come off",
        "1 kg per litre",
        "roof",
        "fumes",
        "catches fire",
        "backflow",
        "Copper, brass and galvanised",
        "sold for drinking water",
        "battery air pump",
        "first pass",
        "before any fish",
    ],
)
def test_cautions_speak_of_every_danger(subject: str) -> None:
    """No danger of the trade is left out of the cautions."""
    assert any(subject in caution for caution in CAUTIONS)


def test_levels_stand_above_nought_and_floor(outcome: Outcome) -> None:
    """Each level is told in whole marks above 0, which is explained, and in brackets above its floor."""
    row = next(line for line in _plain(outcome).splitlines() if line.startswith("fish tank   "))
    assert re.split(r"\s{2,}", row)[1:] == [
        "500 (0)",
        "1271 (771)",
        "1311 (811)",
        "1400 (900)",
    ]
    assert "above the height that the problem counts from (0); in brackets" in _words(_plain(outcome))


def test_order_totals_add_up(outcome: Outcome) -> None:
    """Goods and freight by shop, worked out by hand in the fixture, sum to what the verdict found."""
    design = outcome.designs[0]
    totals = shop_orders(outcome.catalog, order_lines(outcome.catalog, design.drawing.purchases))
    assert [(total.shop.name, total.goods, total.freight) for total in totals] == [
        ("Reed Yard", 49.30, 9.90),
        ("Brook Stores", 107.00, 0.0),
    ]
    assert sum(total.goods for total in totals) == pytest.approx(design.verdict.cost.purchase)
    assert sum(total.freight for total in totals) == pytest.approx(design.verdict.cost.freight)
    text = _words(_plain(outcome))
    assert "Goods 49.30 EUR, freight 9.90 EUR, order total 59.20 EUR." in text
    assert "Goods 107.00 EUR, freight 0.00 EUR, order total 107.00 EUR." in text
    assert "to pay 166.20 EUR" in text


def test_each_shop_has_its_own_table(outcome: Outcome) -> None:
    """A shop's parts stand between its name and its order total, and nowhere else."""
    text = _plain(outcome)
    text = text[text.index("Purchase list") : text.index("All together: goods")]
    reed, brook = text.split("Brook Stores (brook):")
    assert "Reed Yard (reed):" in reed
    for line in outcome.designs[0].drawing.purchases:
        here, there = (reed, brook) if line.shop == "reed" else (brook, reed)
        assert f"\n{line.part} " in here
        assert f"\n{line.part} " not in there


def test_a_top_up_is_told_as_one(outcome: Outcome) -> None:
    """Within one freight of free freight every total speaks of spares, and what they are is said once."""
    shop = replace(outcome.catalog.shops["reed"], free_from_cents=5000)
    topped = replace(outcome, catalog=replace(outcome.catalog, shops={**outcome.catalog.shops, "reed": shop}))
    cost = replace(outcome.designs[0].verdict.cost, freight=0.70)
    text = _words(_plain(_with_first(topped, verdict=replace(outcome.designs[0].verdict, cost=cost))))
    assert (
        "Goods 49.30 EUR, spares instead of freight 0.70 EUR, order total 50.00 EUR. The spares are" in text
    )
    assert text.count("for 0.70 EUR or a little more: freight is free from 50.00 EUR.") == 1
    assert "goods 156.30 EUR, spares instead of freight 0.70 EUR, to pay 157.00 EUR" in text
    assert "Parts 156.30 EUR, spares instead of freight 0.70 EUR, together 157.00 EUR." in text


def test_freight_of_one_shop_and_spares_of_another(outcome: Outcome) -> None:
    """Two orders, one topped up and one with freight, are called both; what costs nothing is freight."""
    orders = shop_orders(outcome.catalog, order_lines(outcome.catalog, outcome.designs[0].drawing.purchases))
    reed, brook = orders
    assert charge_words(orders) == charge_words([brook]) == "freight"
    topped = replace(brook, freight=3.0, topped_up=True)
    assert charge_words([reed, topped]) == "freight and spares instead of it"
    assert charge_words([brook, topped]) == "spares instead of freight"


@pytest.mark.parametrize(("free_from", "freight"), [(4930, 0.0), (4931, 0.01), (5920, 9.90), (None, 9.90)])
def test_freight_is_free_from_the_threshold(outcome: Outcome, free_from: int | None, freight: float) -> None:
    """Goods of 49.30 go free from 49.30, are topped up to 49.31, and pay where that costs as much or more."""
    shops = {
        **outcome.catalog.shops,
        "reed": replace(outcome.catalog.shops["reed"], free_from_cents=free_from),
    }
    catalog = replace(outcome.catalog, shops=shops)
    lines = order_lines(catalog, outcome.designs[0].drawing.purchases)
    assert shop_orders(catalog, lines)[0].freight == freight


def test_rules_are_told_at_their_tightest(outcome: Outcome) -> None:
    """A rule judged at two places is one line at the place with the smaller margin."""
    text = _words(_plain(outcome))
    assert "waste drain (of 2" in text
    assert "33.80 EUR" in text


@pytest.mark.parametrize(
    ("print_units", "said"),
    [
        (PrintUnits.SI, "the drain runs at 0.29 m/s, and 0.30 m/s keeps it clean."),
        (PrintUnits.US, "the drain runs at 0.95 ft/s, and 0.98 ft/s keeps it clean."),
    ],
)
def test_a_warning_says_what_is_wrong(outcome: Outcome, print_units: PrintUnits, said: str) -> None:
    """A rule's own words on what is not held stand instead of the rule."""
    verdict = outcome.designs[0].verdict
    own = "the drain runs at {value}, and {limit} keeps it clean."
    findings = tuple(found if found.ok else replace(found, warning=own) for found in verdict.findings)
    changed = _with_first(outcome, verdict=replace(verdict, findings=findings))
    text = _words(_plain(replace(changed, site=replace(outcome.site, print_units=print_units))))
    assert said in text
    assert "Here it is" not in text


def test_soft_rules_warn(outcome: Outcome) -> None:
    """A soft rule that is not held is a warning; with it held there is no such section."""
    assert "Here it is 0.29 m/s against 0.30 m/s." in _words(_plain(outcome))
    verdict = outcome.designs[0].verdict
    held = tuple(found for found in verdict.findings if found.ok)
    text = _plain(_with_first(outcome, verdict=replace(verdict, findings=held)))
    assert "Warnings" not in text
    assert "NOT HELD" not in text


def test_runs_are_told_from_end_to_end(outcome: Outcome) -> None:
    """Ends, turns, joints and how to set the valve: 1800 L/h bring 24 L in 48 s."""
    text = _words(_plain(outcome))
    assert (
        "tank drain: start at fish tank: push-in rubber seal 50 mm; turns: 2 x 90 degrees swept (swept bend "
        "50 mm 90 degrees);" in text
    )
    assert "pump main: start at the pump in sump; turns:" in text
    assert "90 degrees paired 45s (2 x bend 32 mm 45 degrees)" in text
    assert "end at step: hose tail 25 mm for 32 mm socket." in text
    assert "turns: 90 degrees by bending the pipe; valve: ball valve 32 mm + hose tail 25 mm for" in text
    assert "set the valve so that the water in fish tank rises 20 mm in 48 s" in text


def test_figures_round_plainly() -> None:
    """Minus nothing is nothing, metres have two decimals, millimetres one, and counts none."""
    assert fixed(-0.001, 2) == "0.00"
    assert SI.measure(1.005, "m/s") in {"1.00", "1.01"}
    assert SI.measure(12.34, "mm") == "12.3"
    assert SI.measure(3.0, "valves") == "3"
    assert SI.bucket_seconds(0.0005) == "20"


def test_fold_keeps_every_letter() -> None:
    """Folding breaks between words where it can, inside one where it must, and drops nothing."""
    assert fold("a bb ccccc", 4) == ["a bb", "cccc", "c"]
    assert fold("", 4) == [""]


def test_a_number_and_its_unit_stay_together() -> None:
    """A line ends before the number and not behind it, unless the two find no room together."""
    assert fold("a seal of 50 mm", 12) == ["a seal of", "50 mm"]
    assert fold("12345678 mm", 8) == ["12345678", "mm"]
    assert fold("a seal of 50 mmm", 12) == ["a seal of 50", "mmm"]


def test_columns_make_room_for_their_longest_words() -> None:
    """A word too long for its column takes what others have to spare, and all are as wide as before."""
    columns = (GridColumn("part", 6), GridColumn("what", 12), numbers("price", 9))
    roomy = fitted(columns, [("elbow-40-90", "one of four", "1.75")])
    # 11 for the id; the price gives up 4 of its 9 before anything is folded for it.
    assert [column.width for column in roomy] == [11, 11, 5]
    folded = fitted(columns, [("elbow-40-90", "one of four", "1234567.8")])
    assert [column.width for column in folded] == [11, 7, 9]
    full = fitted(columns, [("a" * 20, "b" * 12, "1234567.8")])
    assert full == columns
    text = plain_text([Grid(columns, (("elbow-40-90", "one of four", "1234567.8"),))])
    assert "\nelbow-40-90  one of   1234567.8\n             four\n" in text


def test_sections_say_of_which_rank_they_are(outcome: Outcome) -> None:
    """By themselves or under its cost, where there is more than one."""
    assert _words(plain_text(sections(outcome, SI, ("runs",), 2))).startswith("Of rank 2: Runs")
    assert "Cost of rank 2" in plain_text(sections(outcome, SI, ("runs", "cost"), 2))
    alone = replace(outcome, designs=outcome.designs[:1])
    assert plain_text(sections(alone, SI, ("runs",))).startswith("Runs")


def test_shelf_lists_every_part(outcome: Outcome) -> None:
    """Every part of the price list is there with its price."""
    text = plain_text(shelf(outcome.catalog))
    for group in outcome.catalog.groups():
        for part in group.values():
            assert any(
                line.startswith(part.id) and line.endswith(f"{part.offers[0].price_cents / 100:.2f}")
                for line in text.splitlines()
            )


def test_report_leaves_the_solver_alone() -> None:
    """Importing every module of the report brings in neither the solver nor the rules nor the verdict."""
    code = (
        "import sys, autoplan.report.render.show, autoplan.report.contract, autoplan.report.progress, "
        "autoplan.report.shelf, autoplan.report.render.terminal\n"
        "bad = [m for m in sys.modules if m == 'ortools' or m.startswith(('ortools.', 'autoplan.verdict', "
        "'autoplan.rules', 'autoplan.optimiser'))]\n"
        "sys.exit(str(bad) if bad else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_hours_of_a_running_system(outcome: Outcome) -> None:
    """The sump's depths over its floor at -400 mm, its pump's cover, and what each bed does, are told."""
    text = _words(_plain(outcome))
    assert "every bed full at once sump 300 500 250" in text
    assert "north bed floods 2.0 times an hour: 25 minutes to fill, 5.0 to empty." in text
    assert "south bed does not flood and drain in turn." in text
    lost = "What evaporates or leaks slowly is missed in sump: at its lowest it holds about 150 L over"
    assert f"{lost} what its pump needs. Top up well before that is gone." in text


def test_faults_with_and_without_harm(outcome: Outcome) -> None:
    """What spills stands in the table with its minutes; what does no harm is told with the wall left."""
    text = _words(_plain(outcome))
    assert "drain half blocked 3 4 over - 12 -" in text
    assert "power cut, 112 mm of wall left at sump: high inlet" in text


@pytest.mark.parametrize(
    ("cover_m", "said"), [(0.1224, "122"), (0.0, "0"), (-0.0001, "1 short"), (-0.0101, "11 short")]
)
def test_what_is_short_is_called_so(cover_m: float, said: str) -> None:
    """Water under the pump's need has a word in place of a sign; rounded so that none is overstated."""
    fault = Fault("main bursts", 100.0, 0.0, 0.0, "A float switch would.", cover_m)
    (grid,) = [block for block in faults((fault,), whole_marks(SI)) if isinstance(block, Grid)]
    ((_, _, rim, cover, _, _),) = grid.rows
    assert (rim, cover) == ("0", said)


@pytest.mark.parametrize(
    ("unit", "value", "limit", "said"),
    [
        ("tight turns", 0.0, 0.0, "holds"),
        ("valves", 3.0, 1.0, "2 valves"),
        ("1/h", 1.79, 1.0, "0.79 an hour"),
        ("-", 2.38, 1.2, "1.18"),
        ("mm", 10.0, 10.0, "0.0 mm"),
        ("%", 100.0, 100.0, "0 %"),
    ],
)
def test_margins_are_told_in_words_that_read(unit: str, value: float, limit: float, said: str) -> None:
    """What is only counted holds or has some over; what is measured has its figure, be it nothing."""
    found = Finding(
        "some-rule", "It is so.", InVessel("bed 1"), value, limit, value - limit, unit, True, True, "a book"
    )
    (grid,) = [block for block in rules((found,), "EUR", SI) if isinstance(block, Grid)]
    ((rule, *_, margin),) = grid.rows
    assert margin == said
    assert rule == "It is so. (a book) [some-rule]"


@pytest.mark.parametrize(
    ("count", "more"),
    [(1, ""), (2, " (or another like it)"), (4, " (or one of 3 others like it)")],
)
def test_alike_places_are_counted(count: int, more: str) -> None:
    """The number is of the others, and cannot be taken for the name of one."""
    assert (
        fault_name(Fault("bed feed 1 valve shut", 0.0, 0.1, None, alike=count), SI)
        == f"bed feed 1 valve shut{more}"
    )


def test_faults_as_bad_share_a_row(outcome: Outcome) -> None:
    """Faults that one thing would save stand together if they lose about as much, else apart."""
    verdict, mend = outcome.designs[0].verdict, "A float switch would."
    bursts = tuple(
        Fault(name, litres, 0.1, 0.0, mend)
        for name, litres in (("main bursts", 100.0), ("feed bursts", 96.0), ("trickle", 94.0))
    )
    text = _words(_plain(_with_first(outcome, verdict=replace(verdict, faults=bursts))))
    assert "main bursts; no worse: feed 100 100 - 0 A float switch would. bursts" in text
    assert "trickle 94" in text


def test_what_is_left_for_the_fish_is_told(outcome: Outcome) -> None:
    """The least that alike faults leave stands beside them, rounded down, and what a switch still loses."""
    first, mend = outcome.designs[0], "A float switch would."
    bursts = tuple(
        Fault(name, 368.0, 0.06, 0.0, mend, 0.0, "bed", 22.4, FishWater("tank", left, 0.0229, 0.36, 120.0))
        for name, left in (("main bursts", 0.04), ("feed bursts", 0.02999))
    )
    told = replace(
        first, verdict=replace(first.verdict, faults=(*bursts, Fault("power cut", 0.0, 0.1, None)))
    )
    *_, grid, safe, _ = faults(told.verdict.faults, SI)
    ((what, *_, saved),) = grid.rows
    assert what == (
        "main bursts; no worse: feed bursts. The pump draws air after 22 minutes. Leaves the fish in tank "
        "29.9 mm (22 L); its lowest design water is 360.0 mm"
    )
    assert saved == "A float switch would. About 120 L would still be lost."
    assert safe.text.startswith("Nothing runs over, no pump draws air and every fish tank keeps its water,")
