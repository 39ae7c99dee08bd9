"""A position taken by standing still: where it is, how sure, how long until it is sure enough, and who walked off.

Errors of fixes that follow each other go together, so standing twice as long does not help as much as it seems, and
an error that lasts for the whole walk does not go away at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.noise import LEAST_SIGMA_M
from standmap.survey.settings import StopSettings

CONFIDENCE_95 = math.sqrt(-2 * math.log(0.05))
"""Radius that holds 95 % of a round normal cloud, in standard deviations of one axis (Rayleigh distribution)."""

LONGEST_WAIT_S = 1800.0
"""Nobody is told to stand for longer than this."""

FEWEST_FIXES = 3

_HUBER = 1.345  # 95 % efficiency on clean noise (Huber 1981, Robust Statistics; from memory)
_ROUNDS = 6
_LATE_S = 6.0  # the latest fixes, which tell whether the person still stands there
_STRIDE_M = 4.0  # nobody who stands at a tree steps farther aside
_RARE = 3.0  # standard deviations of one axis: a radius that 1 % of drifts exceed
_PRIOR_FIXES = 6.0


@dataclass(frozen=True, slots=True)
class Settled:
    """What standing still has given so far.

    Attributes
    ----------
    x, y
        Metres in the working frame.
    var_e_m2, var_n_m2, cov_en_m2
        Covariance of the position, square metres.
    fix_count
        How many fixes it rests on.
    worth
        So many independent fixes tell as much.
    lasted_s
        From the first of them to the last.
    wait_s
        How much longer to stand until the wanted precision is expected: 0 once it is reached, None where more standing
        does not reach it.
    best_m
        The precision that standing for half an hour is expected to reach, 95 % radius.
    walked_off
        Whether the latest fixes are of another place; the position is that of the earlier ones.
    """

    x: float
    y: float
    var_e_m2: float
    var_n_m2: float
    cov_en_m2: float
    fix_count: int
    worth: float
    lasted_s: float
    wait_s: float | None
    best_m: float
    walked_off: bool

    @property
    def radius_95_m(self) -> float:
        """Radius within which the true position lies with 95 % confidence, metres."""
        return CONFIDENCE_95 * math.sqrt((self.var_e_m2 + self.var_n_m2) / 2)


def settle(
    t: FloatArray,
    x: FloatArray,
    y: FloatArray,
    sigma_m: FloatArray,
    wanted_m: float,
    settings: StopSettings | None = None,
) -> Settled | None:
    """Return the position of a person who stands still.

    Parameters
    ----------
    t, x, y
        Seconds in ascending order and metres, shape (n,).
    sigma_m
        Standard deviation of one axis as the receiver told it, NaN where it did not, shape (n,).
    wanted_m
        The precision that is wanted: a radius of 95 % confidence.

    Returns
    -------
    Settled or None
        None while there are fewer than three fixes.

    Notes
    -----
    The position is a Huber mean. Its covariance is that of the mean of first-order Gauss-Markov noise,
    g(u) = 2 (u - 1 + exp(-u)) / u² of the variance of one fix where u is the time in correlation times (the integral
    of the correlation, worked out here), plus the drift that a whole walk shares.
    """
    settings = settings or StopSettings()
    n = len(t)
    if n < FEWEST_FIXES:
        return None
    told = np.where(np.isfinite(sigma_m) & (sigma_m > 0), sigma_m, settings.untold_sigma_m)
    xy = np.column_stack((x, y))
    left = _left_at(np.asarray(t), xy, told)
    walked_off = left is not None
    if left is not None:
        t, xy, told = t[:left], xy[:left], told[:left]
        n = left
    place, scatter = _robust_mean(xy, told)
    lasted = float(t[-1] - t[0])
    shared = shared_part(lasted, settings.fused_correlation_s)
    worth = min(float(n), 1 / shared)
    one_fix = _one_fix(told, scatter, worth, min(shared, 0.95))
    drift = settings.walk_drift_m**2 * np.eye(2)
    covariance = one_fix / worth + drift
    variance = float(np.trace(one_fix)) / 2
    return Settled(
        x=float(place[0]),
        y=float(place[1]),
        var_e_m2=float(covariance[0, 0]),
        var_n_m2=float(covariance[1, 1]),
        cov_en_m2=float(covariance[0, 1]),
        fix_count=n,
        worth=worth,
        lasted_s=lasted,
        wait_s=_wait_s(variance, lasted, float(np.trace(covariance)) / 2, wanted_m, settings),
        best_m=_radius_m(variance, max(LONGEST_WAIT_S, lasted), settings),
        walked_off=walked_off,
    )


def shared_part(lasted_s: float, correlation_s: float) -> float:
    """Return which part of the variance of one fix is left in the mean of fixes over a time, from 1 down to 0."""
    u = lasted_s / correlation_s
    return 1 - u / 3 if u < 1e-3 else 2 * (u - 1 + math.exp(-u)) / u**2


def _left_at(t: FloatArray, xy: FloatArray, told: FloatArray) -> int | None:
    """Return how many fixes came before the person walked off, None while they stand there.

    The median of each few seconds is compared with the place before; what comes back was drift.
    """
    late = int(np.searchsorted(t, t[-1] - _LATE_S))
    if late < FEWEST_FIXES or len(t) - late < FEWEST_FIXES:
        return None
    limit = _STRIDE_M + _RARE * max(float(np.median(told)), LEAST_SIGMA_M)
    # Where most of the fixes were: a walk away is short beside the stay.
    stay = np.median(xy[:late], axis=0)
    now = np.median(xy[late:], axis=0)
    if float(np.hypot(*(now - stay))) <= limit:
        return None
    way = (now - stay) / np.hypot(*(now - stay))
    along = (xy - stay) @ way
    # The walk began after the last fix that was still about the place.
    near = np.flatnonzero(along <= max(float(np.median(told)), LEAST_SIGMA_M))
    return max(int(near[-1]) + 1 if len(near) else late, FEWEST_FIXES)


def _robust_mean(xy: FloatArray, told: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the weighted Huber mean, shape (2,), and the scatter about it, shape (2, 2)."""
    weight = (told.min() / told) ** 2
    place = np.median(xy, axis=0)
    kept = weight
    for _ in range(_ROUNDS):
        away = np.hypot(*(xy - place).T)
        # Half of a round normal cloud lies within 1.1774 standard deviations of one axis.
        scale = max(float(np.median(away)) / math.sqrt(2 * math.log(2)), 0.1)
        kept = weight * np.minimum(1.0, _HUBER * scale / np.maximum(away, 1e-9))
        place = kept @ xy / kept.sum()
    off = xy - place
    return place, np.asarray((off * kept[:, None]).T @ off / kept.sum())


