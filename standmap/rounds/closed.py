"""One closed walk through every place: the cans hold it all, or nothing is carried."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress, Unwatched
from standmap.rounds.held_karp import MOST_PLACES, shortest_closed
from standmap.rounds.joining import Searcher
from standmap.rounds.local import NOT_WORTH, cost_of, nearest_first
from standmap.rounds.matrix import FloatArray, Order, check_costs, one_a_spot
from standmap.rounds.stop import MaxSeconds, StopRule
from standmap.rounds.subtour import show
from standmap.rounds.watch import Ending, Watch

SLICES_TO_SETTLE = 2
"""Where no time is named, the search ends after so many slices in a row that brought nothing better."""

LEAST_SLICE_S, SLICE_S_A_PLACE, LONGEST_SLICE_S = 0.15, 0.001, 1.0
"""How long one slice usually is: long enough for a good walk, short enough that a wish to stop is soon heard."""

JOINING_S_A_PLACE = 2e-4
"""What joining walks is given of the time, roughly: measured with up to 800 places."""

SHORTEST_SLICE_S = 0.04
"""With less time left than this no slice is begun."""

MOST_SHOWN = 600
"""Up to so many places a lower bound is computed, and the walk proved shortest where that is quick."""

SHOWING_S_A_PLACE = 0.003
"""Where a time is named, a bound is looked for only while so much of it is left: the walk itself comes first."""

SHOWING_SHARE = 0.7
"""And so much of what is left is given to it."""


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
    called in short slices, one walk a core, each is polished on the exact costs, the best are joined into one, and the
    best of all is kept. A time that `stop` names is used, unless the walk is proved shortest before.
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


def _searched(cost: FloatArray, watch: Watch, tell: Callable[[ClosedWalk], None], seed: int) -> ClosedWalk:
    best = _plain(nearest_first(cost), cost)
    tell(best)
    limited = math.isfinite(watch.left_s)
    searcher = Searcher(cost)
    bound: float | None = None
    good: list[Order] = []
    quiet = done = 0
    while (limited or quiet < SLICES_TO_SETTLE) and not watch.over(best.cost, done):
        slice_s = _slice_s(len(cost), watch.left_s)
        if slice_s < SHORTEST_SLICE_S:
            break
        watch.tell(quiet, SLICES_TO_SETTLE, "shortening the walk")
        good = searcher.better(good, slice_s, partial(watch.over, best.cost, done), seed)
        done += 1
        quiet += 1
        if cost_of(good[0], cost) < best.cost * (1 - NOT_WORTH):
            best, quiet = _plain(good[0], cost), 0
            tell(best)
        if done == (2 if limited else 1) and _worth_showing(len(cost), watch.left_s):
            # By now the walk is nearly always the shortest: showing it ends the search at once.
            until = Watch(MaxSeconds(SHOWING_SHARE * watch.left_s), watch.progress) if limited else watch
            shown = show(cost, best.cost, until, seed)
            if shown is not None and shown.shortest is not None:
                return _plain(shown.shortest, cost, proved=True)
            bound = shown.lower_bound if shown is not None else None
    ended = watch.ending or (Ending.TIME if limited else Ending.SETTLED)
    return replace(best, lower_bound=bound, stopped=ended)


def _slice_s(places: int, left_s: float) -> float:
    """Return how long the next slice is to be: all that is left is divided evenly."""
    usual = float(np.clip(SLICE_S_A_PLACE * places, LEAST_SLICE_S, LONGEST_SLICE_S))
    if math.isinf(left_s):
        return usual
    left_s -= JOINING_S_A_PLACE * places
    return left_s / max(1, int(left_s / usual))


def _worth_showing(places: int, left_s: float) -> bool:
    return places <= MOST_SHOWN and left_s >= SHOWING_S_A_PLACE * places


def _plain(order: Order, cost: FloatArray, *, proved: bool = False) -> ClosedWalk:
    length = cost_of(order, cost)
    ending = Ending.PROVED if proved else Ending.SETTLED
    return ClosedWalk(tuple(order.tolist()), length, proved, proved, length if proved else None, ending)


def _lower_first(order: Order) -> tuple[int, ...]:
    """Return the walk in the direction whose second place is the lower."""
    if len(order) > 2 and order[1] > order[-1]:
        order = np.concatenate([order[:1], order[:0:-1]])
    return tuple(order.tolist())
