"""The engine of `round` on published instances: the shortest walks, and trips beside the best known.

Sources: TSPLIB95 (Reinelt 1991, ORSA Journal on Computing 3(4), 376-384) and CVRPLIB; tests/data/tsp/README.md and
tests/data/cvrp/README.md.
"""

from __future__ import annotations

import pytest

from standmap.rounds.closed import closed_walk
from standmap.rounds.stop import FirstOf, MaxSeconds, StopRule
from standmap.rounds.trips import several_trips
from tests.outside.route_files import BEST_TRIPS, OPTIMA, read_instance, read_tour, read_trips, walked


class Reached:
    """Stops when a cost is reached."""

    def __init__(self, cost: float) -> None:
        self.cost = cost

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:  # noqa: ARG002
        return best_cost <= self.cost


def until(cost: float, seconds: float) -> StopRule:
    return FirstOf(Reached(cost), MaxSeconds(seconds))


@pytest.mark.parametrize("name", OPTIMA)
def test_the_published_walk_costs_what_is_published(name: str) -> None:
    cost = read_instance("tsp", name).cost
    tour = read_tour(name)
    assert sorted(tour) == list(range(len(cost)))
    assert walked(cost, tour) == OPTIMA[name]


@pytest.mark.parametrize("name", OPTIMA)
def test_one_closed_walk_is_the_shortest(name: str) -> None:
    cost = read_instance("tsp", name).cost
    found = closed_walk(cost, stop=until(OPTIMA[name], 60))
    assert sorted(found.order) == list(range(len(cost)))
    assert walked(cost, list(found.order)) == found.cost == OPTIMA[name]


@pytest.mark.parametrize("name", ["A-n32-k5", "X-n101-k25"])
def test_the_published_trips_cost_what_is_published(name: str) -> None:
    instance = read_instance("cvrp", name)
    trips = read_trips(name)
    assert sorted(p for t in trips for p in t) == list(range(1, len(instance.cost)))
    assert all(instance.loads[[p - 1 for p in t]].sum() <= instance.capacity for t in trips)
    assert sum(walked(instance.cost, [0, *t]) for t in trips) == BEST_TRIPS[name]


@pytest.mark.parametrize(("name", "gap"), [("A-n32-k5", 0.0), ("E-n22-k4", 0.0), ("X-n101-k25", 0.02)])
def test_several_trips_beside_the_best_known(name: str, gap: float) -> None:
    instance = read_instance("cvrp", name)
    best = BEST_TRIPS[name]
    rule = until(best * (1 + gap), 60)
    found = several_trips(instance.cost, instance.loads, instance.capacity, stop=rule, seed=1)
    assert sorted(p for t in found.trips for p in t) == list(range(1, len(instance.cost)))
    assert all(instance.loads[[p - 1 for p in t]].sum() <= instance.capacity for t in found.trips)
    assert sum(walked(instance.cost, [0, *t]) for t in found.trips) == found.cost
    assert best <= found.cost <= best * (1 + gap)
