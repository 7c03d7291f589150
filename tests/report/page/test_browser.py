"""The build sheet in a real browser: on a phone, on a desk, in the dark and on paper."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import outcome_json
from autoplan.report.page.sheet import sheet_html
from tests.browser import Browser, browsing, need_browser
from tests.hostile import hostile
from tests.report.drawings.drawn import answer_of
from tests.report.page.reading import read

PHONE, DESK = 390, 1024
PRINTED = {"A4": 703, "Letter": 725}
"""Width of paper between its margins of 12 mm [px]: (210 - 24) / 25.4 x 96 and (215.9 - 24) / 25.4 x 96."""

LOOKS = [
    (PHONE, "light", "screen"),
    pytest.param(PHONE, "dark", "screen", marks=pytest.mark.long),
    pytest.param(DESK, "light", "screen", marks=pytest.mark.long),
    (DESK, "dark", "screen"),
    (PRINTED["A4"], "dark", "print"),
]

WIDTHS = [
    (PHONE, "screen"),
    (DESK, "screen"),
    (PRINTED["A4"], "print"),
    pytest.param(PRINTED["Letter"], "print", marks=pytest.mark.long),
]

BEYOND = """
const wide = document.documentElement.clientWidth + 0.5;
return [document.documentElement.scrollWidth, innerWidth, [...document.querySelectorAll('body *')]
  .filter(one => { const box = one.getBoundingClientRect(); return box.right > wide || box.left < -0.5; })
  .map(one => one.tagName + ' ' + one.className + ' ' + one.textContent.slice(0, 40))];
"""
"""Width of the page, of its window, and what sticks out of it."""

CUTS = """
return [...document.querySelectorAll('article.run .rows td.number:last-child > span')]
  .map(one => [one.textContent, one.getClientRects().length]);
"""
"""Each length to cut in the table of a run's parts, and in how many lines it stands."""

COLOURS = """
const pairs = {};
const solid = colour => !/^rgba?\\(.*, 0\\)$/.test(colour) && colour !== 'transparent';
for (const one of document.querySelectorAll('body *')) {
  const written = [...one.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
  const before = getComputedStyle(one, '::before').content;
  if (!written && (before === 'none' || before === 'normal')) continue;
  const style = getComputedStyle(one);
  if (!one.getClientRects().length || style.visibility === 'hidden') continue;
  const svg = one.closest('svg');
  let ink = style.color, ground;
  if (svg) {
    if (one.tagName !== 'text' && one.tagName !== 'tspan') continue;
    ink = style.fill; ground = getComputedStyle(svg.querySelector('rect')).fill;
  } else {
    let under = one;
    while (under && !solid(getComputedStyle(under).backgroundColor)) under = under.parentElement;
    ground = getComputedStyle(under).backgroundColor;
    if (!written) ink = getComputedStyle(one, '::before').color;
  }
  if (style.opacity !== '1') ink += ' faded';
  pairs[ink + ' on ' + ground] = one.tagName + ' ' + one.textContent.trim().slice(0, 40);
}
return pairs;
"""
"""Each pair of text colour and ground as computed, with one text that has it."""


