"""The search for short trips by PyVRP: one that settles and can be repeated, and a race against the clock."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.cores import side_by_side
from standmap.rounds.matrix import FloatArray, is_whole
from standmap.rounds.savings import Trips, cost_of_trips
from standmap.rounds.stop import NoImprovement
from standmap.rounds.watch import Watch

if TYPE_CHECKING:
    from pyvrp import ProblemData, Solution

MM_PER_M = 1000
"""Costs that are not whole numbers are metres and are searched in whole millimetres."""

SETTLED_AFTER = 1000
SETTLED_AFTER_A_PLACE = 20
"""The search ends after 1000 steps and 20 more for each place in a row that brought nothing better."""

LONG_MEMORY, SHORT_MEMORY = 300, 100
"""A step may be as bad as so many steps before: a long memory finds better in the end, a short one sooner."""

HEATS = 4
"""The time of a race is divided into so many heats, or more short ones."""

LONGEST_HEAT_S_A_PLACE = 0.03
"""Longer than this a search with a short memory hardly finds better: a fresh one does."""

SEEDS_APART = 1000
"""Searches of one race have seeds in a row, and those of another seed's race have others."""

LOOK_UP_S = 0.05
"""How often the race looks for better trips and for a wish to stop."""

WHAT = "shortening the trips"

Offer = Callable[[Trips], float]
"""Takes better trips, and returns the cost of the best so far."""


def as_asked(cost: FloatArray, loads: NDArray[np.int64], capacity: int, *, vehicles: int | None = None) -> ProblemData:
    """Return the problem as PyVRP asks for it; as many vehicles as places unless told otherwise."""
    from pyvrp import Client, Depot, Location, ProblemData, VehicleType

    # Their stub asks for a type that numpy does not have.
    whole: Any = np.rint(cost if is_whole(cost) else cost * MM_PER_M).astype(np.int64)
    return ProblemData(
        locations=[Location(0, 0) for _ in range(len(cost))],
        clients=[Client(place, pickup=[load]) for place, load in enumerate(loads.tolist(), start=1)],
        depots=[Depot(0)],
        vehicle_types=[VehicleType(vehicles or len(loads), capacity=[capacity])],
        distance_matrices=[whole],
        duration_matrices=[np.zeros_like(whole)],
    )


class TripSearch:
    """PyVRP's iterated local search with a seed of its own; it lets go of Python's lock at every step.

    Parameters
    ----------
    cost, loads, capacity
        See `trips.several_trips`.
    """

    def __init__(self, cost: FloatArray, loads: NDArray[np.int64], capacity: int, seed: int) -> None:
        from pyvrp import PenaltyManager, RandomNumberGenerator
        from pyvrp.search import OPERATORS, LocalSearch, PerturbationManager, compute_neighbours

        self._data = as_asked(cost, loads, capacity)
        self._random = RandomNumberGenerator(seed=seed % 2**32)
        self._local = LocalSearch(self._data, self._random, compute_neighbours(self._data), PerturbationManager())
        for operator in OPERATORS:
            if operator.supports(self._data):
                self._local.add_operator(operator(self._data))
        # A gram too much costs about as much as it could save, so that the search goes through such trips as well.
        penalty = float(self._data.distance_matrix(0).max() / max(loads.mean(), 1.0))
        self._penalties = PenaltyManager(([penalty], 1.0, 1.0))

    def run(
        self, start: Trips | None, over: Callable[[int], bool], better: Callable[[Trips], None], memory: int
    ) -> None:
        """Search from given trips, or from any, and tell of each better set.

        Parameters
        ----------
        over
            Asked at every step, with the cost of the best trips in PyVRP's units.
        """
        from pyvrp import IteratedLocalSearch, IteratedLocalSearchParams
        from pyvrp import Solution as Visited
        from pyvrp.IteratedLocalSearch import IteratedLocalSearchCallbacks

        class Listener(IteratedLocalSearchCallbacks):
            """Hands each better solution on."""

            def on_best(self, best: Solution) -> None:
                if best.is_feasible():
                    better(_places(best))

        if start is None:
            first = self._local(
                Visited.make_random(self._data, self._random), self._penalties.cost_evaluator(), exhaustive=True
            )
        else:
            first = Visited(self._data, [[place - 1 for place in trip] for trip in start])

        def stop(best_cost: int) -> bool:
            return over(best_cost)

        IteratedLocalSearch(
            self._data,
            self._penalties,
            self._local,
            first,
            IteratedLocalSearchParams(history_length=memory, callbacks=Listener()),
        ).run(stop, collect_stats=False)


