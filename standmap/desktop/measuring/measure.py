"""A measure being taken on the map: its points, and what is told of it. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from standmap.errors import UserError
from standmap.stand.tree import LonLat
from standmap.survey.frame import WorkingFrame
from standmap.survey.measuring import MeasuredArea, MeasuredLine, area, line

Point = tuple[float, float]
"""Metres east and north in the working frame."""

SAME_PLACE_M = 1e-3
"""Two points nearer than this are one: a double click is not a leg."""


class What(StrEnum):
    """What is measured."""

    LINE = "line"
    AREA = "area"


@dataclass(frozen=True, slots=True)
class Measure:
    """Points of a line, or corners of an area.

    Attributes
    ----------
    finished
        Whether no more points are taken.
    """

    what: What
    points: tuple[Point, ...] = ()
    finished: bool = False

    def added(self, point: Point) -> Measure:
        """Return the measure with one more point; a finished one begins anew."""
        if self.finished:
            return Measure(self.what, (point,))
        if self.points and np.hypot(*np.subtract(self.points[-1], point)) < SAME_PLACE_M:
            return self
        return replace(self, points=(*self.points, point))

    def shortened(self) -> Measure:
        """Return the measure without its last point."""
        return replace(self, points=self.points[:-1], finished=False)

    def ended(self) -> Measure:
        """Return the measure as finished, if it has enough points to be one."""
        return replace(self, finished=len(self.points) >= (2 if self.what is What.LINE else 3))

    def with_hover(self, hover: Point | None) -> tuple[Point, ...]:
        """Return the points, and the pointer as the next one while it is not finished."""
        return self.points if hover is None or self.finished or not self.points else (*self.points, hover)


def line_of(frame: WorkingFrame, points: Sequence[Point]) -> MeasuredLine | None:
    """Return the length of a line on the ground; None for less than two points or beyond the frame's reach."""
    places = _places(frame, points)
    return None if places is None or len(places) < 2 else line(places)


def area_of(frame: WorkingFrame, points: Sequence[Point]) -> MeasuredArea | None:
    """Return the area within an outline on the ground; None for less than three points or beyond the frame's reach."""
    places = _places(frame, points)
    try:
        return None if places is None else area(places)
    except UserError:  # fewer than three
        return None


def _places(frame: WorkingFrame, points: Sequence[Point]) -> list[LonLat] | None:
    table = np.asarray(points, dtype=float).reshape(-1, 2)
    try:
        lon, lat = frame.to_lonlat(table[:, 0], table[:, 1])
    except ValueError:
        return None
    return [(float(a), float(b)) for a, b in zip(lon, lat, strict=True)]
