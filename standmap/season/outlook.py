"""The rest of a season as it may come: what is known of it, gone on with the weather of other years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from standmap.season.daily import Daily
from standmap.season.thermal import SEASON_DAYS, FloatArray, chilling_begins

MOST_MISSING_DAYS = 20
"""A season of an earlier year with more unknown days than this is no example."""

RISE_C_PER_DAY = 0.15
"""How much warmer each day of spring is than the one before, where there is no other year to go by: an assumption."""

LAST_DAYS = 30
"""From the mean of so many days that rise goes on."""


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Possible courses of one season.

    Attributes
    ----------
    begins
        The first day of the daily means.
    members
        Equally likely courses, shape (members, days); what is known is the same in all.
    known
        So many days from the first on are known.
    guessed
        Whether there was no other year to go by.
    """

    begins: date
    members: FloatArray
    known: int
    guessed: bool


def season_means(weather: Daily, season: int, *, southern: bool) -> FloatArray:
    """Return the daily means of a season, shape (SEASON_DAYS,), NaN where not known."""
    begins = chilling_begins(season, southern=southern)
    return weather.between(begins, begins + timedelta(days=SEASON_DAYS - 1))


def whole_seasons(weather: Daily, but: int, *, southern: bool) -> list[tuple[int, date, FloatArray]]:
    """Return seasons of other years that are known well enough, holes filled: season, first day, daily means."""
    found = []
    for season in range(weather.first.year, weather.last.year + 2):
        if season == but:
            continue
        mean = season_means(weather, season, southern=southern)
        unknown = np.isnan(mean)
        if unknown.sum() > MOST_MISSING_DAYS or unknown[0] or unknown[-1]:
            continue
        mean[unknown] = np.interp(np.flatnonzero(unknown), np.flatnonzero(~unknown), mean[~unknown])
        found.append((season, chilling_begins(season, southern=southern), mean))
    return found


def outlook(weather: Daily, season: int, until: date, *, southern: bool) -> Outlook | None:
    """Return how a season may come, with the weather of the station up to a day known; None where nothing can be said.

    Notes
    -----
    Holes in what is known take the mean of the other years on that day.
    """
    begins = chilling_begins(season, southern=southern)
    own = season_means(weather, season, southern=southern)
    known = max(0, min((min(until, weather.last) - begins).days + 1, SEASON_DAYS))
    own[known:] = np.nan
    others = [mean for _, _, mean in whole_seasons(weather, season, southern=southern)]
    if others:
        members = np.array(others)
        usual = members.mean(axis=0)
        here = np.where(np.isnan(own[:known]), usual[:known], own[:known])
        members[:, :known] = here
        return Outlook(begins, members, known, guessed=False)
    if known < LAST_DAYS or np.isnan(own[:known]).sum() > MOST_MISSING_DAYS:
        return None
    here = own[:known].copy()
    holes = np.isnan(here)
    here[holes] = np.interp(np.flatnonzero(holes), np.flatnonzero(~holes), here[~holes])
    course = np.empty((1, SEASON_DAYS))
    course[0, :known] = here
    middle = known - (LAST_DAYS + 1) / 2
    course[0, known:] = here[-LAST_DAYS:].mean() + RISE_C_PER_DAY * (np.arange(known, SEASON_DAYS) - middle)
    return Outlook(begins, course, known, guessed=True)


def most_likely_sums(members: Sequence[FloatArray] | FloatArray) -> FloatArray:
    """Return the middle of several courses on each day, shape (days,)."""
    return np.asarray(np.median(np.asarray(members), axis=0), dtype=np.float64)
