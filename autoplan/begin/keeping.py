"""Where a problem file goes: never over one that is there, unless that was asked for."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

from autoplan.errors import InputError, Mistake
from autoplan.report.files import replace_files, why_unwritable


def unwritable(file: str) -> Mistake | None:
    """Why a problem file cannot be written there; None where it can, or where one is there already."""
    why = "it is no file" if file == "-" else why_unwritable(file)
    if why is None:
        return None
    return Mistake(file, "", f"cannot be written ({why})", "name another file")


def there(file: str) -> bool:
    """Whether something of that name is there."""
    return Path(file).exists() or Path(file).is_symlink()


def beside(file: str, ending: str) -> str:
    """A name that is free: the file's with an ending, and with a number behind that if need be."""
    names = (f"{file}{ending}" if number == 1 else f"{file}{ending}-{number}" for number in count(1))
    return next(name for name in names if not there(name))


def another(file: str) -> str:
    """A name that is free: the file's with a number before its ending."""
    path = Path(file)
    names = (str(path.with_name(f"{path.stem}-{number}{path.suffix}")) for number in count(2))
    return next(name for name in names if not there(name))


def write(file: str, text: str, *, replace: bool) -> str:
    """Write a problem file, whole or not at all.

    Args:
        file: its name.
        text: what goes in.
        replace: whether it may take the place of one that is there.

    Returns:
        The name it was written under: another one where `file` came to be there meanwhile.

    Raises:
        InputError: it cannot be written.
    """
    name = file if replace or not there(file) else another(file)
    try:
        replace_files({Path(name): text})
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise InputError([Mistake(name, "", f"could not be written ({why})", "name another file")]) from error
    return name


@contextmanager
def undisturbed() -> Iterator[None]:
    """Within, Ctrl-C does nothing; signals reach the main thread alone, and elsewhere this is none."""
    try:
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    except ValueError:
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
