"""The stops of a walk: where a person stood long enough to have been at a tree, and how well that place is known."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from standmap.stand.walks import Fixes, FloatArray
from standmap.survey.division import stays_of
from standmap.survey.frame import WorkingFrame
from standmap.survey.habits import Habits, learnt
from standmap.survey.joining import Joining
from standmap.survey.marks import Mark, MarkedSteps, in_stops, on_steps
from standmap.survey.noise import (
    Assumed,
    Fine,
    Noise,
    Steps,
    first_guess,
    in_steps,
    noise_in_stays,
    shared_part,
    without_excursions,
)
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

_FINELY = 0.3
"""So much of the usual proof for leaving is enough while the noise is learnt."""

_LESSONS = 3
_LEAST_OF_WAYS = 0.05
_GUESSED_TIME_S = 30.0
_PRIOR_FIXES = 10.0
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
    shared_m2
        The part of both variances that is an error which all stops of the walk have in common.
    marked
        Places in the sequence of marks, in ascending order, that lie in this stop.
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
    shared_m2: float = 0.0
    marked: tuple[int, ...] = ()

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


def find_stops(
    fixes: Fixes, frame: WorkingFrame, settings: StopSettings | None = None, marks: Sequence[Mark] = ()
) -> list[FoundStop]:
    """Return the stops of a walk in ascending time; no two share a moment.

    Parameters
    ----------
    fixes
        In any order. Fixes without a time, not finite or beyond the frame's reach are left out, and of
        exact duplicates one is kept; so a track without times has no stops.
    settings
        What is assumed; the defaults where absent.
    marks
        Moments that lie in stops, in any order; those that are not finite or fall where the track is silent are
        left alone.

    Notes
    -----
    Excursions are left out, fixes are taken together in short steps, and the likeliest division of the walk
    into stays and walks is found: first finely, to learn the noise from the stays; then with that noise, to learn
    how long this walker stays and how far the next stop lies; then with all of it. Neighbours that are better
    one stay are joined. The same fixes and marks always give the same stops.
    """
    settings = settings or StopSettings()
    track = _usable(fixes, frame)
    if len(track.t) < _FEWEST_FIXES:
        return []
    kept = without_excursions(track.t, track.x, track.y, settings)
    track = _Track(track.t[kept], track.x[kept], track.y[kept], track.sigma_m[kept], track.time_s[kept])
    steps = in_steps(track.t, track.x, track.y, settings.step_s)
    marked = on_steps(marks, steps, float(track.time_s[0]), settings.longest_silence_s / 2)
    pieces = _unbroken(steps, settings)
    some = [(lo, min(hi, _ENOUGH_STEPS)) for lo, hi in pieces if lo < _ENOUGH_STEPS]

    middle = steps.first + (steps.count - 1) // 2
    fine, assumed = Fine(track.t[middle], track.x[middle], track.y[middle]), _assumed(track, settings)

    noise = _noise(fine, assumed, steps, some, marked, settings)
    habits = _habits(steps, some, noise, marked, settings)
    stays = list(_divided(steps, pieces, noise, habits, marked, settings))
    joining = Joining(steps, noise, habits, marked, settings)
    stays, as_two = joining.joined(stays)
    stays, moved = joining.settled(stays)
    doubt = as_two + moved
    # What is stated rests on the stays as they are at last: a fine division hides some of the noise.
    stated = noise_in_stays(fine, [s for s in stays if s[1] < _ENOUGH_STEPS], assumed) or noise

    stops: list[FoundStop] = []
    last = -1
    for (begin, end), varied in zip(stays, doubt, strict=True):
        # Neighbours may share a step; it stays with the earlier one.
        first = begin + 1 if begin == last and begin < end else begin
        last = end
        stop = _fused((first, end), steps, track, stated, varied, marked, settings, frame)
        if stop is not None:
            stops.append(stop)
    held = in_stops(marks, ((s.from_s, s.to_s) for s in stops), settings.step_s)
    return [replace(stop, marked=places) for stop, places in zip(stops, held, strict=True)]


def _assumed(track: _Track, settings: StopSettings) -> Assumed:
    told = track.sigma_m[~np.isnan(track.sigma_m)]
    # Half the fixes must tell, else what they tell is not of the walk.
    if 2 * len(told) >= len(track.sigma_m):
        sigma_m, spread = float(np.median(told)), settings.told_spread
    else:
        sigma_m, spread = settings.untold_sigma_m, settings.untold_spread
    return Assumed(sigma_m, spread, settings.correlation_s, settings.correlation_spread)


def _noise(
    fine: Fine,
    assumed: Assumed,
    steps: Steps,
    pieces: list[tuple[int, int]],
    marks: MarkedSteps,
    settings: StopSettings,
) -> Noise:
    """Learn the noise of a walk from its stays, divided finely so that none holds a way."""
    finely = replace(settings, leave_cost=settings.leave_cost * _FINELY)
    noise = first_guess(steps, _GUESSED_TIME_S)
    for _ in range(_LESSONS):
        found = noise_in_stays(fine, list(_divided(steps, pieces, noise, Habits(), marks, finely)), assumed)
        if found is None:
            # Too little to learn from: what is assumed counts where fixes do not drift apart even faster.
            return Noise(max(noise.sigma_m, assumed.sigma_m), assumed.time_s)
        noise = found
    return noise


def _habits(
    steps: Steps, pieces: list[tuple[int, int]], noise: Noise, marks: MarkedSteps, settings: StopSettings
) -> Habits:
    """Learn how this walker goes about it."""
    habits = Habits()
    divided = list(_divided(steps, pieces, noise, habits, marks, settings))
    for _ in range(_LESSONS):
        joining = Joining(steps, noise, habits, marks, settings)
        stays, _doubt = joining.joined(divided)
        if marks.any:
            # Notes hold the stays apart; without them a habit would confirm itself.
            stays, _doubt = joining.settled(stays)
        lasted = np.array([steps.end[b] - steps.begin[a] for a, b in stays])
        middles = np.array([(np.median(steps.x[a : b + 1]), np.median(steps.y[a : b + 1])) for a, b in stays])
        ways2 = (np.diff(middles.reshape(-1, 2), axis=0) ** 2).sum(axis=1)
        if len(ways2):
            # Noise alone sets two places apart; without this, near trees would be held to be farther and farther.
            gaps = np.array([steps.begin[b[0]] - steps.end[a[1]] for a, b in pairwise(stays)])
            apart2 = 4 * math.log(2) * noise.between_means(float(np.median(lasted)), float(np.median(gaps)))
            ways2 *= max(1 - apart2 / max(float(np.median(ways2)), 1e-9), _LEAST_OF_WAYS)
        habits = learnt(lasted, np.sqrt(ways2), sum(marks.within(*stay) is not None for stay in stays))
    return habits


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
    steps: Steps,
    pieces: list[tuple[int, int]],
    noise: Noise,
    habits: Habits,
    marks: MarkedSteps,
    settings: StopSettings,
) -> Iterable[tuple[int, int]]:
    for lo, hi in pieces:
        for a, b in stays_of(steps.part(lo, hi), noise, habits, marks.part(lo, hi), settings):
            yield a + lo, b + lo


def _fused(
    stay: tuple[int, int],
    steps: Steps,
    track: _Track,
    noise: Noise,
    varied: FloatArray,
    marks: MarkedSteps,
    settings: StopSettings,
    frame: WorkingFrame,
) -> FoundStop | None:
    """Return the robust position of a stay and its covariance, or None where it rests on too few fixes."""
    begin, end = int(steps.first[stay[0]]), int(steps.first[stay[1]] + steps.count[stay[1]]) - 1
    here = slice(begin, end + 1)
    count, lasted_s = end - begin + 1, float(track.t[end] - track.t[begin])
    if count < _FEWEST_FIXES or lasted_s <= 0:
        return None
    if lasted_s < settings.least_stay_s and marks.within(*stay) is None:
        return None
    told = np.where(np.isnan(track.sigma_m[here]), settings.untold_sigma_m, track.sigma_m[here])
    xy = np.stack([track.x[here], track.y[here]], axis=1)
    place, scatter = _huber(xy, 1 / told**2, noise.sigma_m)
    walk_s = float(track.t[-1] - track.t[0])
    covariance, shared = _covariance(scatter, count, lasted_s, walk_s, noise, settings)
    var_e, var_n, cov_en = varied
    covariance = covariance + np.array([[var_e, cov_en], [cov_en, var_n]])
    lon, lat = frame.to_lonlat(place[:1], place[1:])
    return FoundStop(
        lon=float(lon[0]),
        lat=float(lat[0]),
        x=float(place[0]),
        y=float(place[1]),
        from_s=float(track.time_s[begin]),
        to_s=float(track.time_s[end]),
        fix_count=count,
        var_e_m2=float(covariance[0, 0]),
        var_n_m2=float(covariance[1, 1]),
        cov_en_m2=float(covariance[0, 1]),
        shared_m2=shared,
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
    scatter: FloatArray, count: int, lasted_s: float, walk_s: float, noise: Noise, settings: StopSettings
) -> tuple[FloatArray, float]:
    """Return the covariance of a fused position, and what of both its variances the whole walk shares.

    However many fixes were logged, they count for as many as are independent. The scatter within a stay shows the
    noise only in part; it says more about the shape of the ellipse than about its size. Slow noise is shared by
    the stops of a walk: as much of it as is left in a mean over the whole walk.
    """
    mean, worth = noise.of_mean(lasted_s)
    worth = min(float(count), worth)
    one = mean * worth
    shown = np.asarray(scatter) / max(1 - 1 / worth, 0.1)
    one_fix = (_PRIOR_FIXES * one * np.eye(2) + (worth - 1) * shown) / (_PRIOR_FIXES + worth - 1)
    slow = min(noise.sigma_m**2 * shared_part(walk_s / noise.time_s), mean / 2)
    shared = float(slow + settings.walk_drift_m**2)
    return np.asarray(one_fix / worth + settings.walk_drift_m**2 * np.eye(2)), shared


__all__ = ["FoundStop", "Mark", "StopSettings", "find_stops"]
