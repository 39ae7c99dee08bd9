"""The noise of a track: excursions left out, fixes taken together in steps, spread and correlation time told."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.settings import StopSettings

LEAST_SIGMA_M = 1.0
"""Noise is never held to be smaller than this: a person who stands at a tree moves about as much."""

_LEAP_SPREADS = 3.0
_KNOWN_TIMES_S = 5.0 * 2.0 ** (np.arange(13) / 2)  # 5 s to 320 s
_LAGS = (1, 2, 4, 6)
_PRIOR_WEIGHT = 5.0  # of the assumed correlation time: one walk tells it badly


@dataclass(frozen=True, slots=True)
class Noise:
    """First-order Gauss-Markov noise: standard deviation of one axis in metres, correlation time in seconds."""

    sigma_m: float
    time_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Fixes taken together: columns of one length m, in ascending time.

    Attributes
    ----------
    t, x, y
        Mean time in seconds and median position in metres.
    first, count
        Index of the first fix and number of fixes.
    begin, end
        Times of the first and the last fix, seconds.
    """

    t: FloatArray
    x: FloatArray
    y: FloatArray
    first: NDArray[np.int64]
    count: NDArray[np.int64]
    begin: FloatArray
    end: FloatArray

    def __len__(self) -> int:
        """Return the number of steps."""
        return len(self.t)

    def part(self, lo: int, hi: int) -> Steps:
        """Return steps `lo` up to but not including `hi`."""
        cut = slice(lo, hi)
        return Steps(
            self.t[cut], self.x[cut], self.y[cut], self.first[cut], self.count[cut], self.begin[cut], self.end[cut]
        )


def without_excursions(t: FloatArray, x: FloatArray, y: FloatArray, settings: StopSettings) -> NDArray[np.bool_]:
    """Return which fixes to keep: those between a leap and the leap that undoes it go.

    Parameters
    ----------
    t, x, y
        Ascending seconds and metres, shape (n,).
    """
    keep = np.ones(len(t), dtype=bool)
    if len(t) < 3:
        return keep
    dt, dx, dy = np.diff(t), np.diff(x), np.diff(y)
    length = np.hypot(dx, dy)
    spread = math.sqrt(_axis_variance(length**2, 0.5))
    leaps = np.flatnonzero(length > settings.most_walking_m_s * dt + _LEAP_SPREADS * spread)
    at = 0
    while at < len(leaps):
        out = leaps[at]
        at += 1
        # The leap back is one of the next few; a longer search would only find chance pairs.
        for ahead, back in enumerate(leaps[at : at + 3]):
            if t[back] - t[out] > settings.excursion_s:
                break
            if np.hypot(dx[out] + dx[back], dy[out] + dy[back]) <= 0.5 * max(length[out], length[back]):
                keep[out + 1 : back + 1] = False
                at += ahead + 1
                break
    return keep


def in_steps(t: FloatArray, x: FloatArray, y: FloatArray, step_s: float) -> Steps:
    """Take fixes together in time steps counted from the first fix; steps without a fix are left out.

    Parameters
    ----------
    t, x, y
        Ascending seconds and metres, shape (n,), n at least 1.
    """
    step = np.floor((t - t[0]) / step_s).astype(np.int64)
    first = np.flatnonzero(np.concatenate(([True], step[1:] != step[:-1])))
    count = np.diff(np.concatenate((first, [len(t)])))

    def median(values: FloatArray) -> FloatArray:
        ordered = values[np.lexsort((values, step))]
        return np.asarray((ordered[first + (count - 1) // 2] + ordered[first + count // 2]) / 2)

    mean_t = t[first] + np.add.reduceat(t - np.repeat(t[first], count), first) / count
    return Steps(mean_t, median(x), median(y), first, count, t[first], t[first + count - 1])


def first_guess(steps: Steps, time_s: float) -> Noise:
    """Return the noise of a track from its second differences, which a steady walk does not touch.

    A low quantile is used, because starting and stopping make large ones.
    """
    lag = 2
    if len(steps) < 2 * lag + 1:
        return Noise(LEAST_SIGMA_M, time_s)
    one, two = steps.t[lag:-lag] - steps.t[: -2 * lag], steps.t[2 * lag :] - steps.t[lag:-lag]
    even = np.abs(one - two) < 0.5 * np.minimum(one, two)
    if not even.any():
        return Noise(LEAST_SIGMA_M, time_s)
    bend_x = steps.x[2 * lag :] - 2 * steps.x[lag:-lag] + steps.x[: -2 * lag]
    bend_y = steps.y[2 * lag :] - 2 * steps.y[lag:-lag] + steps.y[: -2 * lag]
    a, b = np.exp(-one / time_s), np.exp(-two / time_s)
    ratio = (bend_x**2 + bend_y**2) / (6 - 4 * a - 4 * b + 2 * a * b)
    return Noise(max(LEAST_SIGMA_M, math.sqrt(_axis_variance(ratio[even], 0.45))), time_s)


def noise_in_stays(steps: Steps, stays: list[tuple[int, int]], step_s: float, guess: Noise) -> Noise:
    """Return the noise from how far fixes drift apart while a person stands: the guess where there is too little.

    Parameters
    ----------
    stays
        First and last step of each stay.
    """
    stay = np.full(len(steps), -1)
    for number, (a, b) in enumerate(stays):
        stay[a + 1 : b] = number
    apart_s, variance, weight = [], [], []
    for lag in _LAGS:
        i = np.flatnonzero((stay[lag:] >= 0) & (stay[lag:] == stay[:-lag]))
        if len(i) < 10:
            break
        moved2 = (steps.x[i + lag] - steps.x[i]) ** 2 + (steps.y[i + lag] - steps.y[i]) ** 2
        variance.append(_axis_variance(moved2, 0.7))
        # The median over a step smooths the noise: as if the lag were about a third of a step shorter.
        smooth_s = 0.3 * step_s if steps.count[i].max() > 1 else 0.0
        apart_s.append(float(np.median(steps.t[i + lag] - steps.t[i])) - smooth_s)
        weight.append(len(i) / lag)
    if len(variance) < 3 or min(apart_s) <= 0:
        return guess
    seen, w = np.log(np.maximum(variance, 1e-6)), np.array(weight)
    shape = np.log(2 * (1 - np.exp(-np.array(apart_s) / _KNOWN_TIMES_S[:, None])))
    level = (seen - shape) @ w / w.sum()
    misfit = (seen - shape - level[:, None]) ** 2 @ w + _PRIOR_WEIGHT * np.log(_KNOWN_TIMES_S / guess.time_s) ** 2
    best = int(misfit.argmin())
    return Noise(max(LEAST_SIGMA_M, float(np.exp(level[best] / 2))), float(_KNOWN_TIMES_S[best]))


def _axis_variance(length2: FloatArray, quantile: float) -> float:
    """Return the variance of one axis of a round normal cloud from a quantile of its squared lengths."""
    return float(np.quantile(length2, quantile)) / (-2 * math.log(1 - quantile))
