"""Points spread evenly over ground with heights, so that a way can bend where going round a slope pays."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers
from standmap.rounds.heights import Heights

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

MARGIN_M = 40.0
"""How far beyond the outermost place the points are spread."""

MOST_POINTS = 7000
"""The points stand at least a cell of the heights apart, and so far that there are no more than these."""

FEWEST_POINTS, MOST_PAIRS = 2000, 2_000_000
"""With many places there are fewer, so that times and memory stay within bounds: this many pairs of place and point."""

_NEAR = ((1, 0), (0, 1), (1, 1), (1, -1), (2, 1), (1, 2), (2, -1), (1, -2))
_FAR = ((3, 1), (1, 3), (3, -1), (1, -3), (3, 2), (2, 3), (3, -2), (2, -3))
OFFSETS = _NEAR + _FAR
"""To which neighbours one steps; with the steps back these are 32 directions."""

REACH = 1.6
"""Every other point is joined to those within this many spacings."""


def lattice(about: FloatArray, heights: Heights, barriers: Barriers) -> tuple[FloatArray, IntArray, float]:
    """Return points over the ground about some places, pairs of neighbours among them, and their spacing in metres.

    Parameters
    ----------
    about
        Shape (n, 2), n at least 1.

    Returns
    -------
    Points of shape (g, 2), none of them on a barrier or where heights are not known; pairs of shape (p, 2).
    """
    import shapely

    low, high = about.min(axis=0) - MARGIN_M, about.max(axis=0) + MARGIN_M
    most = min(MOST_POINTS, max(FEWEST_POINTS, MOST_PAIRS // len(about)))
    apart = max(heights.cell_m, math.sqrt(float(np.prod(high - low)) / most))
    columns, rows = (math.floor(side / apart) + 1 for side in (high - low).tolist())
    column, row = np.meshgrid(np.arange(columns), np.arange(rows), indexing="ij")
    points = low + apart * np.stack([column, row], axis=-1)
    usable = np.isfinite(heights.at(points)) & ~barriers.touched(shapely.points(points))
    number = np.full(usable.shape, -1, np.intp)
    number[usable] = np.arange(usable.sum())
    pairs = []
    for across, up in OFFSETS:
        # Where a neighbour lies, the two parts of the table that stand so far apart cover each other.
        first = number[: columns - across, max(0, -up) : rows - max(0, up)]
        second = number[across:, max(0, up) : rows + min(0, up)]
        both = (first >= 0) & (second >= 0)
        pairs.append(np.column_stack([first[both], second[both]]))
    return points[usable], np.concatenate(pairs), apart
