"""A small wood for tests of adjusting: known truth, stops on a walk that lay off, tape and compass."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from standmap.jobs.keys import new_key
from standmap.jobs.opening import FRAME_SETTING
from standmap.stand.sights import North, Sight
from standmap.stand.tree import LonLat, Tree
from standmap.stand.walks import Fixes, Stop, Walk
from standmap.store.stand_file import StandFile
from standmap.survey.frame import WorkingFrame

NOW = datetime(2026, 3, 28, 9, tzinfo=UTC)
FRAME = WorkingFrame(27.6, 61.9)
SHIFT = (1.2, -0.9)


def lonlat(x: float, y: float) -> LonLat:
    """Return a position of the frame."""
    lon, lat = FRAME.to_lonlat(np.array([x]), np.array([y]))
    return float(lon[0]), float(lat[0])


def metres(at: LonLat) -> tuple[float, float]:
    """Return metres east and north."""
    x, y = FRAME.to_xy(np.array([at[0]]), np.array([at[1]]))
    return float(x[0]), float(y[0])


def truth() -> dict[str, tuple[float, float]]:
    """Return where the trees truly stand, B1 to B9, metres: rows of three, five metres apart."""
    return {f"B{1 + 3 * i + j}": (5.0 * j, 5.0 * i) for i in range(3) for j in range(3)}


def sight(keys: dict[str, str], start: str, end: str, number: int, **fields: object) -> Sight:
    """Return a true sight from one tree to another."""
    a, b = truth()[start], truth()[end]
    bearing = math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) % 360
    made: dict[str, object] = {
        "bearing_deg": round(bearing, 1) % 360,
        "north": North.TRUE,
        "distance_m": round(math.dist(a, b), 2),
        "given": f"{math.dist(a, b):.2f}",
        "given_unit": "m",
        "written_at": f"line {number}",
    } | fields
    return Sight(new_key(), keys[start], keys[end], **made)  # type: ignore[arg-type]


PAIRS = [
    *[(f"B{n}", f"B{n + 1}") for n in (1, 2, 4, 5, 7, 8)],
    *[(f"B{n}", f"B{n + 3}") for n in range(1, 7)],
    *[(f"B{n}", f"B{n + 4}") for n in (1, 2, 4, 5)],
]


def wood(path: Path, **misread: object) -> dict[str, str]:
    """Make a stand of nine trees, stopped at on one walk and sighted between; return their keys by name.

    Parameters
    ----------
    misread
        Fields of the sight from B4 to B7 in place of the true ones.
    """
    rng = np.random.default_rng(4)
    keys = {name: new_key() for name in truth()}
    two = np.array([0.0, 1.0])
    walk = Walk(new_key(), "morning", Fixes(two, two, two, two, two, np.zeros(2, dtype=np.int32)))
    with StandFile.create(path) as file, file.writing("make", NOW) as writing:
        writing.set_setting(FRAME_SETTING, {"lon0": FRAME.lon0, "lat0": FRAME.lat0})
        writing.insert(walk)
        for number, (name, (x, y)) in enumerate(truth().items()):
            east, north = rng.normal(0, 2.0, 2)
            at = lonlat(x + SHIFT[0] + east, y + SHIFT[1] + north)
            start = NOW + timedelta(minutes=number)
            writing.insert(
                Tree(keys[name], name, at, var_e_m2=6.25, var_n_m2=6.25, cov_en_m2=0.0, walk_key=walk.key),
                Stop(
                    new_key(),
                    walk.key,
                    at,
                    start,
                    start + timedelta(seconds=40),
                    40,
                    6.25,
                    6.25,
                    0.0,
                    tree_key=keys[name],
                    shared_m2=2.25,
                ),
            )
        for number, (a, b) in enumerate(PAIRS, 2):
            fields = misread if (a, b) == ("B4", "B7") else {}
            writing.insert(sight(keys, a, b, number, **fields))
    return keys
