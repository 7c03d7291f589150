"""The clock that every long loop of a draft looks at."""

from __future__ import annotations

from autoplan.clock import late
from autoplan.errors import AutoplanError


class DraftLateError(AutoplanError):
    """A draft was not done when its time was up; nothing is known of the problem from it."""

    def __init__(self) -> None:
        super().__init__("the time was up before all ways to build it were known")


class Clock:
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


class Unhurried(Clock):
    """Never says so: for what is asked of a shelf once a draft is made, as when its answer is drawn."""

    def check(self) -> None:
        """Go on."""
