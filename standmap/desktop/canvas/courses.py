"""Lines and outlines of the ground in metres, thinned for the distance from which they are seen. No Qt here."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from standmap.desktop.canvas.camera import Camera

FloatArray = NDArray[np.float64]

KEPT_PX = 0.4
"""A thinned line is nowhere farther from the whole one."""

PLAIN = 24
"""A line of so few points is not worth thinning."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A line, or a closed ring, in metres, shape (n, 2), n at least 1, finite."""

    xy: FloatArray
    _thinned: dict[int, FloatArray] = field(default_factory=dict)

    @property
    def box(self) -> Box:
        """Least x, least y, most x, most y, metres."""
        low, high = self.xy.min(axis=0), self.xy.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def seen_at(self, px_per_m: float) -> FloatArray:
        """Return the line with no more points than can be told apart at this scale."""
        if len(self.xy) <= PLAIN:
            return self.xy
        octave = math.floor(math.log2(px_per_m))
        if octave not in self._thinned:
            import shapely

            line = shapely.simplify(
                shapely.linestrings(self.xy), KEPT_PX / 2.0 ** (octave + 1), preserve_topology=False
            )
            found = np.asarray(shapely.get_coordinates(line), np.float64)
            self._thinned[octave] = found if len(found) >= 2 else self.xy[[0, -1]]
        return self._thinned[octave]

    def on_screen(self, camera: Camera) -> FloatArray:
        """Return its points in the view, logical pixels."""
        return camera.to_screen(self.seen_at(camera.px_per_m))


def course(
    points: Sequence[tuple[float, float]], to_xy: Callable[[Sequence[tuple[float, float]]], FloatArray]
) -> Course | None:
    """Return the part of a line that the working frame reaches, or None if that is no line."""
    xy = to_xy(points)
    xy = xy[np.isfinite(xy).all(axis=1)]
    return Course(xy) if len(xy) >= 2 else None


def touches(box: Box, other: Box) -> bool:
    """Return whether two boxes share a point."""
    return box[0] <= other[2] and other[0] <= box[2] and box[1] <= other[3] and other[1] <= box[3]


def direction_near(courses: Sequence[Course], x: float, y: float) -> float | None:
    """Return the grid bearing, degrees, of the stretch of these lines that is nearest to a place; None for no line."""
    best, found = math.inf, None
    for each in courses:
        start, along = each.xy[:-1], np.diff(each.xy, axis=0)
        squared = np.maximum((along**2).sum(axis=1), 1e-12)
        part = np.clip(((np.array([x, y]) - start) * along).sum(axis=1) / squared, 0, 1)
        away = np.hypot(*(start + part[:, None] * along - (x, y)).T)
        nearest = int(np.argmin(away))
        if away[nearest] < best:
            best, found = float(away[nearest]), math.degrees(math.atan2(along[nearest, 0], along[nearest, 1]))
    return found
