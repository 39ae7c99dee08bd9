"""One closed walk through every place: the cans hold it all, or nothing is carried."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress, Unwatched
from standmap.rounds.held_karp import MOST_PLACES, shortest_closed
from standmap.rounds.local import NOT_WORTH, cost_of, improved, nearest_first
from standmap.rounds.matrix import check_costs, is_whole, one_a_spot
from standmap.rounds.stop import StopRule
from standmap.rounds.subtour import show
from standmap.rounds.watch import Ending, Watch

MOST_COST = 65535
"""The largest integer cost that fast_tsp takes (its documentation)."""

SLICES_TO_SETTLE = 3
"""The search ends after so many slices in a row that brought nothing better."""

MOST_SHOWN = 200
"""Up to so many places a lower bound is computed, and the walk proved shortest where that is quick."""


@dataclass(frozen=True, slots=True)
class ClosedWalk:
    """A walk through all places and back.

    Attributes
    ----------
    order
        The places, beginning with 0; of the two directions the one whose second place is the lower.
    cost
        The way back included, in the unit of the matrix.
    proved
        Whether nothing shorter exists.
    repeatable
        Whether the same matrix gives the same walk again.
    lower_bound
        No closed walk costs less than this, where known.
    stopped
        Why the search ended.
    """

    order: tuple[int, ...]
    cost: float
    proved: bool
    repeatable: bool
    lower_bound: float | None
    stopped: Ending


def closed_walk(
    cost: NDArray[np.float64] | NDArray[np.int64],
    *,
    stop: StopRule | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    on_best: Callable[[ClosedWalk], None] | None = None,
) -> ClosedWalk:
    """Find a shortest closed walk through all places.

    Parameters
    ----------
    cost
        Shape (n, n), n at least 1, symmetric, finite, not negative.
    stop
        Asked between slices of a few tenths of a second; iterations are slices.
    seed
        Of the proof's branching; the search between has none.
    on_best
        Told of each better walk; costs never increase.

    Raises
    ------
    ValueError
        If the matrix is not as above.

    Notes
    -----
    Few places are solved exactly. More are searched by fast_tsp, which has no seed and ends by the clock: it is
    called in short slices, each is polished on the exact costs, and the best is kept.
    """
    matrix = np.asarray(cost, dtype=np.float64)
    check_costs(matrix)
    watch = Watch(stop, progress or Unwatched())
    firsts, members = one_a_spot(matrix)
    small = np.ascontiguousarray(matrix[np.ix_(firsts, firsts)])

    def finished(walk: ClosedWalk) -> ClosedWalk:
        order = np.concatenate([members[place] for place in walk.order])
        return replace(walk, order=_lower_first(order), cost=cost_of(order, matrix))

    told = math.inf

    def tell(walk: ClosedWalk) -> None:
        nonlocal told
        if on_best is not None and (better := finished(walk)).cost < told:
            told = better.cost
            on_best(better)

    if len(small) <= MOST_PLACES:
        walk = _plain(shortest_closed(small), small, proved=True)
    else:
        walk = _searched(small, watch, tell, seed)
    tell(walk)
    return finished(walk)


def _searched(cost: NDArray[np.float64], watch: Watch, tell: Callable[[ClosedWalk], None], seed: int) -> ClosedWalk:
    import fast_tsp

    whole = _whole_costs(cost)
    slice_s = float(np.clip(len(cost) / 1000, 0.15, 0.3))
    best = _plain(nearest_first(cost), cost)
    tell(best)
    bound: float | None = None
    quiet = done = 0
    while quiet < SLICES_TO_SETTLE and not watch.over(best.cost, done):
        watch.tell(quiet, SLICES_TO_SETTLE, "shortening the walk")
        found = np.array(fast_tsp.find_tour(whole, slice_s), dtype=np.intp)
        found = improved(np.roll(found, -int(np.flatnonzero(found == 0)[0])), cost)
        length = cost_of(found, cost)
        done += 1
        quiet += 1
        if length < best.cost * (1 - NOT_WORTH):
            best, quiet = _plain(found, cost), 0
            tell(best)
        if done == 1 and len(cost) <= MOST_SHOWN:
            # The first slice is nearly always the shortest walk: showing it ends the search at once.
            shown = show(cost, best.cost, watch, seed)
            if shown is not None and shown.shortest is not None:
                return _plain(shown.shortest, cost, proved=True)
            bound = shown.lower_bound if shown is not None else None
    return replace(best, lower_bound=bound, stopped=watch.ending or Ending.SETTLED)


def _plain(order: NDArray[np.intp], cost: NDArray[np.float64], *, proved: bool = False) -> ClosedWalk:
    length = cost_of(order, cost)
    ending = Ending.PROVED if proved else Ending.SETTLED
    return ClosedWalk(tuple(order.tolist()), length, proved, proved, length if proved else None, ending)


def _whole_costs(cost: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return integer costs that fast_tsp takes: unchanged where they are whole and small, else scaled."""
    top = float(cost.max())
    if top <= MOST_COST and is_whole(cost):
        return cost.astype(np.int64)
    return np.rint(cost * (MOST_COST / top)).astype(np.int64)


def _lower_first(order: NDArray[np.intp]) -> tuple[int, ...]:
    """Return the walk in the direction whose second place is the lower."""
    if len(order) > 2 and order[1] > order[-1]:
        order = np.concatenate([order[:1], order[:0:-1]])
    return tuple(order.tolist())
