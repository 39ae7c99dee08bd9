"""Rounds of which much is asked, drawn at random, and every way of walking them, tried one by one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from hypothesis import strategies as st

from standmap.rounds.asked import Asked
from standmap.rounds.carrying import Carrying
from standmap.rounds.ground import Ground
from standmap.rounds.heights import Heights
from standmap.rounds.problem import Aim, Person, Pin, RoundProblem, Tap

SLOPE = Heights(-100.0, -100.0, 50.0, np.array([[3.0 * c + 1.5 * r for c in range(5)] for r in range(5)]))


@st.composite
def problems(draw: st.DrawFn, most: int = 5) -> RoundProblem:
    """Return a small round: two tanks, two people, loads that slow, slopes, pins, all of it or some."""
    count = draw(st.integers(1, most))
    spot = st.tuples(st.integers(-60, 60).map(float), st.integers(-60, 60).map(float))
    kind = draw(st.sampled_from(["collecting", "swapping", "tapping"]))
    pins = {0: Pin.FIRST, 1: Pin.LAST} if draw(st.booleans()) and count > 2 else {}
    grouped = draw(st.booleans()) and count > 3
    taps = []
    for k in range(count):
        sap = draw(st.sampled_from([1.0, 2.5, 4.0]))
        taps.append(
            Tap(
                f"t{k}",
                draw(spot),
                load_kg=0.0 if kind == "tapping" else sap + (0.4 if kind == "swapping" else 0.0),
                service_min=draw(st.sampled_from([0.0, 3.0])),
                left_kg={"collecting": 0.0, "swapping": 0.4, "tapping": sap / 2}[kind],
                pin=pins.get(k),
                together="pair" if grouped and k in (2, 3) else "",
            )
        )
    people: tuple[Person, ...] = ()
    match draw(st.sampled_from(["one", "two", "here"])):
        case "two":
            people = (Person(9.0), Person(draw(st.sampled_from([6.5, 9.0])), start=draw(st.none() | spot)))
        case "here":
            people = (Person(9.0, start=draw(spot), carrying_kg=draw(st.sampled_from([1.0, 5.0]))),)
    return RoundProblem(
        depot=(0.0, 0.0),
        taps=tuple(taps),
        capacity_kg=9.0,
        can_kg=1.0,
        obstacles=Ground(heights=SLOPE) if draw(st.booleans()) else Ground(),
        speed_m_per_min=50.0,
        people=people,
        tanks=(draw(spot),) if draw(st.booleans()) else (),
        aim=draw(st.sampled_from(Aim)),
        carrying=Carrying() if draw(st.booleans()) else None,
    )


Trips = tuple[tuple[int, ...], ...]


def every_plan(asked: Asked) -> Iterator[tuple[Trips, ...]]:
    """Return every way to share all taps among people and trips, in every order."""
    people = len(asked.people)
    for order in itertools.permutations(range(len(asked.taps))):
        for cuts in itertools.product((False, True), repeat=max(len(order) - 1, 0)):
            trips: list[list[int]] = [[order[0]]] if order else []
            for tap, cut in zip(order[1:], cuts, strict=True):
                trips.append([tap]) if cut else trips[-1].append(tap)
            for owners in itertools.product(range(people), repeat=len(trips)):
                yield tuple(
                    tuple(tuple(t) for t, owner in zip(trips, owners, strict=True) if owner == person)
                    for person in range(people)
                )


def allowed(asked: Asked, plan: tuple[Trips, ...]) -> bool:
    """Return whether pins and groups hold, from the words of the problem."""
    for trips in plan:
        own = [tap for trip in trips for tap in trip]
        for tap in own:
            pin = asked.taps[tap].pin
            if (pin is Pin.FIRST and own[0] != tap) or (pin is Pin.LAST and own[-1] != tap):
                return False
    trip_of = {tap: (person, n) for person, trips in enumerate(plan) for n, trip in enumerate(trips) for tap in trip}
    words = {tap.together for tap in asked.taps if tap.together}
    return all(len({trip_of[k] for k, tap in enumerate(asked.taps) if tap.together == word}) == 1 for word in words)


def cost_of(asked: Asked, plan: tuple[Trips, ...]) -> float:
    """Return what a plan costs by the plain meaning of the aim; infinite where a load is too heavy.

    Every choice of tanks is tried.
    """
    each = [_person(asked, person, trips) for person, trips in enumerate(plan)]
    if asked.problem.aim is Aim.TIME and len(each) > 1:
        return max((p.sets_out_min + c for p, c in zip(asked.people, each, strict=True) if c > 0), default=0.0)
    return sum(each)


def minutes_of(asked: Asked, plan: tuple[Trips, ...]) -> list[float]:
    """Return when each person is back who walks at all; only where minutes are made least."""
    each = [_person(asked, person, trips) for person, trips in enumerate(plan)]
    return [p.sets_out_min + c for p, c in zip(asked.people, each, strict=True) if c > 0]


def _person(asked: Asked, person: int, trips: Trips) -> float:
    who = asked.people[person]
    start = asked.starts[person]
    here = who.carrying_kg is not None
    if not trips and not here:
        return 0.0
    best = math.inf
    for ends in itertools.product(asked.tanks, repeat=len(trips)):
        firsts: list[int | None] = [None, *asked.tanks] if here else [None]
        for first in firsts:
            if here and first is None and not trips:
                continue
            best = min(best, _walked(asked, who, start, trips, ends, first))
    return best


def _walked(asked: Asked, who: Person, start: int, trips: Trips, ends: tuple[int, ...], first: int | None) -> float:
    problem = asked.problem
    cost, place = 0.0, start
    cans = problem.can_kg if who.carrying_kg is None else who.carrying_kg

    def leg(a: int, b: int, load: float) -> float:
        slow = 1.0 if problem.carrying is None else problem.carrying.slowdown(round(load * 100) / 100)
        match problem.aim:
            case Aim.TIME:
                return asked.minutes[a][b] * slow
            case Aim.EFFORT:
                return asked.metres[a][b] * load
            case _:
                return asked.metres[a][b]

    if first is not None:
        cost, place, cans = leg(place, first, cans), first, problem.can_kg
    for trip, end in zip(trips, ends, strict=True):
        load = cans + sum(asked.taps[tap].left_kg for tap in trip)
        if load > who.capacity_kg + 1e-6:
            return math.inf
        for tap in trip:
            cost += leg(place, tap + asked.first_tap, load)
            cost += asked.taps[tap].service_min if problem.aim is Aim.TIME else 0.0
            load += asked.taps[tap].load_kg - asked.taps[tap].left_kg
            place = tap + asked.first_tap
            if load > who.capacity_kg + 1e-6:
                return math.inf
        cost += leg(place, end, load)
        place, cans = end, problem.can_kg
    home = 0 if who.carrying_kg is not None else start
    return cost + leg(place, home, problem.can_kg)
