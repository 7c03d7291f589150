"""When to stop: time that runs out, and Ctrl-C.

A search that has something to show is not ended by force: from then on Ctrl-C is noted here, every loop asks
`late`, and the call ends with what it has. Before that Ctrl-C ends the program. Signals belong to the
process, so this is one state for the process.
"""

from __future__ import annotations

import math
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

_noted = threading.Event()
_holding = threading.Event()


def stopped() -> bool:
    """Whether the user asked to stop."""
    return _noted.is_set()


def hold() -> None:
    """From now on there is something to show: Ctrl-C is noted instead of ending the program."""
    _holding.set()


def left(deadline: float | None) -> float:
    """Time until a deadline of `time.monotonic()` [s]: infinite for None, 0 once the user asked to stop."""
    if stopped():
        return 0.0
    return math.inf if deadline is None else max(0.0, deadline - time.monotonic())


def late(deadline: float | None) -> bool:
    """Whether time is up, or the user asked to stop."""
    return left(deadline) <= 0


def earlier(one: float | None, other: float | None) -> float | None:
    """The earlier of two deadlines of `time.monotonic()`; None for no deadline."""
    return min((by for by in (one, other) if by is not None), default=None)


def halfway(deadline: float | None) -> float | None:
    """The time half way from now to a deadline, of `time.monotonic()`; None for no deadline."""
    return None if deadline is None else (time.monotonic() + deadline) / 2


class HalfTime:
    """Half of the time that is left whenever it begins: a loose bound still proves, and finds more.

    Args:
        deadline: of `time.monotonic()`; None for no end.
    """

    def __init__(self, deadline: float | None) -> None:
        self._deadline = deadline
        self.begin()

    def begin(self) -> None:
        """From now on half of what is left."""
        self._by = halfway(self._deadline)

    def go_on(self) -> None:
        """From now on all of what is left."""
        self._by = self._deadline

    def late(self) -> bool:
        """Whether it is over."""
        return late(self._by)


@contextmanager
def listening() -> Iterator[None]:
    """Within, Ctrl-C is noted once `hold` was called; a second one ends the program all the same."""

    def note(_number: int, _frame: FrameType | None) -> None:
        first = not _noted.is_set()
        # Noted in any case: where a library swallows what is raised here, loops that ask end all the same.
        _noted.set()
        if not (first and _holding.is_set()):
            raise KeyboardInterrupt

    _noted.clear()
    _holding.clear()
    if threading.current_thread() is not threading.main_thread():
        # Signals reach the main thread alone.
        yield
        return
    before = signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        _noted.clear()
        _holding.clear()
