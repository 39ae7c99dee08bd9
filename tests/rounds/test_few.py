"""A few places: the trips shown to be the shortest are those that trying every order and division finds."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rounds.few import MOST_FEW, shortest_trips
from standmap.rounds.savings import cost_of_trips

numbers = st.integers(0, 60)


def by_trying(cost: np.ndarray, loads: np.ndarray, capacity: int) -> float:
    """Return the least cost over every order of the places and every way of cutting it into trips."""
    count, best = len(loads), np.inf
    for order in permutations(range(1, count + 1)):
        for cuts in product((False, True), repeat=count - 1):
            trips, trip = [], [order[0]]
            for cut, place in zip(cuts, order[1:], strict=True):
                if cut:
                    trips.append(trip)
                    trip = []
                trip.append(place)
            trips.append(trip)
            if all(sum(loads[p - 1] for p in t) <= capacity for t in trips):
                best = min(best, cost_of_trips(tuple(tuple(t) for t in trips), cost))
    return float(best)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(numbers, numbers, st.integers(1, 9)), min_size=1, max_size=5), st.integers(9, 24))
def test_nothing_that_can_be_tried_is_shorter(places: list[tuple[int, int, int]], capacity: int) -> None:
    xy = np.array([(0, 0), *[(x, y) for x, y, _ in places]], dtype=float)
    loads = np.array([load for _, _, load in places])
    cost = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    trips = shortest_trips(cost, loads, capacity)
    assert sorted(p for t in trips for p in t) == list(range(1, len(loads) + 1))
    assert all(sum(loads[p - 1] for p in t) <= capacity for t in trips)
    found = cost_of_trips(trips, cost)
    assert found <= by_trying(cost, loads, capacity) + 1e-9


def test_the_most_places_it_takes() -> None:
    chance = np.random.default_rng(3)
    xy = chance.uniform(0, 300, (MOST_FEW + 1, 2))
    cost = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    trips = shortest_trips(cost, np.full(MOST_FEW, 3), 12)
    assert sorted(p for t in trips for p in t) == list(range(1, MOST_FEW + 1))
    assert max(len(t) for t in trips) <= 4
