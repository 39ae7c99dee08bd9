"""What is in the way, as shapes: streams and fences with their openings, areas, and the corners of all."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.ground import Ground, Xy

if TYPE_CHECKING:
    from shapely import Geometry, LineString, Point, Polygon

OPENING_REACH_M = 10.0
"""A bridge, ford or gate opens what passes within this distance of it: both positions come from receivers."""

OPENING_HALF_WIDTH_M = 2.0
"""A line is open this far to either side of the point nearest to its bridge, ford or gate."""

MEETING_M = 2.0
"""A line that ends this close to another is taken to meet it: nobody steps through a gap in a drawing."""

CLEARANCE_M = 0.3
"""Corners are walked round at this distance, so that a course never touches what it goes round."""

SKIN_M = 0.01
"""Streams and fences are so thick to either side, so that rounding lets nobody walk along the very line of one."""

FINEST_M = 0.15
"""Bends of an outline smaller than this get no corner of their own; half the clearance, so that none is cut."""

MOST_CORNERS = 500
"""With more corners than this, outlines are made coarser and passed at a greater distance."""

COARSEST_M = 0.8
"""The coarsest outline: its clearance still leaves a way through the gap at a bridge."""

HAZARD_SEGS = 4
"""Segments in each quarter of the ring round a hazard."""


class BarrierKind(StrEnum):
    """What bars the way."""

    STREAM = "stream"
    FENCE = "fence"
    NO_GO = "no-go"
    HAZARD = "hazard"


@dataclass(frozen=True, slots=True, eq=False)
class Barrier:
    """One thing that no step may touch.

    Attributes
    ----------
    shape
        Lines without their openings, or areas.
    """

    kind: BarrierKind
    name: str
    shape: Geometry
    radius_m: float = 0.0

    @property
    def skin_m(self) -> float:
        """How near one may not come to the shape."""
        return SKIN_M if self.kind in (BarrierKind.STREAM, BarrierKind.FENCE) else 0.0

    @property
    def called(self) -> str:
        """What cuts one off, in words."""
        name = self.name
        match self.kind:
            case BarrierKind.STREAM:
                return f"the stream '{name}' without a bridge or ford" if name else "a stream without a bridge or ford"
            case BarrierKind.FENCE:
                return f"the fence '{name}' without a gate" if name else "a fence without a gate"
            case BarrierKind.NO_GO:
                return f"the no-go area '{name}'" if name else "a no-go area"
            case BarrierKind.HAZARD:
                return f"the hazard '{name}'" if name else "a hazard"

    @property
    def where(self) -> str:
        """Where one stands whom it holds, in words."""
        name = self.name
        match self.kind:
            case BarrierKind.STREAM:
                return f"on the stream '{name}'" if name else "on a stream"
            case BarrierKind.FENCE:
                return f"on the fence '{name}'" if name else "on a fence"
            case BarrierKind.NO_GO:
                return f"in the no-go area '{name}'" if name else "in a no-go area"
            case BarrierKind.HAZARD:
                reach = f"{self.radius_m:g}"
                return f"within {reach} m of the hazard '{name}'" if name else f"within {reach} m of a hazard"


@dataclass(frozen=True, slots=True, eq=False)
class Barriers:
    """Shapes that no step may touch.

    Attributes
    ----------
    lines
        Streams and fences without their openings, as thin areas.
    closed
        The union of no-go areas and what lies too near to a hazard.
    fords
        The stretches of streams that one wades.
    corners
        Shape (c, 2): where a shortest way may bend.
    """

    each: tuple[Barrier, ...]
    lines: Geometry
    closed: Geometry
    fords: Geometry
    corners: NDArray[np.float64]

    def touched(self, shapes: Geometry | NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return which shapes touch a stream, a fence or an area that nobody enters."""
        import shapely

        given = np.asarray(shapes, dtype=object)
        hit: NDArray[np.bool_] = shapely.intersects(self.lines, given) | shapely.intersects(self.closed, given)
        return hit

    def waded(self, shapes: Geometry | NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return which shapes lead through a ford."""
        import shapely

        through: NDArray[np.bool_] = shapely.intersects(self.fords, np.asarray(shapes, dtype=object))
        return through

    def why_not(self, point: Point) -> str:
        """Return where a point lies that nobody can stand at, empty where one can."""
        import shapely

        # Areas first: who stands on a stream in a no-go area is told of the area.
        held = [b for b in self.each if shapely.dwithin(b.shape, point, b.skin_m)]
        held.sort(key=lambda b: b.kind in (BarrierKind.STREAM, BarrierKind.FENCE))
        return held[0].where if held else ""


def barriers(ground: Ground) -> Barriers:
    """Return the shapes that stand in the way."""
    import shapely

    open_lines, fords = _open_lines(ground)
    areas = [*_no_go(ground), *_hazards(ground)]
    each = (*open_lines, *areas)
    pieces = [p for b in open_lines for p in shapely.get_parts(b.shape)]
    lines = shapely.buffer(shapely.MultiLineString(pieces), SKIN_M, quad_segs=1)
    closed = shapely.union_all([b.shape for b in areas])
    for shape in (lines, closed, fords):
        shapely.prepare(shape)
    found = Barriers(each, lines, closed, fords, np.zeros((0, 2)))
    solid = [p for b in areas for p in shapely.get_parts(b.shape) if shapely.area(p) > 0]
    finest = FINEST_M
    while True:
        corners = _corners(pieces, solid, finest)
        corners = corners[~found.touched(shapely.points(corners))]
        if len(corners) <= MOST_CORNERS or finest >= COARSEST_M:
            return Barriers(each, lines, closed, fords, corners)
        finest = min(2 * finest, COARSEST_M)


def _no_go(ground: Ground) -> Iterable[Barrier]:
    import shapely

    for area in ground.no_go:
        shape = shapely.make_valid(shapely.Polygon(area.rings[0], area.rings[1:]))
        yield Barrier(BarrierKind.NO_GO, area.name, shape)


def _hazards(ground: Ground) -> Iterable[Barrier]:
    import shapely

    for hazard in ground.hazards:
        # A ring of straight pieces about the circle, so that none of them cuts into it.
        reach = hazard.radius_m / math.cos(math.pi / (4 * HAZARD_SEGS))
        shape = shapely.buffer(shapely.Point(hazard.at), reach, quad_segs=HAZARD_SEGS)
        yield Barrier(BarrierKind.HAZARD, hazard.name, shape, hazard.radius_m)


def _open_lines(ground: Ground) -> tuple[list[Barrier], Geometry]:
    """Return streams and fences, joined where one meets another, without their openings; and what is waded."""
    import shapely

    kinds = [BarrierKind.STREAM] * len(ground.streams) + [BarrierKind.FENCE] * len(ground.fences)
    courses = (*ground.streams, *ground.fences)
    whole = [shapely.linestrings(course.points) for course in courses]
    junctions = _junctions(whole)
    paths = [shapely.linestrings(path.points) for path in ground.paths]
    bridges = [c.at for c in ground.crossings if not c.ford]
    fords = [c.at for c in ground.crossings if c.ford]
    gates = [gate.at for gate in ground.gates]
    found: list[Barrier] = []
    waded: list[LineString] = []
    for i, (kind, course, line) in enumerate(zip(kinds, courses, whole, strict=True)):
        pieces: list[LineString] = []
        for part in (line, *junctions[i]):
            if kind is BarrierKind.STREAM:
                dry = _gap(part, bridges, paths)
                wet = shapely.difference(_gap(part, fords, paths), dry)
                waded.extend(shapely.get_parts(shapely.intersection(part, wet)))
                gap = shapely.union(dry, wet)
            else:
                gap = shapely.union(_gap(part, gates, paths), _around(_met(part, paths)))
            pieces.extend(p for p in shapely.get_parts(shapely.difference(part, gap)) if shapely.length(p) > 0)
        found.append(Barrier(kind, course.name, shapely.MultiLineString(pieces)))
    return found, shapely.MultiLineString([w for w in waded if shapely.length(w) > 0])


def _gap(line: LineString, openings: Iterable[Xy], paths: list[LineString]) -> Geometry:
    """Return where openings within reach open a line: at its nearest point, and where a path leads over it there."""
    import shapely

    near = [point for point in map(shapely.Point, openings) if shapely.distance(line, point) <= OPENING_REACH_M]
    feet = [shapely.line_interpolate_point(line, shapely.line_locate_point(line, point)) for point in near]
    led = [spot for spot in _met(line, paths) if any(shapely.distance(spot, n) <= OPENING_REACH_M for n in near)]
    return _around([*feet, *led])


def _met(line: LineString, paths: list[LineString]) -> list[Point]:
    """Return the points at which paths lead over a line."""
    import shapely

    met = [shapely.intersection(line, path) for path in paths]
    return [part for each in met for part in shapely.get_parts(each) if part.geom_type == "Point"]


def _around(points: list[Point]) -> Geometry:
    import shapely

    return shapely.union_all(shapely.buffer(points, OPENING_HALF_WIDTH_M, quad_segs=16))


def _junctions(lines: list[LineString]) -> list[list[LineString]]:
    """Return, for each line, the short pieces from where it stops to the lines that it meets."""
    import shapely

    found: list[list[LineString]] = [[] for _ in lines]
    for i, line in enumerate(lines):
        for end in (shapely.get_point(line, 0), shapely.get_point(line, -1)):
            for j, other in enumerate(lines):
                if i != j and 0 < shapely.distance(end, other) <= MEETING_M:
                    found[i].append(shapely.shortest_line(end, other))
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
