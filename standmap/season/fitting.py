"""Models of leaf-out taught by the leaf-out days of a stand, and how far they miss a day.

A stand wants `factor` times the warmth that a model asks for. Of n own years the mean of ln(reached / wanted) counts
n / (n + k), the default of no more and no less warmth the rest; so few years move little. The miss in days is that of
each year told from the others, drawn in the same way towards a default.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from standmap.season.thermal import FloatArray, LeafOutModel

FROM_YEARS = 3
"""With fewer own leaf-out days a model keeps its defaults."""

DEFAULT_COUNTS_AS = 2.0
"""So many own years weigh as much as the default of a model (k above): an assumption."""

UNTAUGHT_MISS_DAYS = 11.0
"""Standard deviation of what a model misses leaf-out by in a stand that has not taught it: an assumption. What stands
want differs; a fifth more or less warmth is a week to two."""

DEFAULT_MISS_DAYS = 5.0
"""The same of a taught model before its own misses speak: an assumption."""

MEAN_MISS_DAYS = 8.0
"""Standard deviation of leaf-out about the mean of other years, for a stand with few: an assumption."""


@dataclass(frozen=True, slots=True, eq=False)
class OwnYear:
    """A season whose leaf-out was seen: its first day, its daily means without NaN, and the index of that day."""

    begins: date
    mean_c: FloatArray
    leaf_out: int


@dataclass(frozen=True, slots=True)
class Taught:
    """A model with what it learned.

    Attributes
    ----------
    miss_days
        Standard deviation of what it misses by.
    error_days
        Root mean square miss over the own years, each told from the others; None with fewer than three.
    """

    model: LeafOutModel
    years: int
    miss_days: float
    error_days: float | None


def taught(model: LeafOutModel, years: Sequence[OwnYear]) -> Taught:
    """Return a model fitted to own years; with fewer than three it keeps its defaults."""
    if len(years) < FROM_YEARS:
        return Taught(model, len(years), UNTAUGHT_MISS_DAYS, None)
    misses = []
    for n, year in enumerate(years):
        others = [*years[:n], *years[n + 1 :]]
        told = _scaled(model, others).leaf_out(year.mean_c, year.begins)
        misses.append(float((len(year.mean_c) if told is None else told) - year.leaf_out))
    return Taught(_scaled(model, years), len(years), shrunk_miss(misses, DEFAULT_MISS_DAYS), rms(misses))


def mean_error_days(years: Sequence[OwnYear]) -> float | None:
    """Return the root mean square miss of taking the mean day of the other years; None with fewer than three."""
    if len(years) < FROM_YEARS:
        return None
    days = [float(year.leaf_out) for year in years]
    total = sum(days)
    return rms([(total - day) / (len(days) - 1) - day for day in days])


def shrunk_miss(misses: Sequence[float], default: float) -> float:
    """Return a standard deviation from misses, the default counting as so many of them as `DEFAULT_COUNTS_AS`."""
    squares = math.fsum(miss**2 for miss in misses) + DEFAULT_COUNTS_AS * default**2
    return math.sqrt(squares / (len(misses) + DEFAULT_COUNTS_AS))


def shrunk_mean(values: Sequence[float], default: float) -> float:
    """Return a mean drawn towards a default: n values count n / (n + k)."""
    return (math.fsum(values) + DEFAULT_COUNTS_AS * default) / (len(values) + DEFAULT_COUNTS_AS)


def rms(misses: Sequence[float]) -> float:
    """Return the root of the mean square."""
    return math.sqrt(math.fsum(miss**2 for miss in misses) / len(misses))


def _scaled(model: LeafOutModel, years: Sequence[OwnYear]) -> LeafOutModel:
    logs = []
    for year in years:
        reached = float(model.reached(year.mean_c, year.begins)[year.leaf_out])
        wanted = float(model.wanted(year.mean_c)[year.leaf_out])
        # Before any warmth, or with nothing wanted, a year teaches nothing.
        if reached > 0 and wanted > 0:
            logs.append(math.log(reached / wanted))
    return replace(model, factor=model.factor * math.exp(shrunk_mean(logs, 0.0))) if logs else model


def spread_days(
    members: Sequence[float], sigma: float, parts: tuple[float, ...] = (0.05, 0.5, 0.95)
) -> tuple[float, ...]:
    """Return quantiles of days that come out as one of several, each missed by a normal error.

    Parameters
    ----------
    members
        Equally likely days.
    sigma
        Standard deviation of the error, days; above 0.
    """
    from scipy.special import ndtr

    days = np.asarray(members, dtype=np.float64)
    low, high = float(days.min() - 6 * sigma), float(days.max() + 6 * sigma)
    grid = np.linspace(low, high, 2001)
    share = ndtr((grid[:, None] - days[None, :]) / sigma).mean(axis=1)
    return tuple(float(np.interp(part, share, grid)) for part in parts)
