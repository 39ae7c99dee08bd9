"""Showing that a set of small trips is the shortest: choose among all trips that could be made."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.groups import Groups
from standmap.rounds.program import Program
from standmap.rounds.savings import Trips
from standmap.rounds.watch import Watch

FloatArray = NDArray[np.float64]
Threes = NDArray[np.intp]
"""Shape (t, 3): three places in a row."""

SCALED_BEST = 1000.0
"""Costs are scaled so that the known trips cost this: the tolerances of the program are absolute."""

SLACK = 1e-4
"""Scaled cost within which a bound counts as reached: a ten-millionth of the whole."""

TAKEN_IN = 1500
"""So many groups, those that would pay most, come into the program at a time."""

MOST_LEFT = 40_000
"""With more groups left after the linear program the proof is given up."""

GAPS_TRIED = (0.01, 0.02, 0.04)
"""Parts of the bound above it within which trips are looked for before all up to the known ones are."""

CUTS_A_ROUND = 40

LEAST_EXCESS = 0.02
"""A cut is worth a row when it is exceeded by this much."""

MOST_KEPT = 0.9
"""When fewer groups than this part are still needed, the program is built anew from them."""

WHOLE = 1e-6
"""This close to a whole number is whole."""

MOST_PARTS = 500
"""The proof is given up after so many parts; counted, so that the same search ends at the same step again."""

WHAT = "showing that nothing is shorter"


@dataclass(frozen=True, slots=True)
class ShownTrips:
    """What could be shown.

    Attributes
    ----------
    lower_bound
        No trips cost less.
    closed
        Whether the shortest trips cost exactly this.
    shorter
        The places of each trip, in no order, where the known trips were not the shortest.
    """

    lower_bound: float
    closed: bool
    shorter: Trips | None = None


def show_trips(groups: Groups, trips: Trips, best: float, watch: Watch, seed: int = 0) -> ShownTrips | None:
    """Try to prove trips shortest, or find those that are; None when nothing was shown.

    Parameters
    ----------
    groups
        Every set that one trip can hold, see `groups.all_groups`.
    trips, best
        Known trips, places from 1, and their cost above 0.

    Notes
    -----
    Every place lies in exactly one chosen group. The linear program takes groups in as they pay; groups that cost
    more beyond their prices than the known trips lie above its bound are dropped; of any three places at most one
    chosen group holds two (M. Jepsen and others, "Subset-row inequalities applied to the vehicle-routing problem
    with time windows", Operations Research 56 (2008) 497-511, from memory); what is left is solved in whole numbers.
    """
    return _Proof(groups, trips, best, watch, seed).run()


def bound_trips(groups: Groups, trips: Trips, best: float, watch: Watch, seed: int = 0) -> float | None:
    """Return what no choice of trips falls short of, by the linear program alone; None when it took too long."""
    return _Proof(groups, trips, best, watch, seed).linear_bound()


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Some groups, cuts that hold for them, and how many trips to make of them."""

    groups: Groups
    cuts: Threes
    fewest: int
    most: int
    bound: float


class _Proof:
    """One run of the programs, over ever fewer groups."""

    def __init__(self, groups: Groups, trips: Trips, best: float, watch: Watch, seed: int) -> None:
        self.unit = best / SCALED_BEST
        self.groups = replace(groups, cost=groups.cost / self.unit)
        self.trips, self.best, self.watch, self.seed = trips, best, watch, seed
        self.threes = np.array(list(combinations(range(groups.places), 3)), dtype=np.intp).reshape(-1, 3)
        self.least = SCALED_BEST
        """The cost of the shortest trips known, scaled."""
        self.shorter: Trips | None = None
        self.parts = 0

    def linear_bound(self) -> float | None:
        found = self._over_all()
        return None if found is None else found[0] * self.unit

    def run(self) -> ShownTrips | None:
        found = self._over_all()
        if found is None:
            return None
        lowest, beyond = found
        bound = lowest
        no_cuts = np.zeros((0, 3), dtype=np.intp)
        for gap in (*GAPS_TRIED, math.inf):
            # Trips this near to the bound are few; if there are any, they are the shortest of all.
            self.least = min(SCALED_BEST, lowest * (1 + gap))
            left = self.groups.part(beyond <= self.least - lowest + SLACK)
            if len(left.cost) > MOST_LEFT:
                break
            target = self.least
            bound = max(bound, min(target, self._over_part(_Part(left, no_cuts, 0, left.places, lowest))))
            if self.shorter is not None or target == SCALED_BEST or bound < target - SLACK:
                break
        closed = bound >= self.least - SLACK and (self.shorter is not None or self.least == SCALED_BEST)
        return ShownTrips((self.least if closed else bound) * self.unit, closed, self.shorter)

    def _over(self) -> bool:
        self.watch.tell(0, 0, WHAT)
        return self.watch.over(self.best, 0)

    def _program(self, groups: Groups) -> Program:
        program = Program(self._over, self.seed)
        ones = np.ones(groups.places)
        program.add_rows(ones, ones, np.zeros((groups.places, 0)))
        program.add_columns(groups.cost, np.inf, groups.held())
        return program

    def _over_all(self) -> tuple[float, FloatArray] | None:
        """Return the bound of the linear program and what each group costs beyond its prices."""
        known = self.groups.find(self.trips)
        program = self._program(self.groups.part(known))
        inside = np.zeros(len(self.groups.cost), dtype=bool)
        inside[known] = True
        # At first the places of a known trip share its cost.
        price = self.groups.shares(known)
        while not self._over():
            beyond = self.groups.beyond(price)
            pays = np.flatnonzero((beyond < -SLACK / self.groups.places) & ~inside)
            if len(pays) == 0:
                # No trips use more groups than there are places.
                return float(price.sum() + self.groups.places * min(beyond.min(), 0.0)), beyond
            if len(pays) > TAKEN_IN:
                pays = pays[np.argpartition(beyond[pays], TAKEN_IN)[:TAKEN_IN]]
            inside[pays] = True
            taken = self.groups.part(pays)
            program.add_columns(taken.cost, np.inf, taken.held())
            solved = program.solve()
            if solved is None:
                return None
            price = solved.price
        return None

    def _over_part(self, part: _Part) -> float:
        """Return a bound for the trips made of some groups, near `least` when nothing shorter is among them.

        Cuts come in and groups that cost too much go out in turn; then the part is split or solved in whole numbers.
        """
        self.parts += 1
        groups, cuts, bound = part.groups, part.cuts, part.bound
        places = groups.places
        program = self._with_rows(part)
        while True:
            solved = None if self.parts > MOST_PARTS or self._over() else program.solve()
            if solved is None:
                return self.least if program.infeasible else bound
            x = solved.x
            bound = max(bound, solved.value)
            if np.abs(x - np.rint(x)).max() < WHOLE:
                self._take(groups, x, solved.value)
                return bound
            if bound >= self.least - SLACK:
                return bound
            beyond = groups.beyond(solved.price[:places]) - solved.price[places]
            beyond -= solved.price[places + 1 :] @ _two_of(cuts, groups)
            kept = beyond <= self.least - solved.value + SLACK
            exceeded = self._exceeded(groups, x)
            cuts = np.vstack([cuts, exceeded])
            if kept.mean() < MOST_KEPT:
                groups, x = groups.part(kept), x[kept]
                program = self._with_rows(replace(part, groups=groups, cuts=cuts))
            elif len(exceeded):
                program.add_rows(*_cut_rows(exceeded, groups))
            if len(exceeded) == 0:
                break
        rest = replace(part, groups=groups, cuts=cuts, bound=bound)
        halves = _split_by_count(rest, x) or _split_by_pair(rest, x)
        return min(self._over_part(half) for half in halves)

    def _take(self, groups: Groups, x: FloatArray, value: float) -> None:
        """Keep a choice of groups if it is whole and shorter."""
        if value >= self.least - SLACK:
            return
        chosen = groups.members[x > 0.5].tolist()
        self.shorter = tuple(tuple(place + 1 for place in row if place < groups.places) for row in chosen)
        self.least = value

    def _with_rows(self, part: _Part) -> Program:
        program = self._program(part.groups)
        count = np.ones((1, len(part.groups.cost)))
        program.add_rows(np.array([float(part.fewest)]), np.array([float(part.most)]), count)
        if len(part.cuts):
            program.add_rows(*_cut_rows(part.cuts, part.groups))
        return program

    def _exceeded(self, groups: Groups, x: FloatArray) -> Threes:
        """Return the threes of which more than one group in all holds two."""
        both = _together(groups, x)
        used = groups.part(x > WHOLE)
        share, n = x[x > WHOLE], groups.places
        all_three = np.zeros((n + 1, n + 1, n + 1))
        for i, j, k in combinations(range(groups.members.shape[1]), 3):
            np.add.at(all_three, (used.members[:, i], used.members[:, j], used.members[:, k]), share)
        a, b, c = self.threes.T
        # A group with all three is counted by each of the three pairs.
        total = both[a, b] + both[a, c] + both[b, c] - 2 * all_three[a, b, c]
        worst = np.argsort(-total, kind="stable")[:CUTS_A_ROUND]
        return self.threes[worst[total[worst] > 1 + LEAST_EXCESS]]


def _split_by_count(part: _Part, x: FloatArray) -> tuple[_Part, _Part] | None:
    """Return the part with at most and with at least so many trips, where their number is a broken one."""
    count = float(x.sum())
    few = math.floor(count)
    if min(count - few, few + 1 - count) < WHOLE:
        return None
    return replace(part, most=few), replace(part, fewest=few + 1)


def _split_by_pair(part: _Part, x: FloatArray) -> tuple[_Part, _Part]:
    """Return the part with two places on one trip and on two trips: the pair that is least decided."""
    held, both = part.groups.held(), _together(part.groups, x)
    i, j = np.triu_indices(part.groups.places, 1)
    least_decided = int(np.abs(both[i, j] - 0.5).argmin())
    one, other = held[i[least_decided]] > 0, held[j[least_decided]] > 0
    return (
        replace(part, groups=part.groups.part(one == other)),
        replace(part, groups=part.groups.part(~(one & other))),
    )


def _together(groups: Groups, x: FloatArray) -> FloatArray:
    """Return how much of the chosen groups holds two places together, shape (places, places)."""
    held = groups.part(x > WHOLE).held()
    both: FloatArray = (held * x[x > WHOLE]) @ held.T
    return both


def _two_of(threes: Threes, groups: Groups) -> FloatArray:
    """Return 1 where a group holds at least two of three places, shape (threes, groups)."""
    two: FloatArray = (groups.held()[threes].sum(axis=1) >= 2).astype(np.float64)
    return two


def _cut_rows(threes: Threes, groups: Groups) -> tuple[FloatArray, FloatArray, FloatArray]:
    return np.full(len(threes), -np.inf), np.ones(len(threes)), _two_of(threes, groups)
