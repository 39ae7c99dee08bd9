"""How a walker goes about it: how long stays last, how far the next one lies and how fast the way there is.

Every prior is a log-normal with a share of a wide one, so that nothing is held impossible. Stays and ways are learnt
from the walk itself: whoever stood 40 s at each of ten trees has hardly stood 95 s at the eleventh.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from standmap.stand.walks import FloatArray

_STAY_S = (50.0, 0.8)
_WAY_M = (15.0, 0.9)
"""Middle and spread of the logarithm where nothing is known: assumptions."""

_WIDE_STAY_S, _WIDE_WAY_M, _WIDE_PACE_S = (50.0, 0.9), (12.0, 1.0), (15.0, 1.0)
_WIDE_SHARE, _WIDE_PACE_SHARE = 0.1, 0.05
_LEAST_STAY_SPREAD, _LEAST_WAY_SPREAD = 0.3, 0.35
_WORTH = 5.0
"""So many stays is the assumption worth beside those of the walk; fewer teach nothing."""

_PACE_SPREAD = 0.5
_SHORTEST_WAY_M = 0.3


@dataclass(frozen=True, slots=True)
class Habits:
    """What is thought of a walker.

    Attributes
    ----------
    stay_s, way_m
        Middle and spread of the logarithm of stays (seconds) and of ways (metres).
    noted
        Share of the stops at which something is noted: whoever notes something at every tree has hardly stopped
        where nothing is noted.
    """

    stay_s: tuple[float, float] = _STAY_S
    way_m: tuple[float, float] = _WAY_M
    noted: float = 0.5

    def of_stays(self, lasted_s: FloatArray) -> FloatArray:
        """Return -2 log of the density of stays, per second."""
        lasted = np.maximum(lasted_s, 1.0)
        return np.asarray(-2 * np.log(_mixed(lasted, self.stay_s, _WIDE_STAY_S, _WIDE_SHARE)))

    def of_ways(self, way_m: FloatArray, took_s: FloatArray, speed_m_s: float) -> FloatArray:
        """Return -2 log of the density of the next stop lying there (per square metre) and of the time it took."""
        way, took = np.maximum(way_m, _SHORTEST_WAY_M), np.maximum(took_s, 1.0)
        far = _mixed(way, self.way_m, _WIDE_WAY_M, _WIDE_SHARE) / (2 * math.pi * way)
        usual = np.maximum(way_m, 1.0) / speed_m_s
        pace = _mixed(took, (usual, _PACE_SPREAD), _WIDE_PACE_S, _WIDE_PACE_SHARE)
        return np.asarray(-2 * np.log(far * pace))


def learnt(stays_s: FloatArray, ways_m: FloatArray, noted: int) -> Habits:
    """Return the habits that stays, ways and the number of noted stays show, drawn towards what is assumed."""
    return Habits(
        _fitted(stays_s, _STAY_S, _LEAST_STAY_SPREAD),
        _fitted(ways_m, _WAY_M, _LEAST_WAY_SPREAD),
        # Laplace's rule of succession.
        (noted + 1) / (len(stays_s) + 2),
    )


def _fitted(values: FloatArray, assumed: tuple[float, float], least: float) -> tuple[float, float]:
    n = len(values)
    if n < _WORTH:
        return assumed
    logs = np.log(np.maximum(values, 0.5))
    middle = float(np.median(logs))
    # The median deviation of a normal cloud is 0.6745 of its spread.
    spread = float(np.median(np.abs(logs - middle))) / 0.6745
    spread = math.sqrt((n * spread**2 + _WORTH * assumed[1] ** 2) / (n + _WORTH))
    return math.exp(middle), max(least, spread)


def _mixed(
    values: FloatArray, narrow: tuple[float | FloatArray, float], wide: tuple[float, float], share: float
) -> FloatArray:
    return (1 - share) * _log_normal(values, *narrow) + share * _log_normal(values, *wide)


def _log_normal(values: FloatArray, middle: float | FloatArray, spread: float) -> FloatArray:
    z = np.log(values / middle) / spread
    return np.asarray(np.exp(-(z**2) / 2) / (values * spread * math.sqrt(2 * math.pi)))
