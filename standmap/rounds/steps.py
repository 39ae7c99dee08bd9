"""Straight steps between points of the ground, and the quickest ways made of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers
from standmap.rounds.ground import Xy
from standmap.rounds.heights import Heights
from standmap.rounds.hiking import Pace, stretches

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

AT_ONCE = 400_000
"""Straight lines looked at together."""

STRAIGHT_M = 1e-3
"""A way that leaves the straight line by less does not bend."""

LEAST_MIN = 1e-12
"""A step between two points at one spot takes this long: a graph takes 0 for no step at all."""


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Straight steps, each from one point to another; the way back is a step of its own.

    Attributes
    ----------
    start, end
        Numbers of points, shape (k,).
    minutes, metres, climb_m
        Shape (k,).
    """

    start: IntArray
    end: IntArray
    minutes: FloatArray
    metres: FloatArray
    climb_m: FloatArray

    def __len__(self) -> int:
        return len(self.start)

    def only(self, which: NDArray[np.bool_] | IntArray) -> Steps:
        """Return some of the steps."""
        return Steps(self.start[which], self.end[which], self.minutes[which], self.metres[which], self.climb_m[which])


def joined(*several: Steps) -> Steps:
    """Return all steps, ordered by start and end, only the quickest from one point to another."""
    start, end, minutes, metres, climb = (
        np.concatenate([getattr(steps, name) for steps in several])
        for name in ("start", "end", "minutes", "metres", "climb_m")
    )
    order = np.lexsort((minutes, end, start))
    found = Steps(start, end, minutes, metres, climb).only(order)
    first = np.ones(len(found), dtype=bool)
    first[1:] = (np.diff(found.start) != 0) | (np.diff(found.end) != 0)
    return found.only(first)


@dataclass(frozen=True, slots=True, eq=False)
class Footing:
    """What a straight step between two points takes, and whether it can be made.

    Attributes
    ----------
    points
        Shape (n, 2), metres.
    """

    points: FloatArray
    barriers: Barriers
    heights: Heights | None
    pace: Pace

    def steps(self, start: IntArray, end: IntArray, *, path: bool = False) -> Steps:
        """Return the steps there and back between pairs of points; those that touch a barrier are left out.

        Parameters
        ----------
        path
            Whether a mapped path leads from each to the other, which is free of barriers.
        """
        import shapely

        several = []
        speed = self.pace.path_m_per_min if path else self.pace.wood_m_per_min
        for first in range(0, len(start), AT_ONCE):
            a, b = start[first : first + AT_ONCE], end[first : first + AT_ONCE]
            lines = np.asarray(shapely.linestrings(np.stack([self.points[a], self.points[b]], axis=1)))
            if not path:
                free = ~self.barriers.touched(lines)
                a, b, lines = a[free], b[free], lines[free]
            waded = self.barriers.waded(lines) * self.pace.ford_min
            found = stretches(self.points[a], self.points[b], self.heights)
            there, back = found.there_m / speed + waded, found.back_m / speed + waded
            several.append(Steps(a, b, np.maximum(there, LEAST_MIN), found.metres, found.up_m))
            several.append(Steps(b, a, np.maximum(back, LEAST_MIN), found.metres, found.down_m))
        return joined(*several) if several else none()


def none() -> Steps:
    """Return no steps."""
    nothing = np.zeros(0, np.intp)
    return Steps(nothing, nothing, np.zeros(0), np.zeros(0), np.zeros(0))


@dataclass(frozen=True, slots=True, eq=False)
class Quickest:
    """The quickest ways from some points to all.

    Attributes
    ----------
    minutes
        Shape (s, n); infinite where there is no way.
    before
        Shape (s, n): the point before each on the way; below 0 at the start and where there is no way.
    """

    minutes: FloatArray
    before: NDArray[np.int32]


def quickest(steps: Steps, count: int, starts: IntArray) -> Quickest:
    """Return the quickest ways over these steps, which `joined` has put in order, between `count` points."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    first = np.searchsorted(steps.start, np.arange(count + 1)).astype(np.int32)
    graph = csr_array((steps.minutes, steps.end.astype(np.int32), first), shape=(count, count))
    minutes, before = dijkstra(graph, directed=True, indices=starts, return_predecessors=True)
    return Quickest(minutes, before.astype(np.int32))


def summed(before: NDArray[np.int32], last: FloatArray) -> FloatArray:
    """Return the sum of a measure along every way.

    Parameters
    ----------
    before
        Shape (s, n): the point before each on the way from each start; below 0 where a way begins.
    last
        Shape (s, n): the measure of the step that leads to each point; 0 where a way begins.
    """
    # Every point first knows its own step; again and again it adds what the point it looks back to knows, and then
    # looks back as far as that one does.
    row = np.arange(len(before))[:, None]
    back = np.where(before < 0, np.arange(before.shape[1])[None, :], before)
    found = last
    while True:
        found = found + found[row, back]
        further = back[row, back]
        if np.array_equal(further, back):
            return found
        back = further


def along(steps: Steps, before: NDArray[np.int32], measure: FloatArray) -> FloatArray:
    """Return the sum of a measure of the steps along every way.

    Parameters
    ----------
    steps
        In order of start and end.
    before
        Shape (s, n); see `Quickest`.
    """
    row, end = np.nonzero(before >= 0)
    count = before.shape[1]
    which = np.searchsorted(steps.start * count + steps.end, before[row, end].astype(np.intp) * count + end)
    last = np.zeros(before.shape)
    last[row, end] = measure[which]
    return summed(before, last)


def back(before: NDArray[np.int32], start: int, end: int) -> list[int]:
    """Return the points of a way without its end, last first, the start included; only that where both are one."""
    way = []
    while end != start:
        end = int(before[end])
        way.append(end)
    return way


def points_of(points: FloatArray, way: list[int]) -> tuple[Xy, ...]:
    """Return the positions at which a way begins, bends and ends; one alone where it leads nowhere."""
    import shapely

    line = points[way]
    if (line == line[0]).all():
        return ((float(line[0, 0]), float(line[0, 1])),)
    bent = shapely.get_coordinates(shapely.simplify(shapely.linestrings(line), STRAIGHT_M))
    return tuple((x, y) for x, y in bent.tolist())
