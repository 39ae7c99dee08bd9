"""Work off the GUI thread: in order, stoppable, its failures told."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial

import pytest
from pytestqt.qtbot import QtBot

from standmap.desktop.working import Watch, Work, WorkThread
from standmap.errors import UserError


def _handed(what: Callable[[int], object], number: int, _: Watch) -> object:
    return what(number)


@pytest.fixture
def thread() -> Iterator[WorkThread]:
    made = WorkThread("test")
    yield made
    made.close(drop=True)


def test_work_is_done_in_order_on_one_thread_and_told_on_this_one(qtbot: QtBot, thread: WorkThread) -> None:
    names: list[str] = []
    told: list[tuple[object, str]] = []

    def job(number: int) -> int:
        names.append(threading.current_thread().name)
        return number

    works: list[Work[object]] = [Work(f"job {n}") for n in range(5)]
    for n, work in enumerate(works):
        work.done.connect(lambda result: told.append((result, threading.current_thread().name)))
        thread.add(work, partial(_handed, job, n))
    qtbot.waitUntil(lambda: len(told) == 5)
    assert names == ["test"] * 5
    assert told == [(n, threading.main_thread().name) for n in range(5)]


def test_a_stop_reaches_the_job_and_progress_reaches_the_window(qtbot: QtBot, thread: WorkThread) -> None:
    work: Work[object] = Work("long")
    reports: list[tuple[float, float, str]] = []
    work.progressed.connect(lambda *report: reports.append(report))

    def job(watch: Watch) -> str:
        watch.at(1, 2, "half")
        while not watch.stop_wanted():
            threading.Event().wait(0.001)
        return "stopped"

    thread.add(work, job)
    qtbot.waitUntil(lambda: bool(reports))
    assert reports == [(1.0, 2.0, "half")]
    with qtbot.waitSignal(work.done) as caught:
        work.cancel()
    assert caught.args == ["stopped"]


@pytest.mark.parametrize("error", [UserError("no such tree", "name one"), ValueError("ours")])
def test_a_failure_is_handed_over_and_the_thread_goes_on(qtbot: QtBot, thread: WorkThread, error: Exception) -> None:
    work: Work[object] = Work("fails")

    def job(_: Watch) -> None:
        raise error

    with qtbot.waitSignal(work.failed) as caught:
        thread.add(work, job)
    assert caught.args == [error]
    after: Work[object] = Work("after")
    with qtbot.waitSignal(after.done):
        thread.add(after, lambda _: 1)


def test_closing_finishes_what_was_begun_unless_told_to_drop_it() -> None:
    thread = WorkThread("closing")
    done: list[int] = []
    for n in range(20):
        thread.add(Work("w"), partial(_handed, done.append, n))
    thread.close(lambda: done.append(-1))
    assert done == [*range(20), -1]
