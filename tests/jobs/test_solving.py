"""The search in a process of its own: the same answer, told on the way, ended at once."""

from __future__ import annotations

import multiprocessing
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import UserError
from standmap.jobs import solving
from standmap.jobs.solving import solve_apart
from standmap.rounds.problem import RoundProblem, Tap
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations
from standmap.rounds.watch import Ending


def problem(count: int) -> RoundProblem:
    spots = np.random.default_rng(3).uniform(-300, 300, (count, 2)).tolist()
    taps = tuple(Tap(f"t{i}", (x, y), 3.0, 3.0) for i, (x, y) in enumerate(spots))
    return RoundProblem((0.0, 0.0), taps, 15.0, 1.0, speed_m_per_min=50.0)


class Heard:
    """Remembers what was told and asks to stop when a test wants it."""

    def __init__(self) -> None:
        self.whats: list[str] = []
        self.stop = False

    def at(self, done: float, total: float, what: str) -> None:  # noqa: ARG002
        self.whats.append(what)

    def stop_wanted(self) -> bool:
        return self.stop


def test_the_answer_is_the_one_found_here() -> None:
    asked = problem(25)
    told: list[Round] = []
    heard = Heard()
    apart = solve_apart(asked, stop=MaxIterations(300), seed=2, progress=heard, on_best=told.append)
    assert apart == plan(asked, stop=MaxIterations(300), seed=2)
    lengths = [best.length_m for best in told]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] == apart.length_m
    assert heard.whats
    assert not multiprocessing.active_children()


def test_a_wish_to_stop_ends_the_process_and_keeps_the_best() -> None:
    heard = Heard()
    told: list[Round] = []

    def first(best: Round) -> None:
        told.append(best)
        heard.stop = True

    stopped = solve_apart(problem(150), progress=heard, on_best=first)
    assert stopped.stopped is Ending.ASKED
    assert not stopped.repeatable
    assert stopped.trips == told[-1].trips
    assert sum(len(trip.visits) for trip in stopped.trips) == 150
    assert not multiprocessing.active_children()


def test_a_process_that_is_ended_from_outside_keeps_the_best() -> None:
    def killed(_: Round) -> None:
        for child in multiprocessing.active_children():
            child.kill()

    kept = solve_apart(problem(150), on_best=killed)
    assert kept.stopped is Ending.ASKED
    assert kept.trips


def test_a_process_that_finds_nothing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "_search", _gone)
    with pytest.raises(UserError, match="without an answer"):
        solve_apart(problem(3))


def _gone(there: object, *_: object) -> None:
    del there


def test_a_search_that_nobody_waits_for_any_more_ends() -> None:
    script = (
        "import multiprocessing, time\n"
        "from tests.jobs.test_solving import problem\n"
        "from standmap.jobs.solving import solve_apart\n"
        "def told(_):\n"
        "    print(multiprocessing.active_children()[0].pid, flush=True)\n"
        "    time.sleep(600)\n"
        "if __name__ == '__main__':\n"
        "    solve_apart(problem(150), on_best=told)\n"
    )
    root = Path(__file__).parents[2]
    waiting = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, cwd=root)
    assert waiting.stdout is not None
    with waiting.stdout:
        search = int(waiting.stdout.readline())
        waiting.kill()
        waiting.wait()
    for _ in range(300):
        if not _runs(search):
            break
        time.sleep(0.1)
    assert not _runs(search)


def _runs(pid: int) -> bool:
    status = Path(f"/proc/{pid}/stat")
    return status.exists() and status.read_text().rsplit(")", 1)[1].split()[0] != "Z"
