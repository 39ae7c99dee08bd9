"""Everything measured, as one JSON object on stdout: `make bench`.

Each figure stands beside a bare baseline: the least that the same work can cost with plain tools on this machine.
Times are the median of several runs as whole processes; memory is the peak of the largest one.
"""

from __future__ import annotations

import importlib.util
import json
import os
import platform
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent
TREES = 100_000
POINTS = 50_000
RUNS = 5


def spent(command: list[str], runs: int = RUNS, before: Callable[[], None] | None = None) -> dict[str, float]:
    """Return the median seconds of a command and its peak memory in megabytes; one run first to warm up."""
    times = []
    peak = 0.0
    for run in range(runs + 1):
        if before:
            before()
        started = time.perf_counter()
        child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        _, said = child.communicate()
        if child.returncode:
            raise SystemExit(f"{' '.join(command)}: {said.decode()}")
        if run:
            times.append(time.perf_counter() - started)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return {"seconds": round(statistics.median(times), 3), "peak_mb_of_all_so_far": round(peak, 1)}


def in_child(code: str, *arguments: str) -> dict[str, float]:
    """Run Python in a process of its own; it prints its seconds; returns these with its own peak memory."""
    tail = (
        "\nimport resource, json\n"
        "print(json.dumps({'seconds': round(seconds, 3),"
        " 'peak_mb': round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1)}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", f"import sys, time\n{code}{tail}", *arguments],
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


BRING = """
from pathlib import Path
from datetime import UTC, datetime
from standmap.jobs.bring import BringOptions, bring
from standmap.store.stand_file import StandFile
with StandFile.open(Path(sys.argv[1])) as file:
    started = time.perf_counter()
    report = bring(file, [Path(sys.argv[2])], BringOptions(), datetime.now(UTC))
    seconds = time.perf_counter() - started
assert report.sources[0].added, report
"""
READ_TEXT = """
import csv
started = time.perf_counter()
with open(sys.argv[1], newline='') as file: rows = list(csv.reader(file))
seconds = time.perf_counter() - started
"""
READ_XML = """
from lxml import etree
started = time.perf_counter()
count = sum(1 for _ in etree.iterparse(sys.argv[1], tag='{*}trkpt'))
seconds = time.perf_counter() - started
"""
READ_ROWS = """
import sqlite3
started = time.perf_counter()
db = sqlite3.connect(sys.argv[1])
rows = [db.execute(f'SELECT * FROM {t}').fetchall() for t in ('tree', 'measurement', 'tap_hole')]
seconds = time.perf_counter() - started
"""
READ_STAND = """
from pathlib import Path
from standmap.store.stand_file import StandFile
with StandFile.open(Path(sys.argv[1]), read_only=True) as file:
    started = time.perf_counter()
    stand = file.stand()
    seconds = time.perf_counter() - started
"""
JUDGE_REASONS = """
from pathlib import Path
from standmap.jobs.judge import judge
from standmap.store.stand_file import StandFile
with StandFile.open(Path(sys.argv[1]), read_only=True) as file: stand = file.stand()
started = time.perf_counter()
judged = judge(stand, 2026)
seconds = time.perf_counter() - started
assert len(judged.trees) == len(stand.trees)
"""
JUDGE_COLUMNS = """
from pathlib import Path
from standmap.jobs.rule_choice import rules_of
from standmap.rules.columns import columns, verdict_columns
from standmap.store.stand_file import StandFile
with StandFile.open(Path(sys.argv[1]), read_only=True) as file: stand = file.stand()
cols, rules = columns(stand), rules_of(stand)
verdict_columns(cols, 2025, rules)
started = time.perf_counter()
codes, back_in = verdict_columns(cols, 2026, rules)
seconds = time.perf_counter() - started
assert len(codes) == len(stand.trees)
"""
COLUMNS_BASE = """
import numpy as np
girths = np.random.default_rng(1).uniform(300, 1500, int(sys.argv[1]))
started = time.perf_counter()
thick = (girths >= 718.0).sum()
seconds = time.perf_counter() - started
"""


