"""Whole trips given to whoever is free, where that costs nothing and brings the last one home sooner.

Metres and effort are the same whoever walks, so a search for them does not care that one person walks everything.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from standmap.rounds.search import State
from standmap.rounds.walks import Stops, Walk, Walks

SAME = 1e-9
"""A cost within such a part of another is the same."""

Plan = list[tuple[Stops, ...]]
"""For each person the trips."""


def evened(walks: Walks, state: State) -> State:
    """Return a round that costs no more, with its trips spread so that the last person is back sooner.

    Rounds that aim at time, and those of one person, are as they should be already.
    """
    asked = walks.asked
    if len(asked.people) == 1 or not asked.adds_up:
        return state
    plan, found = list(state.trips), list(state.walks)
    while True:
        last = max(range(len(plan)), key=lambda person: _back_min(walks, person, plan, found[person]))
        best = min(_given_on(walks, plan, found, last), key=lambda given: given[0], default=None)
        if best is None:
            # A search that was stopped early may leave a trip that somebody else walks for less.
            less = math.fsum(walk.cost for walk in state.walks) - math.fsum(walk.cost for walk in found)
            return replace(state, trips=tuple(plan), walks=tuple(found), cost=state.cost - less)
        _, plan, found = best


def _given_on(walks: Walks, plan: Plan, found: Sequence[Walk], last: int) -> Iterator[tuple[float, Plan, list[Walk]]]:
    """Yield when the later of two is back, the plan and its walks for each trip that the last one may give on."""
    before = _back_min(walks, last, plan, found[last])
    for number, stops in enumerate(plan[last]):
        less = plan[last][:number] + plan[last][number + 1 :]
        rest = walks.walk(last, less)
        for other, own in enumerate(plan):
            if other == last:
                continue
            for more in ((*own, stops), (stops, *own)):
                walk = walks.walk(other, more)
                cost = found[last].cost + found[other].cost
                if rest.cost + walk.cost > cost + SAME * max(cost, 1.0):
                    continue
                changed, costs = list(plan), list(found)
                changed[last], changed[other] = less, more
                costs[last], costs[other] = rest, walk
                after = max(_back_min(walks, who, changed, costs[who]) for who in (last, other))
                if after < before - SAME * max(before, 1.0):
                    yield after, changed, costs


def _back_min(walks: Walks, person: int, plan: Plan, walk: Walk) -> float:
    """Return when somebody is back; 0 for whoever stays at home."""
    return walks.asked.people[person].sets_out_min + walk.minutes if plan[person] else 0.0
