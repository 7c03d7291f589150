"""A folder of price lists -> a frozen `Catalog`, or every mistake of every file at once.

A catalogue is a folder with `catalog.toml` (name, currency, an optional note) and one CSV file per kind of
part; the shopkeeper's guide to the columns is `README.md` in `catalogs/metric`.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from autoplan.catalog import rows
from autoplan.catalog.air import air
from autoplan.catalog.columns import COLUMNS, COMMON, LIMITS, OFFERS, OPTIONAL, SHOPS, SYSTEMS, TITLE
from autoplan.catalog.columns import FILES as PART_FILES
from autoplan.catalog.fixtures import fixture
from autoplan.catalog.parts import Catalog, Part, Shop, Size
from autoplan.catalog.rows import Known, offer_of
from autoplan.catalog.sheet import Row, read_sheet, suggest
from autoplan.catalog.siphons import siphon_part
from autoplan.catalog.sizes import size_of
from autoplan.catalog.vessels import tub
from autoplan.errors import InputError, Mistake

P = TypeVar("P", bound=Part)

MAY_BE_ABSENT = (
    "offers.csv",
    *(PART_FILES[kind] for kind in ("sundries", "siphons", "air", "vessels", "fixtures")),
)
FILES = ("shops.csv", "systems.csv", *(file for file in PART_FILES.values() if file not in MAY_BE_ABSENT))

READERS: Mapping[str, Callable[[Row, Known], Part]] = {
    **rows.READERS,
    "air": air,
    "siphons": siphon_part,
    "vessels": tub,
    "fixtures": fixture,
}

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def load_catalog(folder: str | Path) -> Catalog:
    """Read a catalogue.

    Args:
        folder: the folder with `catalog.toml` and the CSV files; those in `MAY_BE_ABSENT` may be absent.

    Raises:
        InputError: with every mistake of every file.
    """
    return _Loader(Path(folder)).catalog()


def find_catalog(name_or_folder: str, beside: Path | None = None) -> Path:
    """The folder of a catalogue.

    Args:
        name_or_folder: a folder, or the name of a catalogue that is looked for as a folder from here, as a
            folder from `beside`, in `catalogs` here, in the `catalogs` that come with the program.
        beside: folder of the problem file.

    Raises:
        InputError: there is none; it lists the catalogues that there are.
    """
    shelves = [Path("catalogs"), *_own_shelves()]
    bases: list[Path] = [Path(), *((beside,) if beside is not None else ()), *shelves]
    if name_or_folder.strip():
        found = [base / name_or_folder for base in bases if os.path.isdir(base / name_or_folder)]
        # An unrelated folder of the same name nearer by does not hide a catalogue.
        found.sort(key=lambda folder: not (folder / "catalog.toml").is_file())
        if found:
            return found[0]
    names = sorted({path.parent.name for shelf in shelves for path in shelf.glob("*/catalog.toml")})
    close = suggest(name_or_folder, names)
    remedy = f"{close}, or give the path of a folder"
    raise InputError([Mistake(name_or_folder or "price list", "", "there is no such price list", remedy)])


def _own_shelves() -> list[Path]:
    """The catalogues of the repository and those inside an installed package."""
    package = Path(__file__).resolve().parents[1]
    return [package.parent / "catalogs", package / "_catalogs"]


class _Loader:
    """Reads the files of one folder, collecting mistakes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.mistakes: list[Mistake] = []
        self.places: dict[str, str] = {}
        self.there: list[str] = []
        self.unread: set[str] = set()
        """Files not there or not read to the end: one mistake is enough, what they know is not asked."""

    def catalog(self) -> Catalog:
        self._check_files()
        name, currency = self._title()
        shops = self._shops()
        known = Known(self._systems(), tuple(shops))
        groups = {kind: self._parts(kind, known) for kind in READERS}
        self._offers(groups, shops)
        if self.mistakes:
            raise InputError(self.mistakes)
        return Catalog(
            name=name,
            folder=str(self.folder),
            currency=currency,
            shops=MappingProxyType(shops),
            systems=MappingProxyType(
                {name: MappingProxyType(sizes) for name, sizes in known.systems.items()}
            ),
            **{kind: MappingProxyType(parts) for kind, parts in groups.items()},  # type: ignore[arg-type]
        )

    def _wrong(self, file: Path, place: str, problem: str, remedy: str) -> None:
        self.mistakes.append(Mistake(str(file), place, problem, remedy))

    def _check_files(self) -> None:
        """One mistake per missing file, or a single one if the folder itself is missing."""
        try:
            self.there = sorted(os.listdir(self.folder))
        except (OSError, ValueError) as error:
            self._wrong(
                self.folder, "", f"no folder that can be read ({error})", "give the folder of a price list"
            )
            raise InputError(self.mistakes) from error
        wanted = ("catalog.toml", *FILES)
        strangers = [name for name in self.there if name not in (*wanted, *MAY_BE_ABSENT, "README.md")]
        for name in wanted:
            if name not in self.there:
                close = suggest(name, strangers) if strangers else ""
                remedy = "add it; its header line alone will do" if name in FILES[2:] else "add it"
                if close.startswith("did you mean"):
                    remedy = f"rename the file {close.removeprefix('did you mean ')}"
                self._wrong(self.folder / name, "", "the file is missing", remedy)

    def _title(self) -> tuple[str, str]:
        """Name and currency."""
        file = self.folder / "catalog.toml"
        if not file.exists():
            return "", ""
        try:
            table = tomllib.loads(file.read_text(encoding="utf-8-sig"))
        except (ValueError, RecursionError, OSError) as error:
            self._wrong(file, "", f"cannot be read ({error})", 'write lines such as name = "metric"')
            return "", ""
        for key in table:
            if key not in TITLE:
                self._wrong(file, key, "the key is not known", suggest(key, TITLE))
        for key, example in (("name", "metric"), ("currency", "EUR")):
            if not isinstance(table.get(key), str) or not table[key].strip():
                self._wrong(file, key, "a text is needed", f'write {key} = "{example}"')
        return str(table.get("name")), str(table.get("currency"))

    def _rows(self, name: str, columns: Iterable[str], optional: Iterable[str] = ()) -> Iterable[Row]:
        """Rows of a file; the mistakes that the caller finds in each are taken over after it."""
        before = len(self.mistakes)
        sheet = (
            read_sheet(self.folder / name, tuple(columns), tuple(optional), self.mistakes)
            if name in self.there
            else []
        )
        if len(self.mistakes) > before or name not in self.there:
            self.unread.add(name)
        for row in sheet:
            yield row
            self.mistakes += row.mistakes

    def _fresh(self, row: Row, key: str, what: str) -> None:
        """Note that a name is used a second time."""
        if not key:
            return
        if key in self.places:
            row.wrong(
                f"{what} is already in {', '.join(self.places[key].split(': '))}",
                "give each its own, or take one out",
            )
        self.places.setdefault(key, row.place)

    def _shops(self) -> dict[str, Shop]:
        shops: dict[str, Shop] = {}
        for row in self._rows("shops.csv", SHOPS):
            shop = row.text("shop")
            self._fresh(row, f"shop {shop}" if shop else "", f'shop "{shop}"')
            free = None if row.blank("free_from") else row.cents("free_from", zero=True)
            shops.setdefault(shop, Shop(shop, row.text("name"), row.cents("freight", zero=True), free))
        if not shops and "shops.csv" not in self.unread:
            self._wrong(self.folder / "shops.csv", "", "there is no shop in it", "write a row for one")
        return {} if "shops.csv" in self.unread else shops

    def _systems(self) -> dict[str, dict[str, Size]]:
        systems: dict[str, dict[str, Size]] = {}
        for row in self._rows("systems.csv", SYSTEMS, LIMITS):
            system, size = row.text("system"), row.text("size")
            for column, word in (("system", system), ("size", size)):
                if " " in word:
                    row.wrong(f'{column} "{word}" has a blank', f'write it as "{word.replace(" ", "-")}"')
            if system and size:
                self._fresh(row, f"size {system} {size}", f"{system} {size}")
            entry = size_of(row)
            if system and size:
                systems.setdefault(system, {}).setdefault(size, entry)
        return {} if "systems.csv" in self.unread else systems

    def _parts(self, kind: str, known: Known) -> dict[str, Part]:
        parts: dict[str, Part] = {}
        read: Callable[[Row, Known], Part] = READERS[kind]
        for row in self._rows(PART_FILES[kind], (*COMMON, *COLUMNS[kind]), OPTIONAL.get(kind, ())):
            part_id = row.text("id")
            if part_id and not _ID.fullmatch(part_id):
                row.wrong(
                    f'id "{part_id}" is not one plain word', "use letters, digits, hyphen, dot, underline"
                )
            self._fresh(row, f"part {part_id}" if part_id else "", f'id "{part_id}"')
            part = read(row, known)
            parts.setdefault(part_id, part)
        return parts

    def _offers(self, groups: dict[str, dict[str, Part]], shops: dict[str, Shop]) -> None:
        """Add the further shops' offers to the parts."""
        ids = [part_id for parts in groups.values() for part_id in parts]
        if self.unread & set(PART_FILES.values()) - set(MAY_BE_ABSENT):
            ids = []
        for row in self._rows("offers.csv", OFFERS):
            part_id, shop = row.choice("part", ids), row.choice("shop", tuple(shops))
            offer = offer_of(row, shop)
            for parts in groups.values():
                if part_id in parts:
                    part = parts[part_id]
                    if shop and any(other.shop == shop for other in part.offers):
                        row.wrong(f"{shop} already offers {part_id}", "keep one row for each part and shop")
                    parts[part_id] = replace(part, offers=(*part.offers, offer))
