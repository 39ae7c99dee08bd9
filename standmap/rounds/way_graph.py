"""Everything that a quickest way may be made of: places, corners, points of paths and of slopes, and steps."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers
from standmap.rounds.ground import Ground
from standmap.rounds.heights import Heights
from standmap.rounds.hiking import FASTEST_KM_H, LEVEL_KM_H, Pace
from standmap.rounds.lattice import REACH, lattice
from standmap.rounds.paths import network
from standmap.rounds.steps import Footing, Quickest, Steps, joined, quickest

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

TAUTER = 2
"""How often ways over a slope are pulled taut: each time a chord may stand for two steps."""


ENOUGH_SPOTS = 50
"""Chords are looked for on the ways from about this many spots: the others mostly use the same."""


@dataclass(frozen=True, slots=True, eq=False)
class WayGraph:
    """The points of the ground and the steps between them.

    Attributes
    ----------
    footing
        Its points are the spots, `spots` of them, then everything else.
    direct
        Steps from spot to spot.
    steps
        All others.
    """

    spots: int
    footing: Footing
    direct: Steps
    steps: Steps

    def quickest(self, every: int = 1) -> Quickest:
        """Return the quickest ways from every so many spots to all points, by no straight step from spot to spot."""
        return quickest(self.steps, len(self.footing.points), np.arange(0, self.spots, every))


def way_graph(spots: FloatArray, ground: Ground, shut: Barriers, pace: Pace) -> WayGraph:
    """Return the graph of the ground about some spots, shape (s, 2)."""
    paths = network(ground.paths, shut)
    first_of_path = len(spots) + len(shut.corners)
    points = np.concatenate([spots, shut.corners, paths.points])
    footing = Footing(points, shut, ground.heights, pace)
    along = footing.steps(*(first_of_path + paths.pieces).T, path=True)
    open_steps = footing.steps(*_worth_trying(points, first_of_path, along, footing))
    from_spot_to_spot = (open_steps.start < len(spots)) & (open_steps.end < len(spots))
    direct, rest = open_steps.only(from_spot_to_spot), open_steps.only(~from_spot_to_spot)
    rest = _entered_best(rest, along, len(points), first_of_path)
    graph = WayGraph(len(spots), footing, direct, joined(along, rest))
    return graph if ground.heights is None else _over_slopes(graph, ground.heights)


def _worth_trying(points: FloatArray, first_of_path: int, along: Steps, footing: Footing) -> tuple[IntArray, IntArray]:
    """Return the pairs of points between which a straight step may be the quickest way.

    Between two points of paths it is not where the paths are quicker than the fastest that one can walk in the open.
    """
    start, end = np.triu_indices(len(points), 1)
    if first_of_path == len(points):
        return start, end
    on_paths = quickest(along, len(points), np.arange(first_of_path, len(points))).minutes
    both = start >= first_of_path
    straight = np.hypot(*(points[end] - points[start]).T)
    at_best = straight / footing.pace.wood_m_per_min
    if footing.heights is not None:
        at_best *= LEVEL_KM_H / FASTEST_KM_H
    slow = np.zeros(len(start), dtype=bool)
    slow[both] = on_paths[start[both] - first_of_path, end[both]] <= at_best[both]
    return start[~slow], end[~slow]


def _entered_best(steps: Steps, along: Steps, count: int, first_of_path: int) -> Steps:
    """Return the steps without those to or from a path that are no quicker than by the next point of that path."""
    if len(along) == 0 or len(steps) == 0:
        return steps
    there = np.full((count, count - first_of_path), np.inf)
    onto, off = steps.end >= first_of_path, steps.start >= first_of_path
    there[steps.start[onto], steps.end[onto] - first_of_path] = steps.minutes[onto]
    back = np.full_like(there, np.inf)
    back[steps.end[off], steps.start[off] - first_of_path] = steps.minutes[off]
    late, early = np.zeros(there.shape, dtype=bool), np.zeros(there.shape, dtype=bool)
    for a, b, minutes in zip(along.start - first_of_path, along.end - first_of_path, along.minutes, strict=True):
        late[:, b] |= there[:, a] + minutes <= there[:, b]
        early[:, a] |= minutes + back[:, b] <= back[:, a]
    drop = np.zeros(len(steps), dtype=bool)
    drop[onto] |= late[steps.start[onto], steps.end[onto] - first_of_path]
    drop[off] |= early[steps.end[off], steps.start[off] - first_of_path]
    return steps.only(~drop)


def _over_slopes(graph: WayGraph, heights: Heights) -> WayGraph:
    """Return the graph with points spread over the slope, and with chords where a way over them can be pulled taut."""
    before = graph.footing
    spread, pairs, apart = lattice(before.points[: graph.spots], heights, before.barriers)
    if len(spread) == 0:
        return graph
    first = len(before.points)
    footing = replace(before, points=np.concatenate([before.points, spread]))
    links = _near(before.points, spread, REACH * apart)
    steps = joined(
        graph.steps,
        footing.steps(*(first + pairs).T),
        footing.steps(links[:, 0], first + links[:, 1]),
    )
    graph = WayGraph(graph.spots, footing, graph.direct, steps)
    for _ in range(TAUTER):
        graph = replace(graph, steps=joined(graph.steps, _chords(graph)))
    return graph


def _near(points: FloatArray, spread: FloatArray, reach: float) -> IntArray:
    """Return the pairs of a point and a spread point that lie within reach, shape (k, 2)."""
    from scipy.spatial import KDTree

    found = KDTree(points).query_ball_tree(KDTree(spread), reach)
    return np.array([(i, j) for i, near in enumerate(found) for j in near], dtype=np.intp).reshape(-1, 2)


def _chords(graph: WayGraph) -> Steps:
    """Return straight steps in place of two that follow each other on a quickest way from spot to spot."""
    found = graph.quickest(max(1, graph.spots // ENOUGH_SPOTS))
    used = _used(found, graph.spots)
    row, end = np.nonzero(used)
    middle = found.before[row, end]
    start = np.where(middle >= 0, found.before[row, np.maximum(middle, 0)], -1)
    held = (middle >= 0) & (start >= 0)
    pair = np.unique(np.sort(np.column_stack([start[held], end[held]]), axis=1), axis=0)
    low, high = pair[pair[:, 1] >= graph.spots].T
    return graph.footing.steps(low, high)


def _used(found: Quickest, spots: int) -> NDArray[np.bool_]:
    """Return which points lie on a quickest way from each spot to any other, shape (s, n)."""
    used = np.zeros(found.before.shape, dtype=bool)
    count = found.before.shape[1]
    at: IntArray = np.add.outer(np.arange(len(used)) * count, np.arange(spots))
    at = at[np.isfinite(found.minutes[:, :spots])]
    while len(at):
        used.ravel()[at] = True
        before = found.before.ravel()[at]
        at = np.unique((at // count * count + before)[before >= 0])
        at = at[~used.ravel()[at]]
    return used
