"""Good closed walks by fast_tsp, one a core at a time, and the best that can be made of their legs."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from time import perf_counter

import numpy as np

from standmap.rounds.cores import side_by_side
from standmap.rounds.local import cost_of, improved
from standmap.rounds.matrix import FloatArray, Order, is_whole
from standmap.rounds.subtour import joined

MOST_COST = 65535
"""The largest integer cost that fast_tsp takes (its documentation)."""

MOST_JOINED = 4
"""So many of the best walks are joined: more of them differ in more places, and the joining takes longer."""


class Searcher:
    """Searches on threads, for fast_tsp lets go of Python's lock.

    Parameters
    ----------
    cost
        Shape (n, n), symmetric, finite, not negative, n at least 5.
    """

    def __init__(self, cost: FloatArray) -> None:
        self._cost = cost
        top = float(cost.max())
        self._exact = top <= MOST_COST and is_whole(cost)
        self._table = (cost if self._exact else np.rint(cost * (MOST_COST / top))).astype(np.int64)

    def better(self, known: list[Order], seconds: float, over: Callable[[], bool], seed: int) -> list[Order]:
        """Return some good walks, the shortest first: of those known, of new ones, and of what joins them.

        Parameters
        ----------
        known
            Walks of an earlier call.
        seconds
            For each search; joining comes on top, and takes no longer than that again.
        over
            Asked now and then whether to give up joining.
        """
        import fast_tsp

        def search() -> Order:
            found = np.array(fast_tsp.find_tour(self._table, seconds), dtype=np.intp)
            found = np.roll(found, -int(found.argmin()))
            # Whole costs it has left no such move of; rounded ones may hide some.
            return found if self._exact else improved(found, self._cost)

        with ThreadPoolExecutor(side_by_side()) as threads:
            begun = [threads.submit(search) for _ in range(side_by_side())]
            _load_what_joins()
            walks = self._shortest_first([*known, *(one.result() for one in begun)])
        if len(walks) > 1:
            until = perf_counter() + seconds
            made = joined(walks, self._cost, lambda: perf_counter() > until or over(), seed)
            walks = walks if made is None else self._shortest_first([made, *walks])
        return walks

    def _shortest_first(self, walks: list[Order]) -> list[Order]:
        """Return the shortest few, one of each cost: equal costs are nearly always equal walks."""
        by_cost: dict[float, Order] = {}
        for walk in walks:
            by_cost.setdefault(cost_of(walk, self._cost), walk)
        return [by_cost[cost] for cost in sorted(by_cost)[:MOST_JOINED]]


def _load_what_joins() -> None:
    """Import what comes next while the threads search: a tenth of a second that would be missed later."""
    import highspy  # noqa: F401
    import scipy.sparse.csgraph  # noqa: F401
