"""Several trips from one depot, each as heavy as a person may carry: as little walking as possible in all."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress, Unwatched
from standmap.rounds.exact import ShownTrips, show_trips
from standmap.rounds.few import MOST_FEW, shortest_trips
from standmap.rounds.groups import all_groups, may_be_listed
from standmap.rounds.held_karp import MOST_PLACES, shortest_closed
from standmap.rounds.local import NOT_WORTH, improved
from standmap.rounds.matrix import FloatArray, check_costs, one_a_spot
from standmap.rounds.savings import Trips, cost_of_trips, fewest, first_trips
from standmap.rounds.stop import StopRule
from standmap.rounds.trip_search import Race, TripSearch, search_until_settled
from standmap.rounds.watch import Ending, Watch


@dataclass(frozen=True, slots=True)
class TripsFound:
    """Trips that visit every place once.

    Attributes
    ----------
    trips
        For each trip its places, from 1; the lower end first, and trips in the order of their first places.
    cost
        Of all trips with their ways back, in the unit of the matrix.
    proved
        Whether nothing shorter exists.
    repeatable
        Whether the same numbers, rule and seed give the same trips again.
    lower_bound
        No trips cost less than this, where known.
    stopped
        Why the search ended.
    """

    trips: Trips
    cost: float
    proved: bool
    repeatable: bool
    lower_bound: float | None
    stopped: Ending


def several_trips(
    cost: FloatArray | NDArray[np.int64],
    loads: NDArray[np.int64],
    capacity: int,
    *,
    stop: StopRule | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    on_best: Callable[[TripsFound], None] | None = None,
) -> TripsFound:
    """Find the shortest trips that visit every place and never carry more than the capacity.

    Parameters
    ----------
    cost
        Shape (n + 1, n + 1), symmetric, finite, not negative; place 0 is the depot.
    loads
        Shape (n,), whole numbers, of places 1 to n.
    capacity
        In the unit of the loads.
    stop
        Asked at every step; the search also ends by itself once it has settled.
    on_best
        Told of each better set of trips; costs never increase.

    Raises
    ------
    ValueError
        If the matrix is not as above, or a load is negative or above the capacity.

    Notes
    -----
    Few places are solved exactly. Otherwise PyVRP searches until it settles; where every trip is small, all trips that
    could be made are then listed and the shortest choice among them is proved. A time that `stop` names is used unless
    the trips are proved shortest before: searches then race each other, and the trips depend on the machine.
    """
    matrix = np.asarray(cost, dtype=np.float64)
    _check(matrix, loads, capacity)
    watch = Watch(stop, progress or Unwatched())
    best = _Best(matrix, loads, capacity, on_best)
    best.offer(first_trips(matrix, loads, capacity))
    if best.cost == 0:
        return best.found(Ending.PROVED, 0.0)
    if len(loads) <= MOST_FEW:
        best.offer(shortest_trips(matrix, loads, capacity))
        return best.found(Ending.PROVED, best.cost)
    limited = math.isfinite(watch.left_s)
    small = may_be_listed(loads, capacity)
    shown: ShownTrips | None = None
    ended = Ending.TIME
    if small or not limited:
        search_until_settled(TripSearch(matrix, loads, capacity, seed), best.trips, len(loads), watch, best.offer)
        ended = watch.ending or Ending.SETTLED
        watch.begin_search()
        groups = all_groups(matrix, loads, capacity) if small and not watch.over(best.cost, 0) else None
        shown = None if groups is None else show_trips(groups, best.trips, best.cost, watch, seed)
        if shown is not None and shown.shorter is not None:
            best.offer(shown.shorter)
        if shown is not None and shown.closed:
            return best.found(Ending.PROVED, best.cost)
    if limited:
        Race(matrix, loads, capacity, best.trips, watch, best.offer, seed).run()
        ended = Ending.TIME
    return best.found(watch.ending or ended, None if shown is None else shown.lower_bound)


def _check(cost: FloatArray, loads: NDArray[np.int64], capacity: int) -> None:
    check_costs(cost)
    if loads.shape != (len(cost) - 1,):
        raise ValueError(f"{len(cost) - 1} loads are wanted, not an array of shape {loads.shape}")
    if (loads < 0).any() or (loads > capacity).any():
        raise ValueError("loads must lie between 0 and the capacity")


class _Best:
    """The best trips so far, polished on the exact costs and written in one way only."""

    def __init__(
        self,
        cost: FloatArray,
        loads: NDArray[np.int64],
        capacity: int,
        on_best: Callable[[TripsFound], None] | None,
    ) -> None:
        self._loads, self._capacity = loads, capacity
        self.trips: Trips = ()
        self.cost = math.inf
        self._matrix = cost
        self._on_best = on_best
        self._shortest: dict[tuple[int, ...], tuple[int, ...]] = {}

    def offer(self, trips: Trips) -> float:
        """Take trips if they are better, tell of them, and return the cost of the best."""
        joined = fewest(trips, self._loads, self._capacity)
        polished = tuple(sorted(self._polished(trip) for trip in joined))
        cost = cost_of_trips(polished, self._matrix)
        if math.isinf(self.cost) or cost < self.cost * (1 - NOT_WORTH):
            self.trips, self.cost = polished, cost
            if self._on_best is not None:
                self._on_best(self.found(Ending.SETTLED, None))
        return self.cost

    def found(self, stopped: Ending, lower_bound: float | None) -> TripsFound:
        """Return the trips with what is known of them."""
        return TripsFound(self.trips, self.cost, stopped is Ending.PROVED, stopped.repeatable, lower_bound, stopped)

    def _polished(self, trip: tuple[int, ...]) -> tuple[int, ...]:
        if len(trip) >= MOST_PLACES:
            return self._ordered(trip)
        places = tuple(sorted(trip))
        if places not in self._shortest:
            self._shortest[places] = self._ordered(places)
        return self._shortest[places]

    def _ordered(self, trip: tuple[int, ...]) -> tuple[int, ...]:
        places = np.array([0, *trip])
        cost = self._matrix[np.ix_(places, places)]
        spots, members = one_a_spot(cost)
        small = np.ascontiguousarray(cost[np.ix_(spots, spots)])
        few = len(spots) <= MOST_PLACES
        order = shortest_closed(small) if few else improved(np.arange(len(spots)), small)
        walk = [int(place) for spot in order for place in np.sort(places[members[spot]]) if place != 0]
        return tuple(walk if walk[0] <= walk[-1] else walk[::-1])
