"""Several trips: whole, light enough, repeatable, and never worse than at first."""

from __future__ import annotations

from time import perf_counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from standmap.progress import Unwatched
from standmap.rounds.savings import cost_of_trips, first_trips
from standmap.rounds.stop import MaxIterations, MaxSeconds
from standmap.rounds.trips import TripsFound, several_trips
from standmap.rounds.watch import Ending

Matrix = NDArray[np.float64]


def scattered(n: int, seed: int) -> tuple[Matrix, NDArray[np.int64]]:
    random = np.random.default_rng(seed)
    points = random.uniform(-100, 100, (n + 1, 2))
    return np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1)), random.integers(0, 40, n)


def whole(found: TripsFound, cost: Matrix, loads: NDArray[np.int64], capacity: int) -> bool:
    visited = sorted(place for trip in found.trips for place in trip)
    light = all(loads[np.array(trip) - 1].sum() <= capacity for trip in found.trips)
    return visited == list(range(1, len(loads) + 1)) and light and found.cost == cost_of_trips(found.trips, cost)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 25), st.integers(0, 10_000), st.integers(39, 400), st.integers(0, 40))
def test_every_place_is_visited_once_and_no_trip_is_too_heavy(n: int, seed: int, capacity: int, steps: int) -> None:
    cost, loads = scattered(n, seed)
    told: list[TripsFound] = []
    found = several_trips(cost, loads, capacity, stop=MaxIterations(steps), seed=seed, on_best=told.append)
    assert all(whole(trips, cost, loads, capacity) for trips in (*told, found))
    costs = [trips.cost for trips in told]
    assert costs == sorted(costs, reverse=True)
    assert costs[-1] == found.cost
    assert found.repeatable
    assert found.lower_bound is None or found.lower_bound <= found.cost


def test_the_same_seed_gives_the_same_trips_when_nothing_is_proved() -> None:
    cost, loads = scattered(60, 3)
    first, again = (several_trips(cost, loads, 200, stop=MaxIterations(300), seed=5) for _ in range(2))
    assert first == again
    assert first.stopped is Ending.RULE
    assert not first.proved


def test_small_trips_are_proved_and_repeat() -> None:
    random = np.random.default_rng(9)
    points = random.uniform(-150, 150, (31, 2))
    cost = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    loads = random.integers(2700, 4300, 30)
    found = several_trips(cost, loads, 13_000, seed=1)
    assert found.proved
    assert found.lower_bound == found.cost
    assert found.stopped is Ending.PROVED
    assert several_trips(cost, loads, 13_000, seed=1) == found
    assert several_trips(cost, loads, 13_000, seed=2).cost == pytest.approx(found.cost, rel=1e-6)


def test_an_end_by_the_clock_or_the_person_is_told() -> None:
    class Asked(Unwatched):
        def stop_wanted(self) -> bool:
            return True

    cost, loads = scattered(40, 1)
    by_clock = several_trips(cost, loads, 100, stop=MaxSeconds(0.05))
    by_person = several_trips(cost, loads, 100, progress=Asked())
    for found, ending in ((by_clock, Ending.TIME), (by_person, Ending.ASKED)):
        assert whole(found, cost, loads, 100)
        assert found.stopped is ending
        assert not found.repeatable
        assert not found.proved


def test_a_race_uses_its_time_and_tells_of_ever_better_whole_trips() -> None:
    cost, loads = scattered(90, 4)
    told: list[TripsFound] = []
    began = perf_counter()
    found = several_trips(cost, loads, 250, stop=MaxSeconds(1.0), seed=3, on_best=told.append)
    assert perf_counter() - began > 0.9
    assert found.stopped is Ending.TIME
    assert all(whole(trips, cost, loads, 250) for trips in (*told, found))
    costs = [trips.cost for trips in told]
    assert costs == sorted(costs, reverse=True)
    assert found.cost == costs[-1] < cost_of_trips(first_trips(cost, loads, 250), cost)


def test_a_wish_to_stop_ends_a_race_at_once() -> None:
    class StopSoon(Unwatched):
        def __init__(self) -> None:
            self.asked = 0

        def stop_wanted(self) -> bool:
            self.asked += 1
            return self.asked > 3

    cost, loads = scattered(60, 5)
    began = perf_counter()
    found = several_trips(cost, loads, 250, stop=MaxSeconds(600), progress=StopSoon())
    assert perf_counter() - began < 300
    assert found.stopped is Ending.ASKED
    assert whole(found, cost, loads, 250)


@pytest.mark.parametrize("stop", [None, MaxSeconds(60)])
def test_places_that_fill_a_trip_each_are_gone_for_one_by_one(stop: MaxSeconds | None) -> None:
    cost, _ = scattered(20, 6)
    found = several_trips(cost, np.full(20, 50), 50, stop=stop)
    assert found.trips == tuple((place,) for place in range(1, 21))
    assert found.proved
    assert found.cost == pytest.approx(2 * cost[0].sum())


def test_one_place_is_there_and_back() -> None:
    found = several_trips(np.array([[0.0, 7.0], [7.0, 0.0]]), np.array([5]), 5, stop=MaxSeconds(60))
    assert (found.trips, found.cost, found.proved) == (((1,),), 14, True)


def test_the_first_trips_are_whole_and_shorter_than_going_for_each_alone() -> None:
    cost, loads = scattered(50, 7)
    first = first_trips(cost, loads, 120)
    assert sorted(place for trip in first for place in trip) == list(range(1, 51))
    assert all(loads[np.array(trip) - 1].sum() <= 120 for trip in first)
    assert cost_of_trips(first, cost) < 2 * cost[0].sum()


def test_nothing_to_walk_is_nothing() -> None:
    found = several_trips(np.zeros((4, 4)), np.array([1, 1, 1]), 2)
    assert found.cost == 0
    assert found.proved
    assert sorted(place for trip in found.trips for place in trip) == [1, 2, 3]


@pytest.mark.parametrize("loads", [[1, 5], [1, -1], [1], [1, 1, 1]])
def test_loads_that_cannot_be_carried_are_refused(loads: list[int]) -> None:
    with pytest.raises(ValueError, match="load"):
        several_trips(np.zeros((3, 3)), np.array(loads), 4)
