"""The working frame of a stand: metres east and north of its centre, and true bearings and distances.

The frame is a transverse Mercator projection on WGS 84, centred on the stand, scale 1 on its central
meridian, no false origin. Within 5 km of that meridian a grid distance is wrong by less than a third
of a millionth, so that plain Euclidean geometry may be used on it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.errors import UserError
from standmap.stand.tree import LonLat
from standmap.stand.walks import FloatArray

if TYPE_CHECKING:
    import pyproj

REACH_M = 100_000.0
"""Farther than this from its centre a frame is not used: one stand is not that large."""

MOST_LATITUDE_DEG = 89.0
"""Nearer to a pole than this (about 111 km) east and north lose their meaning within the frame's reach."""

MEAN_RADIUS_M = 6_371_008.8
"""Mean radius of the Earth, (2a + b) / 3 of WGS 84 (from memory); for plausibility, not for measuring."""

WGS84_A_M = 6_378_137.0
"""Semi-major axis of WGS 84 (NIMA TR8350.2, from memory)."""

WGS84_F = 1 / 298.257223563
"""Flattening of WGS 84 (NIMA TR8350.2, from memory)."""


@dataclass(frozen=True, slots=True)
class WorkingFrame:
    """A local plane in metres, x east and y north of a centre.

    Parameters
    ----------
    lon0, lat0
        The centre in degrees, WGS 84.

    Raises
    ------
    ValueError
        If the centre is no position on Earth.
    UserError
        If the centre lies too near to a pole.
    """

    lon0: float
    lat0: float

    def __post_init__(self) -> None:
        if not (abs(self.lon0) <= 180 and abs(self.lat0) <= 90):
            raise ValueError(f"no position on Earth: longitude {self.lon0}, latitude {self.lat0}")
        if abs(self.lat0) > MOST_LATITUDE_DEG:
            raise UserError(
                f"latitude {self.lat0:.4f} is too near to a pole for a stand",
                "look whether the positions are right",
            )

    @property
    def proj_text(self) -> str:
        """The frame as a PROJ string, which any GIS reads."""
        return (
            f"+proj=tmerc +lat_0={self.lat0!r} +lon_0={self.lon0!r} +k=1 +x_0=0 +y_0=0 "
            "+datum=WGS84 +units=m +no_defs +type=crs"
        )

    def reaches(self, lon: FloatArray, lat: FloatArray) -> NDArray[np.bool_]:
        """Return which positions are finite, on Earth and within `REACH_M` of the centre."""
        lon, lat = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
        with np.errstate(invalid="ignore"):
            on_earth = (np.abs(lon) <= 180) & (np.abs(lat) <= 90)
            near = rough_distance_m(lon, lat, self.lon0, self.lat0) <= REACH_M
        return on_earth & near

    def to_xy(self, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return metres east and north of the centre.

        Parameters
        ----------
        lon, lat
            Degrees, WGS 84, of one shape.

        Raises
        ------
        UserError
            If a position is not finite, not on Earth, or more than `REACH_M` from the centre.
        """
        lon, lat = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
        within = self.reaches(lon, lat)
        if not within.all():
            first = int(np.flatnonzero(~within.ravel())[0])
            raise UserError(
                f"the position longitude {lon.ravel()[first]:.6f}, latitude {lat.ravel()[first]:.6f} "
                f"is more than {REACH_M / 1000:.0f} km from the stand's centre",
                "look whether it is right, or keep it in a stand of its own",
            )
        x, y = _projection(self)(lon, lat)
        return np.asarray(x, dtype=float), np.asarray(y, dtype=float)

    def to_lonlat(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitude and latitude in degrees of grid positions in metres.

        Raises
        ------
        ValueError
            If a position is not finite or farther out than the frame goes.
        """
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        # A little more than the reach, for the reach is measured on a sphere.
        if not (np.hypot(x, y) <= 1.02 * REACH_M).all():
            raise ValueError("a grid position lies outside the working frame")
        lon, lat = _projection(self)(x, y, inverse=True)
        return np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)

    def scale_error_ppm(self, x: FloatArray) -> FloatArray:
        """Return by how much a grid distance is too long at `x` metres east or west, millionths.

        The series k = 1 + x²/2R² + x⁴/24R⁴ with R² the product of the two radii of curvature at the
        centre (J. P. Snyder, Map Projections - A Working Manual, USGS PP 1395, 1987, ch. 8, from memory).
        """
        e2 = WGS84_F * (2 - WGS84_F)
        w2 = 1 - e2 * math.sin(math.radians(self.lat0)) ** 2
        r2 = (WGS84_A_M / w2) ** 2 * (1 - e2)
        u = np.asarray(x, dtype=float) ** 2 / r2
        return 1e6 * (u / 2 + u**2 / 24)

    def convergence_deg(self, lon: FloatArray, lat: FloatArray) -> FloatArray:
        """Return the grid convergence in degrees: grid bearing + convergence = true bearing.

        East of the centre on the northern half it is positive: grid north then points east of true north.
        """
        factors = _projection(self).get_factors(np.asarray(lon, dtype=float), np.asarray(lat, dtype=float))
        return np.asarray(factors.meridian_convergence, dtype=float)

    def true_bearing_deg(
        self, from_x: FloatArray, from_y: FloatArray, to_x: FloatArray, to_y: FloatArray
    ) -> FloatArray:
        """Return the true bearing, 0 up to 360 degrees, on leaving one grid position for another.

        The curve of a geodesic on the grid is left out: within 5 km of the centre less than 0.001 degrees.
        """
        grid = np.degrees(np.arctan2(np.asarray(to_x) - from_x, np.asarray(to_y) - from_y))
        return np.mod(grid + self.convergence_deg(*self.to_lonlat(from_x, from_y)), 360.0)


