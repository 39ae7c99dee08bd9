"""One closed walk: exact where it is small, proved where that is quick, and whole whenever it is stopped."""

from __future__ import annotations

from itertools import permutations
from time import perf_counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from standmap.progress import Unwatched
from standmap.rounds.closed import ClosedWalk, closed_walk
from standmap.rounds.held_karp import shortest_closed
from standmap.rounds.local import cost_of, improved, nearest_first
from standmap.rounds.stop import MaxIterations, MaxSeconds
from standmap.rounds.subtour import joined, show
from standmap.rounds.watch import Ending, Watch

Matrix = NDArray[np.float64]


def flat(points: NDArray[np.float64]) -> Matrix:
    away: Matrix = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    return away


def scattered(n: int, seed: int) -> Matrix:
    return flat(np.random.default_rng(seed).uniform(0, 300, (n, 2)))


def whole(walk: ClosedWalk, cost: Matrix) -> bool:
    order = np.array(walk.order)
    complete = bool(order[0] == 0 and (np.sort(order) == np.arange(len(cost))).all())
    return complete and bool(np.isclose(walk.cost, cost_of(order, cost), rtol=1e-12))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=7))
def test_few_places_are_as_short_as_trying_every_order(points: list[tuple[int, int]]) -> None:
    cost = flat(np.array(points, dtype=float))
    shortest = min(cost_of(np.array((0, *rest)), cost) for rest in permutations(range(1, len(cost))))
    assert cost_of(shortest_closed(cost), cost) == pytest.approx(shortest, abs=1e-9)
    found = closed_walk(cost)
    assert found.cost == pytest.approx(shortest, abs=1e-9)
    assert found.proved
    assert found.repeatable
    assert whole(found, cost)


def test_dynamic_programming_refuses_what_would_take_too_long() -> None:
    with pytest.raises(ValueError, match="at most"):
        shortest_closed(np.zeros((20, 20)))


def test_moves_never_lengthen_a_walk_and_leave_none_that_helps() -> None:
    cost = scattered(60, 1)
    first = nearest_first(cost)
    better = improved(first, cost)
    assert sorted(better.tolist()) == list(range(60))
    assert better[0] == 0
    assert cost_of(better, cost) < cost_of(first, cost)
    assert (improved(better, cost) == better).all()
    for i in range(1, 59):
        for j in range(i + 1, 60):
            turned = np.concatenate([better[:i], better[i : j + 1][::-1], better[j + 1 :]])
            assert cost_of(turned, cost) >= cost_of(better, cost) - 1e-9


@pytest.mark.parametrize("n", [14, 25, 45])
def test_a_walk_of_many_places_is_proved_and_repeats(n: int) -> None:
    cost = scattered(n, n)
    found = closed_walk(cost)
    assert found.proved
    assert found.lower_bound == found.cost
    assert found.stopped is Ending.PROVED
    assert whole(found, cost)
    assert closed_walk(cost) == found


def test_a_regular_grid_with_many_shortest_walks_repeats() -> None:
    rows, columns = np.divmod(np.arange(42), 7)
    cost = flat(np.column_stack([rows, columns]) * 5.0)
    found = closed_walk(cost)
    assert found.cost == pytest.approx(42 * 5)
    assert found.proved
    assert closed_walk(cost) == found


def test_the_proof_finds_the_shortest_walk_from_a_poor_one() -> None:
    cost = scattered(12, 5)
    shortest = cost_of(shortest_closed(cost), cost)
    shown = show(cost, 1.4 * shortest, Watch(None, Unwatched()))
    assert shown is not None
    assert shown.shortest is not None
    assert cost_of(shown.shortest, cost) == pytest.approx(shortest)
    assert shown.lower_bound == pytest.approx(shortest)


def test_a_bound_is_no_longer_than_the_walk() -> None:
    cost = scattered(120, 2)
    found = closed_walk(cost, stop=MaxIterations(1))
    assert found.lower_bound is not None
    assert 0.97 * found.cost < found.lower_bound <= found.cost


