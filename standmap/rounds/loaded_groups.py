"""Every set of taps that one trip can hold, and what its best trip costs with what is carried on every leg."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.asked import Asked
from standmap.rounds.groups import MOST_GROUPS, Groups, all_sets, filled, least_number
from standmap.rounds.problem import GRAMS_PER_KG, Aim
from standmap.rounds.walks import Stops, Walks

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]

MOST_AT_STOPS = 8
"""Trips of more stops than this are not listed."""

SETS_A_SECOND = 120_000
"""So many sets are worth listing for each second that is left: a third of the time, on a slow machine."""

AT_ONCE = 100_000
"""So many sets are looked at in one go."""


def loaded_groups(walks: Walks, left_s: float = math.inf) -> Groups | None:
    """Return every set that one trip can hold with the cost of its best order, or None where there are too many.

    They are too many, too, when listing them would take too large a part of the seconds that are left.

    Where trips are not all alike (`Asked.single`), each is taken to begin and end wherever that costs least, walked by
    whoever carries most: then no trip of a set costs less than is told. Only for loads that grow at every stop or
    shrink at every stop: then a trip is heaviest at its beginning or its end, whatever the order.
    """
    asked = walks.asked
    loads, room = _loads(asked)
    if room < 0:
        return None
    count = len(asked.taps)
    levels = all_sets(loads, room, MOST_AT_STOPS, _most(left_s))
    if levels is None:
        return None
    best = _BestOrders(walks)
    costs = [
        best.costs(level[first : first + AT_ONCE].astype(np.intp))
        for level in levels
        for first in range(0, len(level), AT_ONCE)
    ]
    listed = Groups(filled(levels, count, max(len(levels), 3)), count, np.concatenate([np.zeros(0), *costs]))
    return _kept_together(listed, asked)


def may_be_listed(walks: Walks, left_s: float = math.inf) -> bool:
    """Return whether there seem to be few enough sets; see `loaded_groups`."""
    loads, room = _loads(walks.asked)
    return room >= 0 and least_number(loads, room, MOST_AT_STOPS) <= _most(left_s)


def _most(left_s: float) -> float:
    return min(MOST_GROUPS, left_s * SETS_A_SECOND)


def _loads(asked: Asked) -> tuple[NDArray[np.int64], int]:
    """Return each tap's load and the room for them, in grams; the room is below 0 where they may not be summed up."""
    taken, left = np.array(asked.taken_kg), np.array(asked.left_kg)
    grows = taken >= left
    if not (grows.all() or (~grows).all()):
        return np.zeros(len(taken), dtype=np.int64), -1
    grams = np.ceil(np.maximum(taken, left) * GRAMS_PER_KG - 1e-6).astype(np.int64)
    return grams, int((_most_kg(asked) - _least_kg(asked)) * GRAMS_PER_KG + 1e-6)


def _most_kg(asked: Asked) -> float:
    return max(person.capacity_kg for person in asked.people)


def _least_kg(asked: Asked) -> float:
    """Return what anybody carries at least beside what a trip holds."""
    return min(asked.problem.can_kg, *(p.carrying_kg for p in asked.people if p.carrying_kg is not None), math.inf)


def _kept_together(groups: Groups, asked: Asked) -> Groups:
    """Return the sets that hold all or nothing of every group of taps that go together."""
    keep = np.ones(len(groups.cost), dtype=bool)
    together = np.array([*asked.together, -1])
    for group in range(together.max() + 1):
        size = int((together == group).sum())
        held = (together[groups.members] == group).sum(axis=1)
        keep &= (held == 0) | (held == size)
    return groups.part(keep)


