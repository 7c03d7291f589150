"""A command at a pseudo-terminal: what it prints is waited for, and lines and Ctrl-C are typed."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType

PATIENCE_S = 120.0
"""Longest wait for a text; a design on a busy machine takes its time [s]."""


class Terminal:
    """`autoplan ARGUMENTS` with a terminal of its own as standard input, output and error."""

    def __init__(self, *arguments: str, folder: Path) -> None:
        self.screen = ""
        self._read = 0
        self._master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "autoplan", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env={**os.environ, "COLUMNS": "100", "PYTHONUTF8": "1"},
            start_new_session=True,
        )
        os.close(slave)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        os.close(self._master)

    def wait_for(self, text: str) -> str:
        """Everything printed since the last wait, up to and with a text."""
        end = time.monotonic() + PATIENCE_S
        while (found := self.screen.find(text, self._read)) < 0:
            assert self._take(end), f"{text!r} was not printed after:\n{self.screen[self._read :]}"
        start, self._read = self._read, found + len(text)
        return self.screen[start : self._read]

    def type(self, line: str) -> None:
        """A line, with Enter."""
        os.write(self._master, f"{line}\n".encode())

    def interrupt(self) -> None:
        """Ctrl-C."""
        os.kill(self.process.pid, signal.SIGINT)

    def ended(self) -> int:
        """The exit code, once everything is read."""
        end = time.monotonic() + PATIENCE_S
        while self._take(end):
            pass
        return self.process.wait(timeout=PATIENCE_S)

    def _take(self, end: float) -> bool:
        """Read what is there; False once nothing more comes."""
        ready, _, _ = select.select([self._master], [], [], max(0.0, end - time.monotonic()))
        if not ready:
            return False
        data = b""
        with contextlib.suppress(OSError):
            data = os.read(self._master, 65536)
        self.screen += data.decode(errors="replace").replace("\r\n", "\n")
        return bool(data)
