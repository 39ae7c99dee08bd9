"""Measuring on the ground: lengths, bearings and areas on the ellipsoid WGS 84, and the nice length of a scale bar."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from standmap.errors import UserError
from standmap.stand.tree import LonLat
from standmap.survey.frame import true_azimuth, true_distance


@dataclass(frozen=True, slots=True)
class MeasuredLine:
    """A line from point to point.

    Attributes
    ----------
    legs_m
        Length of each leg.
    bearings_deg
        True bearing on leaving each point.
    """

    legs_m: tuple[float, ...]
    bearings_deg: tuple[float, ...]

    @property
    def length_m(self) -> float:
        """The length of the whole line."""
        return math.fsum(self.legs_m)


@dataclass(frozen=True, slots=True)
class MeasuredArea:
    """An area within an outline.

    Attributes
    ----------
    crosses_itself
        Whether the outline does: its area then means nothing, and `area_m2` is NaN.
    """

    area_m2: float
    perimeter_m: float
    crosses_itself: bool


def line(points: Sequence[LonLat]) -> MeasuredLine:
    """Measure a line along geodesics.

    Raises
    ------
    UserError
        If there are fewer than two points.
    """
    if len(points) < 2:
        raise UserError("a line needs two points", "name one more")
    legs = list(pairwise(points))
    return MeasuredLine(tuple(true_distance(a, b) for a, b in legs), tuple(true_azimuth(a, b) for a, b in legs))


def area(points: Sequence[LonLat]) -> MeasuredArea:
    """Measure the area within an outline of geodesics, the last point joined to the first.

    Raises
    ------
    UserError
        If there are fewer than three points.
    """
    from pyproj import Geod

    if len(points) < 3:
        raise UserError("an area needs three points", "name one more")
    lon, lat = zip(*points, strict=True)
    found, perimeter = Geod(ellps="WGS84").polygon_area_perimeter(lon, lat)
    crossing = _crosses_itself(points)
    return MeasuredArea(math.nan if crossing else abs(float(found)), float(perimeter), crossing)


def _crosses_itself(points: Sequence[LonLat]) -> bool:
    from shapely import LinearRing

    # Longitudes counted from the first point, so that an outline across the antimeridian stays whole.
    first = points[0][0]
    ring = LinearRing([((lon - first + 180.0) % 360.0, lat) for lon, lat in points])
    return not bool(ring.is_simple)


def nice_length(most: float) -> float:
    """Return the longest of 1, 2 or 5 times a power of ten that is not above `most` (positive, any unit)."""
    power = 10.0 ** math.floor(math.log10(most))
    return next((step * power for step in (5.0, 2.0) if step * power <= most * (1 + 1e-12)), power)