def write_trees(path: Path) -> None:
    """Write a table of trees on a grid of 4 m."""
    with path.open("w") as file:
        file.write("name,lon,lat,species,girth_mm,date\n")
        for i in range(TREES):
            lon, lat = 27.6 + (i % 320) * 7.6e-5, 61.9 + (i // 320) * 3.6e-5
            file.write(f"B{i},{lon:.7f},{lat:.7f},Betula pendula,{500 + i % 700},2024-09-14\n")


def write_walk(path: Path) -> None:
    """Write a walk of a fix a second: 40 s at a tree, 20 s to the next."""
    with path.open("w") as file:
        file.write(
            '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        )
        for i in range(POINTS):
            stage, within = divmod(i, 60)
            along = 20 * stage + max(0, within - 40)
            lon, lat = 27.6 + (along % 4000) * 1.9e-5, 61.9 + (along // 4000) * 1.8e-4
            stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(1_774_000_000 + i))
            file.write(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>90</ele><time>{stamp}</time></trkpt>')
        file.write("</trkseg></trk></gpx>")


def module(name: str) -> ModuleType:
    """Load a benchmark that stands beside this file."""
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    assert spec
    assert spec.loader
    found = importlib.util.module_from_spec(spec)
    sys.modules[name] = found
    spec.loader.exec_module(found)
    return found


def starts(folder: Path) -> dict[str, object]:
    """Measure the start of small commands."""
    program = [sys.executable, "-m", "standmap.cli.main"]
    stand, small = folder / "small.gpkg", folder / "small.csv"
    small.write_text(
        "name,lon,lat,species,girth_mm\n" + "".join(f"B{i},27.6{i:02d},61.9,birch,800\n" for i in range(40))
    )

    def fresh() -> None:
        stand.unlink(missing_ok=True)

    def empty() -> None:
        fresh()
        subprocess.run([*program, "new", str(stand)], check=True, capture_output=True)

    bare = spent([sys.executable, "-c", "import typer"])
    return {
        "bare_import_typer": bare,
        "help": spent([*program, "--help"]),
        "new": spent([*program, "new", str(stand)], before=fresh),
        "bring_40_trees": spent([*program, "bring", str(stand), str(small)], before=empty),
    }


def large(folder: Path) -> dict[str, object]:
    """Measure a stand of 100,000 trees and a walk of 50,000 points."""
    stand, trees, walk, walked = (folder / n for n in ("large.gpkg", "trees.csv", "walk.gpx", "walk.gpkg"))
    write_trees(trees)
    write_walk(walk)
    for path in (stand, walked):
        subprocess.run([sys.executable, "-m", "standmap.cli.main", "new", str(path)], check=True, capture_output=True)
    return {
        "walk_points": POINTS,
        "walk_bring": in_child(BRING, str(walked), str(walk)),
        "walk_bare_xml_read": in_child(READ_XML, str(walk)),
        "trees": TREES,
        "trees_bring": in_child(BRING, str(stand), str(trees)),
        "trees_bare_csv_read": in_child(READ_TEXT, str(trees)),
        "stand_read": in_child(READ_STAND, str(stand)),
        "stand_bare_row_read": in_child(READ_ROWS, str(stand)),
        "judge_with_reasons": in_child(JUDGE_REASONS, str(stand)),
        "judge_columns_another_season": in_child(JUDGE_COLUMNS, str(stand)),
        "judge_bare_compare": in_child(COLUMNS_BASE, str(TREES)),
    }


def measure() -> dict[str, object]:
    """Return all figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        return {
            "machine": {"cores": os.cpu_count(), "python": platform.python_version(), "sqlite": sqlite3.sqlite_version},
            "starts": starts(folder),
            "large": large(folder),
            "rounds": module("rounds").measure(),
            "ground": module("ground").measure(),
            "survey": module("survey").measure(),
            "window_longest_gaps": module("heartbeat").in_child(),
            "canvas": {str(n): module("canvas").in_child(n) for n in (400, TREES)},
        }


if __name__ == "__main__":
    print(json.dumps(measure(), indent=2))
