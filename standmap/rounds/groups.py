"""Every set of places that one trip can hold, and what its shortest trip costs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.savings import Trips

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.int16]

MOST_IN_GROUP = 5
"""Trips of more places than this are not listed."""

MOST_GROUPS = 1_500_000
"""More sets than this are not listed; they would take some 60 MB and seconds for each look over them."""

PARTS = 1000
"""Loads are counted in such parts of the capacity where sets are only counted."""


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """Sets of places.

    Attributes
    ----------
    members
        Shape (g, most in a group), places from 0 in rising order, filled up with the number of places.
    places
        How many places there are.
    cost
        Shape (g,), of the shortest trip from the depot through them and back.
    """

    members: IndexArray
    places: int
    cost: FloatArray

    def part(self, which: NDArray[np.bool_] | NDArray[np.intp]) -> Groups:
        """Return some of the groups."""
        return Groups(self.members[which], self.places, self.cost[which])

    def find(self, trips: Trips) -> NDArray[np.intp]:
        """Return the number of the group of each trip, whose places count from 1; all must be there."""
        widest = self.members.shape[1]
        digits = (self.places + 1) ** np.arange(widest, dtype=np.int64)
        wanted = np.full((len(trips), widest), self.places, dtype=np.int64)
        for row, trip in zip(wanted, trips, strict=True):
            row[: len(trip)] = np.sort(trip) - 1
        keys = self.members.astype(np.int64) @ digits
        rising = np.argsort(keys)
        return rising[np.searchsorted(keys, wanted @ digits, sorter=rising)]

    def shares(self, known: NDArray[np.intp]) -> FloatArray:
        """Return prices of the places, shape (places,): those of each known group share its cost."""
        held = self.part(known).held()
        price: FloatArray = held @ (self.cost[known] / held.sum(axis=0))
        return price

    def beyond(self, price: FloatArray) -> FloatArray:
        """Return what each group costs beyond the prices of its places, shape (n,)."""
        left = self.cost.copy()
        padded = np.append(price, 0.0)
        for column in self.members.T:
            left -= padded[column]
        return left

    def held(self) -> FloatArray:
        """Return 1 where a group holds a place, shape (places, g)."""
        table = np.zeros((self.places + 1, len(self.cost)))
        table[self.members.T, np.arange(len(self.cost))] = 1.0
        return table[:-1]


def may_be_listed(loads: NDArray[np.int64], capacity: int) -> bool:
    """Return whether no trip could hold more places than are listed."""
    lightest = np.sort(loads)[: MOST_IN_GROUP + 1]
    return len(lightest) <= MOST_IN_GROUP or bool(lightest.sum() > capacity)


def all_groups(cost: FloatArray, loads: NDArray[np.int64], capacity: int) -> Groups | None:
    """Return every set that one trip can hold, or None where there are too many or too large ones.

    Parameters
    ----------
    cost
        Shape (n + 1, n + 1), symmetric; place 0 is the depot.
    loads
        Shape (n,), of places 1 to n, which are counted from 0 in the groups.
    """
    levels = all_sets(loads, capacity, MOST_IN_GROUP)
    if levels is None:
        return None
    trips = _TripCosts(cost)
    costs = [trips.of(level) for level in levels]
    return Groups(filled(levels, len(loads), MOST_IN_GROUP), len(loads), np.concatenate([np.zeros(0), *costs]))


def all_sets(
    loads: NDArray[np.int64], capacity: int, largest: int, most: float = MOST_GROUPS
) -> list[IndexArray] | None:
    """Return every set that one trip can hold by its size, each of shape (g, size), from one place on.

    None where there are more than so many, or some hold more places than the largest may.
    """
    if least_number(loads, capacity, largest) > most:
        return None
    level = np.flatnonzero(loads <= capacity).astype(np.int16)[:, None]
    weight = loads[level[:, 0]]
    levels = []
    count = 0
    while len(level):
        count += len(level)
        if level.shape[1] > largest or count > most:
            return None
        levels.append(level)
        level, weight = _one_more(level, weight, loads, capacity, int(most) - count)
    return levels


def least_number(loads: NDArray[np.int64], capacity: int, largest: int) -> float:
    """Return a number of sets that there are at least: loads are rounded up to so many parts of the capacity."""
    parts = -(-loads * PARTS // max(capacity, 1))
    ways = np.zeros((largest + 1, PARTS + 1))
    ways[0, 0] = 1.0
    for part in parts[parts <= PARTS].tolist():
        ways[1:, part:] += ways[:-1, : PARTS + 1 - part].copy()
    return float(ways[1:].sum())


def filled(levels: list[IndexArray], places: int, largest: int) -> IndexArray:
    """Return all sets as rows of one length, filled up with the number of places."""
    members = np.full((sum(map(len, levels)), largest), places, dtype=np.int16)
    at = 0
    for level in levels:
        members[at : at + len(level), : level.shape[1]] = level
        at += len(level)
    return members


def _one_more(
    level: IndexArray, weight: NDArray[np.int64], loads: NDArray[np.int64], capacity: int, most: int
) -> tuple[IndexArray, NDArray[np.int64]]:
    """Return the sets with one place more, or just enough of them to see that there are too many."""
    longer, weights = [np.zeros((0, level.shape[1] + 1), dtype=np.int16)], [weight[:0]]
    found = 0
    for place, load in enumerate(loads.tolist()):
        fits = np.flatnonzero((level[:, -1] < place) & (weight + load <= capacity))
        longer.append(np.column_stack([level[fits], np.full(len(fits), place, dtype=np.int16)]))
        weights.append(weight[fits] + load)
        found += len(fits)
        if found > most:
            break
    return np.concatenate(longer), np.concatenate(weights)


class _TripCosts:
    """Shortest trips through up to five places, from one table of how to reach a place by way of two others."""

    def __init__(self, cost: FloatArray) -> None:
        self.out = cost[0, 1:]
        self.leg = cost[1:, 1:]
        to_second = self.out[:, None] + self.leg
        ordered = to_second[:, :, None] + self.leg[None, :, :]
        # by_two[a, b, m]: from the depot through a and b, whichever first, to m.
        self.by_two = np.minimum(ordered, ordered.transpose(1, 0, 2))

    def of(self, sets: IndexArray) -> FloatArray:
        """Return the cost of each row, which holds between one and five places."""
        place = sets.T.astype(np.intp)
        size = len(place)
        least: FloatArray = np.full(len(sets), np.inf)
        if size <= 2:
            least = self.out[place[0]] + self._home(place[0], list(place[1:]))
        for m in range(size if size > 2 else 0):
            rest = [k for k in range(size) if k != m]
            for a, b in combinations(rest, 2):
                others = [k for k in rest if k not in (a, b)]
                if others and size == 5 and a != rest[0]:
                    continue  # the two pairs about the middle were seen the other way round
                way = self.by_two[place[a], place[b], place[m]]
                np.minimum(least, way + self._home(place[m], [place[k] for k in others]), out=least)
        return least

    def _home(self, start: NDArray[np.intp], others: list[NDArray[np.intp]]) -> FloatArray:
        """Return the cost from a place by way of none, one or two others to the depot."""
        home: FloatArray
        if not others:
            home = self.out[start]
        elif len(others) == 1:
            home = self.leg[start, others[0]] + self.out[others[0]]
        else:
            home = self.by_two[others[0], others[1], start]
        return home
