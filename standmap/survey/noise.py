"""The noise of a track: excursions left out, fixes taken together in steps, spread and correlation time told."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.settings import StopSettings

LEAST_SIGMA_M = 1.0
"""Noise is never held to be smaller than this: a person who stands at a tree moves about as much."""

_LEAP_SPREADS = 3.0
KNOWN_TIMES_S: FloatArray = 5.0 * 2.0 ** (np.arange(14) / 2)
"""Correlation times looked at: 5 s to 450 s."""

_CAP2 = 9.0
_ROUNDS = 8
_LEAST_INNER = 6
_LEAST_VARIANCE = 1e-4
_BEYOND_95 = -math.log(0.05)


@dataclass(frozen=True, slots=True)
class Noise:
    """First-order Gauss-Markov noise: standard deviation of one axis in metres, correlation time in seconds.

    Attributes
    ----------
    likely
        What the noise may be as well: likelihood (the sum is 1), variance in square metres, correlation time.
    """

    sigma_m: float
    time_s: float
    likely: tuple[tuple[float, float, float], ...] = ()

    def of_mean(self, lasted_s: float) -> tuple[float, float]:
        """Return the variance of a mean over a time, and how many independent fixes that time is worth.

        The mean of such noise of variance v over a time T has the variance v g(T / time),
        g(u) = 2 (u - 1 + exp(-u)) / u² (an integral of the correlation, worked out here). Where several noises are
        likely, the variance is that of the round normal cloud whose 95 % circle holds 95 % of all of them together.
        """
        likely = self.likely or ((1.0, self.sigma_m**2, self.time_s),)
        one = sum(p * max(v, LEAST_SIGMA_M**2) for p, v, _ in likely)
        mean = _as_one_cloud(likely, lasted_s)
        return mean, max(one / mean, 1.0)

    def between_means(self, lasted_s: float, gap_s: float) -> float:
        """Return half the variance of the difference of means over two times with a gap between."""
        u = max(lasted_s / self.time_s, 1e-6)
        common = math.exp(-max(gap_s, 0.0) / self.time_s) * ((1 - math.exp(-u)) / u) ** 2
        return self.sigma_m**2 * max(shared_part(u) - common, 0.0)


@lru_cache(maxsize=4096)
def _as_one_cloud(likely: tuple[tuple[float, float, float], ...], lasted_s: float) -> float:
    chances = np.array([p for p, _, _ in likely])
    variances = np.array([max(v, LEAST_SIGMA_M**2) * shared_part(lasted_s / time_s) for _, v, time_s in likely])
    least, most = float(variances.min()), float(variances.max())
    while most > 1.001 * least:
        middle = math.sqrt(least * most)
        # A round cloud of variance v has the share exp(-r² / 2 v) beyond r; r² / 2 is 3.0 times its variance at 5 %.
        beyond = float(chances @ np.exp(-middle * _BEYOND_95 / variances))
        least, most = (middle, most) if beyond > math.exp(-_BEYOND_95) else (least, middle)
    return math.sqrt(least * most)


def shared_part(u: float) -> float:
    """Return the variance of a mean over `u` correlation times as a part of the variance of one fix."""
    return 1 - u / 3 if u < 1e-3 else 2 * (u - 1 + math.exp(-u)) / u**2


@dataclass(frozen=True, slots=True)
class Assumed:
    """What is thought of noise before a walk is looked at: middles, and spreads of the logarithms."""

    sigma_m: float
    sigma_spread: float
    time_s: float
    time_spread: float


@dataclass(frozen=True, slots=True, eq=False)
class Fine:
    """One fix of each step, in seconds and metres: taken as it is, for a mean of several would hide noise."""

    t: FloatArray
    x: FloatArray
    y: FloatArray


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


def noise_in_stays(seen: Fine, stays: list[tuple[int, int]], assumed: Assumed) -> Noise | None:
    """Return the likeliest noise of what is seen in stays, None where there is too little.

    Parameters
    ----------
    seen
        One fix of each step.
    stays
        First and last step of each stay; the outermost steps are not used, for they may belong to the walk.

    Notes
    -----
    For each of some correlation times the variance is fitted with the place of every stay left open; changes
    that stand out count for less (they are echoes), and what this takes from a normal cloud is given back.
    What is assumed of spread and time is one more observation, because short stays tell the two badly apart.
    """
    inner = [(a + 1, b - 1) for a, b in stays if b - a >= _LEAST_INNER]
    if len(inner) < 2:
        return None
    i = np.concatenate([np.arange(a, b) for a, b in inner])
    lengths = np.array([b - a for a, b in inner])
    starts = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    dt = seen.t[i + 1] - seen.t[i]
    given_back = 1 - math.exp(-_CAP2 / 2)  # E min(r, c) = 2 (1 - exp(-c / 2)) for r of chi-square, two degrees

    costs, variances = [], []
    for time_s in KNOWN_TIMES_S:
        kept = np.exp(-dt / time_s)
        fresh, pull = 1 - kept**2, 1 - kept
        weight = np.ones(len(i))
        variance = -1.0
        for _ in range(_ROUNDS):
            held = 1 + np.add.reduceat(weight * pull**2 / fresh, starts)
            moved, begun = np.zeros(len(i)), np.zeros(len(starts))
            for axis in (seen.x, seen.y):
                ahead = axis[i + 1] - kept * axis[i]
                first = axis[i[starts]]
                place = (first + np.add.reduceat(weight * pull * ahead / fresh, starts)) / held
                moved += (ahead - pull * np.repeat(place, lengths)) ** 2 / fresh
                begun += (first - place) ** 2
            if variance < 0:
                variance = max(_LEAST_VARIANCE, float(np.median(moved)) / (2 * math.log(2)))
            limit = _CAP2 * variance
            weight = np.minimum(1.0, limit / np.maximum(moved, 1e-9))
            total = np.minimum(moved, limit).sum() / given_back + np.minimum(begun, limit).sum()
            variance = max(_LEAST_VARIANCE, float(total) / (2 * len(i)))
        cost = 2 * len(i) * math.log(variance) + 2 * float(np.log(fresh).sum() + np.log(held).sum())
        cost += (math.log(time_s / assumed.time_s) / assumed.time_spread) ** 2
        cost += (math.log(math.sqrt(variance) / assumed.sigma_m) / assumed.sigma_spread) ** 2
        costs.append(cost)
        variances.append(variance)
    likely = np.exp(-(np.array(costs) - min(costs)) / 2)
    likely /= likely.sum()
    found = np.array(variances)
    time_s = math.exp(float(likely @ np.log(KNOWN_TIMES_S)))
    # How fast fixes drift apart is what a walk shows best, so it is kept when spread and time are averaged.
    sigma = math.sqrt(math.exp(float(likely @ np.log(found / KNOWN_TIMES_S))) * time_s)
    return Noise(max(LEAST_SIGMA_M, sigma), time_s, tuple(zip(likely, found, KNOWN_TIMES_S, strict=True)))


def _axis_variance(length2: FloatArray, quantile: float) -> float:
    """Return the variance of one axis of a round normal cloud from a quantile of its squared lengths."""
    return float(np.quantile(length2, quantile)) / (-2 * math.log(1 - quantile))
