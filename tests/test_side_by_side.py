"""Work done side by side comes to what it comes to one after the other, whatever happens to a copy."""

from __future__ import annotations

import math
import multiprocessing
import os
import pickle
import signal
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

import autoplan
from autoplan import plan
from autoplan import side_by_side as beside
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options import option_cache
from autoplan.optimiser.options.making import NoOptionError
from autoplan.rules.book import read_rules
from autoplan.side_by_side import Meanwhile, side_by_side
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the machine has; other tests do without copies."""
    monkeypatch.setattr(beside, "cores", lambda: 2)
    monkeypatch.setattr(beside, "COPIES", LINUX)


LINUX = sys.platform == "linux"


def slow(value: int) -> tuple[int, int]:
    """Long enough for both to take some; who did it, and its value."""
    time.sleep(0.02)
    return value, os.getpid()


needs_copies = pytest.mark.skipif(not LINUX, reason="processes are copied on Linux alone")


@needs_copies
def test_both_work_and_the_order_stays() -> None:
    """Twenty pieces, of which a copy does some."""
    done = side_by_side([partial(slow, value) for value in range(20)])
    assert [value for value, _ in done] == [*range(20)]
    assert len({who for _, who in done}) == 2
    assert not multiprocessing.active_children()


def test_without_copies(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a process cannot be copied all is done here."""
    monkeypatch.setattr(beside, "COPIES", False)
    assert side_by_side([partial(slow, value) for value in range(3)]) == [
        (value, os.getpid()) for value in range(3)
    ]


def test_nothing_to_do() -> None:
    """No piece, no result."""
    assert side_by_side([]) == []


def here_alone(what: Callable[[], object]) -> str:
    """Fails in a copy."""
    time.sleep(0.02)
    if multiprocessing.current_process().daemon:
        what()
    return "done"


def fails() -> object:
    """As any piece may."""
    raise ValueError("in a copy")


@needs_copies
@pytest.mark.parametrize("what", [fails, partial(os._exit, 3), partial(str, 3)])
def test_what_fails_in_a_copy_is_done_here(what: Callable[[], object]) -> None:
    """A piece that raises there, a copy that is gone, and one that is not hindered."""
    assert side_by_side([partial(here_alone, what)] * 6) == ["done"] * 6


def test_what_fails_here_is_raised() -> None:
    """As if there were no copies, and none is left over."""
    with pytest.raises(ValueError, match="in a copy"):
        side_by_side([fails, fails])
    assert not multiprocessing.active_children()


@needs_copies
def test_ctrl_c_leaves_nobody_behind(tmp_path: Path) -> None:
    """A copy in the middle of a long piece ends with what asked for it, however busy the machine is."""
    begun = tmp_path / "begun"

    def stop() -> None:
        if multiprocessing.current_process().daemon:
            (tmp_path / "new").write_text(str(os.getpid()))
            (tmp_path / "new").rename(begun)
            time.sleep(300)
        while not begun.exists():
            time.sleep(0.01)
        signal.raise_signal(signal.SIGINT)

    started = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        side_by_side([stop, stop])
    assert time.monotonic() - started < 150
    assert not multiprocessing.active_children()
    with pytest.raises(ProcessLookupError):
        os.kill(int(begun.read_text()), 0)


def never() -> bool:
    """Nobody stops what is waited for."""
    return False


def rises(to: int, who: Path) -> Iterator[float]:
    """From 1 up; it writes down who worked it out, and how far."""
    for value in range(1, to + 1):
        with who.open("a") as held:
            held.write(f"{os.getpid()} {value}\n")
        yield float(value)


@pytest.mark.parametrize("copies", [True, False])
def test_work_done_meanwhile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, copies: bool) -> None:
    """It is there when it is asked for, from a copy where there are any."""
    monkeypatch.setattr(beside, "COPIES", copies and LINUX)
    begun = Meanwhile(partial(rises, 7, tmp_path / "who"))
    assert 3.0 <= begun.past(2.5, never) <= 7.0
    assert begun.past(7.0, never) == 7.0
    assert begun.past(8.0, never) == 7.0
    who = {int(line.split()[0]) for line in (tmp_path / "who").read_text().splitlines()}
    assert (who != {os.getpid()}) is (copies and LINUX)
    assert not multiprocessing.active_children()


