"""Grounds made by hand and by chance, and a plain look at whether a course keeps off what is in the way."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import strategies as st

from standmap.rounds.barriers import OPENING_HALF_WIDTH_M, OPENING_REACH_M
from standmap.rounds.ground import Course, Crossing, Gate, Ground, Hazard, NoGo, Xy
from standmap.rounds.heights import Heights

COORDINATE = st.integers(-50, 50).map(float)
POINT = st.tuples(COORDINATE, COORDINATE)


def strays(course: tuple[Xy, ...], ground: Ground) -> bool:
    """Say whether a course crosses what it may not, by plain geometry."""
    line = shapely.LineString(course)
    paths = [shapely.LineString(p.points) for p in ground.paths]
    openings = [shapely.Point(c.at) for c in ground.crossings]
    gates = [shapely.Point(g.at) for g in ground.gates]
    for shut, opened in ((ground.streams, openings), (ground.fences, gates)):
        for bed in (shapely.LineString(c.points) for c in shut):
            near = [p for p in opened if bed.distance(p) <= OPENING_REACH_M]
            feet = [bed.interpolate(bed.project(p)) for p in near]
            for path in paths:
                # A path leads over a stream near a bridge or ford, and through a fence anywhere.
                led = [shapely.Point(xy) for xy in shapely.get_coordinates(path.intersection(bed))]
                anywhere = shut is ground.fences
                feet += [s for s in led if anywhere or any(s.distance(p) <= OPENING_REACH_M for p in near)]
            for spot in map(shapely.Point, shapely.get_coordinates(line.intersection(bed))):
                if min((spot.distance(f) for f in feet), default=math.inf) > OPENING_HALF_WIDTH_M + 1e-6:
                    return True
    if any(line.distance(shapely.Point(h.at)) < h.radius_m for h in ground.hazards):
        return True
    return any(line.relate_pattern(shapely.Polygon(a.rings[0], a.rings[1:]), "T********") for a in ground.no_go)


def hilly(steepest: float, cell_m: float = 5.0, half_m: float = 80.0) -> Heights:
    """Return waves of about 60 m whose steepest slope is as given."""
    east = np.arange(-half_m, half_m + cell_m, cell_m)
    x, y = np.meshgrid(east, east)
    z = steepest * 10 / math.sqrt(2) * (np.sin(x / 10) + np.cos(y / 10))
    return Heights(-half_m, -half_m, cell_m, z.astype(np.float32))


COURSE = st.lists(POINT, min_size=2, max_size=5, unique=True).map(tuple)


@st.composite
def grounds(draw: st.DrawFn) -> Ground:
    no_go = []
    for x, y in draw(st.lists(POINT, max_size=2)):
        ring = draw(st.lists(st.tuples(st.integers(1, 20), st.integers(0, 11)), min_size=3, max_size=7))
        turned = sorted({step: size for size, step in ring}.items())
        if len(turned) >= 3:
            angles = [(step * math.pi / 6, size) for step, size in turned]
            outline = tuple((x + r * math.cos(a), y + r * math.sin(a)) for a, r in angles)
            if shapely.Polygon(outline).is_valid:
                no_go.append(NoGo((outline,), "mire"))
    return Ground(
        streams=tuple(Course(c, "brook") for c in draw(st.lists(COURSE, max_size=2))),
        crossings=tuple(
            Crossing(at, "c", ford=f) for at, f in draw(st.lists(st.tuples(POINT, st.booleans()), max_size=2))
        ),
        no_go=tuple(no_go),
        hazards=tuple(Hazard(at, "spruce") for at in draw(st.lists(POINT, max_size=1))),
        fences=tuple(Course(c, "fence") for c in draw(st.lists(COURSE, max_size=1))),
        gates=tuple(Gate(at) for at in draw(st.lists(POINT, max_size=1))),
        paths=tuple(Course(c, "ride") for c in draw(st.lists(COURSE, max_size=2))),
        heights=draw(st.none() | st.floats(0.01, 0.6).map(hilly)),
    )
