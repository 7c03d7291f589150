"""The clock that every long loop of a draft looks at, and Ctrl-C while a solver works."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from typing import TypeVar

from autoplan.clock import late, stopped
from autoplan.errors import AutoplanError

Done = TypeVar("Done")

HEARING_S = 0.1
"""How often it is asked whether the user wants to stop [s]."""


class OutOfTimeError(AutoplanError):
    """Time ran out in the middle of a draft."""


class DraftLateError(OutOfTimeError):
    """A draft was not done when its time was up; nothing is known of the problem from it."""

    def __init__(self) -> None:
        super().__init__("the time was up before all ways to build it were known")


class SearchClock:
    """Says when time is up.

    Args:
        deadline: `time.monotonic()` at which it is, or None for never.
    """

    def __init__(self, deadline: float | None = None) -> None:
        self.deadline = deadline

    def check(self) -> None:
        """Go on.

        Raises:
            DraftLateError: time is up, or the user asked to stop.
        """
        if late(self.deadline):
            raise DraftLateError


class Unhurried(SearchClock):
    """Never says so: for what is asked of a shelf once a draft is made, as when its answer is drawn."""

    def check(self) -> None:
        """Go on."""


def aside(work: Callable[[], Done], stop: Callable[[], object]) -> Done:
    """Let a solver work in a thread of its own, so that Ctrl-C is heard here while it runs.

    Args:
        work: the call; signals would reach Python only after it.
        stop: makes it end soon; called until it does.
    """
    worker = ThreadPoolExecutor(1)
    try:
        running = worker.submit(work)
        while not wait([running], timeout=HEARING_S).done:
            if stopped():
                stop()
        return running.result()
    except KeyboardInterrupt:
        stop()
        raise
    finally:
        worker.shutdown(wait=False)