def _one_fix(told: FloatArray, scatter: FloatArray, worth: float, shared: float) -> NDArray[np.float64]:
    """Return the covariance of one fix: what the receiver tells, and what the stay shows of it, by their weight.

    The scatter within a stay shows only the part of the noise that changes while it lasts.
    """
    before = max(float(np.median(told)), LEAST_SIGMA_M) ** 2 * np.eye(2)
    shown = scatter / (1 - shared)
    return np.asarray((_PRIOR_FIXES * before + (worth - 1) * shown) / (_PRIOR_FIXES + worth - 1))


def _radius_m(variance: float, lasted_s: float, settings: StopSettings) -> float:
    left = variance * shared_part(lasted_s, settings.fused_correlation_s)
    return CONFIDENCE_95 * math.sqrt(left + settings.walk_drift_m**2)


def _wait_s(variance: float, lasted_s: float, reached: float, wanted_m: float, settings: StopSettings) -> float | None:
    if CONFIDENCE_95 * math.sqrt(reached) <= wanted_m:
        return 0.0
    if _radius_m(variance, LONGEST_WAIT_S, settings) > wanted_m:
        return None
    low, high = lasted_s, max(LONGEST_WAIT_S, lasted_s)
    while high - low > 0.5:
        middle = (low + high) / 2
        if _radius_m(variance, middle, settings) <= wanted_m:
            high = middle
        else:
            low = middle
    return max(high - lasted_s, 1.0)
