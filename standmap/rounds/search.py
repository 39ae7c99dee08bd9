"""A search for rounds of which everything may be asked: loads that slow, several tanks, people, pins, a latest finish.

Strings of neighbouring taps are taken out of their trips and put back where they cost least, again and again, and what
is worse is kept now and then (J. Christiaens and G. Vanden Berghe, "Slack induction by string removals for vehicle
routing problems", Transportation Science 54 (2020) 417-433, from memory); costs are those of whole walks, so that
nothing has to be symmetric or independent of the load.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from standmap.rounds.asked import Asked
from standmap.rounds.loaded_groups import best_order
from standmap.rounds.problem import Aim
from standmap.rounds.putting_in import PuttingIn
from standmap.rounds.walks import Stops, Walk, Walks, whole_cost
from standmap.rounds.watch import Watch

LONGEST_STRING = 10
USUAL_TAKEN_OUT = 8
"""Taps taken out in one step, on average."""

NEIGHBOURS = 12
"""A tap is put back beside one of so many nearest others, or on a trip of its own."""

WARM, MILD, COLD = 0.03, 0.002, 0.0002
"""A step that is worse by such a part of the cost is still taken with a chance of 1 in e: at first, at first where the
search begins from a good round, and at last."""

STEPS_A_TAP, FEWEST_STEPS = 60, 1500
"""So many steps a tap before the search has settled, where no time is given."""

ORDERED = 6
"""Trips of so many stops get their best order whenever something better is found."""

WHAT = "improving the walk"


@dataclass(frozen=True, slots=True)
class State:
    """A whole round: for each person the trips; taps that are left out; what each walk and the round cost."""

    trips: tuple[tuple[Stops, ...], ...]
    missing: tuple[int, ...]
    walks: tuple[Walk, ...]
    cost: float


class Search:
    """One search.

    Parameters
    ----------
    unit
        What leaving out a tap of worth 1 costs.
    """

    def __init__(self, walks: Walks, unit: float, seed: int) -> None:
        self.walks, self.asked, self.unit = walks, walks.asked, unit
        self._random = random.Random(seed)  # noqa: S311 - chance in a search, not in a secret
        asked = self.asked
        self._standing = math.fsum(asked.service_min) / len(asked.people) if asked.problem.aim is Aim.TIME else 0.0
        first = asked.first_tap
        minutes = np.array(asked.minutes)[first:, first:]
        near = np.minimum(minutes, minutes.T)
        self._near = [[int(k) for k in np.argsort(row, kind="stable") if k != tap] for tap, row in enumerate(near)]
        self._putting_in = PuttingIn(walks, [set(row[:NEIGHBOURS]) for row in self._near], self._random)
        self._members: dict[int, tuple[int, ...]] = {}
        for tap, group in enumerate(asked.together):
            self._members[tap] = (
                tuple(t for t, other in enumerate(asked.together) if other == group) if group >= 0 else (tap,)
            )

    def state(self, trips: Sequence[Sequence[Stops]]) -> State:
        """Return the round of these trips; taps of none are left out."""
        held = {tap for person in trips for stops in person for tap in stops}
        missing = tuple(tap for tap in range(len(self.asked.taps)) if tap not in held)
        walks = tuple(self.walks.walk(person, own) for person, own in enumerate(trips))
        cost = whole_cost(self.asked, walks, missing, self.unit)
        return State(tuple(map(tuple, trips)), missing, walks, cost)

    def whole_groups(self, stops: Stops) -> bool:
        """Return whether a trip holds all or nothing of every group of taps that go together."""
        return all(member in stops for tap in stops for member in self._members[tap])

    def run(
        self, first: State, watch: Watch, tell: Callable[[State], None], part: float = 1.0, warm: float = WARM
    ) -> State:
        """Return the best round found.

        Parameters
        ----------
        tell
            Hears of each better one.
        part
            Of the time that is left, or of the steps after which it has settled.
        warm
            A step that is worse by such a part of the cost is still taken at first, with a chance of 1 in e.
        """
        best = now = self._ordered(first)
        tell(best)
        steps = part * max(FEWEST_STEPS, STEPS_A_TAP * len(self.asked.taps))
        timed = math.isfinite(watch.left_s)
        whole_s, ends_s = max(part * watch.left_s, 1e-9), (1 - part) * watch.left_s
        step = 0
        while not watch.over(best.cost, step):
            done = 1 - (watch.left_s - ends_s) / whole_s if timed else step / steps
            if done >= 1:
                break
            if step % 50 == 0:
                watch.tell(round(100 * done), 100, WHAT)
            step += 1
            tried = self._step(now)
            heat = max(best.cost - self._standing, 1e-9) * warm * (COLD / warm) ** done
            if tried.cost < now.cost - heat * math.log(max(self._random.random(), 1e-300)):
                now = tried
                if now.cost < best.cost * (1 - 1e-9):
                    best = now = self._ordered(now)
                    tell(best)
        return best

    # One step

    def _step(self, now: State) -> State:
        trips = [[list(stops) for stops in person] for person in now.trips]
        out = self._taken_out(trips)
        out |= set(now.missing)
        for tap in tuple(out):
            for other in self._members[tap]:
                if other not in out:
                    out.add(other)
                    _remove(trips, other)
        plan = [[tuple(stops) for stops in person if stops] for person in trips]
        walks = [
            self.walks.walk(person, own) if own != list(now.trips[person]) else now.walks[person]
            for person, own in enumerate(plan)
        ]
        return self.put_in(plan, walks, out)

    def _taken_out(self, trips: list[list[list[int]]]) -> set[int]:
        where = {tap: stops for person in trips for stops in person for tap in stops}
        if not where:
            return set()
        lengths = [len(stops) for person in trips for stops in person if stops]
        longest = min(LONGEST_STRING, sum(lengths) / len(lengths))
        strings = int(self._random.uniform(1, 4 * USUAL_TAKEN_OUT / (1 + longest)))
        seed = self._random.choice(sorted(where))
        out: set[int] = set()
        touched: list[list[int]] = []
        for tap in (seed, *self._near[seed]):
            if len(touched) >= max(strings, 1):
                break
            stops = where.get(tap)
            if stops is None or tap in out or any(stops is one for one in touched):
                continue
            size = int(self._random.uniform(1, min(len(stops), longest) + 1))
            at = stops.index(tap)
            begin = self._random.randint(max(0, at - size + 1), min(at, len(stops) - size))
            out.update(stops[begin : begin + size])
            del stops[begin : begin + size]
            touched.append(stops)
        return out

    def put_in(self, plan: list[list[Stops]], walks: list[Walk], out: set[int]) -> State:
        """Return the round with taps put in where they cost least; what fits nowhere is left out.

        Parameters
        ----------
        plan, walks
            The trips of each person without them, and what those walks cost; both are changed.
        """
        asked = self.asked
        order = sorted(out)
        kind = self._random.random()
        if kind < 0.4:
            self._random.shuffle(order)
        elif kind < 0.7:
            order.sort(key=lambda tap: -asked.taken_kg[tap] - asked.left_kg[tap])
        else:
            order.sort(key=lambda tap: -asked.minutes[0][tap + asked.first_tap])
        if asked.bound_by_hours:
            order.sort(key=lambda tap: -asked.penalty(tap) * self._random.uniform(0.5, 1.5))
        # Pinned taps come last, when there are trips for them to begin and end.
        order.sort(key=lambda tap: asked.pins[tap] is not None)
        missing: list[int] = []
        waiting = set(order)
        for tap in order:
            if tap not in waiting:
                continue
            members = [one for one in self._members[tap] if one in waiting]
            waiting.difference_update(members)
            if not self._putting_in.place(plan, walks, members):
                missing.extend(members)
        cost = whole_cost(asked, walks, missing, self.unit)
        return State(tuple(map(tuple, plan)), tuple(sorted(missing)), tuple(walks), cost)

    # Best orders

    def _ordered(self, state: State) -> State:
        """Return the round with its short trips in their best orders."""
        if not self.asked.single:
            return state
        trips = [
            [best_order(self.walks, tuple(sorted(s))) if 2 < len(s) <= ORDERED and self._free(s) else s for s in person]
            for person in state.trips
        ]
        better = self.state(trips)
        return better if better.cost < state.cost else state

    def _free(self, stops: Stops) -> bool:
        return all(self.asked.pins[tap] is None for tap in stops)


def _remove(trips: list[list[list[int]]], tap: int) -> None:
    for person in trips:
        for stops in person:
            if tap in stops:
                stops.remove(tap)


def some_round(asked: Asked, trips: Sequence[Stops]) -> list[list[Stops]]:
    """Return trips shared out among the people, the longest first to whoever has walked least."""
    shared: list[list[Stops]] = [[] for _ in asked.people]
    walked = [person.sets_out_min for person in asked.people]
    offset = asked.first_tap

    def minutes(stops: Stops) -> float:
        places = [0, *(tap + offset for tap in stops), 0]
        served = sum(asked.service_min[tap] for tap in stops)
        return served + sum(asked.minutes[a][b] for a, b in pairwise(places))

    for stops in sorted(trips, key=minutes, reverse=True):
        who = walked.index(min(walked))
        shared[who].append(stops)
        walked[who] += minutes(stops)
    return shared
