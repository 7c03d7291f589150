"""A page read back without a browser, for tests: its words by section, and its elements."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

EMPTY = {"meta", "input", "link", "br", "img", "hr"}
"""Elements that no end tag closes."""

APART = {"p", "li", "dt", "dd", "td", "th", "h1", "h2", "h3", "span", "text", "title", "desc"}
"""Elements whose words stand apart from those before them."""


@dataclass
class Read(HTMLParser):
    """A page read back: the words of each section, every element with its attributes."""

    words: dict[str, str] = field(default_factory=dict)
    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin outside of every section."""
        super().__init__()
        self.open: list[str] = []
        self.section = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element; a section begins at its tag."""
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)
        if tag == "section":
            self.section = dict(attrs)["id"] or ""
        if tag in APART:
            self.words[self.section] = self.words.get(self.section, "").rstrip() + " "

    def handle_endtag(self, tag: str) -> None:
        """Every element is closed in its turn."""
        assert self.open.pop() == tag
        self.section = "" if tag == "section" else self.section

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element of a drawing that closes itself."""
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Gather words, but for the style."""
        if self.open[-1:] != ["style"]:
            said = f"{self.words.get(self.section, '')}{data}"
            self.words[self.section] = " ".join(said.split()) + " " * said[-1:].isspace()


def read(page: str) -> Read:
    """A page read back."""
    found = Read()
    found.feed(page)
    found.close()
    assert found.open == []
    return found
