"""One line on work that lasts: how long, best cost so far, least cost still possible."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self, TextIO

FIRST_S = 1.0
"""Nothing is said about work shorter than this [s]."""

EVERY_S = 5.0
"""Least time between two lines where lines cannot be rewritten [s]."""

NO_DESIGN = "no design"
"""How a stage begins in which it is known, or feared, that there is none."""

WAKE_S = 0.25
"""How often the line's own thread looks at the clock [s]."""


class ProgressLine:
    """A line on a stream, fed by `update` and moved on by its own clock.

    Used as a context manager it runs a thread that calls `tick`; a terminal sees one line rewritten, any
    other stream a line at most every `EVERY_S`. After `close` nothing is ever written.

    Args:
        stream: usually standard error.
        clock: seconds that only ever grow.
        quiet: write nothing at all.
    """

    def __init__(
        self, stream: TextIO, clock: Callable[[], float] = time.monotonic, quiet: bool = False
    ) -> None:
        self._stream = stream
        self._clock = clock
        self._terminal = stream.isatty()
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None
        self._start = clock()
        self._printed_at: float | None = None
        self._shown = ""
        self._state: tuple[str, float | None, float | None] | None = None
        if quiet:
            self._ended.set()

    def update(self, stage: str, best: float | None, bound: float | None) -> None:
        """Take note of the work's state; cheap, writes nothing."""
        with self._lock:
            self._state = (stage, best, bound)

    def tick(self) -> None:
        """Write the line if it is due."""
        with self._lock:
            if self._ended.is_set() or self._state is None:
                return
            now = self._clock()
            due = self._start + FIRST_S if self._printed_at is None else self._printed_at
            if not self._terminal and self._printed_at is not None:
                due += EVERY_S
            if now < due:
                return
            self._printed_at = now
            self._write(_line(now - self._start, *self._state))

    def close(self) -> None:
        """Wipe the line from a terminal and stop for good."""
        with self._lock:
            if not self._ended.is_set() and self._terminal and self._shown:
                self._put("\r" + " " * len(self._shown) + "\r")
            self._ended.set()
        if self._thread is not None:
            self._thread.join()

    def __enter__(self) -> Self:
        if not self._ended.is_set():
            self._thread = threading.Thread(target=self._run, name="progress", daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _run(self) -> None:
        while not self._ended.wait(WAKE_S):
            self.tick()

    def _write(self, line: str) -> None:
        if not self._terminal:
            self._put(line + "\n")
            return
        # A line that wraps cannot be rewritten, so on a terminal it is cut to the window.
        line = line[: shutil.get_terminal_size().columns - 1]
        if line != self._shown:
            self._put("\r" + line.ljust(len(self._shown)))
            self._shown = line

    def _put(self, text: str) -> None:
        try:
            self._stream.write(text)
            self._stream.flush()
        except (OSError, ValueError):
            self._ended.set()  # nobody reads the stream any more; the work goes on


def _line(seconds: float, stage: str, best: float | None, bound: float | None) -> str:
    if stage.startswith(NO_DESIGN):
        return f"{seconds:.0f} s  {stage}"
    found = "no design yet" if best is None else f"best {best:.2f}"
    least = "" if bound is None else f", none under {bound:.2f}"
    return f"{seconds:.0f} s  {stage}: {found}{least}"
