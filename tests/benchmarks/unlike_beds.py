"""Sites of many beds that are all unlike, and of many beds in few classes: problem files from a seed.

Each unlike bed has its own area, floor, feed, drain and piece of trunk, so nothing repeats and every run is a
class of its own. `python -m tests.benchmarks.unlike_beds 8 > eight.toml` writes one.
"""

from __future__ import annotations

import csv
import random
import sys
from dataclasses import dataclass
from pathlib import Path

CATALOG = Path(__file__).parents[2] / "catalogs" / "metric"

LARGE_PUMPS = (
    # id, shop, price, outlet, bore [mm], curve [L/h:m], watts; invented, as all pumps of the list are.
    (
        "pump-20000",
        "weir",
        "489.00",
        "male G 2",
        "49",
        "0:9 4000:8.5 8000:7.3 12000:5.5 16000:3.1 20000:0",
        "560",
    ),
    (
        "pump-60000",
        "weir",
        "1190.00",
        "male G 2",
        "49",
        "0:12 12000:11.3 24000:9.7 36000:7.3 48000:4.1 60000:0",
        "1500",
    ),
)


@dataclass(frozen=True, slots=True)
class Bed:
    """One kind of bed: its area [m2], its floor and the lengths of its pipes [mm]."""

    area: float
    floor: int
    trunk: int
    feed: list[int]
    drain: list[int]


def site(beds: int, seed: int = 13, classes: int | None = None) -> str:
    """A problem file: a tank, a sump and so many beds in a row along one trunk, without filters.

    Args:
        beds: how many.
        seed: of what is drawn.
        classes: how many kinds of bed there are, each built alike; None for all unlike.
    """
    draw = random.Random(seed)
    kinds = [_bed(draw) for _ in range(beds if classes is None else classes)]
    text = [f'name = "{beds} unlike beds"\n', _vessel("tank", "tank", 800, 300)]
    text.append('volume = "1000 L"\nturnover = "1.5/hour"\narea = "1.25 m2"\n')
    text.append('water_min = "650 mm"\nwater_max = "720 mm"\n')
    text.append(_vessel("sump", "sump", 700, -650))
    text.append(f'area = "{(900 + 130 * beds) / 700:.3f} m2"\nwater_min = "0 mm"\nwater_max = "620 mm"\n')
    for i in range(beds):
        kind = kinds[i % len(kinds)]
        text.append(_vessel(f"bed {i + 1}", "bed", 320, kind.floor))
        text.append(f'area = "{kind.area:.2f} m2"\nflood = "250 mm"\nfloods = "2/hour"\n')
        text.append('drain = "siphon"\n')
    text += [f'[[junction]]\nname = "tee {i}"\n' for i in range(beds)]
    text.append(_gravity("tank drain", "tank", [900, 900], "solids-lifting"))
    text.append(_pressure("main", "sump", "tee 0", [800, 800]))
    text.append(_pressure("tank feed", "tee 0", "tank", [900, 900, 900], valve=True))
    for i in range(beds):
        kind, made = kinds[i % len(kinds)], "" if classes is None else f" of kind {i % len(kinds) + 1}"
        if i + 1 < beds:
            text.append(_pressure(f"trunk {i + 1}", f"tee {i}", f"tee {i + 1}", [kind.trunk]))
        start, alike = f"tee {min(i + 1, beds - 1)}", made and f"feed{made}"
        text.append(_pressure(f"feed {i + 1}", start, f"bed {i + 1}", kind.feed, valve=True, alike=alike))
        text.append(
            _gravity(f"drain {i + 1}", f"bed {i + 1}", kind.drain, "standpipe", alike=made and f"drain{made}")
        )
    return "\n".join(text)


def _bed(draw: random.Random) -> Bed:
    return Bed(
        draw.uniform(0.7, 1.4),
        draw.randrange(450, 750, 10),
        draw.randrange(1100, 2400, 10),
        [draw.randrange(300, 900, 10) for _ in range(3)],
        [draw.randrange(600, 2200, 10) for _ in range(3)],
    )


def _vessel(name: str, kind: str, depth: int, floor: int) -> str:
    return (
        f'[[vessel]]\nname = "{name}"\nkind = "{kind}"\ndepth = "{depth} mm"\nfloor = "{floor} mm"\n'
        'ground = "0 m"\n'
    )


def _pressure(
    name: str, start: str, finish: str, legs: list[int], *, valve: bool = False, alike: str = ""
) -> str:
    ends = f'kind = "pressure"\nfrom = "{start}"\nto = "{finish}"\nvalve = {str(valve).lower()}\n'
    return _run(name, legs, alike) + ends


def _gravity(name: str, start: str, legs: list[int], draw: str, *, alike: str = "") -> str:
    ends = f'kind = "gravity"\nfrom = "{start}"\nto = "sump"\nvalve = false\ndraw = "{draw}"\n'
    return _run(name, legs, alike) + ends


def _run(name: str, legs: list[int], alike: str) -> str:
    lengths = ", ".join(f'"{leg} mm"' for leg in legs)
    turns = ", ".join(["90"] * (len(legs) - 1))
    return f'[[run]]\nname = "{name}"\nclass = "{alike or name}"\nlegs = [{lengths}]\nturns = [{turns}]\n'


def price_list(folder: Path) -> Path:
    """The metric list with pumps large enough for forty beds, in a folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in CATALOG.iterdir():
        if path.suffix in (".csv", ".toml"):
            (folder / path.name).write_bytes(path.read_bytes())
    with (folder / "pumps.csv").open("a", encoding="utf-8", newline="") as text:
        for part, shop, price, outlet, bore, curve, watts in LARGE_PUMPS:
            said = f"pond pump {part.split('-')[1]} L/h"
            row = [
                part,
                said,
                shop,
                price,
                "1",
                "",
                "invented curve; thread ISO 228-1",
                outlet,
                bore,
                curve,
                watts,
            ]
            csv.writer(text, lineterminator="\n").writerow([*row, "no", "120"])
    return folder


if __name__ == "__main__":
    print(site(int(sys.argv[1])))
