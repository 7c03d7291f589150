"""Pieces of work done at the same time, each core on some of them.

Python itself runs one thread at a time, so whoever helps is a copy of this process: it knows all that is
known here, and only what its pieces came to is sent back. That is what they come to one after the other.
"""

from __future__ import annotations

import gc
import math
import os
import signal
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from multiprocessing import current_process, get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

Done = TypeVar("Done")

COPIES = sys.platform == "linux"
"""Whether a process can be copied as it is, its libraries with it; elsewhere one piece follows the other."""

IDLE = 10
"""How much less urgent a piece is that is done meanwhile, in the measure of Unix (19 is least urgent)."""

WORTH_SAYING = 1e-4
"""Least share by which a number has risen for it to be worth saying."""

HEARING_S = 0.1
"""How often whoever waits looks up [s]."""

TURN_BYTES = 2
"""Of a number written down: 65,535 pieces are more than anyone has."""


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Meanwhile:
    """A number that rises as it is worked out, by a copy of this process when a core is idle.

    Nobody waits for all of it who only wants to know whether it gets past something.

    Args:
        steps: what it has come to, step by step; the last is all that there is to know. What cannot be had
            from a copy, or is lost with one, is worked out here.
    """

    def __init__(self, steps: Callable[[], Iterator[float]]) -> None:
        self._steps = steps
        self._here: Iterator[float] | None = None
        self._copy: tuple[BaseProcess, Connection] | None = None
        self._value = -math.inf
        self._ended = False
        if COPIES and cores() > 1 and not current_process().daemon:
            self._copy = _copied(_alone, steps)

    def past(self, mark: float, stopped: Callable[[], bool]) -> float:
        """What it has come to, once that is at least a mark, or all of it.

        Args:
            mark: what it is compared with.
            stopped: asked again and again while there is something to wait for; then nothing is told (-inf).
        """
        while self._value < mark and not self._ended:
            if self._copy is not None:
                self._hear(self._copy[1])
            elif not stopped():
                self._go_on()
            if stopped():
                break
        return self._value if self._value >= mark or self._ended else -math.inf

    def _hear(self, there: Connection) -> None:
        """What the copy says next, if it says something soon."""
        if not there.poll(HEARING_S):
            return
        try:
            value, self._ended = there.recv()
        except EOFError:
            # It came to an end of its own.
            self.close()
            return
        self._value = max(self._value, value)
        if self._ended:
            self.close()

    def _go_on(self) -> None:
        """One step, here."""
        if self._here is None:
            self._here = self._steps()
        value = next(self._here, None)
        self._ended = value is None
        self._value = self._value if value is None else max(self._value, value)

    def close(self) -> None:
        """A copy is not wanted any more."""
        if self._copy is not None:
            _ended(*self._copy)
            self._copy = None


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
    turns = _turns(len(pieces))
    done: dict[int, Done] = {}
    copies: list[tuple[BaseProcess, Connection]] = []
    try:
        while len(copies) < helpers:
            copies.append(_copied(_help, turns, pieces))
        for at in _taken(turns):
            done[at] = pieces[at]()
        for _, here in copies:
            done |= _received(here)
    finally:
        os.close(turns)
        for copy in copies:
            _ended(*copy)
    return [done[at] if at in done else piece() for at, piece in enumerate(pieces)]


def _copied(work: Callable[..., None], *asked: object) -> tuple[BaseProcess, Connection]:
    """A copy of this process that does some work, and where what it came to is heard."""
    fork = get_context("fork")
    here, there = fork.Pipe(duplex=False)
    copy = fork.Process(target=work, args=(*asked, there), daemon=True)
    with warnings.catch_warnings():
        # Newer releases warn of threads, which a copy lacks; none holds a lock that the work needs.
        warnings.simplefilter("ignore", DeprecationWarning)
        copy.start()
    there.close()
    return copy, here


def _ended(copy: BaseProcess, here: Connection) -> None:
    here.close()
    copy.terminate()
    copy.join()


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
    # Ctrl-C is heard by whoever asked; what is over soon need not tidy up.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()
    done = {}
    for at in _taken(turns):
        try:
            done[at] = pieces[at]()
        except Exception:
            break  # Done again, and raised, where it was asked for.
    there.send(done)


def _alone(steps: Callable[[], Iterator[float]], there: Connection) -> None:
    """Do one piece when nobody else wants the core, and say what it comes to as it rises."""
    os.nice(IDLE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()
    said = value = -math.inf
    with suppress(Exception):  # Done again, and raised, where it was asked for.
        for value in steps():
            # Whoever asks may not listen for long.
            if value > said + WORTH_SAYING * abs(value):
                there.send((value, False))
                said = value
        there.send((value, True))


def _received(here: Connection) -> dict[int, Any]:
    """What a copy has done; nothing where it came to an end of its own."""
    try:
        found: dict[int, Any] = here.recv()
    except EOFError:
        return {}
    return found
