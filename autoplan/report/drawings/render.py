"""Sheets -> SVG and PNG, by matplotlib; the same sheet gives the same bytes."""

from __future__ import annotations

import io
import logging
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from autoplan.report.blocks import clean
from autoplan.report.drawings.canvas import WIDTH, Canvas, Disc, Stroke, TextLine
from autoplan.report.drawings.paint import GROUND, VARIABLES

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FONTS = "'DejaVu Sans', Arial, Helvetica, sans-serif"
"""Fonts of the text in an SVG; that one's metrics are laid out for, the others are narrower."""

POINTS = 72
"""Pixels of a sheet in an inch, which are matplotlib's points."""

SHARPNESS = 3
"""Pixels of a PNG for each of the sheet's."""

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"

ANCHORS: dict[str, Any] = {"start": "left", "middle": "center", "end": "right"}
"""Where x is in a text, in matplotlib's words."""

_VARIABLE = re.compile(r"var\(--[a-z-]+, (#[0-9a-f]{6})\)")


@contextmanager
def quiet() -> Iterator[None]:
    """No word of matplotlib's about its caches, nor about letters that the fonts of this machine lack.

    An SVG leaves such letters to whoever shows it.
    """
    logger = logging.getLogger("matplotlib")
    level = logger.level
    logger.setLevel(logging.ERROR)
    try:
        with warnings.catch_warnings():
            for words in (r"Glyph \d+ ", r"Matplotlib currently does not support "):
                warnings.filterwarnings("ignore", message=words, category=UserWarning)
            yield
    finally:
        logger.setLevel(level)


def svg(canvas: Canvas, name: str, title: str, alt: str) -> str:
    """A sheet as an <svg> element, its colours as CSS variables with fallbacks, its ids begun with a name."""
    stream = io.BytesIO()
    with _settings():
        _figure(canvas).savefig(stream, format="svg", metadata={"Date": None}, transparent=True)
    root = ET.fromstring(stream.getvalue())
    return _element(root, canvas, name, title, alt)


def png(canvas: Canvas) -> bytes:
    """A sheet as a picture on white."""
    stream = io.BytesIO()
    with _settings():
        figure = _figure(canvas)
        figure.savefig(
            stream, format="png", dpi=POINTS * SHARPNESS, facecolor=GROUND, metadata={"Software": None}
        )
    return stream.getvalue()


def standalone(element: str) -> str:
    """An <svg> element as a file of its own: with plain colours, which every program can show."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _VARIABLE.sub(r"\1", element) + "\n"


@contextmanager
def _settings() -> Iterator[None]:
    """matplotlib as it comes, whatever settings of their own a user has, with text left as text."""
    with quiet():
        import matplotlib

        with matplotlib.rc_context():
            matplotlib.rcdefaults()
            matplotlib.rcParams["svg.fonttype"] = "none"
            matplotlib.rcParams["svg.hashsalt"] = "autoplan"
            matplotlib.rcParams["lines.scale_dashes"] = False
            yield


def _figure(canvas: Canvas) -> Figure:
    """The sheet as a figure without axes."""
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.patches import Circle, Polygon
    from matplotlib.text import Text
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(WIDTH / POINTS, canvas.height / POINTS), dpi=POINTS)
    place: Any = Affine2D().scale(1.0, -1.0).translate(0.0, canvas.height) + Affine2D().scale(1 / POINTS)
    place += figure.dpi_scale_trans
    for order, thing in enumerate(canvas.things):
        artist: Any
        if isinstance(thing, TextLine):
            artist = Text(
                *(thing.x, thing.y, thing.text),
                fontsize=thing.size,
                color=thing.tone,
                fontweight="bold" if thing.bold else "normal",
                horizontalalignment=ANCHORS[thing.anchor],
                verticalalignment="baseline",
                parse_math=False,
                transform=place,
            )
        elif isinstance(thing, Disc):
            artist = Circle((thing.x, thing.y), thing.radius, transform=place, **_patch(thing))
        elif thing.closed:
            artist = Polygon(thing.points, closed=True, transform=place, **_patch(thing))
        else:
            xs, ys = zip(*thing.points, strict=True)
            dashes: Any = (0, thing.look.dashes) if thing.look.dashes else "-"
            artist = Line2D(
                *(xs, ys),
                color=thing.look.line,
                linewidth=thing.look.width,
                linestyle=dashes,
                dash_capstyle="butt",
                solid_capstyle="butt",
                solid_joinstyle="round",
                transform=place,
            )
        artist.set_zorder(order)
        if thing.gid:
            artist.set_gid(thing.gid)
        figure.add_artist(artist)
    return figure


def _patch(thing: Disc | Stroke) -> dict[str, Any]:
    look = thing.look
    return {
        "facecolor": look.fill or "none",
        "edgecolor": look.line or "none",
        "linewidth": look.width if look.line else 0.0,
        "linestyle": (0, look.dashes) if look.dashes else "-",
    }


# --- what matplotlib wrote, made fit to stand in a page --------------------------------------------------


def _element(root: ET.Element, canvas: Canvas, name: str, title: str, alt: str) -> str:
    for prefix, space in (("", SVG), ("xlink", XLINK)):
        ET.register_namespace(prefix, space)
    for gone in ("metadata", "defs"):
        for child in root.findall(f"{{{SVG}}}{gone}"):
            root.remove(child)
    named = {thing.gid for thing in canvas.things if thing.gid}
    for element in root.iter():
        _mend(element, name, named)
    height = canvas.height
    root.attrib.clear()
    root.attrib.update(
        {
            "id": name,
            "class": "drawing",
            "role": "img",
            "aria-labelledby": f"{name}--title {name}--alt",
            "viewBox": f"0 0 {WIDTH:g} {height:g}",
            "width": f"{WIDTH:g}",
            "height": f"{height:g}",
            "style": f"font-family: {FONTS}; max-width: 100%; height: auto",
        }
    )
    words = [("title", clean(title)), ("desc", clean(alt))]
    for at, (tag, text) in enumerate(words):
        element = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{name}--{'alt' if at else 'title'}"})
        element.text = text
        root.insert(at, element)
    ground = {"width": "100%", "height": "100%", "style": f"fill: {_colours(GROUND)}"}
    root.insert(len(words), ET.Element(f"{{{SVG}}}rect", ground))
    return ET.tostring(root, encoding="unicode")


def _mend(element: ET.Element, name: str, named: set[str]) -> None:
    """Only ids that were given, begun with the drawing's name; colours as variables, no clipping."""
    element.attrib.pop("clip-path", None)
    if element.get("transform", "").startswith("rotate(-0 "):
        del element.attrib["transform"]
    own = element.attrib.pop("id", None)
    if own in named:
        element.set("id", f"{name}--{own}")
    for blank in ("text", "tail"):
        if element.tag != f"{{{SVG}}}text" or blank == "tail":
            setattr(element, blank, None)
    style = element.get("style")
    if style is not None:
        rules = (part.strip().partition(":") for part in style.split(";"))
        kept = (
            f"{key}:{_colours(value)}"
            for key, _, value in rules
            if key and key not in ("font-family", "font")
        )
        element.set("style", ";".join(kept))


def _colours(value: str) -> str:
    """A style's value with each colour as its variable."""
    return re.sub(
        r"#[0-9a-f]{6}",
        lambda found: f"var({VARIABLES[found[0]]}, {found[0]})" if found[0] in VARIABLES else found[0],
        value,
    )
