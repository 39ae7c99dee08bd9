"""The stops of a walk: where a person stood long enough to have been at a tree, and how well that place is known."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import Fixes, FloatArray
from standmap.survey.division import stays_of
from standmap.survey.frame import WorkingFrame
from standmap.survey.noise import Noise, Steps, first_guess, in_steps, noise_in_stays, without_excursions
from standmap.survey.settings import StopSettings

_FIRST_YEAR_S, _LAST_YEAR_S = -62_135_596_800.0, 253_402_300_799.0
"""Years 1 and 9999 in seconds since 1970: what a date can hold."""

_TOLD_M = (0.01, 10_000.0)
"""What a receiver tells of its accuracy is taken for no better and no worse than this."""

_ENOUGH_STEPS = 4000
"""The noise of a walk is learnt from so many steps at most."""

_FEWEST_FIXES = 3
_HUBER = 1.345
"""Huber's constant for 95 % efficiency on clean noise (Huber 1981, Robust Statistics; from memory)."""

_PRIOR_FIXES = 4.0
"""So many independent fixes is the walk's noise worth beside the scatter of one stay."""


@dataclass(frozen=True, slots=True)
class FoundStop:
    """One stay: a fused position with its covariance.

    Attributes
    ----------
    lon, lat
        Degrees, WGS 84.
    x, y
        Metres in the working frame.
    from_s, to_s
        Times of the first and the last fix, seconds since 1970-01-01 UTC.
    fix_count
        How many fixes the position rests on.
    var_e_m2, var_n_m2, cov_en_m2
        Covariance of the position, square metres.
    """

    lon: float
    lat: float
    x: float
    y: float
    from_s: float
    to_s: float
    fix_count: int
    var_e_m2: float
    var_n_m2: float
    cov_en_m2: float

    @property
    def sigma_m(self) -> float:
        """Root mean of the two axis variances, metres."""
        return math.sqrt((self.var_e_m2 + self.var_n_m2) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Track:
    """The usable fixes of a walk in ascending time; seconds count from the first of them."""

    t: FloatArray
    x: FloatArray
    y: FloatArray
    sigma_m: FloatArray
    time_s: FloatArray


@dataclass(frozen=True, slots=True)
class _Stay:
    """Steps that belong to one stop, in pieces (first step, last step), with a middling position of each."""

    pieces: tuple[tuple[int, int], ...]
    middles: tuple[tuple[float, float], ...]

    @property
    def middle(self) -> tuple[float, float]:
        lengths = [b - a + 1 for a, b in self.pieces]
        x, y = np.average(np.array(self.middles), axis=0, weights=lengths)
        return float(x), float(y)


def find_stops(fixes: Fixes, frame: WorkingFrame, settings: StopSettings | None = None) -> list[FoundStop]:
    """Return the stops of a walk in ascending time; no two share a moment.

    Parameters
    ----------
    fixes
        In any order. Fixes without a time, not finite or beyond the frame's reach are left out, and of
        exact duplicates one is kept; so a track without times has no stops.
    settings
        What is assumed; the defaults where absent.

    Notes
    -----
    Excursions are left out, fixes are taken together in short steps, and the likeliest division of the walk
    into stays and walks is found twice: first with a guess of the noise, then with the noise that the stays
    themselves show. The same fixes always give the same stops.
    """
    settings = settings or StopSettings()
    track = _usable(fixes, frame)
    if len(track.t) < _FEWEST_FIXES:
        return []
    kept = without_excursions(track.t, track.x, track.y, settings)
    track = _Track(track.t[kept], track.x[kept], track.y[kept], track.sigma_m[kept], track.time_s[kept])
    steps = in_steps(track.t, track.x, track.y, settings.step_s)
    pieces = _unbroken(steps, settings)

    noise = first_guess(steps, settings.correlation_s)
    learnt_from = [(lo, min(hi, _ENOUGH_STEPS)) for lo, hi in pieces if lo < _ENOUGH_STEPS]
    noise = noise_in_stays(steps, list(_divided(steps, learnt_from, noise, settings)), settings.step_s, noise)
    stays = _merged(_divided(steps, pieces, noise, settings), steps, noise, settings)

    stops: list[FoundStop] = []
    for stay in stays:
        stop = _fused(stay, steps, track, noise, settings, frame)
        if stop is not None:
            stops.append(stop)
    return stops


def _usable(fixes: Fixes, frame: WorkingFrame) -> _Track:
    """Return finite, reachable, timed fixes sorted by time, exact duplicates dropped."""
    in_time = np.isfinite(fixes.time_s) & (fixes.time_s >= _FIRST_YEAR_S) & (fixes.time_s <= _LAST_YEAR_S)
    good = np.flatnonzero(in_time & frame.reaches(fixes.lon, fixes.lat))
    if len(good) == 0:
        none = np.zeros(0)
        return _Track(none, none, none, none, none)
    good = good[np.lexsort((fixes.lat[good], fixes.lon[good], fixes.time_s[good]))]
    columns = np.stack([fixes.time_s[good], fixes.lon[good], fixes.lat[good]])
    fresh = np.concatenate(([True], (columns[:, 1:] != columns[:, :-1]).any(axis=0)))
    good = good[fresh]
    x, y = frame.to_xy(fixes.lon[good], fixes.lat[good])
    time_s, told = fixes.time_s[good], fixes.sigma_m[good]
    with np.errstate(invalid="ignore"):
        told = np.where(np.isfinite(told) & (told > 0), np.clip(told, *_TOLD_M), np.nan)
    # Whole milliseconds, so that a shift of all times changes nothing.
    return _Track(np.round(time_s - time_s[0], 3), x, y, told, time_s)


def _unbroken(steps: Steps, settings: StopSettings) -> list[tuple[int, int]]:
    """Return the stretches of steps (first, one past the last) without a longer silence that could hold a stop."""
    breaks = np.flatnonzero(steps.begin[1:] - steps.end[:-1] > settings.longest_silence_s) + 1
    edges = [0, *breaks.tolist(), len(steps)]
    return [
        (lo, hi)
        for lo, hi in pairwise(edges)
        if steps.end[hi - 1] - steps.begin[lo] >= settings.least_stay_s
        and steps.first[hi - 1] + steps.count[hi - 1] - steps.first[lo] >= _FEWEST_FIXES
    ]


def _divided(
    steps: Steps, pieces: list[tuple[int, int]], noise: Noise, settings: StopSettings
) -> Iterable[tuple[int, int]]:
    for lo, hi in pieces:
        for a, b in stays_of(steps.part(lo, hi), noise, settings):
            yield a + lo, b + lo


def _merged(stays: Iterable[tuple[int, int]], steps: Steps, noise: Noise, settings: StopSettings) -> list[_Stay]:
    """Join neighbouring stays that cannot be told apart: pieces of a long stay, or a stay broken by an echo."""
    merged: list[_Stay] = []
    for start, b in stays:
        # Neighbours may share a step; it stays with the earlier one.
        a = start + 1 if merged and merged[-1].pieces[-1][1] == start else start
        middle = (float(np.median(steps.x[a : b + 1])), float(np.median(steps.y[a : b + 1])))
        if merged:
            last = merged[-1]
            gap_s = float(steps.begin[a] - steps.end[last.pieces[-1][1]])
            drifted = 1 - math.exp(-max(gap_s, settings.least_stay_s) / noise.time_s)
            limit = settings.merge_within_m + settings.merge_sigmas * noise.sigma_m * math.sqrt(drifted)
            if gap_s <= settings.merge_gap_s and math.dist(middle, last.middle) <= limit:
                merged[-1] = _Stay((*last.pieces, (a, b)), (*last.middles, middle))
                continue
        merged.append(_Stay(((a, b),), (middle,)))
    return merged


def _fused(
    stay: _Stay, steps: Steps, track: _Track, noise: Noise, settings: StopSettings, frame: WorkingFrame
) -> FoundStop | None:
    """Return the robust position of a stay and its covariance, or None where it rests on too few fixes."""
    members = np.concatenate([np.arange(steps.first[a], steps.first[b] + steps.count[b]) for a, b in stay.pieces])
    begin, end = int(members[0]), int(members[-1])
    if len(members) < _FEWEST_FIXES or track.t[end] - track.t[begin] < settings.least_stay_s:
        return None
    told = np.where(np.isnan(track.sigma_m[members]), settings.untold_sigma_m, track.sigma_m[members])
    xy = np.stack([track.x[members], track.y[members]], axis=1)
    place, scatter = _huber(xy, 1 / told**2, noise.sigma_m)
    covariance = _covariance(scatter, told, float(track.t[end] - track.t[begin]), noise, settings)
    lon, lat = frame.to_lonlat(place[:1], place[1:])
    return FoundStop(
        lon=float(lon[0]),
        lat=float(lat[0]),
        x=float(place[0]),
        y=float(place[1]),
        from_s=float(track.time_s[begin]),
        to_s=float(track.time_s[end]),
        fix_count=len(members),
        var_e_m2=float(covariance[0, 0]),
        var_n_m2=float(covariance[1, 1]),
        cov_en_m2=float(covariance[0, 1]),
    )


def _huber(xy: FloatArray, weights: FloatArray, spread_m: float) -> tuple[FloatArray, FloatArray]:
    """Return the weighted Huber position (2,) and the scatter about it (2, 2)."""
    place = np.median(xy, axis=0)
    off = xy - place
    away = np.hypot(off[:, 0], off[:, 1])
    # The scale of one axis: half of a round normal cloud lies within 1.1774 of it.
    scale = min(max(float(np.median(away)) / math.sqrt(2 * math.log(2)), 0.1), spread_m)
    weights = weights / weights.max()
    kept = weights
    for _ in range(5):
        kept = weights * np.minimum(1.0, _HUBER * scale / np.maximum(away, 1e-9))
        place = kept @ xy / kept.sum()
        off = xy - place
        away = np.hypot(off[:, 0], off[:, 1])
    return place, np.asarray((off * kept[:, None]).T @ off / kept.sum())


def _covariance(
    scatter: FloatArray, told_m: FloatArray, lasted_s: float, noise: Noise, settings: StopSettings
) -> NDArray[np.float64]:
    """Return the covariance of a fused position.

    The mean of first-order Gauss-Markov noise of variance v over a time T has the variance v g(T / time),
    g(u) = 2 (u - 1 + exp(-u)) / u² (an integral of the correlation, worked out here), so a stay is worth 1 / g
    independent fixes, however many were logged. The scatter within a stay shows only 1 - g of the noise.
    """
    u = lasted_s / max(noise.time_s, settings.fused_correlation_s)
    shared = 2 * (u - 1 + math.exp(-u)) / u**2
    worth = min(float(len(told_m)), 1 / shared)
    walk_var = max(noise.sigma_m**2, float(np.median(told_m)) ** 2)
    shown = np.asarray(scatter) / (1 - shared)
    one_fix = (_PRIOR_FIXES * walk_var * np.eye(2) + (worth - 1) * shown) / (_PRIOR_FIXES + worth - 1)
    return np.asarray(one_fix / worth + settings.shared_drift_m**2 * np.eye(2))


__all__ = ["FoundStop", "StopSettings", "find_stops"]