class _BestOrders:
    """Costs of the best orders of many sets of one size at once, by dynamic programming over their subsets."""

    def __init__(self, walks: Walks) -> None:
        asked = walks.asked
        problem = asked.problem
        self.aim = problem.aim
        self.can = _least_kg(asked)
        offset = asked.first_tap
        minutes, metres = np.array(asked.minutes), np.array(asked.metres)
        ways = minutes if self.aim is Aim.TIME else metres
        self.out = ways[[*asked.tanks, *asked.starts], offset:].min(axis=0)
        self.home = ways[offset:, list(asked.tanks)].min(axis=1)
        self.leg = ways[offset:, offset:]
        self.taken, self.left = np.array(asked.taken_kg), np.array(asked.left_kg)
        self.service = np.array(asked.service_min) if self.aim is Aim.TIME else np.zeros(len(asked.taps))
        most = _most_kg(asked)
        self.slow = np.array([walks.slowdown(k / 100) for k in range(int(most * 100) + 2)])

    def _weighed(self, way: FloatArray, load_kg: FloatArray) -> FloatArray:
        if self.aim is Aim.DISTANCE:
            return way
        if self.aim is Aim.EFFORT:
            return way * load_kg
        slowed: FloatArray = way * self.slow[np.rint(load_kg * 100).astype(np.intp)]
        return slowed

    def costs(self, sets: IndexArray) -> FloatArray:
        """Return the cost of the best trip through each set, shape (g,), for sets of shape (g, k)."""
        size = sets.shape[1]
        out_kg = self.can + self.left[sets].sum(axis=1)
        change = (self.taken - self.left)[sets]
        table: dict[tuple[int, int], FloatArray] = {
            (1 << k, k): self._weighed(self.out[sets[:, k]], out_kg) + self.service[sets[:, k]] for k in range(size)
        }
        for seen in sorted(range(1, 1 << size), key=int.bit_count):
            load = out_kg + sum(change[:, k] for k in range(size) if seen >> k & 1)
            for last in (k for k in range(size) if seen >> k & 1):
                before = table[seen, last]
                for k in (k for k in range(size) if not seen >> k & 1):
                    cost = before + self._weighed(self.leg[sets[:, last], sets[:, k]], load) + self.service[sets[:, k]]
                    spot = (seen | 1 << k, k)
                    table[spot] = np.minimum(table[spot], cost) if spot in table else cost
        whole = (1 << size) - 1
        home_kg = out_kg + change.sum(axis=1)
        ends = [table[whole, k] + self._weighed(self.home[sets[:, k]], home_kg) for k in range(size)]
        least: FloatArray = np.min(ends, axis=0)
        return least


def best_order(walks: Walks, taps: tuple[int, ...], first: int | None = None, last: int | None = None) -> Stops:
    """Return the best order of the taps of one trip from the depot and back; for a few taps only.

    Parameters
    ----------
    first, last
        Taps that it begins and ends with; two different ones, None where it does not matter.
    """
    table: dict[tuple[int, int], tuple[float, Stops]] = {}
    asked = walks.asked
    offset, can = asked.first_tap, asked.problem.can_kg
    out = sum(asked.left_kg[tap] for tap in taps) + can
    service = asked.service_min if asked.problem.aim is Aim.TIME else [0.0] * len(asked.taps)
    whole = (1 << len(taps)) - 1
    for k, tap in enumerate(taps):
        if (first is None or tap == first) and (tap != last or len(taps) == 1):
            table[1 << k, k] = (walks.leg(0, tap + offset, out) + service[tap], (tap,))
    for seen in sorted(range(1, whole), key=int.bit_count):
        load = out + sum(asked.taken_kg[t] - asked.left_kg[t] for k, t in enumerate(taps) if seen >> k & 1)
        for before in (k for k in range(len(taps)) if (seen, k) in table):
            cost, order = table[seen, before]
            for k in (k for k in range(len(taps)) if not seen >> k & 1):
                if taps[k] == last and seen | 1 << k != whole:
                    continue
                total = cost + walks.leg(taps[before] + offset, taps[k] + offset, load) + service[taps[k]]
                spot = (seen | 1 << k, k)
                if spot not in table or total < table[spot][0]:
                    table[spot] = (total, (*order, taps[k]))
    home = out + sum(asked.taken_kg[t] - asked.left_kg[t] for t in taps)
    done = [(k, *table[whole, k]) for k in range(len(taps)) if (whole, k) in table]
    return min((cost + walks.leg(taps[k] + offset, 0, home), order) for k, cost, order in done)[1]
