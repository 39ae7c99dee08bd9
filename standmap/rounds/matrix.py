"""What both engines ask of a matrix of costs, and places at one spot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Order = NDArray[np.intp]


def check_costs(cost: FloatArray) -> None:
    """Refuse a matrix that is no table of costs.

    Raises
    ------
    ValueError
        If it is not square, finite, symmetric, at least 0 everywhere and 0 from a place to itself.
    """
    if cost.ndim != 2 or len(cost) == 0 or cost.shape[0] != cost.shape[1]:
        raise ValueError(f"costs must be a square matrix, not of shape {cost.shape}")
    if not np.isfinite(cost).all() or (cost < 0).any() or np.diagonal(cost).any():
        raise ValueError("costs must be finite, not negative, and nothing from a place to itself")
    if not np.array_equal(cost, cost.T):
        raise ValueError("costs must be the same both ways")


def one_a_spot(cost: FloatArray) -> tuple[Order, list[Order]]:
    """Return one place for each spot and, for each, all places there: two holes of one tree need no search.

    Places are at one spot when it costs nothing to go between them and the same from both to everywhere.
    """
    same = np.eye(len(cost), dtype=bool)
    for i, j in np.argwhere(np.triu(cost == 0, 1)):
        same[i, j] = same[j, i] = bool((cost[i] == cost[j]).all())
    first = same.argmax(axis=1)
    firsts = np.unique(first)
    return firsts, [np.flatnonzero(first == place) for place in firsts]


def is_whole(cost: FloatArray) -> bool:
    """Return whether all costs are whole numbers."""
    return bool(np.array_equal(cost, np.rint(cost)))
