"""Invented springs: a sine of the year with weather on top that hangs together from day to day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from standmap.season.thermal import SEASON_DAYS, FloatArray, LeafOutModel, chilling_begins
from standmap.stand.records import SeasonSign, Weather


def year_round(first: date, days: int, seed: int, mean_c: float = 5.0, *, southern: bool = False) -> FloatArray:
    """Return daily means: a yearly wave of 12 °C, slow weather of 2.5 °C, and some years warmer than others."""
    rng = np.random.default_rng(seed)
    at = np.arange(days)
    day_of_year = np.array([(first + timedelta(days=int(n))).timetuple().tm_yday for n in at])
    wave = -12.0 * np.cos(2 * np.pi * (day_of_year - (200 if southern else 20)) / 365.25)
    slow = np.empty(days)
    slow[0] = 0.0
    for n in range(1, days):
        slow[n] = 0.8 * slow[n - 1] + rng.normal(0, 1.5)
    years = rng.normal(0, 1.2, 200)
    return mean_c + wave + slow + years[[(first + timedelta(days=int(n) + 60)).year % 200 for n in at]]


def rows_of(first: date, mean_c: FloatArray, station: str = "X", *, until: date | None = None) -> tuple[Weather, ...]:
    """Return the days as a stand keeps them."""
    days = [first + timedelta(days=n) for n in range(len(mean_c))]
    return tuple(
        Weather(f"{station}{n}", day, None, float(value), None, station=station)
        for n, (day, value) in enumerate(zip(days, mean_c, strict=True))
        if until is None or day <= until
    )


def season_of_series(first: date, mean_c: FloatArray, season: int) -> tuple[date, FloatArray]:
    """Return the first day and the daily means of one northern season."""
    begins = chilling_begins(season, southern=False)
    at = (begins - first).days
    return begins, mean_c[at : at + SEASON_DAYS]


def leaf_out_signs(
    first: date, mean_c: FloatArray, seasons: range, model: LeafOutModel, seed: int, miss_days: float
) -> tuple[SeasonSign, ...]:
    """Return the days on which leaves come out if the model holds, seen with an error."""
    rng = np.random.default_rng(seed)
    found = []
    for season in seasons:
        begins, mean = season_of_series(first, mean_c, season)
        index = model.leaf_out(mean, begins)
        assert index is not None
        day = begins + timedelta(days=index + round(float(rng.normal(0, miss_days))))
        found.append(SeasonSign(f"s{season}", "leaf-out", day))
    return tuple(found)