def test_joining_takes_the_best_of_each_walk() -> None:
    cost = scattered(60, 8)
    shortest = np.array(closed_walk(cost).order)

    def spoiled(at: int) -> NDArray[np.intp]:
        walk = shortest.copy()
        walk[at : at + 4] = walk[at : at + 4][::-1]
        return walk

    walks = [spoiled(5), spoiled(40)]
    whole_again = joined(walks, cost, lambda: False)
    assert whole_again is not None
    assert all(cost_of(walk, cost) > cost_of(shortest, cost) for walk in walks)
    assert cost_of(whole_again, cost) == pytest.approx(cost_of(shortest, cost))
    assert joined(walks, cost, lambda: True) is None


def test_a_time_that_is_named_is_used_and_not_passed() -> None:
    cost = scattered(230, 7)
    began = perf_counter()
    found = closed_walk(cost, stop=MaxSeconds(0.8))
    assert perf_counter() - began > 0.6
    assert found.stopped is Ending.TIME
    assert whole(found, cost)


def test_a_walk_that_is_proved_does_not_wait_for_the_time_named() -> None:
    began = perf_counter()
    found = closed_walk(scattered(30, 30), stop=MaxSeconds(600))
    assert perf_counter() - began < 300
    assert found.stopped is Ending.PROVED


@pytest.mark.parametrize("side_m", [1, 20_000_000])
def test_groups_far_apart_are_each_walked_through_once(side_m: float) -> None:
    random = np.random.default_rng(2)
    groups = np.array([[0, 0], [0, side_m], [side_m, side_m], [side_m, 0]])
    points = (groups[:, None] + random.uniform(0, side_m / 100, (4, 12, 2))).reshape(-1, 2)
    found = closed_walk(flat(points))
    group = np.array(found.order) // 12
    assert (group != np.roll(group, 1)).sum() == 4
    assert whole(found, flat(points))


@pytest.mark.parametrize("n", [1, 2, 3, 40])
def test_places_all_at_one_spot_cost_nothing(n: int) -> None:
    found = closed_walk(np.zeros((n, n)), stop=MaxSeconds(5))
    assert (found.cost, found.proved, found.order) == (0, True, tuple(range(n)))


def test_places_at_one_spot_stay_together() -> None:
    points = np.random.default_rng(4).uniform(0, 100, (30, 2)).round(1)
    cost = flat(np.concatenate([points, points[3:9], points[3:9]]))
    found = closed_walk(cost)
    assert whole(found, cost)
    assert found.cost == pytest.approx(closed_walk(flat(points)).cost)
    at = {place: step for step, place in enumerate(found.order)}
    for k in range(6):
        same = sorted(at[place] for place in (3 + k, 30 + k, 36 + k))
        assert same[2] - same[0] == 2


class StopAfter(Unwatched):
    """A person who asks to stop when asked for the n-th time."""

    def __init__(self, n: int) -> None:
        self.left = n

    def stop_wanted(self) -> bool:
        self.left -= 1
        return self.left < 0


@pytest.mark.parametrize("patience", [0, 1, 3, 40])
def test_a_stop_at_any_time_leaves_a_whole_walk(patience: int) -> None:
    cost = scattered(70, 3)
    found = closed_walk(cost, progress=StopAfter(patience))
    assert whole(found, cost)
    assert found.stopped is Ending.ASKED
    assert not found.repeatable
    assert not found.proved


def test_better_walks_are_told_and_never_get_longer() -> None:
    cost = scattered(150, 6)
    told: list[ClosedWalk] = []
    found = closed_walk(cost, on_best=told.append)
    assert [walk.cost for walk in told] == sorted((walk.cost for walk in told), reverse=True)
    assert len(told) > 1
    assert all(whole(walk, cost) for walk in told)
    assert told[-1].cost == found.cost


def test_a_walk_that_is_only_searched_says_that_it_may_differ() -> None:
    found = closed_walk(scattered(250, 1), stop=MaxIterations(1))
    assert (found.proved, found.repeatable, found.stopped) == (False, False, Ending.RULE)
    assert closed_walk(scattered(250, 1), stop=MaxSeconds(0)).stopped is Ending.TIME


@pytest.mark.parametrize(
    "cost",
    [np.zeros((0, 0)), np.zeros((2, 3)), np.array([[0, 1], [2, 0]]), np.full((2, 2), np.inf), np.ones((2, 2))],
)
def test_what_is_no_table_of_costs_is_refused(cost: Matrix) -> None:
    with pytest.raises(ValueError, match="costs must"):
        closed_walk(cost)
