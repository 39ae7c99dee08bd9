"""How long the window stands still while it is at work: `python tests/benchmarks/heartbeat.py [--json] [--stacks]`.

A timer of 5 ms beats on the GUI thread of the real window; longest_gap_ms is the longest time between two beats during
each kind of work, with a budget of 100, and longest_own_ms the most processor time that the GUI thread itself spent
between two beats: what is beyond that was spent waiting for other threads, or for other programs of a busy machine.
`seconds` is how long the work took. With --stacks, what all threads were doing in gaps above the budget is written to
stderr.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import ModuleType

if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["STANDMAP_TODAY"] = "2026-03-28"

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QFileDialog

from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.start import Shell, application
from standmap.settings import Settings
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

HERE = Path(__file__).parent
TREES = 100_000
LIST_TREES = 10_000
BEAT_MS = 5
BUDGET_MS = 100.0
SEARCH_S = 4.0
"""A search for a round is asked to stop after this time."""

PATIENCE_S = 60.0


class Heartbeat:
    """Beats on the GUI thread and keeps the longest gap."""

    def __init__(self) -> None:
        self.longest_ms = self.longest_own_ms = 0.0
        self._last, self._last_own = time.perf_counter(), time.thread_time()
        self._timer = QTimer()
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._beat)
        self._timer.start(BEAT_MS)

    def _beat(self) -> None:
        now, own = time.perf_counter(), time.thread_time()
        self.longest_ms = max(self.longest_ms, 1e3 * (now - self._last))
        self.longest_own_ms = max(self.longest_own_ms, 1e3 * (own - self._last_own))
        self._last, self._last_own = now, own

    @property
    def late_ms(self) -> float:
        """Milliseconds since the last beat."""
        return 1e3 * (time.perf_counter() - self._last)

    def begin(self) -> None:
        """Measure anew."""
        self._last, self._last_own = time.perf_counter(), time.thread_time()
        self.longest_ms = self.longest_own_ms = 0.0


def watch_gaps(heart: Heartbeat) -> None:
    """Write what all threads do whenever the heart has not beaten for longer than the budget."""
    main = threading.main_thread().ident
    told_at = 0.0
    while True:
        time.sleep(0.02)
        if heart.late_ms > BUDGET_MS and time.perf_counter() - told_at > 0.1:
            told_at = time.perf_counter()
            for ident, frame in sys._current_frames().items():
                if ident != threading.get_ident():
                    who = "window" if ident == main else "another thread"
                    lines = "".join(traceback.format_stack(frame)[-9:])
                    print(f"--- {heart.late_ms:.0f} ms, {who}\n{lines}", file=sys.stderr)


class Bench:
    """The window with its heart."""

    def __init__(self, *, stacks: bool) -> None:
        self.app: QApplication = application()
        self.shell = Shell(self.app, Settings(motion="less"), keep=False)
        self.desk, self.window = self.shell.desk, self.shell.window
        self.shell.show()
        self.heart = Heartbeat()
        self.found: dict[str, dict[str, float]] = {}
        if stacks:
            threading.Thread(target=watch_gaps, args=(self.heart,), daemon=True).start()

    def until(self, there: Callable[[], bool]) -> None:
        """Let the window go on until something is so."""
        end = time.perf_counter() + PATIENCE_S
        while not there():
            self.app.processEvents()
            time.sleep(0.0005)
            if time.perf_counter() > end:
                raise SystemExit("this takes too long")

    def idle(self) -> None:
        """Let the window go on until all is done and drawn."""
        canvas, desk = self.window.canvas, self.desk
        self.until(lambda: not desk.busy and not canvas.gliding)
        if desk.seen is not None and desk.seen.trees:
            self.until(lambda: canvas.sharp)

    @contextmanager
    def measured(self, what: str) -> Iterator[None]:
        """Measure one kind of work."""
        print(f"... {what}", file=sys.stderr)
        self.heart.begin()
        started = time.perf_counter()
        yield
        self.idle()
        self.until(lambda: self.heart.late_ms < BEAT_MS)
        seconds = time.perf_counter() - started
        self.found[what] = {
            "longest_gap_ms": round(self.heart.longest_ms, 1),
            "longest_own_ms": round(self.heart.longest_own_ms, 1),
            "seconds": round(seconds, 2),
        }

    def open(self, path: Path) -> None:
        """Open a stand and wait until it is drawn."""
        self.desk.open_stand(path)
        self.until(lambda: self.desk.seen is not None)
        self.idle()

    def bring(self, what: str, path: Path) -> None:
        """Bring one file in: read, then stored."""
        page = self.window.pages["survey"]
        assert isinstance(page, SurveyPage)
        self.window.show_page("survey")
        self.idle()
        with self.measured(f"read_{what}"):
            page.bring_files([path])
            self.until(page.bringing.sheet.isVisible)
        before = self.desk.seen
        with self.measured(f"store_{what}"):
            page.bringing.store()
            self.until(lambda: self.desk.seen is not before)

    def solve(self, taps: int) -> None:
        """Search for a round, at most a few seconds."""
        page = self.window.pages["collect"]
        assert isinstance(page, CollectPage)
        self.window.show_page("collect")
        self.idle()
        with self.measured(f"solve_{taps}_taps"):
            page.plan()
            started = time.perf_counter()
            self.until(
                lambda: (
                    page.planning.stage is Stage.PLANNED
                    or (page.planning.best is not None and time.perf_counter() - started > SEARCH_S)
                )
            )
            page.stop()
            self.until(lambda: page.planning.stage is Stage.PLANNED)

    def mark_one(self) -> None:
        """Choose one tree in the middle of the list, then mark it."""
        seen = self.desk.seen
        assert seen is not None
        with self.measured("choose_one_of_100000"):
            self.desk.choose([seen.trees[len(seen.trees) // 2].key])
            self.until(lambda: self.window.card.facts is not None)
        with self.measured("mark_one_of_100000"):
            self.window.actions_list.run(self.window.actions_list.get("card.mark"))
            self.until(lambda: self.desk.seen is not seen)


def module(name: str) -> ModuleType:
    """Load a benchmark that stands beside this file."""
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    if spec is None or spec.loader is None:
        raise SystemExit(f"{name}.py is missing")
    found = importlib.util.module_from_spec(spec)
    sys.modules[name] = found
    spec.loader.exec_module(found)
    return found


def write_taps(path: Path, taps: int, now: object) -> None:
    """Write a wood of so many tapped trees about a gate."""
    import numpy as np

    rng = np.random.default_rng(taps)
    lon, lat = 27.6 + rng.uniform(0, 0.006, taps), 61.9 + rng.uniform(0, 0.003, taps)
    trees = [Tree(f"t{i:06d}", f"B{i}", (float(lon[i]), float(lat[i])), "Betula pendula") for i in range(taps)]
    holes = [TapHole(f"h{i:06d}", f"t{i:06d}", 1, Wound.HOLE, date(2026, 3, 20)) for i in range(taps)]
    with StandFile.create(path) as file, file.writing("a wood", now) as writing:  # type: ignore[arg-type]
        writing.insert_many(trees)
        writing.insert_many(holes)
        writing.insert(Place("p1", "gate", PlaceKind.GATE, (27.6, 61.9)))


def measure(*, stacks: bool = False) -> dict[str, dict[str, float]]:
    """Return the longest gaps of all kinds of work."""
    canvas, everything = module("canvas"), module("all")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        large, small, walked = (folder / n for n in ("large.gpkg", "small.gpkg", "walked.gpkg"))
        canvas.write_stand(large, TREES)
        for path in (small, walked):
            StandFile.create(path).close()
        everything.TREES = LIST_TREES  # type: ignore[attr-defined]
        everything.write_trees(folder / "trees.csv")
        everything.write_walk(folder / "walk.gpx")
        bench = Bench(stacks=stacks)
        bench.until(bench.window.isVisible)
        with bench.measured("nothing"):
            started = time.perf_counter()
            bench.until(lambda: time.perf_counter() - started > 1)

        bench.open(small)
        bench.bring("list_of_10000_trees", folder / "trees.csv")
        bench.open(walked)
        bench.bring("walk_of_50000_points", folder / "walk.gpx")
        for taps in (60, 200):
            write_taps(folder / f"{taps}.gpkg", taps, canvas.NOW)
            bench.open(folder / f"{taps}.gpkg")
            bench.solve(taps)
        with bench.measured("open_100000_trees"):
            bench.open(large)
        bench.window.show_page("choose")
        bench.idle()
        bench.mark_one()
        with bench.measured("export_100000_trees"):
            QFileDialog.getExistingDirectory = lambda *_: str(folder / "out")  # type: ignore[method-assign]
            bench.window.actions_list.run(bench.window.actions_list.get("stand.hand_on"))
        with bench.measured("close_100000_trees"):
            bench.desk.close_stand()
        bench.window.close()
        return bench.found


def in_child() -> dict[str, dict[str, float]]:
    """Return the figures of a process of its own."""
    done = subprocess.run([sys.executable, __file__, "--json"], capture_output=True, text=True, check=True)
    found: dict[str, dict[str, float]] = json.loads(done.stdout)
    return found


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--stacks", action="store_true", help="write what was done in gaps above the budget")
    asked = parser.parse_args()
    found = measure(stacks=asked.stacks)
    if asked.json:
        print(json.dumps(found, indent=2))
        return
    for what, figures in found.items():
        over = "  over the budget" if figures["longest_gap_ms"] > BUDGET_MS else ""
        gap, own, seconds = figures.values()
        print(f"{what:28}{gap:8.1f} ms, its own {own:8.1f} ms, in {seconds:6.2f} s{over}")


if __name__ == "__main__":
    main()
