"""Whether what is told of nights comes true: each past season told from the seasons before it alone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

from standmap.sap.model import DAY, REST, SapModel, learn
from standmap.sap.night_rows import sum_gain, sum_spread2
from standmap.sap.priors import LEAST_ML, PUBLISHED, Priors
from standmap.sap.records import SapRecords

Floats = NDArray[np.float64]

CHANCE_STEPS = (0.0, 0.05, 0.15, 0.3, 0.5, 0.7, 1.0)
"""Told chances are put together between these."""


@dataclass(frozen=True, slots=True)
class ToldSeason:
    """One season's collections, told before it began and under its weather as it turned out.

    Attributes
    ----------
    collections
        How many were held against what was told; trips' totals are not among them.
    inside_50, inside_90
        Which part of them lay in the middle half and the middle nine tenths of what was told. One that ran over
        counts with the part that it may have had there.
    run_over_told, run_over
        How many vessels would run over by what was told, and how many did.
    """

    season: int
    collections: int
    inside_50: float
    inside_90: float
    run_over_told: float
    run_over: int


@dataclass(frozen=True, slots=True)
class ToldChance:
    """All collections whose vessel was told to run over with about the same chance."""

    least: float
    most: float
    collections: int
    told: float
    came: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was told of past seasons, and what came; both empty without records."""

    seasons: tuple[ToldSeason, ...]
    chances: tuple[ToldChance, ...]

    @property
    def collections(self) -> int:
        """How many collections were held against what was told."""
        return sum(season.collections for season in self.seasons)

    def inside(self, part: float) -> float | None:
        """Return which part of all collections lay in the middle half (0.5) or nine tenths (0.9) of what was told."""
        if not self.collections:
            return None
        shares = ((s.inside_50 if part < 0.7 else s.inside_90) * s.collections for s in self.seasons)
        return math.fsum(shares) / self.collections


def calibrated(records: SapRecords, vessel_ml: float, priors: Priors = PUBLISHED) -> Calibration:
    """Hold each season's collections of single holes against what the seasons before it teach.

    Parameters
    ----------
    vessel_ml
        What a vessel holds: whether it runs over is told of it, whatever hung there.
    """
    single = _single_holes(records)
    season_of = records.season_of_rows()
    told_seasons = []
    chances: list[Floats] = []
    came: list[NDArray[np.bool_]] = []
    for season in records.seasons:
        rows = records.kept(single & (season_of == season))
        if not rows.rows:
            continue
        middle, spread = _told(learn(records.before(season), priors), rows)
        begin = ndtr((np.log(np.maximum(rows.volume_ml, LEAST_ML)) - middle) / spread)
        # Anything up to the least volume is one and the same; anything beyond an overflow is not known.
        least = np.where(rows.volume_ml <= LEAST_ML, 0.0, begin)
        most = np.where(rows.overflowed, 1.0, begin)
        chance = np.exp(log_ndtr((middle - math.log(vessel_ml)) / spread))
        told_seasons.append(
            ToldSeason(
                season,
                rows.rows,
                float(_within(least, most, 0.25, 0.75).mean()),
                float(_within(least, most, 0.05, 0.95).mean()),
                float(chance.sum()),
                int(rows.overflowed.sum()),
            )
        )
        chances.append(np.asarray(chance))
        came.append(rows.overflowed)
    if not told_seasons:
        return Calibration((), ())
    return Calibration(tuple(told_seasons), _by_chance(np.concatenate(chances), np.concatenate(came)))


def _single_holes(records: SapRecords) -> NDArray[np.bool_]:
    if not records.rows:
        return np.zeros(0, np.bool_)
    first_part = np.searchsorted(records.part_row, np.arange(records.rows))
    same = records.part_tree == records.part_tree[first_part][records.part_row]
    return np.asarray(np.logical_and.reduceat(same, first_part), np.bool_)


def _told(model: SapModel, rows: SapRecords) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of the logarithm of each row's millilitres, before anything of it was known.

    What is unlike from night to night evens out over several nights; what a tree and a year have in common does not.
    """
    middle, spread2 = np.zeros(len(rows.part_row)), np.zeros(len(rows.part_row))
    for number, day in enumerate(rows.days):
        mine = np.flatnonzero(rows.part_day == number)
        keys = [rows.tree_keys[k] for k in rows.part_tree[mine]]
        girths = [None if math.isnan(g) else g for g in rows.part_girth_mm[mine].tolist()]
        warmth = rows.day_c[number]
        middle[mine], spread = model.logs(keys, girths, day, None if math.isnan(warmth) else float(warmth))
        spread2[mine] = spread**2
    variances = model.fit.variances()
    apart = math.sqrt(float(variances[DAY] + variances[REST]))
    first_part = np.searchsorted(rows.part_row, np.arange(rows.rows))
    total = np.add.reduceat(np.exp(middle), first_part)
    weight = np.exp(middle) / total[rows.part_row]
    share = np.add.reduceat(weight**2, first_part)
    shared = np.add.reduceat(weight * (spread2 - apart**2), first_part)
    return np.log(total) + sum_gain(apart, share), np.sqrt(shared + sum_spread2(apart, share))


def _within(least: Floats, most: Floats, low: float, high: float) -> Floats:
    """Return which part of each span from least to most lies between low and high; of a point, whether it does."""
    inside = np.clip(np.minimum(most, high) - np.maximum(least, low), 0, None)
    wide = most > least
    return np.where(wide, inside / np.where(wide, most - least, 1.0), (least >= low) & (least <= high))


def _by_chance(chance: Floats, came: NDArray[np.bool_]) -> tuple[ToldChance, ...]:
    found = []
    for least, most in pairwise(CHANCE_STEPS):
        mine = (chance >= least) & ((chance < most) | (most == 1.0))
        if mine.any():
            found.append(ToldChance(least, most, int(mine.sum()), float(chance[mine].mean()), float(came[mine].mean())))
    return tuple(found)
