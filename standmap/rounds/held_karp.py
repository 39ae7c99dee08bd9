"""The shortest closed walk over a few places, by dynamic programming over subsets."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

MOST_PLACES = 13
"""A depot and twelve taps: a few milliseconds."""


def shortest_closed(cost: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the order of the shortest closed walk from place 0, without the return to it.

    Parameters
    ----------
    cost
        Shape (n, n), symmetric or not, finite; n at most `MOST_PLACES`.

    Returns
    -------
    NDArray
        Shape (n,), a permutation of range(n) that begins with 0.

    Raises
    ------
    ValueError
        If n is too large.

    Notes
    -----
    M. Held and R. M. Karp, "A dynamic programming approach to sequencing problems", J. SIAM 10 (1962) 196-210
    (from memory).
    """
    n = len(cost)
    if n > MOST_PLACES:
        raise ValueError(f"at most {MOST_PLACES} places, not {n}")
    if n <= 3:
        return np.arange(n)
    reach = shortest_ways_out(cost)
    every = (1 << (n - 1)) - 1
    end = int((reach[every] + cost[1:, 0]).argmin())
    return np.concatenate([[0], np.array(walked(reach, cost, every, end)) + 1])


def shortest_ways_out(cost: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return, for every set of places but 0, the least cost of leaving 0 and visiting it, ending in each of its places.

    Returns
    -------
    NDArray
        Shape (2**m, m) for m places beside 0; row s is the set of the bits of s, infinite where a place is not in it.
    """
    m = len(cost) - 1
    inner, out = cost[1:, 1:], cost[0, 1:]
    sets = np.arange(1 << m)
    size = np.zeros(1 << m, dtype=np.intp)
    for j in range(m):
        size += (sets >> j) & 1
    reach = np.full((1 << m, m), np.inf)
    reach[1 << np.arange(m), np.arange(m)] = out
    for k in range(2, m + 1):
        of_size = sets[size == k]
        for j in range(m):
            with_j = of_size[(of_size >> j) & 1 == 1]
            reach[with_j, j] = (reach[with_j ^ (1 << j)] + inner[:, j]).min(axis=1)
    return reach


def walked(reach: NDArray[np.float64], cost: NDArray[np.float64], places: int, end: int) -> list[int]:
    """Return the order of the shortest way through a set that ends in one of its places, places counted from 0."""
    inner = cost[1:, 1:]
    order = [end]
    left = places ^ (1 << end)
    while left:
        end = int((reach[left] + inner[:, end]).argmin())
        order.append(end)
        left ^= 1 << end
    return order[::-1]
