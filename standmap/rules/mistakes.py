"""Trees that could be taken for one another in the wood: their position ellipses overlap.

Two positions a and b with covariances A and B cannot be told apart when d' (A + B)^-1 d, d = a - b, is below the 95 %
quantile of chi-square with two degrees of freedom, 5.991 (= -2 ln 0.05).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from standmap.rules.ground import FloatArray, GroundContext, Spots

CHI2_95 = -2 * math.log(0.05)
"""95 % quantile of chi-square with two degrees of freedom."""

FLOOR_M2 = 1e-6
"""Added to every variance: a position said to be without error is still not better than a millimetre."""

CHUNK = 512
"""Trees whose neighbours are looked at together; bounds the memory of a dense wood."""

IntArray = NDArray[np.int64]


def squared_distance(spots: Spots, a: IntArray, b: IntArray) -> FloatArray:
    """Return the squared distance of two positions in units of their common error.

    Parameters
    ----------
    a, b
        Rows of `spots`, shapes that broadcast.
    """
    dx, dy = spots.x_m[a] - spots.x_m[b], spots.y_m[a] - spots.y_m[b]
    see = spots.var_e_m2[a] + spots.var_e_m2[b] + FLOOR_M2
    snn = spots.var_n_m2[a] + spots.var_n_m2[b] + FLOOR_M2
    sen = spots.cov_en_m2[a] + spots.cov_en_m2[b]
    # A covariance that no pair of variances allows is no covariance: the axes are taken alone.
    sen = np.where(sen * sen < see * snn, sen, 0.0)
    squared: FloatArray = (snn * dx * dx - 2 * sen * dx * dy + see * dy * dy) / (see * snn - sen * sen)
    return squared


def alike(spots: Spots, row: int) -> list[int]:
    """Return the rows that could be mistaken for this one, the likeliest first."""
    squared = squared_distance(spots, np.array([row]), np.arange(len(spots.x_m)))
    found = [int(i) for i in np.flatnonzero(squared < CHI2_95) if i != row]
    return sorted(found, key=lambda i: (squared[i], i))


def stopped_at(ground: GroundContext, rows: IntArray) -> Iterator[tuple[int, list[int]]]:
    """Yield each of `rows` at which a stop may have been made that nobody has decided, with those stops."""
    trees, stops = ground.spots, ground.undecided
    if not len(stops.x_m):
        return
    count = len(trees.x_m)
    both = Spots(
        *(
            np.concatenate([getattr(trees, column), getattr(stops, column)])
            for column in ("x_m", "y_m", "var_e_m2", "var_n_m2", "cov_en_m2")
        )
    )
    for row, beside in alike_among(both, rows, count + np.arange(len(stops.x_m))):
        yield row, [stop - count for stop in beside]


def alike_among(spots: Spots, rows: IntArray, others: IntArray) -> Iterator[tuple[int, list[int]]]:
    """Yield each of `rows` that could be mistaken for any of `others`, with those, the likeliest first."""
    if not len(rows) or not len(others):
        return
    import shapely

    # Two ellipses can overlap only if discs of their longest half axes do, and so do the discs' boxes.
    half = np.hypot((spots.var_e_m2 - spots.var_n_m2) / 2, spots.cov_en_m2)
    widest = np.sqrt(CHI2_95 * ((spots.var_e_m2 + spots.var_n_m2) / 2 + half + FLOOR_M2))
    low_x, high_x = spots.x_m - widest, spots.x_m + widest
    low_y, high_y = spots.y_m - widest, spots.y_m + widest
    index = shapely.STRtree(shapely.box(low_x[others], low_y[others], high_x[others], high_y[others]))
    for start in range(0, len(rows), CHUNK):
        some = rows[start : start + CHUNK]
        asked, met = index.query(shapely.box(low_x[some], low_y[some], high_x[some], high_y[some]))
        a, b = some[asked], others[met]
        squared = squared_distance(spots, a, b)
        keep = (squared < CHI2_95) & (a != b)
        a, b, squared = a[keep], b[keep], squared[keep]
        order = np.lexsort((b, squared, a))
        a, b = a[order], b[order]
        asked_rows, starts = np.unique(a, return_index=True)
        for row, beside in zip(asked_rows, np.split(b, starts)[1:], strict=True):
            yield int(row), [int(i) for i in beside]