@pytest.fixture(scope="module")
def sheet(page: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page as a file."""
    path: Path = tmp_path_factory.mktemp("sheet") / "demo.html"
    path.write_text(page, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def hostile_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page whose every name was meant to do harm, as a file."""
    path: Path = tmp_path_factory.mktemp("sheet") / "hostile.html"
    path.write_text(sheet_html(outcome_json(hostile())), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def inch_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page in inches and sixteenths, as a file."""
    path: Path = tmp_path_factory.mktemp("sheet") / "inches.html"
    path.write_text(sheet_html(answer_of("no-sump", PrintUnits.US)), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def browser(sheet: Path) -> Iterator[Browser]:
    """A browser that shows the page."""
    need_browser()
    with browsing() as opened:
        opened.open(sheet, DESK)
        yield opened


@pytest.mark.parametrize(("width", "media"), WIDTHS)
def test_nothing_sticks_out(browser: Browser, width: int, media: str) -> None:
    """At every width the page is as wide as its window, and so is everything on it."""
    browser.look(width, media=media)
    page, window, beyond = browser.ask(BEYOND)
    assert page <= window == width
    assert beyond == []


@pytest.mark.parametrize(("width", "media"), WIDTHS)
def test_no_length_to_cut_is_broken(browser: Browser, inch_sheet: Path, width: int, media: str) -> None:
    """A length to cut, such as 28-15/16, stands in one line, and fractions make nothing stick out."""
    browser.open(inch_sheet, width, media=media)
    lines = dict(browser.ask(CUTS))
    browser.requests()
    assert any("/" in length and "-" in length for length in lines)
    assert {length: count for length, count in lines.items() if count != 1} == {}
    page, window, beyond = browser.ask(BEYOND)
    assert page <= window == width
    assert beyond == []


@pytest.mark.parametrize(("width", "scheme", "media"), LOOKS)
def test_every_text_stands_out(browser: Browser, width: int, scheme: str, media: str) -> None:
    """Each text, also of drawings, has 4.5:1 of contrast to its ground at least; print is always light."""
    browser.look(width, scheme, media)
    pairs = browser.ask(COLOURS)
    assert len(pairs) >= 4
    assert {pair: text for pair, text in pairs.items() if contrast(pair) < 4.5} == {}
    grounds = {luminance(pair.split(" on ")[1]) for pair in pairs}
    assert (max(grounds) < 0.2) == (scheme == "dark" and media == "screen")


def luminance(colour: str) -> float:
    """Relative luminance of a computed colour, by WCAG 2.1."""
    found = re.fullmatch(r"rgb\((\d+), (\d+), (\d+)\)", colour)
    assert found is not None, colour
    red, green, blue = (
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in (int(part) / 255 for part in found.groups())
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(pair: str) -> float:
    """Contrast of "ink on ground", by WCAG 2.1."""
    dark, light = sorted(map(luminance, pair.split(" on ")))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("pair", "expected"),
    [
        ("rgb(0, 0, 0) on rgb(255, 255, 255)", 21.0),
        ("rgb(255, 255, 255) on rgb(255, 255, 255)", 1.0),
        ("rgb(118, 118, 118) on rgb(255, 255, 255)", 4.54),
        ("rgb(119, 119, 119) on rgb(255, 255, 255)", 4.48),
    ],
)
def test_contrast_as_published(pair: str, expected: float) -> None:
    """Black on white is 21:1; #767676 is the lightest grey that passes 4.5:1 on white (WCAG 2.1)."""
    assert contrast(pair) == pytest.approx(expected, abs=0.005)


def test_no_complaint_and_nothing_fetched(browser: Browser, sheet: Path) -> None:
    """The console stays silent and the file itself is all that is ever asked for."""
    browser.open(sheet, PHONE)
    assert browser.complaints() == []
    asked = browser.requests()
    assert sheet.as_uri() in asked
    assert [address for address in asked if not address.startswith((sheet.as_uri(), "data:"))] == []


def test_boxes_tick_and_fields_take_words(browser: Browser, sheet: Path) -> None:
    """A box can be ticked and a field filled in, without any script of the page's own."""
    from selenium.webdriver.common.by import By

    browser.open(sheet, DESK)
    box = browser.driver.find_element(By.CSS_SELECTOR, "#shopping input[type=checkbox]")
    box.click()
    field = browser.driver.find_element(By.CSS_SELECTOR, "#filling input[type=text]")
    field.send_keys("531")
    assert box.is_selected()
    assert field.get_attribute("value") == "531"


@pytest.mark.parametrize(
    ("width", "media"),
    [(PHONE, "screen"), pytest.param(DESK, "screen", marks=pytest.mark.long), (PRINTED["A4"], "print")],
)
def test_hostile_texts(browser: Browser, hostile_sheet: Path, width: int, media: str) -> None:
    """Texts meant to do harm, and names of 300 letters, run nothing, fetch nothing and stick out nowhere."""
    browser.requests()
    browser.complaints()
    browser.open(hostile_sheet, width, media=media)
    page, window, beyond = browser.ask(BEYOND)
    assert page <= window == width
    assert beyond == []
    assert browser.complaints() == []
    assert {address for address in browser.requests() if not address.startswith("data:")} == {
        hostile_sheet.as_uri()
    }


@pytest.mark.parametrize("paper", ["A4", pytest.param("Letter", marks=pytest.mark.long)])
def test_no_drawing_and_no_row_is_cut(browser: Browser, sheet: Path, page: str, paper: str) -> None:
    """On paper each drawing, and each row of a table, is on one page with all of its words."""
    from pypdf import PdfReader

    browser.open(sheet, DESK)
    reader = PdfReader(io.BytesIO(browser.printed(paper, "dark")))
    sides = [_close(side.extract_text()) for side in reader.pages]
    drawings = browser.ask(
        "return [...document.querySelectorAll('svg')].map("
        "svg => [...svg.querySelectorAll('text')].map(text => text.textContent))"
    )
    rows = browser.ask(
        "return [...document.querySelectorAll('tbody tr')].map("
        "row => [...row.cells].map(cell => cell.innerText))"
    )
    assert len(drawings) == page.count("<svg")
    assert len(rows) > 100
    cut = [words for words in (*drawings, *rows) if not any(_has(side, words) for side in sides)]
    assert cut == []


def _close(text: str) -> str:
    """A text without spaces, letters that were drawn as one taken apart again."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))


def _has(side: str, words: list[str]) -> bool:
    return all(_close(word) in side for word in words)


def test_everything_of_the_answer_is_seen(browser: Browser, sheet: Path, answer: dict[str, Any]) -> None:
    """Every run, vessel, hole and part of the JSON is among the words that the browser shows."""
    browser.open(sheet, PHONE)
    seen = " ".join(browser.ask("return document.body.innerText").split())
    design = answer["designs"][0]
    names = {run["name"] for run in design["runs"]} | {vessel["name"] for vessel in design["vessels"]}
    parts = {item["part"] for run in design["runs"] for item in (*run["line"], *run["sides"])}
    parts |= {line["part"] for line in design["purchase"]} | {hole["saw"] for hole in design["holes"]}
    assert [name for name in names if name not in seen] == []
    assert [part for part in parts if f"({part})" not in seen] == []
    assert [row["description"] for row in design["purchase"] if row["description"] not in seen] == []
    assert read(sheet.read_text(encoding="utf-8")).words["holes"].count("hole mm") >= 1
