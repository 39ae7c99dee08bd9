"""Full enumeration of rounds of up to eight taps: every order, every cut into trips, tank and sharing, many at once."""

from __future__ import annotations

import functools
import itertools
import math

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.problem import Aim, RoundProblem

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]


def least_of_all(problem: RoundProblem, minutes: FloatArray, metres: FloatArray) -> float:
    """Return the least cost of any round that serves all taps, from the words of the problem alone.

    Only for people who begin at the depot with empty cans and for taps without pins.

    Parameters
    ----------
    minutes, metres
        Ways between the depot, the tanks, and the taps in the order of the problem; with nothing to carry.
    """
    return _Every(problem, minutes, metres).least()


class _Every:
    def __init__(self, problem: RoundProblem, minutes: FloatArray, metres: FloatArray) -> None:
        self.problem, self.minutes, self.metres = problem, minutes, metres
        self.tanks = 1 + len(problem.tanks)
        self.orders = np.array(list(itertools.permutations(range(len(problem.taps)))), dtype=np.intp)
        self.trip = functools.cache(self._trip)
        self.walk = functools.cache(self._walk)

    def least(self) -> float:
        people, count = self.problem.everybody, len(self.problem.taps)
        best = math.inf
        for cuts in itertools.product((False, True), repeat=count - 1):
            edges = (0, *(k + 1 for k, cut in enumerate(cuts) if cut), count)
            for shares in itertools.combinations_with_replacement(range(len(edges)), len(people) - 1):
                # The first trips are walked by the first person, and so on; other sharings are other orders.
                bounds = (0, *shares, len(edges) - 1)
                each = [
                    self.walk(edges[a : b + 1], person.capacity_kg)
                    for person, (a, b) in zip(people, itertools.pairwise(bounds), strict=True)
                ]
                best = min(best, float(self._whole(each).min()))
        return best

    def _whole(self, each: list[FloatArray]) -> FloatArray:
        people = self.problem.everybody
        if self.problem.aim is not Aim.TIME or len(people) == 1:
            total: FloatArray = np.sum(each, axis=0)
            return total
        back = [np.where(cost > 0, cost + who.sets_out_min, 0.0) for who, cost in zip(people, each, strict=True)]
        latest: FloatArray = np.max(back, axis=0)
        return latest

    def _walk(self, edges: tuple[int, ...], capacity_kg: float) -> FloatArray:
        """Return what one person's trips cost in each order, the tanks chosen as is best."""
        trips = list(itertools.pairwise(edges))
        least = np.full(len(self.orders), np.inf if trips else 0.0)
        for ends in itertools.product(range(self.tanks), repeat=len(trips)) if trips else ():
            cost, place = np.zeros(len(self.orders)), 0
            for (a, b), end in zip(trips, ends, strict=True):
                cost += self.trip(a, b, place, end, capacity_kg)
                place = end
            empty = np.full(1, self.problem.can_kg)
            np.minimum(least, cost + self._leg(np.array([place]), np.array([0]), empty), out=least)
        return least

    def _trip(self, a: int, b: int, start: int, end: int, capacity_kg: float) -> FloatArray:
        """Return what a trip through the taps from `a` to `b` costs in each order."""
        problem, trip = self.problem, self.orders[:, a:b]
        taken = np.array([tap.load_kg for tap in problem.taps])
        left = np.array([tap.left_kg for tap in problem.taps])
        service = np.array([tap.service_min for tap in problem.taps])
        load = problem.can_kg + left[trip].sum(axis=1)
        cost, most = np.zeros(len(trip)), load
        place = np.full(len(trip), start, dtype=np.intp)
        for tap in trip.T:
            cost += self._leg(place, tap + self.tanks, load) + (service[tap] if problem.aim is Aim.TIME else 0.0)
            load = load + taken[tap] - left[tap]
            most = np.maximum(most, load)
            place = tap + self.tanks
        cost += self._leg(place, np.full_like(place, end), load)
        return np.where(most <= capacity_kg + 1e-6, cost, np.inf)

    def _leg(self, start: IndexArray, end: IndexArray, load_kg: FloatArray) -> FloatArray:
        problem = self.problem
        if problem.aim is Aim.DISTANCE:
            return self.metres[start, end]
        if problem.aim is Aim.EFFORT:
            return self.metres[start, end] * load_kg
        if problem.carrying is None:
            return self.minutes[start, end]
        tens, where = np.unique(np.rint(load_kg * 100).astype(np.intp), return_inverse=True)
        slow = np.array([problem.carrying.slowdown(ten / 100) for ten in tens.tolist()])
        slowed: FloatArray = self.minutes[start, end] * slow[where]
        return slowed
