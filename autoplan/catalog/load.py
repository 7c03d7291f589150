"""A folder of price lists -> a frozen `Catalog`, or every mistake of every file at once.

A catalogue is a folder with `catalog.toml` (name, currency, an optional note) and one CSV file per kind of
part; the shopkeeper's guide to the columns is `README.md` in `catalogs/metric`.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from autoplan.catalog.columns import Column
from autoplan.catalog.parts import COMMON, KINDS, Catalog, Part, PartKind, Pipe, Tee
from autoplan.catalog.rows import columns_of, read
from autoplan.catalog.sheet import References, Row, read_sheet, suggest
from autoplan.catalog.shops import FURTHER, Offer, Shop
from autoplan.catalog.sizes import NAMES, Size
from autoplan.errors import InputError, Mistake

T = TypeVar("T")

TITLE = (
    Column("what the price list is called", name="name"),
    Column("currency of all its prices", name="currency"),
    Column("anything worth knowing about the list", "nothing to say", name="note"),
)
"""Keys of `catalog.toml`."""

COLUMNS: Mapping[str, tuple[Column, ...]] = {
    "catalog.toml": TITLE,
    "shops.csv": columns_of(Shop),
    "systems.csv": (*NAMES, *columns_of(Size)),
    **{kind.file: kind.columns for kind in KINDS},
    "offers.csv": FURTHER,
}
"""Every file of a price list and its columns in their order, those of parts without `COMMON`."""

PARTS = frozenset(kind.file for kind in KINDS)
"""The files of parts."""

MAY_BE_ABSENT = ("offers.csv", *(kind.file for kind in KINDS if kind.spare))
FILES = tuple(file for file in COLUMNS if file not in MAY_BE_ABSENT)[1:]


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


def _branches_known(groups: Mapping[str, Mapping[str, Part]]) -> dict[str, Part]:
    """Tees, their branches' bores by the pipes that there are where their rows do not say."""
    pipes = [pipe for pipe in groups["pipes"].values() if isinstance(pipe, Pipe)]
    return {id_: tee.branch_from(pipes) for id_, tee in groups["tees"].items() if isinstance(tee, Tee)}


class _Loader:
    """Reads the files of one folder, collecting mistakes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.mistakes: list[Mistake] = []
        self.places: dict[str, str] = {}
        self.there: list[str] = []
        self.known = References()
        self.unread: set[str] = set()
        """Files not there or not read to the end: one mistake is enough, what they know is not asked."""

    def catalog(self) -> Catalog:
        self._check_files()
        name, currency = self._title()
        shops = self._shops()
        systems = self._systems()
        self.known = References(systems, tuple(shops))
        groups = {kind.name: self._parts(kind) for kind in KINDS}
        self._offers(groups)
        if self.mistakes:
            raise InputError(self.mistakes)
        groups["tees"] = _branches_known(groups)
        return Catalog(
            name=name,
            folder=str(self.folder),
            currency=currency,
            shops=MappingProxyType(shops),
            systems=MappingProxyType({name: MappingProxyType(sizes) for name, sizes in systems.items()}),
            **{kind: MappingProxyType(parts) for kind, parts in groups.items()},  # type: ignore[arg-type]
        )

    def _wrong(self, file: Path, place: str, problem: str, remedy: str) -> None:
        self.mistakes.append(Mistake(str(file), place, problem, remedy))

    def _check_files(self) -> None:
        """One mistake per missing file, or a single one if the folder itself is missing."""
        try:
            self.there = sorted(os.listdir(self.folder))
        except (OSError, ValueError) as error:
            problem = f"no folder that can be read ({error})"
            self._wrong(self.folder, "", problem, "give the folder of a price list")
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
        known = [column.name for column in TITLE]
        for key in table:
            if key not in known:
                self._wrong(file, key, "the key is not known", suggest(key, known))
        for key, example in (("name", "metric"), ("currency", "EUR")):
            if not isinstance(table.get(key), str) or not table[key].strip():
                self._wrong(file, key, "a text is needed", f'write {key} = "{example}"')
        return str(table.get("name")), str(table.get("currency"))

    def _rows(self, name: str) -> Iterable[Row]:
        """Rows of a file; the mistakes that the caller finds in each are taken over after it."""
        before = len(self.mistakes)
        rows: list[Row] = []
        if name in self.there:
            columns = (*COMMON, *COLUMNS[name]) if name in PARTS else COLUMNS[name]
            rows = read_sheet(self.folder / name, columns, self.known, self.mistakes)
        if len(self.mistakes) > before or name not in self.there:
            self.unread.add(name)
        for row in rows:
            yield row
            self.mistakes += row.mistakes

    def _entries(self, file: str, entry: Callable[[Row], tuple[str, T]], called: str) -> dict[str, T]:
        """What the rows of a file say, by name; a name that is used a second time is noted.

        Args:
            file: its name.
            entry: reads a row, and the name of what it says; empty where that could not be read.
            called: how a name is told in a sentence, with {} for it.
        """
        found: dict[str, T] = {}
        for row in self._rows(file):
            name, value = entry(row)
            told = called.format(name)
            if name and told in self.places:
                where = ", ".join(self.places[told].split(": "))
                row.wrong(f"{told} is already in {where}", "give each its own, or take one out")
            self.places.setdefault(told, row.place)
            found.setdefault(name, value)
        return found

    def _shops(self) -> dict[str, Shop]:
        def entry(row: Row) -> tuple[str, Shop]:
            shop = read(Shop, row)
            return shop.id, shop

        shops = self._entries("shops.csv", entry, 'shop "{}"')
        if not shops and "shops.csv" not in self.unread:
            self._wrong(self.folder / "shops.csv", "", "there is no shop in it", "write a row for one")
        return {} if "shops.csv" in self.unread else shops

    def _systems(self) -> dict[str, dict[str, Size]]:
        def entry(row: Row) -> tuple[str, tuple[str, str, Size]]:
            system, size = (column.value(row) for column in NAMES)
            return f"{system} {size}" if system and size else "", (system, size, read(Size, row))

        systems: dict[str, dict[str, Size]] = {}
        for system, size, dimensions in self._entries("systems.csv", entry, "{}").values():
            if system and size:
                systems.setdefault(system, {})[size] = dimensions
        return {} if "systems.csv" in self.unread else systems

    def _parts(self, kind: PartKind) -> dict[str, Part]:
        def entry(row: Row) -> tuple[str, Part]:
            part = read(kind.part, row, place=row.place)
            return part.id, part

        return self._entries(kind.file, entry, 'id "{}"')

    def _offers(self, groups: Mapping[str, dict[str, Part]]) -> None:
        """Add the further shops' offers to the parts."""
        kinds = {part: group for group in groups.values() for part in group}
        if not self.unread & (set(FILES) & PARTS):
            self.known = replace(self.known, parts=tuple(kinds))
        for row in self._rows("offers.csv"):
            part_id, *cells = (column.value(row) for column in FURTHER)
            offer = Offer(*cells)
            if part_id in kinds:
                part = kinds[part_id][part_id]
                if offer.shop and any(other.shop == offer.shop for other in part.offers):
                    row.wrong(f"{offer.shop} already offers {part_id}", "keep one row for each part and shop")
                kinds[part_id][part_id] = replace(part, offers=(*part.offers, offer))
