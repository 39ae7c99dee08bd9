"""Good closed walks by fast_tsp, one a core at a time, and the best that can be made of their legs."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.cores import side_by_side
from standmap.rounds.local import cost_of, improved
from standmap.rounds.matrix import FloatArray, Order, is_whole

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
        self._tables = _tables(cost)

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

        def search(table: NDArray[np.int64]) -> Order:
            found = np.array(fast_tsp.find_tour(table, seconds), dtype=np.intp)
            return improved(np.roll(found, -int(found.argmin())), self._cost)

        with ThreadPoolExecutor(len(self._tables)) as threads:
            begun = [threads.submit(search, table) for table in self._tables]
            _load_what_joins()
            walks = self._shortest_first([*known, *(one.result() for one in begun)])
        if len(walks) > 1:
            until = perf_counter() + seconds
            made = _joined(walks, self._cost, lambda: perf_counter() > until or over(), seed)
            walks = walks if made is None else self._shortest_first([made, *walks])
        return walks

    def _shortest_first(self, walks: list[Order]) -> list[Order]:
        """Return the shortest few, one of each cost: equal costs are nearly always equal walks."""
        by_cost: dict[float, Order] = {}
        for walk in walks:
            by_cost.setdefault(cost_of(walk, self._cost), walk)
        return [by_cost[cost] for cost in sorted(by_cost)[:MOST_JOINED]]


def _joined(walks: list[Order], cost: FloatArray, over: Callable[[], bool], seed: int) -> Order | None:
    from standmap.rounds.subtour import joined

    return joined(walks, cost, over, seed)


def _load_what_joins() -> None:
    """Import what comes next while the threads search: a tenth of a second that would be missed later."""
    import highspy  # noqa: F401
    import scipy.sparse.csgraph  # noqa: F401


def _tables(cost: FloatArray) -> list[NDArray[np.int64]]:
    """Return costs that fast_tsp takes, for each thread: unchanged where they are whole and small, else scaled."""
    top = float(cost.max())
    exact = top <= MOST_COST and is_whole(cost)
    table = (cost if exact else np.rint(cost * (MOST_COST / top))).astype(np.int64)
    return [table] * side_by_side()
