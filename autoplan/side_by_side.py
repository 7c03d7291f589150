"""Pieces of work done at the same time, each core on some of them.

Python itself runs one thread at a time, so whoever helps is a copy of this process: it knows all that is
known here, and only what its pieces came to is sent back. That is what they come to one after the other.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence
from multiprocessing import current_process, get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

Done = TypeVar("Done")

COPIES = sys.platform == "linux"
"""Whether a process can be copied as it is, its libraries with it; elsewhere one piece follows the other."""


TURN_BYTES = 2
"""Of a number written down: 65,535 pieces are more than anyone has."""


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def side_by_side(pieces: Sequence[Callable[[], Done]]) -> list[Done]:
    """What each piece comes to, in their order.

    The longest are best the first. What a piece changes besides may be lost, and it tells nobody anything.
    A copy takes some hundredths of a second and more memory: for pieces that take longer than that.

    Args:
        pieces: of each, what it comes to can be pickled; what cannot, or was not to be had from a copy, is
            done again here.

    Raises:
        Exception: whatever the first piece that fails raises.
    """
    helpers = min(cores(), len(pieces)) - 1
    if not COPIES or helpers < 1 or current_process().daemon:
        return [piece() for piece in pieces]
    fork = get_context("fork")
    turns = _turns(len(pieces))
    done: dict[int, Done] = {}
    copies: list[tuple[BaseProcess, Connection]] = []
    try:
        for _ in range(helpers):
            here, there = fork.Pipe(duplex=False)
            copy = fork.Process(target=_help, args=(turns, pieces, there), daemon=True)
            with warnings.catch_warnings():
                # Newer releases warn of threads, which a copy lacks; none holds a lock that pieces need.
                warnings.simplefilter("ignore", DeprecationWarning)
                copy.start()
            there.close()
            copies.append((copy, here))
        for at in _taken(turns):
            done[at] = pieces[at]()
        for _, here in copies:
            done |= _received(here)
    finally:
        os.close(turns)
        for helper, here in copies:
            here.close()
            helper.terminate()
            helper.join()
    return [done[at] if at in done else piece() for at, piece in enumerate(pieces)]


def _turns(count: int) -> int:
    """Numbers from 0 up, written down where each that is read is gone for everyone."""
    read, write = os.pipe()
    os.write(write, b"".join(number.to_bytes(TURN_BYTES, "big") for number in range(count)))
    os.close(write)
    return read


def _taken(turns: int) -> Iterator[int]:
    """The next piece that nobody is at, until there is none."""
    while number := os.read(turns, TURN_BYTES):
        yield int.from_bytes(number, "big")


def _help(turns: int, pieces: Sequence[Callable[[], Any]], there: Connection) -> None:
    """Do pieces as long as there are any, and send what they came to."""
    # Ctrl-C is heard by whoever asked.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()
    done = {}
    for at in _taken(turns):
        try:
            done[at] = pieces[at]()
        except Exception:
            break  # Done again, and raised, where it was asked for.
    there.send(done)


def _received(here: Connection) -> dict[int, Any]:
    """What a copy has done; nothing where it came to an end of its own."""
    try:
        found: dict[int, Any] = here.recv()
    except EOFError:
        return {}
    return found
