"""Time that runs out and Ctrl-C: what is known by then is told and written, and nothing that is not known."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan import clock
from autoplan.cli import run
from autoplan.optimiser.search import rank
from autoplan.outcome import Outcome, Status
from tests.benchmarks.unlike_beds import price_list, site
from tests.short_list import from_shortest_list

PROBLEMS = Path(__file__).parents[1] / "problems"

TANK = """
name = "A tank over a buried sump"
[tank]
volume = "1000 L"
floor = "150 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
"""

BEDS = """
name = "A tank and two beds"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "150 mm"
[beds]
count = 2
area = "1 m2"
floor = "550 mm"
[sump]
volume = "500 L"
depth = "600 mm"
floor = "-550 mm"
[wishes]
beds_full = "most"
"""

Stopped = Callable[..., tuple[int, dict[str, Any] | None, list[str]]]


@pytest.fixture
def stopped_at(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Stopped:
    """Runs a problem on the short price list and presses Ctrl-C once at each of some stages in turn.

    Gives the exit code, the JSON that was written, if any, and the stages that were told.
    """
    design = autoplan.design

    def stopped(
        problem: str, options: Sequence[str], *stages: str
    ) -> tuple[int, dict[str, Any] | None, list[str]]:
        waiting, told = list(stages), []

        def pressed(*asked: Any, progress: Any, **options: Any) -> Outcome:
            def tell(stage: str, best: float | None, bound: float | None) -> None:
                told.append(stage)
                progress(stage, best, bound)
                if waiting and stage.startswith(waiting[0]):
                    waiting.pop(0)
                    signal.raise_signal(signal.SIGINT)

            return design(*asked, progress=tell, **options)

        monkeypatch.setattr(autoplan, "design", pressed)
        path, target = tmp_path / "site.toml", tmp_path / "plan.json"
        path.write_text(from_shortest_list(problem))
        code = run(["design", str(path), "--quiet", "--json", str(target), *options])
        assert not waiting, f"never came to {waiting[0]}: {told}"
        return code, json.loads(target.read_text()) if target.exists() else None, told

    return stopped


@pytest.mark.parametrize("stage", ["listing the ways", "the least that"])
def test_stopped_before_a_design_is_known(
    stopped_at: Stopped, capsys: pytest.CaptureFixture[str], stage: str
) -> None:
    """Exit 130 with one line, and no file."""
    code, written, _ = stopped_at(TANK, ["--top", "1"], stage)
    assert (code, written) == (130, None)
    out, err = capsys.readouterr()
    assert out == ""
    assert err.strip() == "Stopped from the keyboard."


@pytest.mark.parametrize("stage", ["what any design costs", "looking for rank 2", "hours and faults"])
def test_stopped_with_a_design_known(
    stopped_at: Stopped, capsys: pytest.CaptureFixture[str], stage: str
) -> None:
    """The best so far is printed and written with its bound; it is proven only if it was by then."""
    code, written, _ = stopped_at(TANK, ["--top", "2"], stage)
    assert code == 0
    assert written is not None
    first = written["designs"][0]
    assert first["faults"]
    assert first["bound"] <= first["objective"] + 1e-9
    before_its_end = "The search was interrupted before its end." in " ".join(capsys.readouterr().out.split())
    assert before_its_end == (stage != "hours and faults")
    assert written["status"] == ("feasible" if before_its_end else "proven")


def test_stopped_while_a_design_is_drawn(stopped_at: Stopped, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C between a search and the drawing of its answer: that design is finished, and told if better."""
    laid = rank.cutting_plan
    pressed: list[int] = []

    def press(*asked: Any) -> Any:
        plan = laid(*asked)
        if clock._holding.is_set() and not pressed:
            pressed.append(1)
            signal.raise_signal(signal.SIGINT)
        return plan

    monkeypatch.setattr(rank, "cutting_plan", press)
    code, written, _ = stopped_at(TANK, ["--top", "2"])
    assert pressed
    assert code == 0
    assert written is not None
    assert len(written["designs"]) == 2


def test_stopped_twice(stopped_at: Stopped) -> None:
    """A second Ctrl-C ends it without an answer, however near it is."""
    code, written, _ = stopped_at(TANK, ["--top", "2"], "looking for rank 2", "hours and faults")
    assert (code, written) == (130, None)


def test_stopped_while_remedies_are_tried(stopped_at: Stopped) -> None:
    """That there is none stands by then, and it is said that not all that might mend it was tried."""
    code, written, _ = stopped_at(TANK, ["--budget", "1"], "no design: looking for why")
    assert code == 3
    assert written is not None
    assert written["status"] == "none"
    assert any(note.startswith("Not all that might mend it was tried") for note in written["notes"])


@pytest.mark.parametrize("rank_by", ["purchase", pytest.param("margin", marks=pytest.mark.long)])
def test_stopped_while_the_loss_of_a_part_is_counted(stopped_at: Stopped, rank_by: str) -> None:
    """The designs without the part stand, and it is said that their price was not found out."""
    asked = ["--top", "1", "--without", "pump-8000", "--rank-by", rank_by]
    code, written, _ = stopped_at(TANK, asked, "what losing pump-8000 costs")
    assert code == 0
    assert written is not None
    assert written["designs"]
    assert "What losing pump-8000 costs was not found out in the time given." in written["notes"]


