"""Proofs for small trips, held against choosing among all partitions by hand."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from standmap.progress import Unwatched
from standmap.rounds.exact import show_trips
from standmap.rounds.groups import all_groups, all_sets
from standmap.rounds.held_karp import shortest_closed
from standmap.rounds.local import cost_of
from standmap.rounds.savings import Trips, cost_of_trips, first_trips
from standmap.rounds.stop import MaxSeconds
from standmap.rounds.watch import Watch

Matrix = NDArray[np.float64]


def scattered(n: int, seed: int, depot: tuple[float, float] = (0.0, 0.0)) -> Matrix:
    points = np.random.default_rng(seed).uniform(-100, 100, (n + 1, 2))
    points[0] = depot
    away: Matrix = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    return away


def trip_cost(cost: Matrix, places: tuple[int, ...]) -> float:
    at = np.array([0, *places])
    part = cost[np.ix_(at, at)]
    return cost_of(shortest_closed(part), part)


def partitions(places: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    if not places:
        yield []
        return
    first, rest = places[0], places[1:]
    for k in range(len(rest) + 1):
        for others in combinations(rest, k):
            left = tuple(p for p in rest if p not in others)
            for more in partitions(left):
                yield [(first, *others), *more]


def shortest_by_hand(cost: Matrix, loads: NDArray[np.int64], capacity: int) -> float:
    n = len(loads)
    known = {
        group: trip_cost(cost, group)
        for k in range(1, n + 1)
        for group in combinations(range(1, n + 1), k)
        if loads[np.array(group) - 1].sum() <= capacity
    }
    return min(
        sum(known[group] for group in parts)
        for parts in partitions(tuple(range(1, n + 1)))
        if all(group in known for group in parts)
    )


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.lists(st.integers(20, 60), min_size=3, max_size=8))
def test_the_proof_agrees_with_trying_every_partition(seed: int, grams: list[int]) -> None:
    loads = np.array(grams, dtype=np.int64)
    cost = scattered(len(loads), seed, depot=(100.0, 0.0))
    groups = all_groups(cost, loads, 100)
    assert groups is not None
    known = first_trips(cost, loads, 100)
    best = cost_of_trips(known, cost)
    shown = show_trips(groups, known, best, Watch(None, Unwatched()))
    assert shown is not None
    assert shown.closed
    assert shown.lower_bound == pytest.approx(shortest_by_hand(cost, loads, 100), abs=1e-4)
    if shown.shorter is not None:
        assert sorted(p for trip in shown.shorter for p in trip) == list(range(1, len(loads) + 1))
        assert all(loads[np.array(trip) - 1].sum() <= 100 for trip in shown.shorter)
        assert sum(trip_cost(cost, trip) for trip in shown.shorter) == pytest.approx(shown.lower_bound, abs=1e-4)


def test_every_group_is_listed_with_its_shortest_trip() -> None:
    cost, loads = scattered(9, 1), np.random.default_rng(1).integers(14, 30, 9)
    groups = all_groups(cost, loads, 100)
    assert groups is not None
    listed = {
        tuple(p + 1 for p in row if p < 9): c for row, c in zip(groups.members.tolist(), groups.cost, strict=True)
    }
    wanted = {
        group: trip_cost(cost, group)
        for k in range(1, 6)
        for group in combinations(range(1, 10), k)
        if loads[np.array(group) - 1].sum() <= 100
    }
    assert any(len(group) == 5 for group in wanted)
    assert listed == pytest.approx(wanted)


def test_groups_too_large_or_too_many_are_not_listed() -> None:
    assert all_groups(scattered(6, 1), np.full(6, 10), 60) is None
    assert all_groups(scattered(150, 1), np.full(150, 25), 100) is None


def from_far() -> tuple[Matrix, NDArray[np.int64], Trips]:
    cost = scattered(30, 8, depot=(0.0, -150.0))
    loads = np.random.default_rng(8).integers(2700, 4300, 30)
    return cost, loads, tuple((place,) for place in range(1, 31))


def test_the_shortest_trips_are_found_even_when_only_poor_ones_are_known() -> None:
    cost, loads, alone = from_far()
    groups = all_groups(cost, loads, 13_000)
    assert groups is not None
    shown = show_trips(groups, alone, cost_of_trips(alone, cost), Watch(None, Unwatched()))
    assert shown is not None
    assert shown.closed
    assert shown.shorter is not None
    assert sum(trip_cost(cost, trip) for trip in shown.shorter) == pytest.approx(shown.lower_bound, rel=1e-6)
    again = show_trips(groups, shown.shorter, shown.lower_bound, Watch(None, Unwatched()))
    assert again is not None
    assert again.closed
    assert again.lower_bound == pytest.approx(shown.lower_bound, rel=1e-6)


def test_a_proof_stops_when_the_time_is_over() -> None:
    cost, loads, alone = from_far()
    groups = all_groups(cost, loads, 13_000)
    assert groups is not None
    assert show_trips(groups, alone, cost_of_trips(alone, cost), Watch(MaxSeconds(0), Unwatched())) is None


@given(st.lists(st.integers(0, 60), min_size=1, max_size=9), st.integers(20, 100), st.integers(1, 5))
def test_sets_are_listed_unless_there_are_too_many(loads: list[int], capacity: int, largest: int) -> None:
    weights = np.array(loads, dtype=np.int64)
    fitting = [
        members
        for size in range(1, len(loads) + 1)
        for members in combinations(range(len(loads)), size)
        if weights[list(members)].sum() <= capacity
    ]
    listed = all_sets(weights, capacity, largest)
    if any(len(members) > largest for members in fitting):
        assert listed is None
    else:
        assert listed is not None
        assert sorted(tuple(row) for level in listed for row in level.tolist()) == sorted(fitting)
        assert all_sets(weights, capacity, largest, most=len(fitting)) is not None
        assert not fitting or all_sets(weights, capacity, largest, most=len(fitting) - 1) is None
