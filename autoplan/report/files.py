"""Files written whole or not at all, and what would keep them from being written, found beforehand."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path


def replace_files(texts: Mapping[Path, str | bytes]) -> None:
    """Write files, texts in UTF-8, beside their targets, and put them in place once all of them are written.

    A link stays a link: the file that it names is replaced. Permissions of a file that is replaced are kept.

    Raises:
        OSError: a file cannot be written; none is then half written, nor is anything left beside it.
    """
    targets = {Path(os.path.realpath(path)): text for path, text in texts.items()}
    parts = {path: path.with_name(f".{path.name}.{os.getpid()}.part") for path in targets}
    try:
        for path, part in parts.items():
            held = targets[path]
            part.write_bytes(held.encode("utf-8") if isinstance(held, str) else held)
            if path.exists():
                shutil.copymode(path, part)
        for path, part in parts.items():
            os.replace(part, path)
    finally:
        for part in parts.values():
            with suppress(FileNotFoundError):
                part.unlink()


def fill_folder(folder: str, held: Mapping[str, str | bytes]) -> None:
    """Write files by their names into a folder, made if it is absent; files of their names are replaced.

    Raises:
        OSError: the folder cannot be made or a file not be written; no file is then half written.
    """
    path = Path(folder)
    made = not path.exists()
    path.mkdir(exist_ok=True)
    try:
        replace_files({path / name: each for name, each in held.items()})
    except OSError:
        if made:
            with suppress(OSError):
                path.rmdir()
        raise


def why_unwritable(target: str) -> str | None:
    """Why a file could not be written, found by trying without touching it; None if it could.

    "-" stands for standard output.
    """
    if target == "-":
        return None
    path = Path(os.path.realpath(target))
    if path.is_dir():
        return "it is a folder"
    if path.exists() and not os.access(path, os.W_OK):
        return "it may not be written to"
    if path.exists() and not path.is_file():
        return None
    return _why_not_beside(path)


def why_no_folder(folder: str, names: Iterable[str]) -> str | None:
    """Why files of those names could not be written into a folder, made if it is absent; None if they could.

    Nothing is left behind by asking.
    """
    path = Path(os.path.realpath(folder))
    if not path.exists():
        return _why_not_beside(path)
    if not path.is_dir():
        return "it is a file"
    for name in names:
        why = why_unwritable(str(path / name))
        if why is not None:
            return f"{name} in it: {why}"
    return None


def _why_not_beside(path: Path) -> str | None:
    """Why no file could be made beside a path."""
    trial = path.with_name(f".{path.name}.{os.getpid()}.trial")
    try:
        trial.touch(exist_ok=False)
        trial.unlink()
    except OSError as error:
        return (error.strerror or str(error)).lower()
    return None
