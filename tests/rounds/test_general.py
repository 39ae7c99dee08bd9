"""Rounds of which much is asked: as good as trying every way, and sound however they are stopped."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rounds.asked import LATE, ask
from standmap.rounds.carrying import Carrying
from standmap.rounds.general import plan_general
from standmap.rounds.ground import Ground
from standmap.rounds.loaded_groups import best_order, loaded_groups
from standmap.rounds.problem import Aim, Person, Pin, RoundProblem, Tap
from standmap.rounds.round import Round
from standmap.rounds.search import Search
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations, MaxSeconds
from standmap.rounds.walks import Walks
from standmap.rounds.watch import Ending
from tests.rounds.asked_rounds import SLOPE, allowed, cost_of, every_plan, minutes_of, problems
from tests.rounds.every_order import least_of_all


def wood(count: int, seed: int, **more: object) -> RoundProblem:
    rng = np.random.default_rng(seed)
    taps = tuple(
        Tap(f"t{k:03d}", (float(x), float(y)), float(kg), 3.0)
        for k, (x, y, kg) in enumerate(
            zip(rng.uniform(-150, 150, count), rng.uniform(-150, 150, count), rng.uniform(2.0, 4.4, count), strict=True)
        )
    )
    asked = RoundProblem((0.0, 0.0), taps, 15.0, 1.0, speed_m_per_min=50.0, aim=Aim.TIME, carrying=Carrying())
    return replace(asked, **more)  # type: ignore[arg-type]


def check(problem: RoundProblem, found: Round) -> None:
    """Hold a round to what may never be broken, from the words of the problem alone."""
    keys = [visit.key for trip in found.trips for visit in trip.visits]
    assert sorted([*keys, *(out.key for out in found.left_out)]) == sorted(tap.key for tap in problem.taps)
    taps = {tap.key: tap for tap in problem.taps}
    people = problem.everybody
    by_person: dict[int, list[str]] = {}
    under_way: dict[int, float] = {}
    for trip in found.trips:
        who = people[trip.collector - 1]
        assert trip.max_load_kg <= who.capacity_kg + 1e-6
        assert trip.length_m == pytest.approx(sum(v.leg_m for v in trip.visits) + trip.home_m)
        assert trip.course[0] == pytest.approx(trip.start or problem.depot)
        first = trip.visits[0].course[0] if trip.visits else trip.home_course[0]
        assert first == pytest.approx(trip.start or problem.depot)
        assert trip.sets_out_min == pytest.approx(under_way.get(trip.collector, 0.0))
        under_way[trip.collector] = under_way.get(trip.collector, 0.0) + trip.minutes
        by_person.setdefault(trip.collector, []).extend(v.key for v in trip.visits)
        groups = {taps[v.key].together for v in trip.visits} - {""}
        served = {v.key for v in trip.visits}
        for group in groups:
            assert {tap.key for tap in problem.taps if tap.together == group} <= served
    for own in by_person.values():
        assert all(taps[key].pin is not Pin.FIRST for key in own[1:])
        assert all(taps[key].pin is not Pin.LAST for key in own[:-1])
    if problem.latest_min is not None:
        for collector, minutes in under_way.items():
            if not by_person[collector]:
                continue  # home from where one stands, however late
            assert people[collector - 1].sets_out_min + minutes <= problem.latest_min + 1e-6
    if problem.aim is Aim.TIME and not found.left_out:
        back = [people[c - 1].sets_out_min + m for c, m in under_way.items()]
        assert found.cost == pytest.approx(max(back, default=0.0), rel=1e-3)
    elif problem.aim is Aim.EFFORT:
        assert found.cost == pytest.approx(found.kg_m, rel=1e-6)
    elif problem.aim is Aim.DISTANCE:
        assert found.cost == pytest.approx(found.length_m)


@given(problem=problems())
@settings(deadline=None, max_examples=60)
def test_small_rounds_are_as_good_as_trying_every_way(problem: RoundProblem) -> None:
    found = plan_general(problem)
    check(problem, found)
    asked = ask(problem)
    best = min((cost_of(asked, p) for p in every_plan(asked) if allowed(asked, p)), default=0.0)
    if math.isinf(best):
        assert found.left_out  # pins, groups and loads cannot all hold
    else:
        assert found.cost == pytest.approx(best, rel=1e-9, abs=1e-9)
        assert found.proved


EIGHT = [
    pytest.param(Aim.TIME, "poured", 1, 2, id="time, two tanks"),
    pytest.param(Aim.TIME, "swapped", 2, 1, id="time, two people, vessels swapped"),
    pytest.param(Aim.EFFORT, "poured", 2, 2, id="effort, two people and tanks"),
    pytest.param(Aim.EFFORT, "carried out", 1, 1, id="effort, kit carried out"),
    pytest.param(Aim.DISTANCE, "poured", 2, 2, id="metres, two people and tanks"),
]


@pytest.mark.parametrize(("aim", "kind", "people", "tanks"), EIGHT)
def test_eight_taps_come_to_what_full_enumeration_finds(aim: Aim, kind: str, people: int, tanks: int) -> None:
    """Over slopes that make ways and ways back differ, with loads that slow."""
    plain = wood(8, seed=12, aim=aim, obstacles=Ground(heights=SLOPE))
    more: dict[str, Any] = {
        "poured": {},
        "swapped": {"left_kg": 0.4},
        "carried out": {"load_kg": 0.0, "left_kg": 2.5},
    }[kind]
    problem = replace(
        plain,
        taps=tuple(replace(tap, **more) for tap in plain.taps),
        tanks=((80.0, 80.0),) if tanks == 2 else (),
        people=(Person(15.0), Person(10.0, sets_out_min=4.0)) if people == 2 else (),
    )
    asked = ask(problem)
    assert [tap.key for tap in asked.taps] == [tap.key for tap in problem.taps]
    minutes, metres = np.array(asked.minutes), np.array(asked.metres)
    assert not np.allclose(minutes, minutes.T)
    found = plan_general(problem)
    check(problem, found)
    assert found.proved
    assert found.cost == pytest.approx(least_of_all(problem, minutes, metres), rel=1e-9)


@given(problem=problems(most=4), latest=st.integers(1, 30).map(float), due=st.lists(st.booleans(), min_size=4))
@settings(deadline=None, max_examples=30)
def test_with_little_time_no_other_choice_would_lose_less(
    problem: RoundProblem, latest: float, due: list[bool]
) -> None:
    taps = tuple(
        replace(tap, worth=1.0 + k, due_min=latest / 2 if due[k] else None) for k, tap in enumerate(problem.taps)
    )
    problem = replace(problem, taps=taps, aim=Aim.TIME, latest_min=latest)
    found = plan_general(problem)
    asked = ask(problem)
    left_out = {out.key for out in found.left_out}

    def lost(keys: set[str]) -> float:
        return sum(asked.penalty(k) for k, tap in enumerate(asked.taps) if tap.key in keys)

    least = math.inf
    keys = [tap.key for tap in asked.taps]
    for size in range(len(keys) + 1):
        for chosen in itertools.combinations(keys, size):
            if any(0 < sum(tap.key in chosen for tap in asked.taps if tap.together == word) < 2 for word in ("pair",)):
                continue
            part = ask(replace(problem, taps=tuple(tap for tap in taps if tap.key in chosen)))
            in_time = any(
                cost_of(part, p) < math.inf and all(back <= latest + 1e-9 for back in minutes_of(part, p))
                for p in every_plan(part)
                if allowed(part, p)
            )
            if in_time:
                least = min(least, lost(set(keys) - set(chosen)))
    if math.isfinite(least):
        check(problem, found)
        assert lost(left_out) == pytest.approx(least)


@given(problem=problems(most=5))
@settings(deadline=None, max_examples=30)
def test_no_round_falls_short_of_a_bound(problem: RoundProblem) -> None:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("standmap.rounds.general.MOST_SMALL", 0)
        searched = plan_general(problem, stop=MaxIterations(20))
    check(problem, searched)
    exact = plan_general(problem)
    if not exact.left_out and not searched.left_out:
        assert searched.cost >= exact.cost * (1 - 1e-9)
        if searched.lower_bound is not None:
            assert searched.lower_bound <= exact.cost * (1 + 1e-9)
        if searched.proved:
            assert searched.cost == pytest.approx(exact.cost, rel=1e-8)


def test_how_far_from_the_best_is_told_for_people_tanks_pins_and_hours() -> None:
    plain = wood(16, seed=4)
    pinned = (replace(plain.taps[0], pin=Pin.FIRST), *plain.taps[1:])
    asked_more: list[dict[str, Any]] = [
        {"tanks": ((80.0, 80.0),)},
        {"collectors": 2},
        {"people": (Person(15.0), Person(12.0, sets_out_min=10.0))},
        {"taps": pinned},
        {"latest_min": 120.0},
    ]
    for more in asked_more:
        found = plan_general(replace(plain, **more), stop=MaxIterations(300))
        check(replace(plain, **more), found)
        assert not found.left_out
        assert found.gap_percent is not None
        assert found.gap_percent < 12


@given(problem=problems(most=12), seed=st.integers(0, 5), steps=st.integers(0, 30))
@settings(deadline=None, max_examples=40)
def test_whatever_is_asked_the_round_is_sound(problem: RoundProblem, seed: int, steps: int) -> None:
    found = plan_general(problem, seed=seed, stop=MaxIterations(steps))
    check(problem, found)


def test_a_trip_that_another_walks_for_less_is_counted_so() -> None:
    spots: list[tuple[float, float, float, float]]
    spots = [(0, 0, 1, 0), (0, 0, 1, 0), (0, 1, 4, 0), (0, 0, 1, 0), (0, 0, 1, 0), (0, 0, 1, 0), (0, -1, 1, 0)]
    spots += [(0, 2, 2.5, 3), (0, 0, 1, 0), (0, -2, 1, 3)]
    problem = RoundProblem(
        depot=(0.0, 0.0),
        taps=tuple(Tap(f"t{n}", (x, y), load_kg=kg, service_min=least) for n, (x, y, kg, least) in enumerate(spots)),
        capacity_kg=9.0,
        can_kg=1.0,
        people=(Person(9.0), Person(6.5)),
        tanks=((0.0, 1.0),),
        aim=Aim.DISTANCE,
        speed_m_per_min=50.0,
    )
    check(problem, plan_general(problem, stop=MaxIterations(0)))


def test_the_search_finds_what_is_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    for aim in Aim:
        problem = wood(8, seed=3, aim=aim, obstacles=Ground(heights=SLOPE), tanks=((80.0, 80.0),))
        exact = plan_general(problem)
        monkeypatch.setattr("standmap.rounds.general.MOST_SMALL", 0)
        searched = plan_general(problem, seed=1)
        monkeypatch.undo()
        check(problem, searched)
        assert searched.cost == pytest.approx(exact.cost, rel=1e-9)
        assert searched.lower_bound is not None
        assert searched.lower_bound <= exact.cost * (1 + 1e-9)


@pytest.mark.parametrize("aim", list(Aim))
@pytest.mark.parametrize("left_kg", [0.0, 0.4])
def test_every_group_has_the_cost_of_its_best_order(aim: Aim, left_kg: float) -> None:
    problem = wood(7, seed=9, aim=aim, obstacles=Ground(heights=SLOPE))
    problem = replace(problem, taps=tuple(replace(tap, left_kg=left_kg) for tap in problem.taps))
    walks = Walks(ask(problem))
    groups = loaded_groups(walks)
    assert groups is not None
    for members, cost in zip(groups.members.tolist(), groups.cost, strict=True):
        taps = tuple(tap for tap in members if tap < 7)
        assert cost == pytest.approx(min(walks.trip(order) for order in itertools.permutations(taps)), rel=1e-9)
        assert walks.trip(best_order(walks, taps)) == pytest.approx(cost, rel=1e-9)


@pytest.mark.parametrize("aim", [Aim.TIME, Aim.EFFORT])
def test_trips_of_a_few_taps_are_proved(aim: Aim) -> None:
    problem = wood(20, seed=4, aim=aim)
    told: list[float] = []
    found = plan_general(problem, on_best=lambda better: told.append(better.cost))
    check(problem, found)
    assert found.proved
    assert found.stopped is Ending.PROVED
    assert found.gap_percent == 0
    assert told == sorted(told, reverse=True)
    shortest = plan(replace(problem, aim=Aim.DISTANCE))
    assert found.cost < (shortest.minutes if aim is Aim.TIME else shortest.kg_m)
    assert plan_general(problem).trips == found.trips


def test_what_runs_over_soon_is_served_when_time_is_short() -> None:
    near = tuple(Tap(f"n{k}", (20.0 + k, 0.0), 3.0, 3.0, worth=3.0) for k in range(4))
    far = tuple(Tap(f"f{k}", (-60.0 - k, 0.0), 3.0, 3.0, worth=3.0, due_min=12.0) for k in range(4))
    problem = RoundProblem((0.0, 0.0), (*near, *far), 15.0, 1.0, speed_m_per_min=50.0, aim=Aim.TIME, latest_min=16.0)
    found = plan_general(problem)
    check(problem, found)
    served = {visit.key[0] for trip in found.trips for visit in trip.visits}
    assert served == {"f"}
    assert {out.why for out in found.left_out} == {LATE}
    everything = plan_general(replace(problem, latest_min=None))
    assert everything.left_out == ()
    assert everything.cost > 16.0


@pytest.mark.parametrize("count", [14, 30])
def test_a_latest_finish_holds_in_larger_rounds(count: int) -> None:
    problem = wood(count, seed=6, latest_min=75.0, people=(Person(15.0), Person(12.0, sets_out_min=10.0)))
    found = plan_general(problem, stop=MaxIterations(400))
    check(problem, found)
    assert 4 < len([v for t in found.trips for v in t.visits]) < count + 1
    assert found.gap_percent is None or not found.left_out


def test_two_people_are_back_sooner_than_one() -> None:
    one = plan_general(wood(16, seed=2), stop=MaxIterations(600))
    two = plan_general(wood(16, seed=2, collectors=2), stop=MaxIterations(600))
    check(wood(16, seed=2, collectors=2), two)
    assert {trip.collector for trip in two.trips} == {1, 2}
    assert two.cost < 0.62 * one.cost


def test_a_tank_on_the_way_saves_walking() -> None:
    plain = wood(12, seed=8)
    with_tank = replace(plain, tanks=((100.0, 100.0), (-100.0, -100.0)))
    assert plan_general(with_tank, seed=1).cost < plan_general(plain).cost


def test_a_walk_goes_on_from_where_one_stands() -> None:
    here = Person(15.0, start=(100.0, 90.0), carrying_kg=13.0)
    problem = wood(10, seed=5, people=(here,))
    found = plan_general(problem, stop=MaxIterations(300))
    check(problem, found)
    assert found.trips[0].start == (100.0, 90.0)
    assert found.trips[0].visits == ()  # the cans are full: to the tank first
    assert found.trips[-1].course[-1] == pytest.approx((0.0, 0.0))


def test_pins_and_groups_hold_in_larger_rounds() -> None:
    problem = wood(18, seed=7)
    pinned = {0: {"pin": Pin.FIRST}, 1: {"pin": Pin.LAST}, 4: {"together": "a"}, 11: {"together": "a"}}
    taps = tuple(replace(tap, **pinned.get(k, {})) for k, tap in enumerate(problem.taps))  # type: ignore[arg-type]
    found = plan_general(replace(problem, taps=taps), stop=MaxIterations(300))
    check(replace(problem, taps=taps), found)
    assert found.left_out == ()
    assert found.trips[0].visits[0].key == "t000"
    assert found.trips[-1].visits[-1].key == "t001"


def test_what_cannot_be_reached_or_carried_is_left_out_by_name() -> None:
    from standmap.rounds.ground import Course

    around = ((70.0, -20.0), (110.0, -20.0), (110.0, 20.0), (70.0, 20.0), (70.0, -20.0))
    brook = Ground(streams=(Course(around, "brook"),))
    taps = (Tap("far", (90.0, 0.0), 3.0, 3.0), Tap("near", (20.0, 0.0), 3.0, 3.0), Tap("heavy", (10.0, 0.0), 30.0, 3.0))
    problem = RoundProblem((0.0, 0.0), taps, 15.0, 1.0, obstacles=brook, speed_m_per_min=50.0, aim=Aim.TIME)
    found = plan(problem)
    why = {out.key: out.why for out in found.left_out}
    assert "the stream 'brook' without a bridge or ford" in why["far"]
    assert "more than one trip holds" in why["heavy"]
    assert [visit.key for visit in found.trips[0].visits] == ["near"]


def test_a_slope_is_walked_the_easier_way_round() -> None:
    problem = wood(12, seed=1, aim=Aim.DISTANCE, obstacles=Ground(heights=SLOPE), carrying=None)
    found = plan(problem)
    check(problem, found)


def test_the_search_is_the_same_again() -> None:
    problem = wood(24, seed=10, tanks=((60.0, 0.0),))
    one, two = (plan_general(problem, seed=3, stop=MaxIterations(200)) for _ in range(2))
    assert one.trips == two.trips
    assert one.repeatable
    walks = Walks(ask(problem))
    assert Search(walks, 1.0, 3).state([[] for _ in range(1)]).missing == tuple(range(24))


class StopsAfter:
    """Somebody who wants to stop once they were asked so often."""

    def __init__(self, asks: int) -> None:
        self.left = asks

    def at(self, done: float, total: float, what: str) -> None:
        """Do not look."""

    def stop_wanted(self) -> bool:
        self.left -= 1
        return self.left < 0


@pytest.mark.parametrize("asks", [0, 1, 40, 1500])
@pytest.mark.parametrize(
    "more",
    [{}, {"tanks": ((80.0, 80.0),), "aim": Aim.EFFORT}, {"collectors": 2}, {"latest_min": 60.0}],
    ids=["plain", "two tanks", "two people", "a latest finish"],
)
def test_stopped_by_the_person_the_round_is_whole(more: dict[str, Any], asks: int) -> None:
    problem = wood(22, seed=11, **more)
    told: list[Round] = []
    found = plan_general(problem, progress=StopsAfter(asks), on_best=told.append)
    check(problem, found)
    assert found.proved or not found.repeatable
    for better in told:
        check(problem, better)
    assert not told or found.left_out or found.cost <= told[0].cost + 1e-9


def test_no_time_at_all_still_gives_a_whole_round() -> None:
    for problem in (wood(40, seed=13), wood(40, seed=13, latest_min=90.0, collectors=2)):
        found = plan_general(problem, stop=MaxSeconds(0.0))
        check(problem, found)
        assert not found.repeatable
