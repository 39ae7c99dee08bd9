"""Mapped paths as a network: points a few metres apart at which one may leave or enter them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers
from standmap.rounds.ground import Course

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

APART_M = 4.0
"""Points of a path are at most this far apart: a path entered 2 m from the best spot, 10 m off, costs 0.2 m."""

FINEST_BEND_M = 0.25
"""Smaller bends of a path are straightened: receivers do not see them."""

MOST_POINTS = 800
"""With more points than this, paths are drawn coarser."""

COARSEST_BEND_M = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Points of paths and the pieces between them.

    Attributes
    ----------
    points
        Shape (p, 2), metres.
    pieces
        Shape (q, 2): the two points of each piece, each piece once; none touches a barrier.
    """

    points: FloatArray
    pieces: IntArray


def network(paths: tuple[Course, ...], barriers: Barriers) -> Network:
    """Return the paths that can be walked, joined where they cross.

    Pieces that touch a barrier are left out: a path does not lead through a no-go area, nor over a stream without a
    bridge or ford.
    """
    apart, bend = APART_M, FINEST_BEND_M
    while True:
        found = _drawn(paths, barriers, apart, bend)
        if len(found.points) <= MOST_POINTS or bend >= COARSEST_BEND_M:
            return found
        apart, bend = 2 * apart, 2 * bend


def _drawn(paths: tuple[Course, ...], barriers: Barriers, apart: float, bend: float) -> Network:
    import shapely

    if not paths:
        return Network(np.zeros((0, 2)), np.zeros((0, 2), np.intp))
    lines = shapely.simplify([shapely.linestrings(path.points) for path in paths], bend)
    # The union breaks lines where they cross, so that one can turn there.
    parts = shapely.segmentize(shapely.get_parts(shapely.union_all(lines)), apart)
    ends = np.concatenate([np.stack([c[:-1], c[1:]], axis=1) for c in map(shapely.get_coordinates, parts)])
    ends = ends[~barriers.touched(shapely.linestrings(ends))]
    points, number = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    pieces = np.unique(np.sort(number.reshape(-1, 2), axis=1), axis=0)
    return Network(points, pieces[pieces[:, 0] != pieces[:, 1]].astype(np.intp))
