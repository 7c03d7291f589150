"""Drawings as SVG and PNG: the same bytes again, fit to stand in one page, harmless whatever a name is."""

from __future__ import annotations

import copy
import json
import re
import struct
import subprocess
import sys
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from autoplan.report.blocks import clean
from autoplan.report.drawings import sheets
from autoplan.report.drawings.paint import DARK, FAINT, GROUND, INK, VARIABLES, WATER
from autoplan.report.drawings.render import png, standalone, svg
from autoplan.report.drawings.view import DesignView, Sheet
from autoplan.report.drawings.write import write_drawings
from tests.report.drawings.drawn import Drawn, answer_of, drawing_of, drawn_of
from tests.report.drawings.read import SVG

HOSTILE = (
    "<script>alert(1)</script>",
    '"><svg onload="x',
    "$\\frac{1}{0}$ & ]]> &amp; 100%",
    "bed \u202egnp.exe\u0000\x1b[31m",
    "b" * 300,
    "=1+1 水 🐟",
)


def test_the_same_answer_gives_the_same_bytes() -> None:
    """Laid out and drawn again from the same answer, an SVG and a PNG are the same."""
    first, again = drawing_of("small"), sheets(answer_of("small"))
    assert repr([sheet.canvas.things for sheet in again]) == repr([s.canvas.things for s in first.sheets])
    for sheet in again[:3]:
        assert svg(sheet.canvas, sheet.name, sheet.title, sheet.alt) == first.drawings[sheet.name].svg
    assert png(again[2].canvas) == png(first.sheets[2].canvas)


def test_settings_of_the_user_change_nothing() -> None:
    """Whoever has set up matplotlib otherwise gets the same bytes, and keeps the settings."""
    import matplotlib

    small = drawing_of("small")
    sheet = small.sheets[0]
    others = {"font.size": 30.0, "lines.scale_dashes": True, "path.sketch": (2.0, 80.0, 20.0)}
    with matplotlib.rc_context(others):
        again = svg(sheet.canvas, sheet.name, sheet.title, sheet.alt)
        assert matplotlib.rcParams["font.size"] == 30.0
    assert again == small.drawings[sheet.name].svg


def test_they_can_stand_in_one_page(drawn: Drawn) -> None:
    """Each is an <svg> without prolog, 390 px wide, with title and text; no two ids are the same."""
    seen: set[str] = set()
    for name, drawing in drawn.drawings.items():
        assert drawing.svg.startswith("<svg ")
        root = ET.fromstring(drawing.svg)
        assert root.attrib["role"] == "img"
        assert root.attrib["viewBox"].startswith("0 0 390 ")
        title, alt = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert alt is not None
        assert (title.text, alt.text) == (drawing.title, drawing.alt)
        ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
        assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], alt.attrib["id"]]
        assert all(own == name or own.startswith(f"{name}--") for own in ids)
        assert len(set(ids)) == len(ids)
        assert seen.isdisjoint(ids)
        seen |= set(ids)
        assert re.fullmatch(r"[a-z0-9-]+", name)


def test_text_stays_text(drawn: Drawn) -> None:
    """Every line of text on a sheet is a text in its SVG, and no letter is drawn as a path."""
    for sheet in drawn.sheets:
        picture = drawn.picture(sheet.name)
        assert picture.texts == [words.text for words in sheet.canvas.texts()]
        assert "<use" not in drawn.drawings[sheet.name].svg


def test_colours_are_variables_of_the_page(drawn: Drawn) -> None:
    """Every colour is a CSS variable that falls back to itself; a file of its own has the plain colour."""
    for drawing in drawn.drawings.values():
        bare = re.sub(r"var\(--drawing-[a-z]+, #[0-9a-f]{6}\)", "", drawing.svg)
        assert not re.search(r"#[0-9a-f]{6}\b", bare)
        alone = standalone(drawing.svg)
        assert "var(" not in alone
        assert INK in alone
        ET.fromstring(alone)


