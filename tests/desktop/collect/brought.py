"""What a phone and a receiver bring home from a walk that was given out, as their files."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np

from standmap.jobs.given_walk import GivenStop, GivenWalk
from standmap.stand.tree import LonLat

M_PER_DEG = 111_320.0
PACE_M_PER_S = 1.0
STAY_S = 60


def entry(stop: GivenStop, at: datetime, **more: object) -> dict[str, object]:
    """Return what a phone writes of one stop that was done."""
    common = {"stop": stop.key, "tree": "?", "hole": stop.hole_number, "trip": 1, "at": at.isoformat()}
    return {**common, "what": "done", **more}


def returns_file(path: Path, walk: GivenWalk, stops: Sequence[dict[str, object]]) -> Path:
    """Write what a phone saves after a walk."""
    at = datetime.fromisoformat(f"{walk.day.isoformat()}T08:00:00").astimezone()
    held = {
        "format": "standmap returns",
        "version": 1,
        "plan": walk.key,
        "page": "1",
        "purpose": str(walk.purpose),
        "day": walk.day.isoformat(),
        "collector": 1,
        "written_at": at.isoformat(),
        "stops": list(stops),
        "trips": [],
    }
    path.write_text(json.dumps(held))
    return path


def track_file(path: Path, walk: GivenWalk, places: Sequence[LonLat]) -> Path:
    """Write the track of somebody who walks straight from place to place, a minute at each, and back to the start."""
    begin = walk.trips[0].course[0]
    way = [begin, *places, begin]
    began = datetime.fromisoformat(f"{walk.day.isoformat()}T06:00:00").astimezone()
    points: list[LonLat] = []
    for a, b in pairwise(way):
        east = (b[0] - a[0]) * M_PER_DEG * float(np.cos(np.radians(a[1])))
        north = (b[1] - a[1]) * M_PER_DEG
        steps = int(np.hypot(east, north) / PACE_M_PER_S) + 1
        points += [(a[0] + (b[0] - a[0]) * k / steps, a[1] + (b[1] - a[1]) * k / steps) for k in range(steps)]
        points += [b] * STAY_S
    rows = "".join(
        f'<trkpt lon="{lon:.7f}" lat="{lat:.7f}"><time>{(began + timedelta(seconds=k)).isoformat()}</time></trkpt>'
        for k, (lon, lat) in enumerate(points)
    )
    path.write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{rows}</trkseg></trk></gpx>"
    )
    return path
