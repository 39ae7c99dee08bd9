"""Daily mean temperatures of one station without holes: from the rows of a stand, with what was filled marked so."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from standmap.stand.records import Weather, day_mean_c
from standmap.stand.tree import LonLat

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SHORT_GAP_DAYS = 5
"""A gap no longer than this is bridged by a straight line; a longer one takes the mean of those days in other years:
assumptions."""


@dataclass(frozen=True, slots=True, eq=False)
class Daily:
    """Daily mean temperatures of one station from its first day to its last.

    Attributes
    ----------
    first
        The day of the first value.
    mean_c
        Shape (n,); NaN where nothing is known and nothing could be filled in.
    filled
        Whether the station itself says nothing of that day, shape (n,).
    away_km
        How far the station is from the stand; None where its place is not known.
    """

    station: str
    first: date
    mean_c: FloatArray
    filled: BoolArray
    away_km: float | None = None

    @property
    def last(self) -> date:
        """The day of the last value."""
        return self.first + timedelta(days=len(self.mean_c) - 1)

    def between(self, begin: date, end: date) -> FloatArray:
        """Return the means from a day to a later one, both included; NaN outside what is known."""
        found = np.full((end - begin).days + 1, np.nan)
        low, high = max(begin, self.first), min(end, self.last)
        if low <= high:
            at = (low - begin).days
            own = (low - self.first).days
            count = (high - low).days + 1
            found[at : at + count] = self.mean_c[own : own + count]
        return found

    def filled_between(self, begin: date, end: date) -> int:
        """Return on how many days of a stretch within what is known the station itself says nothing."""
        low, high = max(begin, self.first), min(end, self.last)
        if low > high:
            return 0
        return int(self.filled[(low - self.first).days : (high - self.first).days + 1].sum())


def daily(
    rows: Sequence[Weather],
    places: Mapping[str, LonLat],
    at: LonLat | None,
    distance_m: Callable[[LonLat, LonLat], float],
    *,
    station: str | None = None,
) -> Daily | None:
    """Return the daily means of one station, None where no row tells a temperature.

    Parameters
    ----------
    places
        Longitude and latitude of the stations whose place is known.
    at
        Where the stand is.
    distance_m
        Metres between two places.
    station
        Which; without it the one that knows most days, a station twice as far counting as half of its days.
    """
    known: dict[str, dict[date, float]] = defaultdict(dict)
    for row in rows:
        mean = day_mean_c(row.least_c, row.mean_c, row.most_c)
        if mean is not None and math.isfinite(mean):
            known[row.station][row.day] = mean
    if station is not None:
        known = defaultdict(dict, {name: days for name, days in known.items() if name == station})
    if not known:
        return None
    away = {name: distance_m(at, places[name]) / 1000 if at and name in places else None for name in known}

    def worth(name: str) -> tuple[float, str]:
        km = away[name]
        return len(known[name]) / max(10.0, 10.0 if km is None else km), name

    chosen = max(known, key=worth)
    return _without_holes(chosen, known[chosen], away[chosen])


def _without_holes(station: str, known: Mapping[date, float], away_km: float | None) -> Daily:
    first, last = min(known), max(known)
    days = (last - first).days + 1
    mean = np.full(days, np.nan)
    for day, value in known.items():
        mean[(day - first).days] = value
    filled = np.isnan(mean)
    ends = np.flatnonzero(~filled)
    for before, after in pairwise(ends):
        gap = int(after - before) - 1
        if 0 < gap <= SHORT_GAP_DAYS:
            mean[before + 1 : after] = np.interp(
                np.arange(before + 1, after), [before, after], [mean[before], mean[after]]
            )
    long = np.flatnonzero(np.isnan(mean))
    if len(long):
        same_day: dict[tuple[int, int], list[float]] = defaultdict(list)
        for day, value in known.items():
            same_day[day.month, day.day].append(value)
        for index in long:
            day = first + timedelta(days=int(index))
            others = same_day.get((day.month, day.day)) or same_day.get((day.month, min(day.day, 28)))
            if others:
                mean[index] = sum(others) / len(others)
    return Daily(station, first, mean, filled, away_km)