def _luminance(colour: str) -> float:
    """Relative luminance (W3C, WCAG 2.1)."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("dark", [False, True])
def test_text_has_contrast(dark: bool) -> None:
    """Both tones of text stand out 4.5:1 at least from paper and water, on a light and a dark page."""
    shown = {colour: DARK[variable] if dark else colour for colour, variable in VARIABLES.items()}
    assert set(DARK) == set(VARIABLES.values())
    for text in (INK, FAINT):
        for ground in (GROUND, WATER):
            high, low = sorted((_luminance(shown[text]), _luminance(shown[ground])), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 4.5


def _renamed(answer: Mapping[str, Any], names: Mapping[str, str]) -> Mapping[str, Any]:
    """The answer with every text that is one of those names changed, wherever it stands."""

    def change(held: Any) -> Any:
        if isinstance(held, str):
            return names.get(held, held)
        if isinstance(held, list):
            return [change(item) for item in held]
        if isinstance(held, dict):
            return {key: change(item) for key, item in held.items()}
        return held

    changed: Mapping[str, Any] = change(copy.deepcopy(dict(answer)))
    return changed


@pytest.fixture(scope="module")
def hostile() -> Drawn:
    """A small answer whose vessels, runs, parts and price list have names that mean harm."""
    answer = answer_of("small")
    design = answer["designs"][0]
    vessels, runs = (
        [item["name"] for item in design["vessels"]],
        [item["name"] for item in design["runs"]],
    )
    names = dict(zip([*vessels, *runs], HOSTILE * 4, strict=False))
    # A vessel and a run may share a harmful name, two vessels may not.
    names = {old: f"{new}{number}" for number, (old, new) in enumerate(names.items())}
    for part in design["parts"].values():
        names[part["description"]] = HOSTILE[0] + part["description"]
    return drawn_of(json.loads(json.dumps(_renamed(answer, names))))


def test_hostile_names_are_harmless(hostile: Drawn) -> None:
    """Markup in a name is text, control and direction marks are gone, ids are letters and digits."""
    for drawing in hostile.drawings.values():
        root = ET.fromstring(drawing.svg)
        assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
            *("svg", "title", "desc", "rect", "g", "path", "text"),
        }
        for element in root.iter():
            assert not any(key.startswith("on") or "href" in key for key in element.attrib)
            assert re.fullmatch(r"[A-Za-z0-9_-]*", element.attrib.get("id", ""))
        assert not re.search(r"[\x00-\x08\x1b\u202e]", drawing.svg)
        assert re.fullmatch(r"[a-z0-9-]+", drawing.name)
    told = " ".join(drawing.alt for drawing in hostile.drawings.values())
    assert "<script>alert(1)</script>" in told
    assert "$\\frac{1}{0}$ & ]]> &amp; 100%" in told


def test_long_names_stay_on_the_sheet(hostile: Drawn) -> None:
    """Even a name of 300 letters leaves no sheet and lies on no other text."""
    for sheet in hostile.sheets:
        boxes = [text.box for text in sheet.canvas.texts()]
        assert all(left >= 0.0 and right <= 390.0 for left, _, right, _ in boxes)
        for number, a in enumerate(boxes):
            for b in boxes[:number]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], sheet.name


def test_a_png_is_three_times_as_sharp() -> None:
    """A PNG has three pixels for each of the sheet's, on white, and says nothing of when it was made."""
    sheet = drawing_of("small").sheets[0]
    data = png(sheet.canvas)
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    wide, high = struct.unpack(">II", data[16:24])
    assert wide == 1170
    assert high == pytest.approx(3 * sheet.canvas.height, abs=1)
    kinds, at = [], 8
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        kinds.append(data[at + 4 : at + 8])
        at += size + 12
    assert set(kinds) <= {b"IHDR", b"pHYs", b"IDAT", b"IEND"}
    assert zlib.crc32(data) == zlib.crc32(png(sheet.canvas))


def test_files_of_both_kinds(tmp_path: Path) -> None:
    """Each drawing is written as SVG and PNG into a folder made for them, where other files stay."""
    folder, some = tmp_path / "album", drawing_of("small").sheets[:2]
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    write_drawings(some, str(folder))
    names = {path.name for path in folder.iterdir()}
    assert names == {"mine.txt", *(f"{sheet.name}.{kind}" for sheet in some for kind in ("svg", "png"))}
    text = (folder / "levels.svg").read_text(encoding="utf-8")
    assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<svg ')
    assert (folder / "levels.png").read_bytes().startswith(b"\x89PNG")


def test_a_folder_made_in_vain_is_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a picture cannot be written nothing is left, not even the folder."""
    write = Path.write_bytes

    def refuse(self: Path, data: bytes) -> int:
        if "plan" in self.name and ".png" in self.name:
            write(self, data[:10])
            raise OSError(28, "No space left on device")
        return write(self, data)

    monkeypatch.setattr(Sheet, "png", lambda _: b"x" * 20)
    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(OSError, match="No space"):
        write_drawings(drawing_of("small").sheets[:2], str(tmp_path / "album"))
    assert not list(tmp_path.iterdir())


def test_ranks_that_there_are_not() -> None:
    """A rank without a design, and an answer of before there were drawings, are told."""
    answer = answer_of("small")
    with pytest.raises(ValueError, match="no design of rank 2"):
        DesignView(answer, 2)
    design = {key: held for key, held in answer["designs"][0].items() if key != "traces"}
    with pytest.raises(ValueError, match=r"or was changed: designs\[0\]\.traces is missing"):
        DesignView({**answer, "designs": [design]})


def test_matplotlib_is_loaded_only_to_draw() -> None:
    """Neither the command line nor the package of drawings loads it."""
    code = (
        "import sys, autoplan.cli, autoplan.report.render.show, autoplan.report.contract, "
        "autoplan.report.drawings, autoplan.report.drawings.write, autoplan.report.drawings.levels; "
        "sys.exit('matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_clean_names_are_what_is_told() -> None:
    """The marks that are taken out are those that no report prints."""
    assert clean(HOSTILE[3]).split() == ["bed", "gnp.exe", "[31m"]
