"""The shortest trips through a few places, shown by looking at every way of dividing them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.held_karp import shortest_ways_out, walked
from standmap.rounds.savings import Trips

FloatArray = NDArray[np.float64]

MOST_FEW = 12
"""Of twelve places there are 4096 sets and half a million ways to split one off: a fifth of a second in all."""


def shortest_trips(cost: FloatArray, loads: NDArray[np.int64], capacity: int) -> Trips:
    """Return the shortest trips that visit every place and never carry more than the capacity.

    Parameters
    ----------
    cost
        Shape (n + 1, n + 1), symmetric; place 0 is the depot; n from 1 to `MOST_FEW`.
    loads
        Shape (n,), each at most the capacity.

    Returns
    -------
    tuple
        For each trip its places in the order walked, counted from 1.

    Notes
    -----
    Held and Karp's recursion gives the shortest trip through every set of places; a second one over the sets chooses
    the trip that holds the lowest place left.
    """
    count = len(loads)
    reach = shortest_ways_out(cost)
    closed = (reach + cost[0, 1:]).min(axis=1)
    end = (reach + cost[0, 1:]).argmin(axis=1)
    sets = np.arange(1 << count)
    weight = ((sets[:, None] >> np.arange(count)) & 1) @ loads
    closed[weight > capacity] = np.inf
    prices = closed.tolist()
    best = [0.0] + [np.inf] * ((1 << count) - 1)
    choice = [0] * (1 << count)
    for whole in range(1, 1 << count):
        lowest = whole & -whole
        rest = part = whole ^ lowest
        while True:  # every set that holds the lowest place
            price = prices[part | lowest] + best[rest ^ part]
            if price < best[whole]:
                best[whole], choice[whole] = price, part | lowest
            if part == 0:
                break
            part = (part - 1) & rest
    trips = []
    left = (1 << count) - 1
    while left:
        trip = choice[left]
        trips.append(tuple(place + 1 for place in walked(reach, cost, trip, int(end[trip]))))
        left ^= trip
    return tuple(trips)
