"""Showing that a closed walk is the shortest: a growing linear program, then whole numbers on what is left."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.local import cost_of, improved, nearest_first
from standmap.rounds.program import Program
from standmap.rounds.watch import Watch

FloatArray = NDArray[np.float64]
Order = NDArray[np.intp]

NEIGHBOURS = 8
"""Each place starts with legs to so many nearest ones; others come in when they would pay."""

TAKEN_IN = 1000
"""So many legs, those that would pay most, come in at a time."""

SCALED_BEST = 1000.0
"""Costs are scaled so that the known walk costs this: the tolerances of the program are absolute."""

SLACK = 1e-4
"""Scaled cost within which a bound counts as reached: a ten-millionth of the walk."""

MOST_LEGS = 320
"""With more legs left after the linear program the proof is given up: it might take minutes."""

MOST_NODES = 100
"""Branching ends after so many nodes; counted, so that the same walk ends at the same step again."""

FLOW_UNITS = 10_000
"""Whole units of flow to one unit of a leg, for the cuts."""


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """What could be shown: a lower bound, and the shortest walk where it is known."""

    lower_bound: float
    shortest: Order | None


def show(cost: FloatArray, best: float, watch: Watch, seed: int = 0) -> Shown | None:
    """Find the shortest closed walk and prove it, given what a good one costs; None when nothing was shown.

    Parameters
    ----------
    cost
        Shape (n, n), symmetric, finite, n at least 5, not all zero.
    best
        The cost of some closed walk.

    Notes
    -----
    G. Dantzig, R. Fulkerson and S. Johnson, "Solution of a large-scale traveling-salesman problem", Operations
    Research 2 (1954) 393-410 (from memory): every place has two legs, and no set of places is cut off.
    The walk returned depends on the costs and on `best`, not on the walk that `best` came from: of several
    shortest ones it is the same each time.
    """

    def over() -> bool:
        watch.tell(0, 0, "showing that nothing is shorter")
        return watch.over(best, 0)

    while True:
        shown = _Proof(cost, best, _near_legs(cost), over, seed).run()
        if shown is None or shown.shortest is None:
            return shown
        # Within the tolerances of the program a move may still help.
        shortest = improved(shown.shortest, cost)
        found = cost_of(shortest, cost)
        if found >= best * (1 - SLACK / SCALED_BEST):
            return Shown(min(found, best), shortest)
        best = found


def joined(walks: Sequence[Order], cost: FloatArray, over: Callable[[], bool], seed: int = 0) -> Order | None:
    """Return the shortest closed walk over the legs of several good ones, None when it took too long.

    Good walks differ in a few spots, so little is left to choose.

    Parameters
    ----------
    walks
        Each of shape (n,), a permutation that begins with 0; n at least 5.
    over
        Asked now and then whether to give up.

    Notes
    -----
    W. Cook and P. Seymour, "Tour merging via branch-decomposition", INFORMS Journal on Computing 15 (2003) 233-248
    (from memory); the merging itself is a whole-number program here.
    """
    best = min(cost_of(walk, cost) for walk in walks)
    wanted = np.zeros(cost.shape, dtype=bool)
    for walk in walks:
        wanted[walk, np.roll(walk, -1)] = True
    return _Proof(cost, best, _both_ways(wanted), over, seed).whole()


def _near_legs(cost: FloatArray) -> Order:
    """Return the legs from each place to its nearest ones, and those of some walk."""
    near = np.argsort(cost + np.diag(np.full(len(cost), np.inf)), axis=1, kind="stable")[:, :NEIGHBOURS]
    wanted = np.zeros(cost.shape, dtype=bool)
    wanted[np.arange(len(cost))[:, None], near] = True
    some = nearest_first(cost)
    wanted[some, np.roll(some, -1)] = True
    return _both_ways(wanted)


def _both_ways(wanted: NDArray[np.bool_]) -> Order:
    return np.argwhere(np.triu(wanted | wanted.T, 1))


class _Proof:
    """One run of the two programs; the legs and the sets of places it holds only grow, until the second."""

    def __init__(self, cost: FloatArray, best: float, legs: Order, over: Callable[[], bool], seed: int) -> None:
        self.n = len(cost)
        self.unit = best / SCALED_BEST
        self.cost = cost / self.unit
        self.best, self.legs, self.over, self.seed = best, legs, over, seed
        self.sets = np.zeros((0, self.n), dtype=bool)

    def run(self) -> Shown | None:
        linear = self._linear()
        if linear is None:
            return None
        bound, beyond = linear
        self.legs = np.argwhere(np.triu(beyond <= SCALED_BEST - bound + SLACK, 1))
        lower = min(bound * self.unit, self.best)
        return Shown(lower, self.whole() if len(self.legs) <= MOST_LEGS else None)

    def _program(self) -> Program:
        program = Program(self.over, self.seed)
        program.add_rows(np.full(self.n, 2.0), np.full(self.n, 2.0), np.zeros((self.n, 0)))
        program.add_columns(self.cost[tuple(self.legs.T)], 1.0, self._ends(self.legs))
        self._add_rows(program, self.sets)
        return program

    def _ends(self, legs: NDArray[np.intp]) -> FloatArray:
        entries = np.zeros((self.n, len(legs)))
        entries[legs.T, np.arange(len(legs))] = 1.0
        return entries

    def _within(self, sets: NDArray[np.bool_], legs: NDArray[np.intp]) -> FloatArray:
        return (sets[:, legs[:, 0]] & sets[:, legs[:, 1]]).astype(np.float64)

    def _add_rows(self, program: Program, sets: NDArray[np.bool_]) -> None:
        if len(sets):
            most = sets.sum(axis=1) - 1.0
            program.add_rows(np.full(len(sets), -np.inf), most, self._within(sets, self.legs))

    def _linear(self) -> tuple[float, FloatArray] | None:
        """Return the bound of the linear program and, for each leg, what it costs beyond its prices."""
        program = self._program()
        while True:
            solved = program.solve()
            if solved is None or self.over():
                return None
            sets = self._cut_off(solved.x)
            if len(sets):
                self.sets = np.vstack([self.sets, sets])
                self._add_rows(program, sets)
                continue
            ends, within = solved.price[: self.n], solved.price[self.n :]
            beyond = self.cost - ends[:, None] - ends[None, :] - (self.sets.T * within) @ self.sets
            absent = np.triu(np.ones(self.cost.shape, dtype=bool), 1)
            absent[tuple(self.legs.T)] = False
            pays = np.argwhere(absent & (beyond < -SLACK / self.n))
            if not len(pays):
                return solved.value + float(np.minimum(beyond[absent], 0.0).sum()), beyond
            if len(pays) > TAKEN_IN:
                pays = pays[np.argpartition(beyond[tuple(pays.T)], TAKEN_IN)[:TAKEN_IN]]
            entries = np.vstack([self._ends(pays), self._within(self.sets, pays)])
            program.add_columns(self.cost[tuple(pays.T)], 1.0, entries)
            self.legs = np.vstack([self.legs, pays])

    def whole(self) -> Order | None:
        """Return the shortest walk over the legs that are left, None when it took too long."""
        program = self._program()
        while not self.over():
            solved = program.solve(most_nodes=MOST_NODES)
            if solved is None:
                return None
            sets = self._pieces(solved.x > 0.5)
            if len(sets) == 0:
                return self._walk(solved.x > 0.5)
            self.sets = np.vstack([self.sets, sets])
            self._add_rows(program, sets)
        return None

    def _pieces(self, used: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return the sets of places that the legs used leave apart, none if all hang together."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components

        i, j = self.legs[used].T
        count, piece = connected_components(
            coo_array((np.ones(len(i)), (i, j)), shape=(self.n, self.n)), directed=False
        )
        if count == 1:
            return np.zeros((0, self.n), dtype=bool)
        return np.array([piece == k for k in range(count)])

    def _cut_off(self, x: FloatArray) -> NDArray[np.bool_]:
        """Return sets of places that less than two legs lead into: pieces first, then least cuts."""
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import breadth_first_order, maximum_flow

        units = np.rint(x * FLOW_UNITS).astype(np.int32)
        pieces = self._pieces(units > 0)
        if len(pieces):
            return pieces
        i, j = self.legs[units > 0].T
        units = units[units > 0]
        graph = csr_array((np.r_[units, units], (np.r_[i, j], np.r_[j, i])), shape=(self.n, self.n))
        found: list[NDArray[np.bool_]] = []
        apart = np.zeros(self.n, dtype=bool)
        for end in range(1, self.n):
            if apart[end]:
                continue
            flow = maximum_flow(graph, 0, end)
            # Rounding to units loses at most half a unit a leg.
            if flow.flow_value < 2 * FLOW_UNITS - len(units):
                left = csr_array(graph - flow.flow)
                left.eliminate_zeros()
                beyond = np.ones(self.n, dtype=bool)
                beyond[breadth_first_order(left, 0, return_predecessors=False)] = False
                apart |= beyond
                found.append(beyond)
        return np.array(found) if found else np.zeros((0, self.n), dtype=bool)

    def _walk(self, used: NDArray[np.bool_]) -> Order:
        beside: list[list[int]] = [[] for _ in range(self.n)]
        for i, j in self.legs[used].tolist():
            beside[i].append(j)
            beside[j].append(i)
        walk = [0, min(beside[0])]
        while len(walk) < self.n:
            a, b = beside[walk[-1]]
            walk.append(b if a == walk[-2] else a)
        return np.array(walk, dtype=np.intp)
