"""Which points lie in a box or about a place, found quickly among very many. No Qt here."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

ONE_TREE_M = 0.5
"""Stems no farther apart are one tree to the eye: how far apart trees stand does not depend on them."""

NEIGHBOUR = 3
"""Which neighbour is measured to: in a grid the third is as far as the first, in a wood the first is often a chance."""

MOST_ASKED = 500
"""So many trees tell how far apart all of them stand."""


class Nearby:
    """Points sorted from west to east: a strip is looked up, the rest is array work.

    A point far off by mistake costs nothing, which a grid of cells could not say.

    Parameters
    ----------
    xy
        Metres, shape (n, 2); rows with NaN are never found.
    """

    def __init__(self, xy: FloatArray) -> None:
        known = np.flatnonzero(np.isfinite(xy).all(axis=1))
        self._rows: IntArray = known[np.argsort(xy[known, 0], kind="stable")]
        self._x = np.ascontiguousarray(xy[self._rows, 0])
        self._y = np.ascontiguousarray(xy[self._rows, 1])

    def within(self, box: tuple[float, float, float, float]) -> IntArray:
        """Return the rows in a box (least x, least y, most x, most y), edges included, in no set order."""
        first, last = np.searchsorted(self._x, (box[0], np.nextafter(box[2], np.inf)))
        y = self._y[first:last]
        return self._rows[first:last][(y >= box[1]) & (y <= box[3])]

    def about(self, x: float, y: float, reach: float) -> tuple[IntArray, FloatArray]:
        """Return the rows no farther from a place than `reach`, the nearest first, and their distances."""
        first, last = np.searchsorted(self._x, (x - reach, np.nextafter(x + reach, np.inf)))
        away = np.hypot(self._x[first:last] - x, self._y[first:last] - y)
        near = np.flatnonzero(away <= reach)
        near = near[np.argsort(away[near], kind="stable")]
        return self._rows[first:last][near], away[near]


def spacing_m(xy: FloatArray) -> float:
    """Return about how far apart trees stand, metres; infinite where there are not two places of trees.

    The middle one of the distances from a tree to one of its nearest neighbours. Stems of one rootstock count as one
    tree; a tree put far off by mistake, or an empty meadow between two woods, does not count.
    """
    known = xy[np.isfinite(xy).all(axis=1)]
    cells = np.floor(known / ONE_TREE_M).astype(np.int64)
    spots = known[np.unique(cells[:, 0] * 2**31 + cells[:, 1], return_index=True)[1]]
    if len(spots) < 2:
        return float("inf")
    neighbour = min(NEIGHBOUR, (len(spots) + 1) // 3)
    nearby, found, reach = Nearby(spots), [], ONE_TREE_M
    for x, y in spots[:: -(-len(spots) // MOST_ASKED)].tolist():
        while len(away := nearby.about(x, y, reach)[1]) <= neighbour:
            reach *= 2
        found.append(float(away[neighbour]))
        reach = 1.5 * found[-1]  # the next tree has its neighbours about as far away
    return float(np.median(found))
