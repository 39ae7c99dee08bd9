"""Positions in the stand's working frame: how far apart, and which trees stand so close that one asks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.stand.tree import LonLat, Tree

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame


def xy(frame: WorkingFrame, points: Sequence[LonLat]) -> NDArray[np.float64]:
    """Return positions in the working frame, metres, shape (n, 2); NaN where one is out of the frame's reach."""
    lonlat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    found = np.full(lonlat.shape, np.nan)
    near = frame.reaches(lonlat[:, 0], lonlat[:, 1])
    found[near] = np.column_stack(frame.to_xy(lonlat[near, 0], lonlat[near, 1]))
    return found


def apart_m(frame: WorkingFrame, a: LonLat, b: LonLat) -> float:
    """Return how far two positions are apart, metres; on a sphere where one is out of the frame's reach."""
    first, second = xy(frame, [a, b])
    apart = float(np.hypot(*(first - second)))
    if np.isfinite(apart):
        return apart
    from standmap.survey.frame import rough_distance_m

    return float(rough_distance_m(np.array([a[0]]), np.array([a[1]]), *b)[0])


def close_trees(frame: WorkingFrame, trees: Sequence[Tree]) -> Iterator[tuple[int, int, float]]:
    """Yield pairs of trees that stand within half a metre and are not known to share a rootstock, with their distance.

    One rootstock, or one tree twice: a person is asked.
    """
    from standmap.survey.checks import SAME_PLACE_M, close_pairs

    places = xy(frame, [t.at for t in trees])
    reached = np.flatnonzero(np.isfinite(places[:, 0]))
    for i, j in close_pairs(places[reached], SAME_PLACE_M):
        a, b = int(reached[i]), int(reached[j])
        if not (trees[a].rootstock and trees[a].rootstock == trees[b].rootstock):
            yield a, b, float(np.hypot(*(places[a] - places[b])))
