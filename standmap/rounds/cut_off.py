"""What cuts one spot off from another, by name."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from standmap.rounds.barriers import Barriers
from standmap.rounds.ground import Xy

if TYPE_CHECKING:
    from shapely import Geometry

ROOM_M = 50.0
"""How far the open ground about everything mapped is taken to reach; what lies beyond makes no difference."""

SAME_M = 1e-6

TOO_NARROW = "too narrow a gap between what is mapped"


def cut_off_by(barriers: Barriers, start: Xy, end: Xy) -> tuple[str, ...]:
    """Return what one would have to cross from start to end, as few things as can be, each as it is called.

    The lines of all barriers cut the plane into faces; from face to face one crosses one barrier.
    """
    import shapely

    drawn = [_drawn(b.shape) for b in barriers.each]
    spots = shapely.points([start, end])
    frame = shapely.buffer(shapely.envelope(shapely.union_all([*drawn, *spots])), ROOM_M, join_style="mitre")
    edges = shapely.get_parts(shapely.union_all([*drawn, shapely.boundary(frame)]))
    faces = shapely.get_parts(shapely.polygonize(edges))
    tree = shapely.STRtree(faces)
    first, last = (int(tree.nearest(spot)) for spot in spots)
    # Each edge with two faces at its sides is a step from one to the other.
    middles = shapely.line_interpolate_point(edges, 0.5, normalized=True)
    steps: dict[int, list[tuple[int, str]]] = {}
    for middle in middles:
        sides = tree.query(middle, predicate="dwithin", distance=SAME_M).tolist()
        at = shapely.dwithin(drawn, middle, SAME_M)
        named = [b.called for b, there in zip(barriers.each, at, strict=True) if there]
        if len(sides) == 2 and named:
            a, b = sides
            steps.setdefault(a, []).append((b, named[0]))
            steps.setdefault(b, []).append((a, named[0]))
    crossed = _fewest(steps, first, last)
    return tuple(dict.fromkeys(crossed)) or (TOO_NARROW,)


def _drawn(shape: Geometry) -> Geometry:
    """Return the lines of a shape: the outlines of its areas, and what is a line already."""
    import shapely

    parts = np.array(shapely.get_parts(shape))
    areas = shapely.get_dimensions(parts) == 2
    return shapely.union_all([*shapely.boundary(parts[areas]), *parts[~areas]])


def _fewest(steps: dict[int, list[tuple[int, str]]], first: int, last: int) -> list[str]:
    reached: dict[int, list[str]] = {first: []}
    waiting = deque([first])
    while waiting and last not in reached:
        face = waiting.popleft()
        for other, name in steps.get(face, ()):
            if other not in reached:
                reached[other] = [*reached[face], name]
                waiting.append(other)
    return reached.get(last, [])
