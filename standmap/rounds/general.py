"""Rounds of which more is asked than few metres: exact where they are small, proved where trips are, else searched."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress, Unwatched
from standmap.rounds.asked import Asked, ask
from standmap.rounds.loaded_groups import may_be_listed
from standmap.rounds.matrix import FloatArray
from standmap.rounds.problem import GRAMS_PER_KG, Aim, RoundProblem
from standmap.rounds.round import Round
from standmap.rounds.savings import Trips, cost_of_trips, first_trips
from standmap.rounds.search import MILD, WARM, Search, State, some_round
from standmap.rounds.seen import best_of_seen
from standmap.rounds.showing import Showing
from standmap.rounds.small import MOST_SMALL, best_of_all
from standmap.rounds.stop import FirstOf, MaxIterations, MaxSeconds, StopRule
from standmap.rounds.trip_search import Race, TripSearch, search_until_settled
from standmap.rounds.walked_general import WalkedRounds
from standmap.rounds.walks import Stops, Walks
from standmap.rounds.watch import Ending, Watch

SEED_STEPS = 4000
SEED_PART = {Aim.TIME: 0.8, Aim.DISTANCE: 0.8, Aim.EFFORT: 0.3}
SHORT_PART = 0.1
"""The shortest trips are looked for in so many steps, or such a part of the time, as something to begin with: a large
one where the load counts for little, a short one where the best are soon to be shown."""

LEFT_FOR_PROOF = 0.5
"""A proof is gone for at once where its trips could be listed in this part of the time."""

BEFORE_PROOF, BEFORE_BOUND = 0.15, 0.6
"""Before trips are listed, the search has this part of its time: good trips make a proof short, and where there is only
a bound to be had the round itself comes first."""

BEFORE_CHOICE = 0.7
"""After this part of the time or the steps that are left, the best is chosen among all trips that were looked at."""

SAME = 1e-9
"""A bound within such a part of the cost is reached."""

SPARE = 1.5
"""Leaving out even a tap of little worth costs more than so many times the whole round."""


def plan_general(
    problem: RoundProblem,
    *,
    stop: StopRule | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    on_best: Callable[[Round], None] | None = None,
) -> Round:
    """Find a round by its aim; see `solve.plan` for the parameters.

    Notes
    -----
    Up to `small.MOST_SMALL` taps are solved exactly. Otherwise a search begins from short trips by PyVRP; where all
    trips are small, every trip that could be made is then listed with the cost of its best order; where they are alike
    the best choice among them is proved, otherwise it bounds what any round can come to. Where there are too many, the
    best are chosen among those that the search has looked at.
    """
    watch = Watch(stop, progress or Unwatched())
    asked = ask(problem)
    walks = Walks(asked)
    maker = WalkedRounds(asked, walks)
    unit = _unit(asked, walks)
    if not asked.taps:
        return maker.round(State(((),) * len(asked.people), (), (), 0.0), Ending.PROVED, 0.0)
    if len(asked.taps) <= MOST_SMALL:
        best = best_of_all(walks, unit)
        found = Search(walks, unit, seed).state(best.plan)
        return maker.round(found, Ending.PROVED if best.exact else Ending.SETTLED, found.cost if best.exact else None)
    search = Search(walks, unit, seed)

    def tell(state: State) -> None:
        if on_best is not None:
            on_best(maker.round(state, Ending.SETTLED, None))

    showing = Showing(search, watch, seed)
    soon = showing.may_prove and may_be_listed(walks, watch.left_s * LEFT_FOR_PROOF)
    first = _first(asked, walks, seed, watch, stop, SHORT_PART if soon else SEED_PART[problem.aim])
    state = search.state(_one_by_one(asked, walks) if first is None else first)
    warm = WARM if first is None else MILD
    bound = None
    before = BEFORE_PROOF if showing.may_prove else BEFORE_BOUND
    state = search.run(state, watch, tell, before, warm)
    watch.begin_search()
    if not state.missing:
        shown = showing.of(state)
        state, bound = shown.state, shown.bound
        tell(state)
        if _reached(bound, state):
            return maker.round(state, Ending.PROVED, state.cost)
    watch.begin_search()
    left = 1.0 if math.isfinite(watch.left_s) else 1 - before
    if showing.may_prove and not state.missing:
        state = search.run(state, watch, tell, left * BEFORE_CHOICE, warm)
        watch.begin_search()
        state = best_of_seen(search, state, watch, seed)
        watch.begin_search()
        left = 1.0 if math.isfinite(watch.left_s) else left * (1 - BEFORE_CHOICE)
    state = search.run(state, watch, tell, left, MILD)
    if _reached(bound, state):
        return maker.round(state, Ending.PROVED, state.cost)
    return maker.round(state, watch.ending or Ending.SETTLED, bound)


def _reached(bound: float | None, state: State) -> bool:
    return bound is not None and not state.missing and bound >= state.cost * (1 - SAME)


def _unit(asked: Asked, walks: Walks) -> float:
    """Return more than any sensible round costs, for each worth of a tap that is left out."""
    offset = asked.first_tap
    each = sum(
        walks.leg(0, tap + offset, asked.left_kg[tap] + asked.problem.can_kg)
        + walks.leg(tap + offset, 0, asked.taken_kg[tap] + asked.problem.can_kg)
        + asked.service_min[tap]
        for tap in range(len(asked.taps))
    )
    return SPARE * (each + 1.0) / min(asked.worth, default=1.0)


def _first(
    asked: Asked, walks: Walks, seed: int, watch: Watch, stop: StopRule | None, part: float
) -> list[list[Stops]] | None:
    """Return a good round to begin with, made of short trips; None where hours, pins or loads forbid them."""
    offset = asked.first_tap
    places = [0, *range(offset, offset + len(asked.taps))]
    table = asked.minutes if asked.problem.aim is Aim.TIME else asked.metres
    ways = np.array(table)[np.ix_(places, places)]
    ways = (ways + ways.T) / 2  # PyVRP finds better where ways and ways back are alike
    loads = np.array([max(a, b) for a, b in zip(asked.taken_kg, asked.left_kg, strict=True)])
    least = min(person.capacity_kg for person in asked.people) - asked.problem.can_kg
    grams = np.ceil(loads * GRAMS_PER_KG - 1e-6).astype(np.int64)
    room = int(least * GRAMS_PER_KG + 1e-6)
    if (grams > room).any() or asked.bound_by_hours or any(asked.pins) or max(asked.together) >= 0:
        return None
    timed = math.isfinite(watch.left_s)
    by_steps = FirstOf(MaxIterations(SEED_STEPS), *([stop] if stop else []))
    own = MaxSeconds(part * watch.left_s) if timed else by_steps
    easier = _short_trips(ways, grams, room, seed, Watch(own, watch.progress), walks)
    shared = some_round(asked, easier)
    sound = all(math.isfinite(walks.walk(person, own).cost) for person, own in enumerate(shared))
    return shared if sound else None


def _short_trips(
    ways: FloatArray, grams: NDArray[np.int64], room: int, seed: int, watch: Watch, walks: Walks
) -> list[Stops]:
    """Return the best by the aim of the sets of trips that a search for short ones with nothing to carry comes by."""
    best: list[Stops] = []
    least = math.inf

    def offer(trips: Trips) -> float:
        nonlocal best, least
        orders = [tuple(place - 1 for place in trip) for trip in trips]
        easier = [min((stops, stops[::-1]), key=walks.trip) for stops in orders]
        if (cost := math.fsum(map(walks.trip, easier))) < least:
            best, least = easier, cost
        return cost_of_trips(trips, ways)

    first = first_trips(ways, grams, room)
    offer(first)
    if ways.any() and math.isfinite(watch.left_s):
        Race(ways, grams, room, first, watch, offer, seed).run()
    elif ways.any():
        search_until_settled(TripSearch(ways, grams, room, seed), first, len(grams), watch, offer)
    return best


def _one_by_one(asked: Asked, walks: Walks) -> list[list[Stops]]:
    """Return a round in which taps, what is worth most first, are put in where they cost least."""
    search = Search(walks, 1.0, 0)
    empty = search.state([[] for _ in asked.people])
    filled = search.put_in([[] for _ in asked.people], list(empty.walks), set(range(len(asked.taps))))
    return [list(person) for person in filled.trips]
