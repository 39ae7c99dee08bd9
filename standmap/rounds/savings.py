"""A first whole set of trips, at once: join two trips wherever walking through saves most."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Trips = tuple[tuple[int, ...], ...]
"""For each trip the places visited, in order, without the depot."""


def first_trips(cost: NDArray[np.float64], loads: NDArray[np.int64], capacity: int) -> Trips:
    """Return trips that hold every place once and never more than the capacity.

    Parameters
    ----------
    cost
        Shape (n + 1, n + 1), symmetric; place 0 is the depot.
    loads
        Shape (n,), of places 1 to n, none above the capacity.
    capacity
        Same unit.

    Notes
    -----
    G. Clarke and J. W. Wright, "Scheduling of vehicles from a central depot to a number of delivery points",
    Operations Research 12 (1964) 568-581 (from memory).
    """
    n = len(loads)
    saving = cost[1:, :1] + cost[:1, 1:] - cost[1:, 1:]
    i, j = np.triu_indices(n, 1)
    by_saving = np.argsort(-saving[i, j], kind="stable")
    by_saving = by_saving[saving[i, j][by_saving] > 0]
    trips = {place: [place] for place in range(1, n + 1)}
    trip_of = list(range(n + 1))
    weight = [0, *loads.tolist()]
    for a, b in zip((i[by_saving] + 1).tolist(), (j[by_saving] + 1).tolist(), strict=True):
        one, other = trip_of[a], trip_of[b]
        if one == other or weight[one] + weight[other] > capacity:
            continue
        head, tail = trips[one], trips[other]
        if a not in (head[0], head[-1]) or b not in (tail[0], tail[-1]):
            continue
        if head[-1] != a:
            head.reverse()
        if tail[0] != b:
            tail.reverse()
        for place in tail:
            trip_of[place] = one
        head.extend(tail)
        weight[one] += weight[other]
        del trips[other]
    return tuple(tuple(trip) for trip in trips.values())


def cost_of_trips(trips: Trips, cost: NDArray[np.float64]) -> float:
    """Return the cost of all trips, each from the depot and back to it."""
    return float(sum(cost[[0, *trip], [*trip, 0]].sum() for trip in trips))


def fewest(trips: Trips, loads: NDArray[np.int64], capacity: int) -> Trips:
    """Return the trips with those joined that one can carry together, the lightest first.

    Two walks from the depot, one after the other without the stop between, are never longer than the two; so nobody
    is sent out twice for nothing where taps stand at the gate.
    """
    waiting = sorted(((int(loads[np.array(trip) - 1].sum()), trip) for trip in trips if trip), reverse=True)
    done: list[tuple[int, ...]] = []
    while waiting:
        load, trip = waiting.pop()
        fits = [i for i, (other, _) in enumerate(waiting) if load + other <= capacity]
        if fits:
            other, longer = waiting[fits[0]]
            waiting[fits[0]] = (load + other, longer + trip)
            waiting.sort(reverse=True)
        else:
            done.append(trip)
    return tuple(done)
