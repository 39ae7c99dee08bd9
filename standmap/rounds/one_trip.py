"""The best order of the stops of one trip, however many: what is carried changes at each, and ends may be given."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.loaded_groups import best_order
from standmap.rounds.problem import Aim
from standmap.rounds.walks import Stops, Walks

FloatArray = NDArray[np.float64]
Orders = NDArray[np.intp]
"""Shape (m, n): m orders of n stops."""

MOST_EXACT = 9
"""Trips of no more stops than this are ordered exactly."""

LONGEST_MOVED = 3
"""So many stops in a row are moved to another place, either way round."""

NEAREST = 10
"""They are put beside one of so many nearest others."""

SHAKES = 30
"""So often a walk that nothing makes shorter is shaken and shortened again."""

WORTH = 1e-9
"""What is saved by less than this part of the cost is not worth a step."""


def best_trip(
    walks: Walks,
    stops: Stops,
    first: int | None = None,
    last: int | None = None,
    *,
    shakes: int = SHAKES,
    seed: int = 0,
    over: Callable[[], bool] = lambda: False,
) -> Stops:
    """Return a good order of the stops of one trip from the depot and back, the best one where they are few.

    Parameters
    ----------
    stops
        In the order to begin with.
    first, last
        Stops that it begins and ends with; two different ones, None where it does not matter.
    over
        Asked between steps whether to be content with what there is.
    """
    if len(stops) <= MOST_EXACT:
        return best_order(walks, tuple(sorted(stops)), first, last)
    middle = [tap for tap in stops if tap not in (first, last)]
    begin = [*([] if first is None else [first]), *middle, *([] if last is None else [last])]
    trip = _OneTrip(walks, begin, held=(first is not None, last is not None))
    rng = np.random.default_rng(seed)
    best = now = trip.shortened(np.arange(len(begin)), over)
    least = trip.cost(best)
    for _ in range(shakes):
        if over():
            break
        now = trip.shortened(trip.shaken(best, rng), over)
        cost = trip.cost(now)
        if cost < least * (1 - WORTH):
            best, least = now, cost
    return tuple(begin[k] for k in best)


class _OneTrip:
    """Costs of many orders at once; a stop is a number in the trip."""

    def __init__(self, walks: Walks, stops: list[int], held: tuple[bool, bool]) -> None:
        asked = walks.asked
        self._aim = asked.problem.aim
        places = np.array([0, *(tap + asked.first_tap for tap in stops)])
        table = np.array(asked.minutes if self._aim is Aim.TIME else asked.metres)[np.ix_(places, places)]
        self._out, self._home, self._leg = table[0, 1:], table[1:, 0], table[1:, 1:]
        self._change = np.array([asked.taken_kg[tap] - asked.left_kg[tap] for tap in stops])
        self._out_kg = asked.problem.can_kg + sum(asked.left_kg[tap] for tap in stops)
        most = self._out_kg + sum(asked.taken_kg[tap] for tap in stops)
        self._slow = np.array([walks.slowdown(k / 100) for k in range(int(most * 100) + 2)])
        self.free = slice(int(held[0]), len(stops) - int(held[1]))
        near = np.argsort(np.minimum(self._leg, self._leg.T), axis=1, kind="stable")
        self._near = near[:, 1 : NEAREST + 1]

    def cost(self, order: NDArray[np.intp]) -> float:
        """Return what one order costs, without what is done at the stops."""
        return float(self.costs(order[None, :])[0])

    def costs(self, orders: Orders) -> FloatArray:
        """Return what each order costs, shape (m,)."""
        ways = np.empty((len(orders), orders.shape[1] + 1))
        ways[:, 0], ways[:, -1] = self._out[orders[:, 0]], self._home[orders[:, -1]]
        ways[:, 1:-1] = self._leg[orders[:, :-1], orders[:, 1:]]
        if self._aim is not Aim.DISTANCE:
            loads = np.empty_like(ways)
            loads[:, 0] = self._out_kg
            np.cumsum(self._change[orders], axis=1, out=loads[:, 1:])
            loads[:, 1:] += self._out_kg
            ways *= loads if self._aim is Aim.EFFORT else self._slow[np.rint(loads * 100).astype(np.intp)]
        total: FloatArray = ways.sum(axis=1)
        return total

    def shortened(self, order: NDArray[np.intp], over: Callable[[], bool]) -> NDArray[np.intp]:
        """Return an order that no single change makes better."""
        least = self.cost(order)
        while not over():
            tried = self._changed(order)
            costs = self.costs(tried)
            best = int(costs.argmin())
            if costs[best] >= least * (1 - WORTH):
                break
            order, least = tried[best], float(costs[best])
        return order

    def shaken(self, order: NDArray[np.intp], rng: np.random.Generator) -> NDArray[np.intp]:
        """Return an order with two neighbouring stretches exchanged."""
        begin, end = self.free.start, self.free.stop
        a, b, c = np.sort(rng.choice(np.arange(begin, end + 1), 3, replace=False))
        return np.concatenate([order[:a], order[b:c], order[a:b], order[c:]])

    def _changed(self, order: NDArray[np.intp]) -> Orders:
        """Return every order with a stretch turned round, or with a few stops in a row moved beside a near one."""
        begin, end = self.free.start, self.free.stop
        tried = [
            np.concatenate([order[:a], order[a:b][::-1], order[b:]])
            for a in range(begin, end - 1)
            for b in range(a + 2, end + 1)
        ]
        where = np.argsort(order)
        for size in range(1, LONGEST_MOVED + 1):
            for a in range(begin, end - size + 1):
                moved, rest = order[a : a + size], np.delete(order, slice(a, a + size))
                spots = {
                    int(where[k]) - (size if where[k] > a else 0) + side
                    for k in (*self._near[moved[0]], *self._near[moved[-1]])
                    if not a <= where[k] < a + size
                    for side in (0, 1)
                }
                for spot in sorted(spots | {begin, end - size}):
                    if begin <= spot <= end - size and spot != a:
                        tried.append(np.concatenate([rest[:spot], moved, rest[spot:]]))
                        if size > 1:
                            tried.append(np.concatenate([rest[:spot], moved[::-1], rest[spot:]]))
        return np.array(tried, dtype=np.intp)
