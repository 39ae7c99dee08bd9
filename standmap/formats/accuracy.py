"""What receivers tell of their accuracy, turned into the standard deviation of one axis in metres."""

from __future__ import annotations

import math

METRES_PER_HDOP = 5.0
"""Standard deviation of one axis, metres, at an HDOP of 1 (common practice, no source): an assumption.

An HDOP only says how the satellites stand; it is a factor and no accuracy.
"""

RADIUS_68_IN_SIGMAS = math.sqrt(-2 * math.log(1 - 0.68))
"""Radius that holds 68 % of the fixes, in standard deviations of one axis: 1.5096 (Rayleigh distribution, computed)."""

UNKNOWN_HDOP = 50.0
"""Receivers write 99.99 or the like where they know none (common practice, no source)."""


def sigma_of_radius(radius_m: float) -> float:
    """Return the standard deviation of one axis of a round normal cloud from the radius that holds 68 % of it."""
    return radius_m / RADIUS_68_IN_SIGMAS if radius_m > 0 else math.nan


def sigma_of_hdop(hdop: float) -> float:
    """Return the standard deviation of one axis that is assumed at an HDOP, NaN where it tells nothing."""
    return hdop * METRES_PER_HDOP if 0 < hdop < UNKNOWN_HDOP else math.nan
