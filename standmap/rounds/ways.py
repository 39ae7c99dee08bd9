"""The quickest ways between spots: straight where nothing is mapped, else over the ground as it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers, barriers
from standmap.rounds.cut_off import cut_off_by
from standmap.rounds.ground import Ground, Xy
from standmap.rounds.hiking import Pace
from standmap.rounds.steps import along, back, points_of, summed
from standmap.rounds.way_graph import WayGraph, way_graph

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


class Ways(Protocol):
    """Ways between spots, numbered from 0; see `walking.Walking` for what the tables hold."""

    @property
    def minutes(self) -> FloatArray: ...  # noqa: D102
    @property
    def metres(self) -> FloatArray: ...  # noqa: D102
    @property
    def climb_m(self) -> FloatArray: ...  # noqa: D102
    @property
    def hindrance(self) -> tuple[str, ...]: ...  # noqa: D102

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the line from one spot to another, where there is a way."""

    def why_cut_off(self, start: int, end: int) -> str:
        """Return what cuts one spot off from another, where there is no way."""


@dataclass(frozen=True, eq=False)
class Straight:
    """Ways where nothing is mapped.

    Attributes
    ----------
    spots
        Shape (s, 2), metres.
    """

    spots: FloatArray
    pace: Pace

    @cached_property
    def metres(self) -> FloatArray:
        """Distances, shape (s, s)."""
        away: FloatArray = np.hypot(*(self.spots[:, None] - self.spots[None]).transpose(2, 0, 1))
        return away

    @cached_property
    def minutes(self) -> FloatArray:
        """Minutes, shape (s, s)."""
        return self.metres / self.pace.wood_m_per_min

    @cached_property
    def climb_m(self) -> FloatArray:
        """Level ground, shape (s, s)."""
        return np.zeros_like(self.metres)

    @cached_property
    def hindrance(self) -> tuple[str, ...]:
        """Nothing anywhere."""
        return ("",) * len(self.spots)

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the straight line."""
        return points_of(self.spots, [start, end])

    def why_cut_off(self, start: int, end: int) -> str:  # noqa: ARG002
        """Return nothing: there is always a way."""
        return ""


@dataclass(frozen=True, slots=True, eq=False)
class OverGround:
    """Ways over mapped ground.

    Attributes
    ----------
    points
        The spots, then every other point where a way may bend, shape (n, 2).
    level
        Whether both directions are alike; then the way is the one from the spot of lower number.
    hops
        Shape (s, s): the spot before the last one on a way; a way may lead by other spots.
    straight
        Shape (s, s): whether a hop is a straight step.
    before
        Shape (s, n): the point before each on a hop from each spot that is not straight.
    """

    minutes: FloatArray
    metres: FloatArray
    climb_m: FloatArray
    hindrance: tuple[str, ...]
    points: FloatArray
    level: bool
    hops: NDArray[np.int32]
    straight: NDArray[np.bool_]
    before: NDArray[np.int32]
    barriers: Barriers

    @classmethod
    def of(cls, spots: FloatArray, ground: Ground, pace: Pace) -> OverGround:
        """Find the ways between spots, shape (s, 2), no two of them alike."""
        import shapely
        from scipy.sparse.csgraph import floyd_warshall

        shut = barriers(ground)
        graph = way_graph(spots, ground, shut, pace)
        found, count, level = graph.quickest(), len(spots), ground.heights is None
        tables = np.full((3, count, count), np.inf)
        direct = graph.direct
        tables[:, direct.start, direct.end] = direct.minutes, direct.metres, direct.climb_m
        bent = _ends_of(graph, found.before, found.minutes)
        if level:
            bent = np.stack([np.triu(table, 1) + np.triu(table, 1).T for table in bent])
        straight = tables[0] <= bent[0]
        hop = np.where(straight, tables, bent)
        hop[:, np.arange(count), np.arange(count)] = 0.0
        minutes, hops = floyd_warshall(hop[0], directed=True, return_predecessors=True)
        last = np.where(hops >= 0, hop[:, np.maximum(hops, 0), np.arange(count)[None, :]], 0.0)
        metres, climb = (summed(hops, last[k]) for k in (1, 2))
        if level:
            metres = np.triu(metres, 1) + np.triu(metres, 1).T
        cut = ~np.isfinite(minutes)
        return cls(
            minutes,
            np.where(cut, np.inf, metres),
            np.where(cut, 0.0, climb),
            tuple(shut.why_not(shapely.Point(spot)) for spot in spots),
            graph.footing.points,
            level,
            hops,
            straight,
            found.before,
            shut,
        )

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the line from one spot to another, where there is a way."""
        if self.level and start > end:
            return self.course(end, start)[::-1]
        way = [end]
        for spot in back(self.hops[start], start, end):
            way.extend(self._hop(spot, way[-1])[1:])
        return points_of(self.points, way[::-1])

    def _hop(self, start: int, end: int) -> list[int]:
        """Return the points of a hop, last first."""
        if self.straight[start, end]:
            return [end, start]
        if self.level and start > end:
            return self._hop(end, start)[::-1]
        return [end, *back(self.before[start], start, end)]

    def why_cut_off(self, start: int, end: int) -> str:
        """Return by name what cuts one spot off from another."""
        a, b = points_of(self.points, [start, end])
        return " and ".join(cut_off_by(self.barriers, a, b))


def _ends_of(graph: WayGraph, before: NDArray[np.int32], minutes: FloatArray) -> FloatArray:
    """Return minutes, metres and climb of the ways from each spot to each other, shape (3, s, s)."""
    steps = graph.steps
    metres, climb = (along(steps, before, measure)[:, : graph.spots] for measure in (steps.metres, steps.climb_m))
    return np.stack([minutes[:, : graph.spots], metres, climb])
