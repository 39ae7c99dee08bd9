"""How long it takes to merge two large copies of one stand: prints JSON.

Run `python tests/benchmarks/merging.py`. Each copy of 20,000 trees (with a girth each and a hole in every second) was
edited 4,000 times and got 400 new trees and 800 new holes. The bare baseline reads the same rows of both by sqlite3.
"""

from __future__ import annotations

import json
import platform
import random
import resource
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from standmap.jobs.keys import new_key
from standmap.jobs.merge_copies import Side, for_all, propose_merge, store_merge
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile

TREES, EDITS, SEED = 20_000, 4_000, 1
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TABLES = ("tree", "measurement", "tap_hole")


def plant(path: Path) -> list[Tree]:
    """Make a stand and return its trees."""
    chance = random.Random(SEED)
    spots = [(27 + chance.random() / 50, 62 + chance.random() / 50) for _ in range(TREES)]
    trees = [Tree(new_key(), f"B{i}", at, "Betula pendula") for i, at in enumerate(spots)]
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        writing.insert_many(trees)
        writing.insert_many([Measurement(new_key(), t.key, date(2025, 9, 1), 800.0, None, "80", "cm") for t in trees])
        writing.insert_many([TapHole(new_key(), t.key, 1, Wound.HOLE, date(2024, 3, 1)) for t in trees[::2]])
    return trees


def work_in(path: Path, trees: Sequence[Tree], seed: int) -> None:
    """Edit a copy as one of two people."""
    chance = random.Random(seed)
    with StandFile.open(path) as file:
        for part in range(10):
            now = {tree.key: tree for tree in file.rows(Tree)}
            with file.writing("edit", NOW) as writing:
                for tree in chance.sample(trees, EDITS // 10):
                    if chance.random() < 0.3:
                        writing.change(now[tree.key], note=f"{seed}.{part}")
                    elif seed % 2:
                        writing.change(now[tree.key], tag_confirmed=True)
                    else:
                        writing.change(now[tree.key], pinned=True)
        with file.writing("new", NOW) as writing:
            spots = [(27 + chance.random() / 50, 62.0) for _ in range(EDITS // 10)]
            writing.insert_many([Tree(new_key(), f"N{seed}.{i}", at) for i, at in enumerate(spots)])
            wounded = chance.sample(trees, EDITS // 5)
            writing.insert_many([TapHole(new_key(), t.key, 1, Wound.HOLE, date(2026, 3, 1)) for t in wounded])


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        ours, theirs = Path(folder) / "ours.gpkg", Path(folder) / "theirs.gpkg"
        trees = plant(ours)
        shutil.copy(ours, theirs)
        work_in(ours, trees, SEED + 1)
        work_in(theirs, trees, SEED + 2)
        begun = time.perf_counter()
        for path in (ours, theirs):
            db = sqlite3.connect(path)
            for table in TABLES:
                db.execute(f"SELECT * FROM {table}").fetchall()
            db.close()
        bare_s = time.perf_counter() - begun
        with StandFile.open(ours) as file:
            begun = time.perf_counter()
            proposal = propose_merge(file, theirs)
            compared_s = time.perf_counter() - begun
            store_merge(file, proposal, for_all(proposal, Side.THEIRS), NOW)
            whole_s = time.perf_counter() - begun
    total = proposal.total
    found = {
        "trees_each": TREES,
        "edits_each": EDITS,
        "seed": SEED,
        "new": total.new,
        "changed": total.changed,
        "conflicts": total.conflicts,
        "bare_read_s": round(bare_s, 3),
        "compare_s": round(compared_s, 3),
        "compare_and_store_s": round(whole_s, 3),
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
        "machine": platform.machine(),
        "python": platform.python_version(),
    }
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
