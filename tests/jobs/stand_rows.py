"""What tests of bringing share: every row of a stand, and a walk with stops."""

from __future__ import annotations

import sqlite3
from pathlib import Path


def rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of the stand's own tables but the event log, fids included."""
    db = sqlite3.connect(path)
    tables = [r[0] for r in db.execute("SELECT table_name FROM gpkg_contents WHERE table_name != 'event'")]
    found = {t: db.execute(f"SELECT * FROM {t} ORDER BY fid").fetchall() for t in tables}
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    db.close()
    return found


def walk_text(*east_m: float) -> str:
    """Return a walk at 61.9 N that stands still for a minute at each of these places, metres east of 27.6 E."""
    points, second = [], 0
    for here, onward in zip(east_m, (*east_m[1:], None), strict=True):
        steps = [here] * 60 + ([] if onward is None else [here + (onward - here) * i / 30 for i in range(30)])
        for at in steps:
            clock = f"2026-03-20T05:{second // 60:02d}:{second % 60:02d}Z"
            points.append(f'<trkpt lat="61.9" lon="{27.6 + at / 52_400:.8f}"><time>{clock}</time></trkpt>')
            second += 1
    space = "http://www.topografix.com/GPX/1/1"
    return f'<gpx version="1.1" creator="t" xmlns="{space}"><trk><trkseg>{"".join(points)}</trkseg></trk></gpx>'
