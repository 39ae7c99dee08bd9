"""Positions and their spread, checked as far as numbers alone allow."""

from __future__ import annotations

import math

from standmap.formats.faults import Unusable
from standmap.stand.tree import LonLat


def degrees(lon: float, lat: float) -> LonLat:
    """Return a position in degrees.

    Raises
    ------
    Unusable
        If it is nowhere on Earth.
    """
    if not -90 <= lat <= 90:
        if -180 <= lat <= 180 and -90 <= lon <= 90:
            raise Unusable(f"latitude {lat:g} is not within -90 and 90; are longitude and latitude swapped?")
        raise Unusable(f"latitude {lat:g} is not within -90 and 90")
    if not -180 <= lon <= 180:
        raise Unusable(f"longitude {lon:g} is not within -180 and 180")
    return lon, lat


def covariance(
    var_e: float | None, var_n: float | None, cov_en: float | None
) -> tuple[float | None, float | None, float | None]:
    """Return the covariance of a position in square metres, all of it absent where it is not told.

    Raises
    ------
    Unusable
        If it is incomplete or could not belong to any spread of positions.
    """
    if var_e is None and var_n is None and cov_en is None:
        return None, None, None
    if var_e is None or var_n is None:
        raise Unusable("var_e_m2 and var_n_m2 go together, and cov_en_m2 needs both")
    spread = var_e >= 0 and var_n >= 0 and math.isfinite(var_e) and math.isfinite(var_n)
    if not spread or abs(cov_en or 0.0) > math.sqrt(var_e) * math.sqrt(var_n) * (1 + 1e-9):
        raise Unusable("var_e_m2, var_n_m2 and cov_en_m2 are no covariance")
    return var_e, var_n, cov_en
