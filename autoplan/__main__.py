"""Entry point of the console script and of `python -m autoplan`: minds Ctrl-C before anything is loaded."""

from __future__ import annotations

import gc
import os
import signal
import sys
from contextlib import suppress
from types import FrameType

STOPPED = 130
"""The shell's own exit code for a program stopped from the keyboard."""


def main() -> None:
    """Run the command line; Ctrl-C never ends in a traceback."""
    signal.signal(signal.SIGINT, _leave)
    _fill_closed_streams()
    from autoplan.cli import COLLECT_EVERY, run

    gc.set_threshold(COLLECT_EVERY)
    code = run()
    # What there is to show is shown: nothing is left to stop.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if code == STOPPED:
        # A solver may still be at work in a thread, which a usual exit would wait for.
        with suppress(OSError, ValueError):
            sys.stdout.flush()
        os._exit(code)
    sys.exit(code)


def _leave(_number: int, _frame: FrameType | None) -> None:
    """End at once: nothing is known yet that could be lost."""
    with suppress(OSError):
        os.write(2, b"Stopped from the keyboard.\n")
    os._exit(STOPPED)


def _fill_closed_streams() -> None:
    """Open what the caller closed on nothing, lest a file that is opened later takes its place."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 (open to the end)


if __name__ == "__main__":
    main()
