"""How warm the nights of a stand were, from its days' weather."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import fmean

from standmap.stand.records import day_mean_c
from standmap.stand.snapshot import Stand


def day_means_c(stand: Stand) -> dict[date, float]:
    """Return each day's mean temperature in °C; of several stations their mean, of a least and a most their middle."""
    found: dict[date, list[float]] = {}
    for row in stand.weather:
        mean_c = day_mean_c(row.least_c, row.mean_c, row.most_c)
        if mean_c is not None:
            found.setdefault(row.day, []).append(mean_c)
    return {day: fmean(sorted(means)) for day, means in found.items()}


def night_warmth_c(day_means: dict[date, float], ends_on: date) -> float | None:
    """Return how warm the night was whose sap is collected on this day; None where neither day's weather is known.

    Sap runs most in the early afternoon and least at night (Gryazkin et al. 2023, doi
    10.37482/0536-1036-2023-4-180-189), so a night's sap comes from two days: the mean of both stands for it.
    """
    known = [day_means[day] for day in (ends_on - timedelta(days=1), ends_on) if day in day_means]
    return fmean(known) if known else None