@pytest.mark.parametrize(
    ("options", "tried"), [([], [2]), pytest.param(["--time-limit", "600"], [1, 2], marks=pytest.mark.long)]
)
def test_a_design_found_on_the_way_is_not_lost(
    stopped_at: Stopped, options: list[str], tried: list[int]
) -> None:
    """Stopped once it is known how many beds may be full: counted down, or within a time limit upwards."""
    code, written, told = stopped_at(BEDS, ["--top", "1", *options], "listing the ways")
    asked = [stage for stage in dict.fromkeys(told) if stage.startswith("whether")]
    assert asked == [f"whether {count} of 2 beds may be full at once" for count in tried]
    assert code == 0
    assert written is not None
    assert written["status"] == "feasible"
    (full,) = [one for one in written["assumptions"] if one["place"] == "wishes.beds_full"]
    assert full["text"] == "2"
    assert "not decided" not in full["why"]


def test_counting_full_beds_stops_in_time(stopped_at: Stopped) -> None:
    """Stopped after the first count that works the second is not tried, and that is said."""
    code, written, _ = stopped_at(
        BEDS, ["--top", "1", "--time-limit", "600"], "whether 2 of 2 beds may be full at once"
    )
    assert code == 0
    assert written is not None
    (full,) = [one for one in written["assumptions"] if one["place"] == "wishes.beds_full"]
    assert full["text"] == "1"
    assert "not decided" in full["why"]


@pytest.mark.parametrize("limit", [0.1, 0.4, 0.8])
def test_a_limit_is_kept(tmp_path: Path, limit: float) -> None:
    """Kept within a tenth and a second, and never "none" where there is one."""
    path = tmp_path / "tank.toml"
    path.write_text(from_shortest_list(TANK))
    problem, catalog = autoplan.load_problem(path), autoplan.load_catalog("metric")
    took, outcome = timed(problem, catalog, top=3, time_limit=limit)
    assert took <= 1.1 * limit + 1
    assert outcome.status is not Status.NONE
    assert bool(outcome.designs) == (outcome.status is not Status.UNDECIDED)


def timed(*asked: Any, **options: Any) -> tuple[float, Outcome]:
    """Seconds that a search takes, at most those that the machine gave it, and what comes of it."""
    wall, cpu = time.monotonic(), time.process_time()
    outcome = autoplan.design(*asked, **options)
    return min(time.monotonic() - wall, time.process_time() - cpu), outcome


def test_a_call_that_has_nothing_to_show_is_ended() -> None:
    """Before `hold` Ctrl-C raises, after it the first is noted and the second raises."""
    with clock.listening():
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        assert clock.stopped()
    with clock.listening():
        clock.hold()
        signal.raise_signal(signal.SIGINT)
        assert clock.late(None)
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert not clock.stopped()


MODES: dict[str, dict[str, Any]] = {
    "purchase": {},
    "ownership": {"rank_by": "ownership"},
    "margin": {"rank_by": "margin"},
    "margin within a budget": {"rank_by": "margin", "budget": 600.0},
    "budget": {"budget": 560.0},
    "too small a budget": {"budget": 100.0},
    "without a part": {"without": ("pump-6000",)},
    "each pump": {"differ": ("pump",)},
}


@pytest.mark.long
@pytest.mark.parametrize("limit", [2.0, 5.0, 10.0, 30.0])
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize(
    "name", ["four-beds", "any-way", "wall-too-low", "24 unlike beds", "four-beds, most full"]
)
def test_limits_in_every_mode(tmp_path: Path, name: str, mode: str, limit: float) -> None:
    """Kept within a tenth and a second; "none" only where there is none, every design with its bound."""
    catalog = autoplan.load_catalog("metric")
    path = PROBLEMS / f"{name.removesuffix(', most full')}.toml"
    if name.startswith("24"):
        catalog, path = autoplan.load_catalog(price_list(tmp_path / "list")), tmp_path / "site.toml"
        path.write_text(site(24))
    elif name.endswith("most full"):
        text = path.read_text().replace("[wishes]", '[wishes]\nbeds_full = "most"')
        path = tmp_path / "site.toml"
        path.write_text(text)
    took, outcome = timed(autoplan.load_problem(path), catalog, time_limit=limit, **MODES[mode])
    assert took <= 1.1 * limit + 1
    none = (
        name == "wall-too-low"
        or mode == "too small a budget"
        or (name.startswith("24") and "budget" in MODES[mode])
    )
    if outcome.status is Status.NONE:
        assert none
    for design in outcome.designs:
        assert not none
        assert design.bound <= design.objective + 0.01


@pytest.mark.long
def test_stopped_at_twelve_moments(tmp_path: Path) -> None:
    """One run of the demo, Ctrl-C at twelve moments of it: an exit code by the contract, and nothing lost."""
    codes = []
    started = time.monotonic()
    stopped_after(tmp_path, None)
    whole = time.monotonic() - started
    for moment in range(12):
        # Before the interpreter has come to the program's own first line nothing can be minded.
        code, err, written = stopped_after(tmp_path, 0.15 + (whole - 0.15) * moment / 12)
        assert "Traceback" not in err
        assert code in (0, 130), err
        if code == 130:
            assert err.splitlines()[-1] == "Stopped from the keyboard."
            assert written is None
        else:
            assert written is not None
            assert written["designs"]
        codes.append(code)
    assert {0, 130} == set(codes)
    assert codes == sorted(codes, reverse=True)


def stopped_after(folder: Path, seconds: float | None) -> tuple[int, str, dict[str, Any] | None]:
    """Exit code, standard error and JSON of the demo, with Ctrl-C after so many seconds."""
    target = folder / "plan.json"
    target.unlink(missing_ok=True)
    command = [sys.executable, "-m", "autoplan", "design", str(PROBLEMS / "four-beds.toml"), "--top", "2"]
    with subprocess.Popen(
        [*command, "--json", str(target)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as process:
        if seconds is not None:
            time.sleep(seconds)
            process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=600)
    return process.returncode, err, json.loads(target.read_text()) if target.exists() else None
