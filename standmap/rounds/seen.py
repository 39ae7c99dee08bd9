"""The best choice among all trips that a search has looked at: seldom the ones it held at one time."""

from __future__ import annotations

import math

import numpy as np

from standmap.rounds.exact import show_trips
from standmap.rounds.groups import Groups
from standmap.rounds.loaded_groups import best_order
from standmap.rounds.search import Search, State, some_round
from standmap.rounds.walks import Stops
from standmap.rounds.watch import Watch

MOST_STOPS = 8
"""Longer trips are not chosen among."""


def best_of_seen(search: Search, state: State, watch: Watch, seed: int) -> State:
    """Return the best round made of trips that were looked at, the given one at worst.

    Only for rounds that leave nothing out, in which trips are alike and add up.
    """
    trips = [stops for person in state.trips for stops in person]
    if not 0 < state.cost < math.inf or any(len(stops) > MOST_STOPS for stops in trips) or watch.over(state.cost, 0):
        return state
    least: dict[Stops, float] = {}
    for stops, cost in search.walks.seen():
        if len(stops) <= MOST_STOPS and search.walks.fits(stops, 0) and search.whole_groups(stops):
            members = tuple(sorted(stops))
            least[members] = min(cost, least.get(members, cost))
    places = len(search.asked.taps)
    rows = np.full((len(least), max(3, *map(len, least))), places, dtype=np.int16)
    for row, members in zip(rows, least, strict=True):
        row[: len(members)] = members
    known = tuple(tuple(tap + 1 for tap in stops) for stops in trips)
    shown = show_trips(Groups(rows, places, np.array(list(least.values()))), known, state.cost, watch, seed)
    if shown is None or shown.shorter is None:
        return state
    orders = [best_order(search.walks, tuple(sorted(place - 1 for place in trip))) for trip in shown.shorter]
    better = search.state(some_round(search.asked, orders))
    return min(state, better, key=lambda one: one.cost)
