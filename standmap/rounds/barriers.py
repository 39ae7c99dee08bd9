"""What is in the way, as shapes: streams with gaps at their bridges, no-go areas, and the corners to walk round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.problem import Obstacles

if TYPE_CHECKING:
    from shapely import Geometry, LineString, Point, Polygon

BRIDGE_REACH_M = 10.0
"""A bridge opens the streams that pass within this distance of it: both positions come from receivers."""

BRIDGE_HALF_WIDTH_M = 2.0
"""A stream is open this far to either side of the point nearest to its bridge."""

MEETING_M = 2.0
"""A stream that ends this close to another is taken to flow into it: nobody steps through a gap in a drawing."""

CLEARANCE_M = 0.3
"""Corners are walked round at this distance, so that a course never touches what it goes round."""

FINEST_M = 0.15
"""Bends of an outline smaller than this get no corner of their own; half the clearance, so that none is cut."""

MOST_CORNERS = 500
"""With more corners than this, outlines are made coarser and passed at a greater distance."""

COARSEST_M = 0.8
"""The coarsest outline: its clearance still leaves a way through the gap at a bridge."""


@dataclass(frozen=True, slots=True, eq=False)
class Barriers:
    """Shapes that no step may touch.

    Attributes
    ----------
    water
        Streams without the gaps at their bridges.
    closed
        The union of the no-go areas.
    corners
        Shape (c, 2): where a shortest way may bend.
    """

    water: Geometry
    closed: Geometry
    corners: NDArray[np.float64]

    def touched(self, shapes: Geometry | NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return which shapes touch a stream or a no-go area."""
        import shapely

        given = np.asarray(shapes, dtype=object)
        hit: NDArray[np.bool_] = shapely.intersects(self.water, given) | shapely.intersects(self.closed, given)
        return hit

    def why_not(self, point: Point) -> str:
        """Return where a point lies that nobody can stand at, empty where one can."""
        import shapely

        if shapely.intersects(self.closed, point):
            return "in a no-go area"
        return "on a stream" if shapely.intersects(self.water, point) else ""


def barriers(obstacles: Obstacles) -> Barriers:
    """Return the shapes that stand in the way."""
    import shapely

    lines = _open_water(obstacles)
    areas = [shapely.make_valid(shapely.Polygon(area[0], area[1:])) for area in obstacles.no_go]
    water, closed = shapely.MultiLineString(lines), shapely.union_all(areas)
    shapely.prepare(water)
    shapely.prepare(closed)
    found = Barriers(water, closed, np.zeros((0, 2)))
    finest = FINEST_M
    while True:
        corners = _corners(lines, [p for p in shapely.get_parts(areas) if shapely.area(p) > 0], finest)
        corners = corners[~found.touched(shapely.points(corners))]
        if len(corners) <= MOST_CORNERS or finest >= COARSEST_M:
            return Barriers(water, closed, corners)
        finest = min(2 * finest, COARSEST_M)


def _open_water(obstacles: Obstacles) -> list[LineString]:
    """Return the streams, joined where one flows into another, without what lies under a bridge."""
    import shapely

    streams = [shapely.linestrings(line) for line in obstacles.streams]
    lines = streams + _junctions(streams)
    if not lines:
        return []
    # Each bridge opens each stream at that stream's nearest point.
    bridges = shapely.points(obstacles.bridges) if obstacles.bridges else np.zeros(0, dtype=object)
    open_lines: list[LineString] = []
    for line in lines:
        near = [b for b in bridges if shapely.distance(line, b) <= BRIDGE_REACH_M]
        feet = [shapely.line_interpolate_point(line, shapely.line_locate_point(line, b)) for b in near]
        gap = shapely.union_all(shapely.buffer(feet, BRIDGE_HALF_WIDTH_M, quad_segs=16))
        open_lines.extend(p for p in shapely.get_parts(shapely.difference(line, gap)) if shapely.length(p) > 0)
    return open_lines


def _junctions(streams: list[LineString]) -> list[LineString]:
    """Return the short pieces from where a stream stops to the stream that it flows into."""
    import shapely

    found = []
    for i, stream in enumerate(streams):
        ends = [shapely.get_point(stream, 0), shapely.get_point(stream, -1)]
        for end in ends:
            for j, other in enumerate(streams):
                if i != j and 0 < shapely.distance(end, other) <= MEETING_M:
                    found.append(shapely.shortest_line(end, other))
    return found


def _corners(lines: list[LineString], areas: list[Polygon], finest: float) -> NDArray[np.float64]:
    """Return the outward corners of every shape, a little way off."""
    import shapely

    shapes = np.array([*lines, *areas], dtype=object)
    simple = shapely.simplify(shapes, finest, preserve_topology=True)
    clearance = CLEARANCE_M - FINEST_M + finest
    around = shapely.buffer(simple, clearance, cap_style="square", join_style="mitre", mitre_limit=2.0)
    # Normalised, an outline runs clockwise and a hole the other way: what is solid lies to the right of both.
    rings = shapely.get_rings(shapely.normalize(around))
    corners = [_right_turns(shapely.get_coordinates(ring)[:-1]) for ring in rings]
    return np.unique(np.concatenate(corners), axis=0) if corners else np.zeros((0, 2))


def _right_turns(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the points of a ring at which it turns to the right."""
    x, y = (ring - np.roll(ring, 1, axis=0)).T
    next_x, next_y = (np.roll(ring, -1, axis=0) - ring).T
    turns: NDArray[np.float64] = ring[x * next_y - y * next_x < 0]
    return turns