def test_no_more_is_worked_out_than_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a copy it stops at the mark, and goes on from there."""
    monkeypatch.setattr(beside, "COPIES", False)
    begun = Meanwhile(partial(rises, 9, tmp_path / "who"))
    for mark, known in ((3.0, 3.0), (2.0, 3.0), (5.0, 5.0), (math.inf, 9.0)):
        assert begun.past(mark, never) == known
        assert len((tmp_path / "who").read_text().splitlines()) == known


@needs_copies
def test_nobody_listens(tmp_path: Path) -> None:
    """A copy that nobody listens to for long holds nobody up, and says all of it in the end."""
    begun = Meanwhile(partial(rises, 30_000, tmp_path / "who"))
    time.sleep(0.5)
    assert begun.past(math.inf, never) == 30_000.0


def falls_over(what: Callable[[], object]) -> Iterator[float]:
    """Comes to 1, then fails in a copy."""
    yield 1.0
    here_alone(what)
    yield 2.0


@needs_copies
@pytest.mark.parametrize("what", [fails, partial(os._exit, 3)])
def test_meanwhile_fails(what: Callable[[], object]) -> None:
    """What fails in the copy is done here."""
    assert Meanwhile(partial(falls_over, what)).past(math.inf, never) == 2.0


def test_meanwhile_fails_here() -> None:
    """As if there were no copies."""
    with pytest.raises(ValueError, match="in a copy"):
        Meanwhile(lambda: (float(str(fails())) for _ in range(1))).past(0.0, never)
    assert not multiprocessing.active_children()


def takes_long() -> Iterator[float]:
    """Comes to 1, and to nothing more for a minute."""
    yield 1.0
    time.sleep(60)


@needs_copies
def test_nobody_waits_for_what_is_not_wanted() -> None:
    """Once time is up nothing comes of it; closed, the copy is gone at once."""
    started = time.monotonic()
    begun = Meanwhile(takes_long)
    assert begun.past(1.0, never) == 1.0
    assert begun.past(2.0, lambda: True) == -math.inf
    begun.close()
    assert begun.past(2.0, lambda: True) == -math.inf
    assert begun.past(1.0, lambda: True) == 1.0
    assert time.monotonic() - started < 10
    assert not multiprocessing.active_children()


def test_a_copy_does_not_copy_itself() -> None:
    """Work within work goes on where it is."""
    inner = [partial(slow, 1), partial(slow, 2)]
    done = side_by_side([partial(side_by_side, inner)] * 4)
    assert [[value for value, _ in both] for both in done] == [[1, 2]] * 4


def test_why_a_class_cannot_be_built_comes_back_whole() -> None:
    """A copy sends it like anything else."""
    lacking = NoOptionError("main", "valve", ["valves"], {"valves": "why"})
    again = pickle.loads(pickle.dumps(lacking))
    assert (again.run_class, again.what, again.rules, dict(again.refused), str(again)) == (
        lacking.run_class,
        lacking.what,
        lacking.rules,
        dict(lacking.refused),
        str(lacking),
    )


def test_a_draft_and_a_night_are_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ways to build in the same order, losing the same, and the same told of a design."""
    problem = tmp_path / "problem.toml"
    problem.write_text(from_shortest_list(one_bed()))
    site, catalog = autoplan.load_problem(problem).outline, autoplan.load_catalog("metric")
    monkeypatch.setattr(option_cache, "AT_ONCE_S", 0.0)
    monkeypatch.setattr(plan, "SLOW_S", 0.0)
    drafts, outcomes = [], []
    for copies in (True, False):
        monkeypatch.setattr(beside, "COPIES", copies and LINUX)
        drafts.append(Draft(site, catalog, read_rules(site)))
        outcomes.append(autoplan.design(site, catalog, top=2))
    one, other = drafts
    assert one.refusing == other.refusing
    for name in site.classes():
        assert one.candidates(name) == other.candidates(name)
    first, second = outcomes
    assert first.designs == second.designs
    assert first.wishes == second.wishes
    assert all(design.verdict.faults and design.verdict.hole_rooms for design in first.designs)
