"""Whole trips are spread over the people who walk where that costs nothing."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from standmap.rounds.asked import ask
from standmap.rounds.evened import evened
from standmap.rounds.problem import Aim, Person, Pin, RoundProblem, Tap
from standmap.rounds.search import Search, State
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations
from standmap.rounds.walks import Walks
from tests.rounds.asked_rounds import problems

FOUR = tuple(
    Tap(f"t{k}", (40.0 * x, 40.0 * y), 6.0, 3.0) for k, (x, y) in enumerate([(1, 0), (-1, 0), (0, 1), (0, -1)])
)


def back_min(walks: Walks, state: State) -> float:
    people = zip(walks.asked.people, state.trips, state.walks, strict=True)
    return max((who.sets_out_min + walk.minutes for who, trips, walk in people if trips), default=0.0)


def four(aim: Aim, *people: Person, taps: tuple[Tap, ...] = FOUR) -> RoundProblem:
    """Return four trips of the same length, each holding one tap."""
    return RoundProblem((0.0, 0.0), taps, 8.0, 1.0, len(people), speed_m_per_min=50.0, people=people, aim=aim)


@pytest.mark.parametrize("aim", [Aim.EFFORT, Aim.DISTANCE])
def test_one_does_not_walk_everything_while_another_stands_by(aim: Aim) -> None:
    walks = Walks(ask(four(aim, Person(8.0), Person(8.0))))
    first = Search(walks, 1e9, 0).state(([(0,), (1,), (2,), (3,)], []))
    shared = evened(walks, first)
    assert [len(trips) for trips in shared.trips] == [2, 2]
    assert back_min(walks, shared) == pytest.approx(back_min(walks, first) / 2)
    assert shared.cost == pytest.approx(first.cost)


def test_who_sets_out_later_is_given_less() -> None:
    minutes = 40 / 50 * 2 + 3
    later = four(Aim.EFFORT, Person(8.0), Person(8.0, sets_out_min=2 * minutes))
    walks = Walks(ask(later))
    shared = evened(walks, Search(walks, 1e9, 0).state(([(0,), (1,), (2,), (3,)], [])))
    assert [len(trips) for trips in shared.trips] == [3, 1]


def test_pins_and_loads_still_hold() -> None:
    pinned = (replace(FOUR[0], pin=Pin.FIRST), *FOUR[1:3], replace(FOUR[3], pin=Pin.LAST))
    walks = Walks(ask(four(Aim.EFFORT, Person(8.0), Person(8.0), Person(5.0), taps=pinned)))
    shared = evened(walks, Search(walks, 1e9, 0).state(([(0,), (1,), (2,), (3,)], [], [])))
    assert shared.trips[2] == ()  # 5 kg do not hold 6 kg of sap
    assert sorted(map(len, shared.trips)) == [0, 2, 2]
    assert all((0,) not in trips[1:] and (3,) not in trips[:-1] for trips in shared.trips)


@given(problem=problems(most=9))
@settings(deadline=None, max_examples=40)
def test_nothing_costs_more_and_nobody_is_back_later(problem: RoundProblem) -> None:
    walks = Walks(ask(problem))
    first = Search(walks, 1e9, 0).state([[] for _ in walks.asked.people])
    taps = range(len(walks.asked.taps))
    alone = [[(tap,) for tap in taps], *([] for _ in walks.asked.people[1:])]
    state = Search(walks, 1e9, 0).state(alone)
    if not math.isfinite(state.cost):
        state = first
    shared = evened(walks, state)
    assert sorted(stops for trips in shared.trips for stops in trips) == sorted(s for t in state.trips for s in t)
    assert math.fsum(walk.cost for walk in shared.walks) <= math.fsum(walk.cost for walk in state.walks) * (1 + 1e-6)
    assert back_min(walks, shared) <= back_min(walks, state) + 1e-6


def test_a_round_by_effort_is_shared() -> None:
    found = plan(four(Aim.EFFORT, Person(8.0), Person(8.0)), stop=MaxIterations(50))
    assert {trip.collector for trip in found.trips} == {1, 2}
