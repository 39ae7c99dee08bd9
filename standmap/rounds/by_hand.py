"""Orders given by hand: what they come to, and the shortest walk of a trip whose first or last tap is given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress
from standmap.rounds.asked import ask
from standmap.rounds.by_hand_general import AnyByHand
from standmap.rounds.closed import closed_walk
from standmap.rounds.problem import RoundProblem
from standmap.rounds.round import Round
from standmap.rounds.solve import same_both_ways, served
from standmap.rounds.walked import RoundMaker

HINDERED = 4.0
"""Legs between the depot and a tap that is neither first nor last cost this many longest legs more. Bringing a tap to
its end of a walk costs at most two, for ways are never longer than a detour over a third place."""


@dataclass(frozen=True, slots=True)
class PinnedTrip:
    """The keys of a trip in the order walked, and whether the same question gives the same order again."""

    keys: tuple[str, ...]
    repeatable: bool


class ByHand:
    """A problem with its ways found once, so that any order of its taps is told at once.

    Parameters
    ----------
    problem
        Taps that cannot be served are left out, as they are of a planned round.
    """

    def __init__(self, problem: RoundProblem) -> None:
        self._any: AnyByHand | None = None
        if problem.plain:
            taps, ways, left_out = served(problem)
            if same_both_ways(ways):
                self._maker = RoundMaker(problem, taps, ways, left_out)
                self._place = {tap.key: place for place, tap in enumerate(taps, start=1)}
                self._cost = ways.cost_m
                return
        self._any = AnyByHand(ask(problem))

    @property
    def keys(self) -> frozenset[str]:
        """The taps that can be served."""
        return frozenset(self._place) if self._any is None else self._any.keys

    def walked(self, trips: Sequence[Sequence[str]], collectors: Sequence[int] | None = None) -> Round:
        """Return the round whose trips are walked in these orders.

        Parameters
        ----------
        trips
            Keys of taps; no trip is empty. A trip may be heavier than what one may carry.
        collectors
            Who walks each trip, from 1; whoever has walked least so far when absent.

        Raises
        ------
        KeyError
            If a key is no tap that can be served.
        """
        if self._any is not None:
            return self._any.walked(trips, collectors)
        return self._maker.as_given([tuple(self._place[key] for key in trip) for trip in trips], collectors)

    def shortest(
        self, trip: Sequence[str], first: str | None, last: str | None, progress: Progress | None = None
    ) -> PinnedTrip:
        """Return the order found of a trip that begins and ends with the given taps: the best by the problem's aim.

        Parameters
        ----------
        first, last
            Keys of the trip, or None where the end is free; two different taps, not at one spot beside others.
        """
        if self._any is not None:
            return PinnedTrip(*self._any.shortest(trip, first, last, progress))
        places = np.array([0, *[self._place[key] for key in trip]])
        cost = self._cost[np.ix_(places, places)]
        begin = None if first is None else list(trip).index(first) + 1
        end = None if last is None else list(trip).index(last) + 1
        walk = closed_walk(_hindered(cost, begin, end), progress=progress)
        order = list(walk.order[1:])
        at_begin, at_end = _at_spot(cost, begin), _at_spot(cost, end)
        if (at_begin and order[0] not in at_begin) or (at_end and order[-1] not in at_end):
            order.reverse()
        # Of taps at one spot the one asked for comes outermost; that changes no way.
        if begin is not None:
            order.remove(begin)
            order.insert(0, begin)
        if end is not None:
            order.remove(end)
            order.append(end)
        return PinnedTrip(tuple(trip[place - 1] for place in order), walk.repeatable)


def _hindered(cost: NDArray[np.float64], begin: int | None, end: int | None) -> NDArray[np.float64]:
    """Return costs under which a shortest closed walk leaves the depot and comes back by the given places."""
    free = _at_spot(cost, begin) | _at_spot(cost, end)
    hindered = cost.copy()
    others = [place for place in range(1, len(cost)) if place not in free]
    if free and others:
        more = HINDERED * float(cost.max())
        hindered[0, others] += more
        hindered[others, 0] += more
    return hindered


def _at_spot(cost: NDArray[np.float64], place: int | None) -> set[int]:
    """Return the places that share a spot with one, the depot not among them."""
    return set() if place is None else {int(k) for k in np.flatnonzero(cost[place] == 0) if k != 0}
