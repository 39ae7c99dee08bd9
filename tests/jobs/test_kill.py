"""Killed at any moment, a stand opens and holds whole edits only.

Each try forks this process, lets the child bring in or record, and kills it (SIGKILL) after a random time of up to
three times what the edit takes when nobody else is at work.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import pytest

from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.record import record_file
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
TREES = 150
KILLS = 70
"""For each of the two commands: 140 in all."""


def _trees_file(folder: Path, number: int) -> Path:
    path = folder / f"trees{number}.csv"
    lines = [f"N{number}-{i},{27 + i / 5000:.6f},{62 + number / 5000:.6f},Betula pendula,800" for i in range(TREES)]
    path.write_text("name,lon,lat,species,girth_mm\n" + "\n".join(lines) + "\n")
    return path


def _records_file(folder: Path, number: int) -> Path:
    path = folder / f"records{number}.csv"
    season = 1990 + number % 30
    lines = [f"N0-{i},{season}-03-{1 + number // 30:02d},tapped" for i in range(TREES)]
    path.write_text("tree,date,what\n" + "\n".join(lines) + "\n")
    return path


def _bring(path: Path, source: Path) -> None:
    with StandFile.open(path) as file:
        bring(file, [source], BringOptions(), NOW)


def _record(path: Path, source: Path) -> None:
    with StandFile.open(path) as file:
        record_file(file, source, TODAY, NOW)


def _killed(job: Callable[[], None], after_s: float) -> bool:
    """Run a job in a child process and kill it; returns whether it was still at work."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            job()
            code = 0
        finally:
            os._exit(code)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    status = os.waitpid(child, 0)[1]
    if os.WIFSIGNALED(status):
        return True
    assert os.WEXITSTATUS(status) == 0
    return False


def _counts(path: Path) -> tuple[int, int, int]:
    """Open the stand as the program does, check it whole, and return sources, rows and steps."""
    with StandFile.open(path) as file:
        file.stand()
        assert not path.with_name(f"{path.name}-journal").exists()
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    counts = tuple(
        db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        for table in ("source", "tree", "measurement", "tap_hole")
    )
    steps = db.execute("SELECT count(*) FROM event").fetchone()[0]
    db.close()
    sources, trees, measured, holes = counts
    assert trees == measured
    return sources, trees + holes, steps


@pytest.mark.parametrize(
    ("write", "source"), [(_bring, _trees_file), (_record, _records_file)], ids=["bring", "record"]
)
def test_kill_at_any_moment_leaves_whole_edits(
    tmp_path: Path, write: Callable[[Path, Path], None], source: Callable[[Path, int], Path]
) -> None:
    path = tmp_path / "wood.gpkg"
    StandFile.create(path).close()
    _bring(path, _trees_file(tmp_path, 0))
    started = time.monotonic()
    write(path, source(tmp_path, 1))
    usual_s = time.monotonic() - started
    chance = random.Random(20260328)
    at_work = whole = 0
    sources, rows, steps = _counts(path)
    for number in range(2, 2 + KILLS):
        file = source(tmp_path, number)
        at_work += _killed(partial(write, path, file), chance.uniform(0, 3 * usual_s))
        after = _counts(path)
        # Nothing of the edit, or the whole of it with its one step of the log.
        assert after in ((sources, rows, steps), (sources + 1, rows + TREES, steps + 1))
        whole += after != (sources, rows, steps)
        sources, rows, steps = after
    # The kills must really have met the work, both before and after its commit.
    assert at_work >= KILLS // 5
    assert 0 < whole < KILLS
