"""A drawing read back from its SVG: what stands where, by the names that its parts were given."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"

Spot = tuple[float, float]


class Picture:
    """An SVG as lists of points by name, and its texts."""

    def __init__(self, svg: str, name: str) -> None:
        self.root = ET.fromstring(svg)
        self.name = name
        self.paths: dict[str, list[Spot]] = {}
        for group in self.root.iter(f"{SVG}g"):
            path = group.find(f"{SVG}path")
            if "id" in group.attrib and path is not None:
                self.paths[group.attrib["id"].removeprefix(f"{name}--")] = _points(path.attrib["d"])
        self.texts = ["".join(text.itertext()) for text in self.root.iter(f"{SVG}text")]

    def y(self, gid: str) -> float:
        """Height of a level line [px]."""
        heights = {y for _, y in self.paths[gid]}
        assert len(heights) == 1, gid
        return heights.pop()

    def span(self, gid: str) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of a thing [px]."""
        xs, ys = zip(*self.paths[gid], strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def middle(self, gid: str) -> Spot:
        """Centre of a thing [px]."""
        left, top, right, bottom = self.span(gid)
        return (left + right) / 2, (top + bottom) / 2


def _points(path: str) -> list[Spot]:
    numbers = [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))
