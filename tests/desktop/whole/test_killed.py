"""Killed (SIGKILL) at work, the window loses nothing that was confirmed, and the next one opens the stand to write."""

from __future__ import annotations

import os
import random
import select
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from standmap.jobs.opening import open_stand
from standmap.stand.records import Plan
from tests.desktop.whole import window_to_kill
from tests.desktop.whole.whole_window import Whole
from tests.desktop.whole.window_to_kill import BROUGHT

PATIENCE_S = 60
MOMENT_S = (0.1, 1.2)
BEGUN = {
    "import": (b"importing", b"stored"),
    "solve": (b"solving", b"marked"),
    "drag": (b"dragging", b"marked"),
}
MOMENTS = {"import": 3, "solve": 2, "drag": 2}


def killed(stand: Path, what: str, after_s: float, *, to_the_end: bool) -> list[str]:
    """Let a window work on a stand, kill it so long after it began, and return what it told before.

    With `to_the_end` the time runs from the first confirmed edit, and the last process that the window had begun is
    waited for: it holds the same pipe.
    """
    program = [sys.executable, window_to_kill.__file__, str(stand), what]
    here = str(Path(__file__).parents[3])
    child = subprocess.Popen(program, stdout=subprocess.PIPE, cwd=here, env=os.environ | {"PYTHONPATH": here})
    assert child.stdout is not None
    heard = b""
    until = time.monotonic() + PATIENCE_S
    begun = BEGUN[what][to_the_end]
    while time.monotonic() < until:
        if select.select([child.stdout], [], [], 0.02)[0]:
            some = os.read(child.stdout.fileno(), 65536)
            assert some, "the window ended by itself"
            if begun in some and begun not in heard:
                until = time.monotonic() + after_s
            heard += some
    assert child.poll() is None
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    with child.stdout as pipe:
        while select.select([pipe], [], [], PATIENCE_S if to_the_end else 0)[0]:
            some = os.read(pipe.fileno(), 65536)
            if not some:
                break
            heard += some
        else:
            assert not to_the_end, "something that the window had begun lives on"
    # A line that is cut off was not told.
    return [line.decode() for line in heard.split(b"\n")[:-1]]


def whole_file(stand: Path) -> None:
    db = sqlite3.connect(stand)
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    db.close()


@pytest.mark.parametrize("what", list(MOMENTS))
def test_nothing_confirmed_is_lost(what: str, begin: Callable[..., Whole], alder_brook: Path) -> None:
    chance = random.Random(f"20260328 {what}")
    marked: set[tuple[str, int]] = set()
    stored = 0
    for moment in range(MOMENTS[what]):
        told = killed(alder_brook, what, chance.uniform(*MOMENT_S), to_the_end=moment == MOMENTS[what] - 1)
        assert told[0] == "open"  # the lock of the one that was killed before is taken over
        for word, *of_what in (line.split() for line in told):
            if word == "marked":
                marked.add((of_what[0], int(of_what[1])))
            elif word == "stored":
                stored += 1
        with open_stand(alder_brook) as file:
            stand = file.stand()
            plans = {(stand.by_key[p.tree_key].name, p.season) for p in file.rows(Plan)}
        assert marked <= plans
        brought = [t for t in stand.trees if t.name.startswith("N")]
        assert len(brought) % BROUGHT == 0  # whole edits only
        assert len(brought) >= BROUGHT * stored
        whole_file(alder_brook)
    assert stored if what == "import" else marked
    whole = begin(alder_brook)
    assert not whole.desk.read_only
    assert not [text for kind, text in whole.told if kind != "tell"]
    whole.find("B04")
    assert whole.on_card == "B04"
    whole.window.close()
    left = sorted(p.name for p in alder_brook.parent.iterdir() if p.name.startswith((alder_brook.name, ".")))
    assert left == [alder_brook.name]
