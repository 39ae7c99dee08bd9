"""The map at any size of stand, measured on the real widget: `python tests/benchmarks/canvas.py --trees N --json`.

first_paint_s   from the file's name to the first picture on the widget: opened, read, judged, drawn (Qt is up already)
rows_read_s     the bare read of the same rows by sqlite3 and nothing else
frame_p95_ms    from another view being asked for (a drag, a step of the wheel's glide) until it was painted, with
                whatever was drawn in between, near and far; 95 of 100
sharp_after_ms  from the last such step until what is shown was drawn for just that view, the worst of several
recolour_ms     from another season being asked for until its verdicts are drawn in full (they then fade in)
pick_ms         which tree lies under the pointer, 95 of 100
memory_mb       peak of the whole process, the written stand file not held in it
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

TREES = 100_000
SEED = 7
SEASON = 2026
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
WIDTH, HEIGHT = 1280, 676
STEPS = 60


def write_stand(path: Path, trees: int) -> None:
    """Write a seeded wood: a second girth for some, holes of eight seasons, two areas, a brook."""
    from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
    from standmap.stand.tapping import TapHole, Wound
    from standmap.stand.tree import Measurement, Soundness, Tree
    from standmap.store.stand_file import StandFile

    rng = np.random.default_rng(SEED)
    side = 0.02 * np.sqrt(trees / TREES)
    lon, lat = 27.6 + 2 * rng.uniform(0, side, trees), 61.9 + rng.uniform(0, side, trees)
    species = rng.choice(
        ["Betula pendula", "Betula pubescens", "birch", "alder", ""], trees, p=[0.5, 0.3, 0.1, 0.05, 0.05]
    )
    rows = [
        Tree(
            f"t{i:06d}", f"B{i}", (float(lon[i]), float(lat[i])), str(species[i]) or None,
            soundness=Soundness.UNSOUND if i % 37 == 0 else None,
        )
        for i in range(trees)
    ]  # fmt: skip
    girth = rng.uniform(350, 1600, trees)
    girths = [
        Measurement(f"m{i:06d}", f"t{i:06d}", date(2019 + i % 6, 9, 14), float(round(girth[i])), None, "", "mm")
        for i in range(trees)
        if i % 23
    ]
    girths += [
        Measurement(f"n{i:06d}", f"t{i:06d}", date(2025, 9, 14), None, float(round(girth[i] / 3)), "", "mm")
        for i in range(0, trees, 5)
    ]
    holes = [
        TapHole(f"h{season}{i:06d}", f"t{i:06d}", 1, Wound.HOLE, date(season, 3, 20))
        for season in range(2019, SEASON + 1)
        for i in range(season % 8, trees, 16)
    ]
    a, b, c, d = 27.6 - 0.001, 61.9 - 0.001, 27.6 + 2.02 * side, 61.9 + 1.02 * side
    mire = tuple((27.6 + side * x, 61.9 + side * y) for x, y in ((0.5, 0.2), (0.9, 0.25), (0.8, 0.5), (0.5, 0.2)))
    areas = [
        Area("a1", "wood", AreaKind.PERMITTED, (((a, b), (c, b), (c, d), (a, d), (a, b)),)),
        Area("a2", "mire", AreaKind.NO_GO, (mire,)),
    ]
    wave = np.linspace(0, 1, 400)
    brook = tuple(
        zip((27.6 + 2 * side * wave).tolist(), (61.9 + side * (0.5 + 0.1 * np.sin(9 * wave))).tolist(), strict=True)
    )
    with StandFile.create(path) as file, file.writing("a wood", NOW) as writing:
        for many in (rows, girths, holes, areas):
            writing.insert_many(many)
        writing.insert(Line("l1", "brook", LineKind.STREAM, brook), Place("p1", "gate", PlaceKind.GATE, (27.6, 61.9)))


def rows_read_s(path: Path) -> float:
    """Return the seconds of a bare read of the rows that the map is made of."""
    started = time.perf_counter()
    db = sqlite3.connect(path)
    for table in ("tree", "measurement", "tap_hole"):
        db.execute(f"SELECT * FROM {table}").fetchall()
    db.close()
    return time.perf_counter() - started


def measure(path: Path) -> dict[str, float]:
    """Return all figures of one stand."""
    from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
    from PySide6.QtGui import QMouseEvent, QPaintEvent, QWheelEvent
    from PySide6.QtWidgets import QApplication

    from standmap.desktop.canvas.camera import Camera
    from standmap.desktop.canvas.canvas import MapCanvas
    from standmap.desktop.theme import LIGHT
    from standmap.jobs.first_look import first_look, rest_passed, stand_columns
    from standmap.jobs.rule_choice import rules_of
    from standmap.rules.columns import verdict_columns
    from standmap.stand.ground import Area
    from standmap.stand.snapshot import Stand
    from standmap.store.quick_columns import quick_columns
    from standmap.store.stand_file import StandFile

    app = QApplication([])
    rows_read = min(rows_read_s(path) for _ in range(3))

    def until(done: Callable[[], bool]) -> None:
        while not done():
            app.processEvents()

    painted: list[float] = []
    frames: list[float] = []
    asked_at: list[float] = []

    class Watched(MapCanvas):
        def look(self, camera: Camera) -> None:
            asked_at.append(time.perf_counter())
            super().look(camera)

        def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
            super().paintEvent(event)
            painted.append(time.perf_counter())
            if asked_at:
                frames.append(1e3 * (painted[-1] - asked_at[0]))
                asked_at.clear()

    canvas = Watched(LIGHT)
    canvas.resize(WIDTH, HEIGHT)
    canvas.set_margins(316, 0, 0, 0)
    canvas.show()
    app.processEvents()
    started = time.perf_counter()
    with StandFile.open(path, read_only=True) as file:
        look = first_look(file, SEASON)
        canvas.show_trees(look.keys, look.names, look.xy, look.girth_mm, look.codes, look.rest)
        canvas.fit(animated=False)
        painted.clear()
        until(lambda: bool(painted) and canvas.sharp)
        first_paint = time.perf_counter() - started
        quick = quick_columns(path)
        assert quick is not None
        cols, rules = stand_columns(quick, file.rows(Area)), rules_of(Stand(settings=file.settings()))
        whole = file.stand()
    canvas.show_ground(whole.places, whole.lines, whole.areas, look.frame)
    del whole, quick

    frames.clear()
    sharp: list[float] = []
    middle = QPointF(800, 330)

    def step(act: Callable[[], object]) -> None:
        """Do one step and wait until it was painted."""
        painted.clear()
        act()
        until(lambda: bool(painted))

    def wait_sharp() -> None:
        begun = time.perf_counter()
        until(lambda: canvas.sharp)
        sharp.append(1e3 * (time.perf_counter() - begun))
        app.processEvents()

    def mouse(kind: QEvent.Type, at: QPointF, button: Qt.MouseButton, held: Qt.MouseButton) -> None:
        app.sendEvent(
            canvas, QMouseEvent(kind, at, canvas.mapToGlobal(at), button, held, Qt.KeyboardModifier.NoModifier)
        )

    def wheel(notches: int) -> None:
        event = QWheelEvent(
            middle, canvas.mapToGlobal(middle), QPoint(), QPoint(0, 120 * notches), Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        app.sendEvent(canvas, event)

    left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
    home = canvas.camera
    for nearer in range(7):
        canvas.look(home.zoomed(2.0**nearer, canvas.free_middle()))
        wait_sharp()
        mouse(QEvent.Type.MouseButtonPress, middle, left, left)
        for i in range(STEPS):
            at = middle + QPointF(14 * (i + 1) if i < STEPS // 2 else 14 * (STEPS - i), 9 * (i % 7))
            step(lambda at=at: mouse(QEvent.Type.MouseMove, at, none, left))  # type: ignore[misc]
        mouse(QEvent.Type.MouseButtonRelease, middle, left, none)
        wait_sharp()
        for notches in (1, 1, 1, -1, -1, -1):
            step(lambda notches=notches: wheel(notches))  # type: ignore[misc]
            until(lambda: not canvas.gliding)
            wait_sharp()
    canvas.fit(animated=False)
    until(lambda: canvas.sharp)

    recolours = []
    for season in (SEASON + 1, SEASON - 1, SEASON + 3, SEASON):
        begun = time.perf_counter()
        codes, back_in = verdict_columns(cols, season, rules)
        canvas.recolour(codes, rest_passed(codes, back_in, season, rules))
        until(lambda: canvas.sharp)
        recolours.append(1e3 * (time.perf_counter() - begun))
        time.sleep(0.15)
        app.processEvents()

    rng = np.random.default_rng(SEED)
    picks = []
    for zoom in (1.0, 6.0, 40.0):
        canvas.look(canvas.camera.zoomed(zoom, (middle.x(), middle.y())))
        for x, y in rng.uniform((0, 0), (WIDTH, HEIGHT), (400, 2)):
            begun = time.perf_counter()
            canvas.tree_at(QPointF(x, y))
            picks.append(1e3 * (time.perf_counter() - begun))
    return {
        "first_paint_s": round(first_paint, 3),
        "rows_read_s": round(rows_read, 3),
        "frame_p95_ms": round(float(np.percentile(frames, 95)), 2),
        "sharp_after_ms": round(max(sharp), 1),
        "recolour_ms": round(max(recolours), 1),
        "pick_ms": round(float(np.percentile(picks, 95)), 3),
        "memory_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
    }


def in_child(trees: int) -> dict[str, float]:
    """Write a stand in a process of its own and measure it in another, so that writing does not count as memory."""
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "wood.gpkg")
        me = [sys.executable, __file__, "--trees", str(trees)]
        subprocess.run([*me, "--write", path], check=True)
        found = subprocess.run([*me, "--measure", path], check=True, stdout=subprocess.PIPE, text=True)
        return dict(json.loads(found.stdout))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, default=TREES)
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.write:
        write_stand(asked.write, asked.trees)
    elif asked.measure:
        print(json.dumps(measure(asked.measure)))
    else:
        found = in_child(asked.trees)
        print(json.dumps(found) if asked.json else "\n".join(f"{name:15} {value}" for name, value in found.items()))


if __name__ == "__main__":
    main()
