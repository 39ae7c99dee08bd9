"""Orders given by hand: lengths as the solver reckons them, and pinned trips shown shortest by trying every order."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest

from standmap.rounds.by_hand import ByHand
from standmap.rounds.carrying import Carrying
from standmap.rounds.ground import Course, Crossing, Ground
from standmap.rounds.one_trip import MOST_EXACT
from standmap.rounds.problem import Aim, Person, RoundProblem, Tap, Xy
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations
from standmap.rounds.watch import Ending
from tests.rounds.asked_rounds import SLOPE


def problem(*spots: Xy, ground: Ground | None = None, collectors: int = 1) -> RoundProblem:
    taps = tuple(Tap(f"t{i}", spot, 3.0, 3.0) for i, spot in enumerate(spots))
    return RoundProblem((0.0, 0.0), taps, 10.0, 1.0, collectors, ground or Ground(), speed_m_per_min=50.0)


def scattered(count: int, seed: int = 1) -> list[Xy]:
    spots = np.random.default_rng(seed).uniform(-200, 200, (count, 2))
    return [(float(x), float(y)) for x, y in spots]


def length(asked: RoundProblem, keys: tuple[str, ...]) -> float:
    at = {tap.key: tap.xy for tap in asked.taps}
    way = [(0.0, 0.0), *[at[key] for key in keys], (0.0, 0.0)]
    return sum(float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in pairwise(way))


def test_the_solvers_own_order_comes_to_the_same_round() -> None:
    stream = ((50.0, -300.0), (50.0, 300.0))
    asked = problem(*scattered(9), ground=Ground((Course(stream),), (Crossing((50.0, 10.0)),)))
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
    asked = problem((10, 0), (100, 0), ground=Ground((Course(((50.0, -900.0), (50.0, 900.0))),)))
    fenced = Ground((Course(((50, -20), (150, -20), (150, 20), (50, 20), (50, -20))),))
    by_hand = ByHand(problem((10, 0), (100, 0), ground=fenced))
    assert by_hand.keys == {"t0"}
    assert by_hand.walked([["t0"]]).left_out[0].key == "t1"
    assert ByHand(asked).keys == {"t0", "t1"}  # round the ends of an open stream there is a way
    with pytest.raises(KeyError):
        by_hand.walked([["t1"]])


def asked_more(count: int, seed: int, **more: object) -> RoundProblem:
    """Return a round on a slope, with loads that slow, by its time."""
    plain = problem(*scattered(count, seed))
    loaded = replace(plain, capacity_kg=13.0, obstacles=Ground(heights=SLOPE), aim=Aim.TIME, carrying=Carrying())
    return replace(loaded, **more)  # type: ignore[arg-type]


def orders_of(found: Round) -> tuple[list[list[str]], list[int]]:
    served = [trip for trip in found.trips if trip.visits]
    return [[visit.key for visit in trip.visits] for trip in served], [trip.collector for trip in served]


@pytest.mark.parametrize(
    "more",
    [
        {"people": (Person(13.0), Person(10.0, start=(50.0, 20.0), sets_out_min=6.0))},
        {"tanks": ((90.0, 60.0),), "aim": Aim.EFFORT},
        {"people": (Person(13.0, start=(50.0, 20.0), carrying_kg=11.0),)},
        {"latest_min": 30.0},
        {"aim": Aim.DISTANCE},
    ],
    ids=["two people", "two tanks", "from here", "a latest finish", "metres on a slope"],
)
def test_the_solvers_own_order_comes_to_the_same_round_whatever_is_asked(more: dict[str, object]) -> None:
    asked = asked_more(11, 3, **more)
    solved = plan(asked, stop=MaxIterations(200))
    again = ByHand(asked).walked(*orders_of(solved))
    assert again.trips == solved.trips
    assert again.left_out == solved.left_out
    assert again.cost == pytest.approx(solved.cost)
    assert (again.stopped, again.proved, again.lower_bound) == (Ending.BY_HAND, False, None)


def test_another_order_is_no_better_than_a_proved_one_and_may_break_every_rule() -> None:
    asked = asked_more(7, 4, latest_min=300.0)
    solved = plan(asked)
    assert solved.proved
    keys = [tap.key for tap in asked.taps]
    by_hand = ByHand(asked)
    for seed in range(20):
        mixed = np.random.default_rng(seed).permutation(keys).tolist()
        assert by_hand.walked([mixed[:3], mixed[3:6], mixed[6:]]).cost >= solved.cost - 1e-9
    heavy = by_hand.walked([keys])
    assert heavy.trips[0].max_load_kg == 22.0
    late = ByHand(replace(asked, latest_min=5.0)).walked([[key] for key in keys])
    assert late.minutes > 5.0


@pytest.mark.parametrize("aim", list(Aim))
def test_a_pinned_trip_is_the_best_by_the_aim_of_all_that_begin_and_end_so(aim: Aim) -> None:
    asked = asked_more(6, 5, aim=aim, capacity_kg=30.0)
    keys = [tap.key for tap in asked.taps]
    by_hand = ByHand(asked)
    for first, last in ((None, None), ("t2", None), (None, "t4"), ("t2", "t4")):
        found = by_hand.shortest(keys, first, last)
        allowed = [p for p in permutations(keys) if p[0] == (first or p[0]) and p[-1] == (last or p[-1])]
        assert found.keys in allowed
        assert by_hand.walked([found.keys]).cost == pytest.approx(min(by_hand.walked([p]).cost for p in allowed))


@pytest.mark.parametrize("aim", [Aim.TIME, Aim.EFFORT])
def test_long_trips_are_ordered_as_well_as_the_search_orders_them(aim: Aim) -> None:
    """Kit is carried out and left at the trees: one trip holds them all."""
    asked = asked_more(MOST_EXACT + 8, 6, aim=aim, capacity_kg=30.0)
    asked = replace(asked, taps=tuple(replace(tap, load_kg=0.0, left_kg=0.02) for tap in asked.taps))
    keys = [tap.key for tap in asked.taps]
    by_hand = ByHand(asked)
    free = by_hand.shortest(keys, None, None)
    assert by_hand.walked([free.keys]).cost <= plan(asked, stop=MaxIterations(500)).cost * 1.001
    held = by_hand.shortest(keys, "t3", "t9")
    assert (held.keys[0], held.keys[-1]) == ("t3", "t9")
    assert sorted(held.keys) == sorted(keys)
    assert by_hand.walked([free.keys]).cost <= by_hand.walked([held.keys]).cost
    assert by_hand.shortest(keys, "t3", "t9") == held
