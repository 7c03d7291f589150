"""The progress line: silent at first, seldom, and never after it is closed."""

from __future__ import annotations

import io
import math
import time

import pytest

from autoplan.report.progress import ProgressLine


class Clock:
    """A clock set by hand."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        """Seconds."""
        return self.now


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Yes."""
        return True


def _at(line: ProgressLine, clock: Clock, seconds: float) -> None:
    clock.now = 100.0 + seconds
    line.tick()


def test_silent_at_first() -> None:
    """Nothing just under half a second, a line at half a second, so that there is one within a second."""
    stream, clock = io.StringIO(), Clock()
    line = ProgressLine(stream, clock)
    line.update("least cost", 412.5, 398.0)
    _at(line, clock, 0.49)
    assert stream.getvalue() == ""
    _at(line, clock, 0.5)
    assert stream.getvalue() == "0 s  least cost: best 412.50, none under 398.00\n"


def test_where_there_is_none_no_best_is_told() -> None:
    """Once it is proven that there is no design the line names what is done, without any cost."""
    stream, clock = io.StringIO(), Clock()
    line = ProgressLine(stream, clock)
    line.update("no design: what would mend it", None, math.inf)
    _at(line, clock, 3.0)
    assert stream.getvalue() == "3 s  no design: what would mend it\n"


def test_where_there_is_none_no_cost_is_told() -> None:
    """While it is looked for why there is no design, what is tried says enough."""
    stream, clock = io.StringIO(), Clock()
    line = ProgressLine(stream, clock)
    line.update("no design: trying raising tank", None, None)
    _at(line, clock, 1.0)
    assert stream.getvalue() == "1 s  no design: trying raising tank\n"


def test_a_line_at_most_every_five_seconds_off_a_terminal() -> None:
    """Just under five seconds after a line there is no other, at five there is."""
    stream, clock = io.StringIO(), Clock()
    line = ProgressLine(stream, clock)
    line.update("least cost", None, None)
    for seconds in (1.0, 2.0, 5.99):
        _at(line, clock, seconds)
    assert stream.getvalue().count("\n") == 1
    _at(line, clock, 6.0)
    assert stream.getvalue().splitlines() == [
        "1 s  least cost: no design yet",
        "6 s  least cost: no design yet",
    ]


def test_a_terminal_sees_one_line_rewritten_and_wiped() -> None:
    """No newline is ever written to a terminal, shorter text covers longer, and closing wipes the line."""
    stream, clock = Terminal(), Clock()
    line = ProgressLine(stream, clock)
    line.update("least cost", 412.5, 398.0)
    _at(line, clock, 1.0)
    line.update("rank 2", None, None)
    _at(line, clock, 1.3)
    line.close()
    assert "\n" not in stream.getvalue()
    _, first, second, blank, last = stream.getvalue().split("\r")
    assert first == "1 s  least cost: best 412.50, none under 398.00"
    assert second == "1 s  rank 2: no design yet".ljust(len(first))
    assert blank.strip() == ""
    assert len(blank) >= len(second.rstrip())
    assert last == ""


def test_nothing_after_close() -> None:
    """Ticks after `close` write nothing, however late."""
    stream, clock = io.StringIO(), Clock()
    line = ProgressLine(stream, clock)
    line.update("least cost", 1.0, 1.0)
    line.close()
    _at(line, clock, 60.0)
    assert stream.getvalue() == ""


def test_quiet_is_silent() -> None:
    """A quiet line writes nothing at any time."""
    stream, clock = io.StringIO(), Clock()
    with ProgressLine(stream, clock, quiet=True) as line:
        line.update("least cost", 1.0, 1.0)
        _at(line, clock, 60.0)
    assert stream.getvalue() == ""


def test_its_own_thread_moves_it_on() -> None:
    """Without any tick from outside the line appears, and its thread is gone after closing."""
    stream, clock = io.StringIO(), Clock()
    with ProgressLine(stream, clock) as line:
        line.update("least cost", 1.0, 1.0)
        clock.now += 2.0
        deadline = time.monotonic() + 5.0
        while not stream.getvalue() and time.monotonic() < deadline:
            time.sleep(0.01)
    written = stream.getvalue()
    assert written.startswith("2 s  least cost")
    assert line._thread is not None
    assert not line._thread.is_alive()


@pytest.mark.parametrize("error", [BrokenPipeError(32, "Broken pipe"), ValueError("closed file")])
@pytest.mark.parametrize("terminal", [False, True])
def test_a_reader_that_left_does_not_stop_the_work(error: Exception, terminal: bool) -> None:
    """A broken stream raises nothing, and after the first line that it refused no other is tried."""
    tried: list[str] = []

    class Broken(io.StringIO):
        def isatty(self) -> bool:
            return terminal

        def write(self, text: str) -> int:
            tried.append(text)
            raise error

    clock = Clock()
    with ProgressLine(Broken(), clock) as line:
        line.update("least cost", 1.0, 1.0)
        _at(line, clock, 2.0)
        line.update("rank 2", 3.0, 2.0)
        _at(line, clock, 20.0)
    assert [text.strip() for text in tried] == ["2 s  least cost: best 1.00, none under 1.00"]
    assert line._thread is not None
    assert not line._thread.is_alive()