def true_distance(a: LonLat, b: LonLat) -> float:
    """Return the length in metres of the geodesic between two positions on WGS 84."""
    return float(_geod().inv(a[0], a[1], b[0], b[1])[2])


def true_azimuth(a: LonLat, b: LonLat) -> float:
    """Return the true bearing at `a` of the geodesic to `b`, 0 up to 360 degrees; 0 for one and the same position."""
    azimuth, _, length = _geod().inv(a[0], a[1], b[0], b[1])
    return float(azimuth) % 360.0 if length > 0 else 0.0


def centre_of(points: Sequence[LonLat] | FloatArray) -> WorkingFrame:
    """Return the frame for a stand: its centre is the median position, rounded to 6 decimals.

    The median keeps the frame in the wood when a few positions are far off.

    Parameters
    ----------
    points
        Longitude and latitude in degrees, shape (n, 2), n at least 1, all finite.

    Raises
    ------
    ValueError
        If there is no point or one is not on Earth.
    UserError
        If the points lie too near to a pole.
    """
    table = np.asarray(points, dtype=float).reshape(-1, 2)
    if len(table) == 0 or not (np.abs(table) <= (180, 90)).all():
        raise ValueError("a frame needs at least one position, all on Earth")
    return WorkingFrame(*middle_of(table[:, 0], table[:, 1]))


def middle_of(lon: FloatArray, lat: FloatArray) -> LonLat:
    """Return the median longitude and latitude, rounded to 6 decimals, also across the antimeridian.

    Parameters
    ----------
    lon, lat
        Degrees, shape (n,), n at least 1, finite.
    """
    turns = np.radians(lon)
    # Sorted sums, so that the order of the points does not matter.
    about = math.degrees(math.atan2(math.fsum(np.sin(turns)), math.fsum(np.cos(turns))))
    offset = float(np.median(np.mod(lon - about + 180.0, 360.0) - 180.0))
    return round((about + offset + 180.0) % 360.0 - 180.0, 6), round(float(np.median(lat)), 6)


def rough_distance_m(lon: FloatArray, lat: FloatArray, lon0: float, lat0: float) -> FloatArray:
    """Return distances in metres to one position on a sphere: good to half a percent, quick for many points."""
    phi, phi0 = np.radians(lat), math.radians(lat0)
    half_up, half_along = (phi - phi0) / 2, np.radians(lon - lon0) / 2
    chord = np.sin(half_up) ** 2 + np.cos(phi) * math.cos(phi0) * np.sin(half_along) ** 2
    return np.asarray(2 * MEAN_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0))))


@lru_cache(maxsize=8)
def _projection(frame: WorkingFrame) -> pyproj.Proj:
    from pyproj import Proj

    return Proj(frame.proj_text)


@lru_cache(maxsize=1)
def _geod() -> pyproj.Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")
