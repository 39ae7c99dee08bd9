"""Orders given by hand: lengths as the solver reckons them, and pinned trips shown shortest by trying every order."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest

from standmap.rounds.by_hand import ByHand
from standmap.rounds.problem import Obstacles, RoundProblem, Tap, Xy
from standmap.rounds.solve import plan
from standmap.rounds.watch import Ending


def problem(*spots: Xy, obstacles: Obstacles | None = None, collectors: int = 1) -> RoundProblem:
    taps = tuple(Tap(f"t{i}", spot, 3.0, 3.0) for i, spot in enumerate(spots))
    return RoundProblem((0.0, 0.0), taps, 10.0, 1.0, collectors, obstacles or Obstacles(), speed_m_per_min=50.0)


def scattered(count: int, seed: int = 1) -> list[Xy]:
    spots = np.random.default_rng(seed).uniform(-200, 200, (count, 2))
    return [(float(x), float(y)) for x, y in spots]


def length(asked: RoundProblem, keys: tuple[str, ...]) -> float:
    at = {tap.key: tap.xy for tap in asked.taps}
    way = [(0.0, 0.0), *[at[key] for key in keys], (0.0, 0.0)]
    return sum(float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in pairwise(way))


def test_the_solvers_own_order_comes_to_the_same_round() -> None:
    stream = ((50.0, -300.0), (50.0, 300.0))
    asked = problem(*scattered(9), obstacles=Obstacles(streams=(stream,), bridges=((50.0, 10.0),)))
    solved = plan(asked)
    again = ByHand(asked).walked([[v.key for v in t.visits] for t in solved.trips], [t.collector for t in solved.trips])
    assert again.trips == solved.trips
    assert again.length_m == solved.length_m
    assert again.stopped is Ending.BY_HAND
    assert not again.proved


def test_an_order_is_walked_as_given_and_may_be_too_heavy() -> None:
    asked = problem((10, 0), (20, 0), (30, 0), (40, 0))
    (trip,) = ByHand(asked).walked([["t3", "t0", "t2", "t1"]]).trips
    assert [visit.key for visit in trip.visits] == ["t3", "t0", "t2", "t1"]
    assert trip.length_m == pytest.approx(40 + 30 + 20 + 10 + 20)
    assert trip.max_load_kg == 13.0
    assert [visit.load_kg for visit in trip.visits] == [4.0, 7.0, 10.0, 13.0]
    assert trip.visits[1].arrive_min == pytest.approx(70 / 50 + 3)


def test_trips_follow_each_other_for_whoever_has_walked_least() -> None:
    asked = problem((100, 0), (10, 0), (20, 0), collectors=2)
    walked = ByHand(asked).walked([["t0"], ["t1"], ["t2"]])
    assert [trip.collector for trip in walked.trips] == [1, 2, 2]
    assert walked.trips[2].visits[0].arrive_min == pytest.approx(walked.trips[1].minutes + 20 / 50)
    assert [trip.collector for trip in ByHand(asked).walked([["t0"], ["t1"]], [2, 2]).trips] == [2, 2]


@pytest.mark.parametrize("seed", range(4))
def test_a_pinned_trip_is_the_shortest_of_all_that_begin_and_end_so(seed: int) -> None:
    asked = problem(*scattered(6, seed))
    keys = [tap.key for tap in asked.taps]
    for first, last in (("t2", None), (None, "t4"), ("t2", "t4"), ("t4", "t2")):
        found = ByHand(asked).shortest(keys, first, last)
        allowed = [p for p in permutations(keys) if p[0] == (first or p[0]) and p[-1] == (last or p[-1])]
        assert found.keys in allowed
        assert length(asked, found.keys) == pytest.approx(min(length(asked, p) for p in allowed))
        assert found.repeatable


def test_many_taps_keep_their_pins() -> None:
    asked = problem(*scattered(40))
    keys = [tap.key for tap in asked.taps]
    found = ByHand(asked).shortest(keys, "t7", "t9")
    assert (found.keys[0], found.keys[-1]) == ("t7", "t9")
    assert sorted(found.keys) == sorted(keys)
    assert length(asked, found.keys) < 1.5 * length(asked, ByHand(asked).shortest(keys, None, None).keys)


def test_two_holes_of_one_tree_stay_together() -> None:
    asked = problem((10, 0), (10, 0), (60, 5), (60, -5))
    found = ByHand(asked).shortest(["t0", "t1", "t2", "t3"], "t1", None)
    assert found.keys[:2] == ("t1", "t0")
    assert ByHand(asked).shortest(["t0", "t1", "t2", "t3"], None, "t0").keys[2:] == ("t1", "t0")
    assert ByHand(problem((10, 0))).shortest(["t0"], "t0", None).keys == ("t0",)
    assert ByHand(problem((10, 0), (10, 0))).shortest(["t0", "t1"], "t1", "t0").keys == ("t1", "t0")


def test_a_tap_that_cannot_be_reached_is_no_part_of_an_order() -> None:
    asked = problem((10, 0), (100, 0), obstacles=Obstacles(streams=(((50.0, -900.0), (50.0, 900.0)),)))
    fenced = Obstacles(streams=(((50, -20), (150, -20), (150, 20), (50, 20), (50, -20)),))
    by_hand = ByHand(problem((10, 0), (100, 0), obstacles=fenced))
    assert by_hand.keys == {"t0"}
    assert by_hand.walked([["t0"]]).left_out[0].key == "t1"
    assert ByHand(asked).keys == {"t0", "t1"}  # round the ends of an open stream there is a way
    with pytest.raises(KeyError):
        by_hand.walked([["t1"]])
