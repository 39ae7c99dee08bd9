"""Improving one closed walk on its exact costs: turn a stretch round, or move a few places elsewhere."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LONGEST_MOVED = 3
"""Up to this many neighbouring places are moved together."""

NOT_WORTH = 1e-12
"""Gains below this part of the whole walk are rounding."""


def cost_of(order: NDArray[np.intp], cost: NDArray[np.float64]) -> float:
    """Return the cost of a closed walk, the way back included."""
    return float(cost[order, np.roll(order, -1)].sum())


def nearest_first(cost: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the walk from place 0 that always goes to the nearest place not yet visited."""
    n = len(cost)
    order = np.zeros(n, dtype=np.intp)
    waiting = np.ones(n, dtype=bool)
    waiting[0] = False
    for step in range(1, n):
        order[step] = np.where(waiting, cost[order[step - 1]], np.inf).argmin()
        waiting[order[step]] = False
    return order


def improved(order: NDArray[np.intp], cost: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the walk after the best move again and again until none helps; it still begins with place 0.

    Parameters
    ----------
    order
        Shape (n,), a permutation that begins with 0.
    cost
        Shape (n, n), symmetric, finite.
    """
    if len(order) < 5:
        return order
    smallest = NOT_WORTH * max(cost_of(order, cost), 1.0)
    while True:
        turn_gain, turned = _best_turn(order, cost)
        move_gain, moved = _best_move(order, cost)
        if max(turn_gain, move_gain) <= smallest:
            return np.roll(order, -int(np.flatnonzero(order == 0)[0]))
        order = turned if turn_gain >= move_gain else moved


def _best_turn(order: NDArray[np.intp], cost: NDArray[np.float64]) -> tuple[float, NDArray[np.intp]]:
    """Return the gain of the best reversal of a stretch (2-opt) and the walk after it."""
    along = cost[np.ix_(order, order)]
    after = np.roll(along, (-1, -1), axis=(0, 1))
    leg = cost[order, np.roll(order, -1)]
    gain = leg[:, None] + leg[None, :] - along - after
    np.fill_diagonal(gain, -np.inf)
    i, j = sorted(int(k) for k in np.unravel_index(gain.argmax(), gain.shape))
    turned = order.copy()
    turned[i + 1 : j + 1] = order[i + 1 : j + 1][::-1]
    return float(gain[i, j]), turned


def _best_move(order: NDArray[np.intp], cost: NDArray[np.float64]) -> tuple[float, NDArray[np.intp]]:
    """Return the gain of the best move of one to three places, either way round, and the walk after it."""
    n = len(order)
    best_gain, best = 0.0, order
    along = cost[np.ix_(order, order)]
    leg = np.diagonal(np.roll(along, -1, axis=1))
    at = np.arange(n)
    for length in range(1, min(LONGEST_MOVED, n - 3) + 1):
        last, before, after = (at + length - 1) % n, (at - 1) % n, (at + length) % n
        inside = sum((leg[(at + k) % n] for k in range(length - 1)), start=np.zeros(n))
        removed = leg[before] + inside + leg[last] - along[before, after]
        # Rows: the stretch that begins at i; columns: the leg from j to j+1 that takes it up.
        onward = along + np.roll(along, -1, axis=1)[last, :] + inside[:, None] - leg[None, :]
        turned = along[last, :] + np.roll(along, -1, axis=1) + inside[:, None] - leg[None, :]
        gain = removed[:, None] - np.minimum(onward, turned)
        for k in range(-1, length):
            gain[at, (at + k) % n] = -np.inf
        i, j = (int(k) for k in np.unravel_index(gain.argmax(), gain.shape))
        if gain[i, j] > best_gain:
            rolled = np.roll(order, -i)
            stretch, rest = rolled[:length], rolled[length:]
            cut = (j - i) % n - length + 1
            if turned[i, j] < onward[i, j]:
                stretch = stretch[::-1]
            best_gain, best = float(gain[i, j]), np.concatenate([rest[:cut], stretch, rest[cut:]])
    return best_gain, best
