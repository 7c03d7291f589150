"""Price lists as shops keep them, made of the metric list: stocks, packs, many shops. All invented.

`python -m tests.benchmarks.price_lists shops-6 FOLDER` writes one.
"""

from __future__ import annotations

import csv
import random
import sys
from pathlib import Path

CATALOG = Path(__file__).parents[2] / "catalogs" / "metric"

IN_PACKS = ("joints", "turns", "tees")
"""Files whose parts come by ten."""

SHARE = 2 / 3
"""Of all parts, what each of many shops has."""

NOT_SOLD = ("shops", "systems", "offers")

Row = dict[str, str]


def price_list(folder: Path, kind: str, seed: int = 13) -> Path:
    """The metric list in a folder of its own, changed as a kind says.

    Args:
        folder: is made.
        kind: "stock" (50 of every row), "packs" (joints, turns and tees by ten, at ten times the price) or
            "shops-N" (N shops, each with freight and with two thirds of all parts at prices of its own).
        seed: of what is drawn.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for path in CATALOG.iterdir():
        if path.suffix in (".csv", ".toml"):
            (folder / path.name).write_bytes(path.read_bytes())
    sold = [path.stem for path in sorted(CATALOG.glob("*.csv")) if path.stem not in NOT_SOLD]
    if kind.startswith("shops-"):
        _shops(folder, sold, int(kind.removeprefix("shops-")), random.Random(seed))
        return folder
    for name in [*sold, "offers"] if kind == "stock" else IN_PACKS:
        rows = _read(folder / f"{name}.csv")
        for row in rows:
            if kind == "stock":
                row["stock"] = "50"
            else:
                row |= {"pack": "10", "price": f"{10 * float(row['price']):.2f}"}
        _write(folder / f"{name}.csv", rows)
    return folder


def _shops(folder: Path, sold: list[str], count: int, draw: random.Random) -> None:
    shops = [f"shop-{number + 1}" for number in range(count)]
    freight = [f"{draw.randrange(590, 1500, 10) / 100:.2f}" for _ in shops]
    free = [draw.choice(("", "150.00", "250.00")) for _ in shops]
    _write(
        folder / "shops.csv",
        [
            {"shop": shop, "name": f"{shop} (invented)", "freight": carriage, "free_from": value}
            for shop, carriage, value in zip(shops, freight, free, strict=True)
        ],
    )
    offers: list[Row] = []
    for name in sold:
        rows = _read(folder / f"{name}.csv")
        for row in rows:
            cents = round(100 * float(row["price"]))
            having = [shop for shop in shops if draw.random() < SHARE] or [draw.choice(shops)]
            asked = [f"{5 * max(1, round(cents * draw.uniform(0.85, 1.2) / 5)) / 100:.2f}" for _ in having]
            row |= {"shop": having[0], "price": asked[0]}
            offers += [
                {"part": row["id"], "shop": shop, "price": price, "pack": row["pack"], "stock": ""}
                for shop, price in zip(having[1:], asked[1:], strict=True)
            ]
        _write(folder / f"{name}.csv", rows)
    _write(folder / "offers.csv", offers)


def _read(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def _write(path: Path, rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as text:
        table = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(rows)


if __name__ == "__main__":
    price_list(Path(sys.argv[2]), sys.argv[1])
