"""Which effects a night's run is the sum of, and records as a design of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from standmap.sap.night_rows import Design
from standmap.sap.precision import Groups
from standmap.sap.priors import COLDEST_C, LEAST_ML, WARMEST_C, Priors
from standmap.sap.records import SapRecords

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FIXED = 3
"""Level, girth and warmth come first; then years, nights and trees."""


@dataclass(frozen=True, slots=True, eq=False)
class Usual:
    """What stands for what nobody knows, and what covariates are measured from.

    Attributes
    ----------
    girth_mm, warmth_c, warmth_spread_c
        Of a stem that nobody measured and a night of which nothing is known, and how far off that may be.
    from_girth_mm, from_c
        Where the effects of girth and warmth are 0.
    """

    girth_mm: float
    warmth_c: float
    warmth_spread_c: float
    from_girth_mm: float
    from_c: float

    def thickness(self, girth_mm: Floats) -> Floats:
        """Return the covariate of girths, NaN for unknown ones."""
        return np.asarray(np.log(np.where(np.isnan(girth_mm), self.girth_mm, girth_mm) / self.from_girth_mm))

    def warmth(self, mean_c: Floats) -> Floats:
        """Return the covariate of nights' warmth, NaN for unknown ones."""
        return np.asarray(
            np.clip(np.where(np.isnan(mean_c), self.warmth_c, mean_c), COLDEST_C, WARMEST_C) - self.from_c
        )


def usual_of(records: SapRecords, priors: Priors, nights: float) -> Usual:
    """Return what is usual in a stand.

    Parameters
    ----------
    nights
        The priors' warmth counts as so many nights of the stand's own.
    """
    girths = records.part_girth_mm[~np.isnan(records.part_girth_mm)]
    known = np.clip(records.day_c[~np.isnan(records.day_c)], COLDEST_C, WARMEST_C)
    usual_c = (nights * priors.warmth_c.value + known.sum()) / (nights + len(known))
    # Nights of unknown warmth have it in the variance of nights already; it must not count twice.
    off2 = nights * priors.warmth_spread_c.value**2 + ((known - usual_c) ** 2).sum()
    return Usual(
        float(np.median(girths)) if len(girths) else priors.girth_mm.value,
        float(usual_c),
        math.sqrt(off2 / (nights + len(records.days))),
        priors.girth_mm.value,
        priors.warmth_c.value,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """Where each effect stands: by year, by the date on which a night ends, by tree key."""

    year_at: Mapping[int, int]
    day_at: Mapping[date, int]
    tree_at: Mapping[str, int]

    def night_before(self, day: date) -> tuple[int, int] | None:
        """Return where the last night of that year up to a day stands, and how many nights lie between."""
        known = [known for known in self.day_at if known.year == day.year and known <= day]
        return (self.day_at[max(known)], (day - max(known)).days) if known else None

    @property
    def count(self) -> int:
        """How many there are."""
        return FIXED + len(self.year_at) + len(self.day_at) + len(self.tree_at)


def effects_of(records: SapRecords) -> Effects:
    """Return an effect for everything that records name."""
    years = records.seasons
    first_day = FIXED + len(years)
    first_tree = first_day + len(records.days)
    return Effects(
        {year: FIXED + n for n, year in enumerate(years)},
        {day: first_day + n for n, day in enumerate(records.days)},
        {key: first_tree + n for n, key in enumerate(records.tree_keys)},
    )


def design_of(records: SapRecords, effects: Effects, usual: Usual) -> Design:
    """Return rows as sums of effects; a part whose year, night or tree has none lacks it."""
    year = np.array([effects.year_at.get(day.year, -1) for day in records.days], np.int64)[records.part_day]
    day = np.array([effects.day_at.get(day, -1) for day in records.days], np.int64)[records.part_day]
    tree = np.array([effects.tree_at.get(key, -1) for key in records.tree_keys], np.int64)[records.part_tree]
    parts = len(records.part_row)
    places = np.column_stack([np.tile(np.arange(FIXED), (parts, 1)), year, day, tree])
    times = np.ones(places.shape)
    times[:, 1] = usual.thickness(records.part_girth_mm)
    times[:, 2] = usual.warmth(records.day_c)[records.part_day]
    there = places >= 0
    starts = np.append(0, np.cumsum(there.sum(axis=1)))
    matrix = csr_array((times[there], places[there], starts), shape=(parts, effects.count))
    little = records.volume_ml < LEAST_ML
    return Design(
        matrix,
        records.part_row,
        np.log(np.maximum(records.volume_ml, LEAST_ML)),
        np.where(records.overflowed, 1, np.where(little, -1, 0)),
    )


def groups_of(effects: Effects, priors: Priors) -> Groups:
    """Return what is taken to hold of effects before any record."""
    own = (priors.run_ml, priors.girth, priors.warmth)
    center, precision = np.zeros(effects.count), np.ones(effects.count)
    center[:FIXED] = [math.log(priors.run_ml.value), priors.girth.value, priors.warmth.value]
    precision[:FIXED] = [belief.spread**-2 for belief in own]
    sizes = [FIXED, len(effects.year_at), len(effects.day_at), len(effects.tree_at)]
    beliefs = (priors.year, priors.day, priors.tree, priors.rest)
    following = [(a, b) for a, b in pairwise(sorted(effects.day_at)) if a.year == b.year]
    return Groups(
        center,
        precision,
        np.repeat([-1, 0, 1, 2], sizes),
        np.array([effects.day_at[a] for a, _ in following], np.int64),
        np.array([effects.day_at[b] for _, b in following], np.int64),
        np.array([(b - a).days for a, b in following], np.float64),
        beliefs,
        priors.lasting,
    )
