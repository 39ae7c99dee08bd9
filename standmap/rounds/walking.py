"""What it costs to walk from each place to each other, and the line that is walked."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.problem import Obstacles, Xy

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Walking:
    """The shortest ways between the places of a round.

    Attributes
    ----------
    cost_m
        Shape (n, n), metres, symmetric; infinite where there is no way.
    hindrance
        For each place, why nobody can stand there; empty where one can.
    """

    cost_m: FloatArray
    hindrance: tuple[str, ...]
    _at: tuple[int, ...]
    """The node of each place; places at one spot share theirs."""
    _nodes: tuple[Xy, ...]
    """First the different spots, then the corners that a way may bend round."""
    _before: NDArray[np.int32] | None
    """Shape (spots, nodes): the node before each on the way from each spot; None where every way is straight."""

    def part(self, places: tuple[int, ...]) -> Walking:
        """Return the ways between some of the places, which are then numbered anew."""
        return replace(
            self,
            cost_m=self.cost_m[np.ix_(places, places)],
            hindrance=tuple(self.hindrance[place] for place in places),
            _at=tuple(self._at[place] for place in places),
        )

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the line walked between two places, both included, one point when they share a spot.

        Raises
        ------
        ValueError
            If there is no way.
        """
        if not np.isfinite(self.cost_m[start, end]):
            raise ValueError(f"there is no way from place {start} to place {end}")
        a, b = self._at[start], self._at[end]
        if a == b:
            return (self._nodes[a],)
        if self._before is None:
            return (self._nodes[a], self._nodes[b])
        # Always looked up from the lower spot, so that the way back is the same line.
        low, high = min(a, b), max(a, b)
        way = [high]
        while way[-1] != low:
            way.append(int(self._before[low, way[-1]]))
        points = tuple(self._nodes[node] for node in way)
        return points if a == high else points[::-1]


def walking(places: tuple[Xy, ...], obstacles: Obstacles) -> Walking:
    """Return what it costs to walk between places.

    Parameters
    ----------
    places
        n points, metres in a flat frame.
    obstacles
        Where there are none every way is the straight line.

    Notes
    -----
    With obstacles the ways are the shortest in the graph of all straight lines, between the places and the
    outward corners of what is in the way, that touch nothing.
    """
    spots, at = np.unique(np.array(places, dtype=np.float64).reshape(-1, 2), axis=0, return_inverse=True)
    at = at.reshape(-1)
    if not obstacles:
        cost, before, nodes, hindrance = _distances(spots, spots), None, spots, [""] * len(spots)
    else:
        cost, before, nodes, hindrance = _around(spots, obstacles)
    return Walking(
        cost[np.ix_(at, at)],
        tuple(hindrance[k] for k in at),
        tuple(at.tolist()),
        tuple((x, y) for x, y in nodes.tolist()),
        before,
    )


def _distances(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])


def _around(spots: FloatArray, obstacles: Obstacles) -> tuple[FloatArray, NDArray[np.int32], FloatArray, list[str]]:
    import shapely
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    from standmap.rounds.barriers import barriers

    found = barriers(obstacles)
    nodes = np.concatenate([spots, found.corners])
    i, j = np.triu_indices(len(nodes), 1)
    free = ~found.touched(shapely.linestrings(np.stack([nodes[i], nodes[j]], axis=1)))
    i, j = i[free], j[free]
    length = np.hypot(*(nodes[i] - nodes[j]).T)
    graph = csr_array((length, (i, j)), shape=(len(nodes), len(nodes)))
    cost, before = dijkstra(graph, directed=False, indices=np.arange(len(spots)), return_predecessors=True)
    cost = np.triu(cost[:, : len(spots)], 1)
    return cost + cost.T, before, nodes, [found.why_not(shapely.Point(spot)) for spot in spots]