def _places(solution: Solution) -> Trips:
    return tuple(tuple(visit.idx + 1 for visit in route if visit.is_client()) for route in solution.routes())


def search_until_settled(search: TripSearch, start: Trips, places: int, watch: Watch, offer: Offer) -> None:
    """Improve trips until nothing better is found for long, or the watch says stop; the same each time."""
    settled = NoImprovement(SETTLED_AFTER + SETTLED_AFTER_A_PLACE * places)
    step = 0
    cost = offer(start)

    def over(best_cost: int) -> bool:
        nonlocal step
        ended = settled(best_cost, 0.0, step) or watch.over(cost, step)
        watch.tell(step, 0, WHAT)
        step += 1
        return ended

    def better(trips: Trips) -> None:
        nonlocal cost
        cost = offer(trips)

    search.run(start, over, better, LONG_MEMORY)


@dataclass(slots=True, eq=False)
class _Lane:
    """One search of a race; a thread of its own writes `trips`, the race reads them."""

    search: TripSearch
    trips: Trips | None
    told: Trips | None = None
    cost: float = math.inf


class Race:
    """Searches side by side, one a core: at first ever new ones, then on from the best of them.

    Parameters
    ----------
    start
        Trips to begin with; every second search begins with any.
    """

    def __init__(
        self,
        cost: FloatArray,
        loads: NDArray[np.int64],
        capacity: int,
        start: Trips,
        watch: Watch,
        offer: Offer,
        seed: int,
    ) -> None:
        self._cost, self._loads, self._capacity = cost, loads, capacity
        self._start, self._watch, self._offer, self._seed = start, watch, offer, seed
        self._begun = 0
        self._best_cost = math.inf

    def run(self) -> None:
        """Use the time that the watch leaves."""
        whole = left = self._watch.left_s
        heat = min(whole / HEATS, LONGEST_HEAT_S_A_PLACE * len(self._cost))
        lanes: list[_Lane] = []
        with ThreadPoolExecutor(side_by_side()) as threads:
            while left > 0 and not self._watch.over(self._best_cost, 0):
                fresh = left > whole / 2 or not lanes
                racing = [self._fresh() for _ in range(side_by_side())] if fresh else lanes[: side_by_side()]
                self._heat(racing, threads, perf_counter() + left / max(1, round(left / heat)))
                lanes = sorted({*lanes, *racing}, key=lambda lane: lane.cost)[: side_by_side()]
                left = self._watch.left_s

    def _fresh(self) -> _Lane:
        self._begun += 1
        search = TripSearch(self._cost, self._loads, self._capacity, self._seed * SEEDS_APART + self._begun)
        return _Lane(search, self._start if self._begun % 2 else None)

    def _heat(self, racing: list[_Lane], threads: ThreadPoolExecutor, until: float) -> None:
        def run(lane: _Lane) -> None:
            def over(_: int) -> bool:
                return perf_counter() >= until or self._watch.ending is not None

            lane.search.run(lane.trips, over, partial(setattr, lane, "trips"), SHORT_MEMORY)

        waiting = {threads.submit(run, lane) for lane in racing}
        while waiting:
            ended, waiting = wait(waiting, LOOK_UP_S, FIRST_COMPLETED)
            for one in ended:
                one.result()
            for lane in racing:
                self._take(lane)
            self._watch.tell(0, 0, WHAT)
            self._watch.over(self._best_cost, 0)

    def _take(self, lane: _Lane) -> None:
        """Pass on what a search found: searches never call out themselves, so that no two calls meet."""
        if lane.trips is not None and lane.trips is not lane.told:
            lane.told = lane.trips
            lane.cost = cost_of_trips(lane.trips, self._cost)
            self._best_cost = self._offer(lane.trips)
