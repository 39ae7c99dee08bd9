"""A GPX file far larger than the memory that reading it may take."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

POINTS_A_BLOCK = 1000
BLOCKS = 600
SIZE = 200_000_000
MOST_MEMORY = 250_000_000

READ = """
import json, resource, sys
from pathlib import Path
from standmap.formats.door import read

before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
reports = []

class Watcher:
    def at(self, done, total, what):
        reports.append(done / total)
    def stop_wanted(self):
        return False

resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000, 1_500_000_000))
found = read(Path(sys.argv[1]), progress=Watcher())
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps({
    "fixes": [len(walk.fixes) for walk in found.walks],
    "memory": (after - before) * 1024,
    "reports": len(reports),
    "rising": reports == sorted(reports),
}))
"""


def test_200_mb_are_read_in_bounded_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.gpx"
    point = '<trkpt lat="62.5{:05d}" lon="29.5"><time>2025-04-01T07:00:00Z</time><desc>{}</desc></trkpt>\n'
    padding = "x" * (SIZE // (BLOCKS * POINTS_A_BLOCK) - len(point) + 6)
    block = "".join(point.format(number, padding) for number in range(POINTS_A_BLOCK)).encode()
    with path.open("wb") as file:
        file.write(b'<gpx version="1.1" creator="t"><trk><trkseg>')
        for _ in range(BLOCKS):
            file.write(block)
        file.write(b"</trkseg></trk></gpx>")
    assert path.stat().st_size >= SIZE
    answer = subprocess.run([sys.executable, "-c", READ, str(path)], capture_output=True, text=True, timeout=300)
    path.unlink()
    assert answer.returncode == 0, answer.stderr
    told = json.loads(answer.stdout)
    assert told["fixes"] == [BLOCKS * POINTS_A_BLOCK]
    assert told["memory"] < MOST_MEMORY
    assert told["reports"] >= BLOCKS * POINTS_A_BLOCK / 2000
    assert told["rising"]


def test_what_is_no_point_does_not_fill_the_memory_either(tmp_path: Path) -> None:
    path = tmp_path / "odd.gpx"
    block = b"<metadata><link/></metadata><x><y/></x>" * 10_000
    with path.open("wb") as file:
        file.write(b'<gpx version="1.1" creator="t"><wpt lat="1" lon="2"/>')
        for _ in range(30):
            file.write(block)
        file.write(b"</gpx>")
    answer = subprocess.run([sys.executable, "-c", READ, str(path)], capture_output=True, text=True, timeout=300)
    path.unlink()
    assert answer.returncode == 0, answer.stderr
    assert json.loads(answer.stdout)["memory"] < 40_000_000
