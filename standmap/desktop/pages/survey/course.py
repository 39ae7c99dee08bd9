"""A line or a ring as it is being drawn, in metres of the working frame. No Qt here."""

from __future__ import annotations

import math
from collections.abc import Iterable

XY = tuple[float, float]


class Course:
    """Vertices that are added, taken back, dragged and put in between.

    Parameters
    ----------
    most
        How many vertices there can be: 1 for a place.
    closed
        Whether the last vertex leads back to the first.
    """

    def __init__(self, points: Iterable[XY] = (), *, most: int = 100_000, closed: bool = False) -> None:
        self.points = list(points)
        self.most = most
        self.closed = closed

    def add(self, at: XY) -> None:
        """Put a vertex at the end; where only one can be, it goes there."""
        if self.most == 1:
            self.points = [at]
        elif len(self.points) < self.most:
            self.points.append(at)

    def take_back(self) -> None:
        """Take the last vertex away."""
        if self.points:
            self.points.pop()

    def move(self, number: int, to: XY) -> None:
        """Move a vertex."""
        self.points[number] = to

    def insert(self, number: int, at: XY) -> None:
        """Put a vertex before the one of this number."""
        self.points.insert(number, at)

    def vertex_at(self, at: XY, within_m: float) -> int | None:
        """Return the vertex nearest to a position, None if none is so near."""
        away = [math.dist(p, at) for p in self.points]
        nearest = min(range(len(away)), key=away.__getitem__, default=None)
        return nearest if nearest is not None and away[nearest] <= within_m else None

    def between_at(self, at: XY, within_m: float) -> int | None:
        """Return before which vertex a position lies on the line, None if it is not on it."""
        ends = [*self.points[1:], *(self.points[:1] if self.closed and len(self.points) > 2 else [])]
        found = [(_off(at, a, b), number) for number, (a, b) in enumerate(zip(self.points, ends, strict=False), 1)]
        off, number = min(found, default=(math.inf, 0))
        return number if off <= within_m else None


def _off(at: XY, a: XY, b: XY) -> float:
    """Return the distance of a position from a stretch."""
    along = (b[0] - a[0], b[1] - a[1])
    length2 = along[0] ** 2 + along[1] ** 2
    part = 0.0 if length2 == 0 else ((at[0] - a[0]) * along[0] + (at[1] - a[1]) * along[1]) / length2
    part = min(max(part, 0.0), 1.0)
    return math.dist(at, (a[0] + part * along[0], a[1] + part * along[1]))
