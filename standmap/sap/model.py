"""What one hole gives in a night, learned from a stand's own records and from published figures where those are few.

The logarithm of a night's millilitres is the sum of a stand's level, the stem's girth, the night's warmth, the year,
the night, the tree, and what is left; year, night, tree and rest vary normally, and a night takes after the one before
it. Trees with few records borrow from the
others (partial pooling). Without any record the priors speak, and widely.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from standmap.sap.effects import FIXED, Effects, Usual, design_of, effects_of, groups_of, usual_of
from standmap.sap.fit import Fit, fitted
from standmap.sap.night import NightRun
from standmap.sap.others import NO_OTHERS, OtherTrees, others_of
from standmap.sap.priors import ASSUMED_BASIS, PUBLISHED, Priors
from standmap.sap.records import SapRecords

Floats = NDArray[np.float64]

MOST_TREES = 200
"""Of more trees than this with records, so many evenly spaced ones tell years, nights and variances; the others'
effects are then found each by itself. A bound on time, no more."""

USUAL_NIGHTS = 5.0
"""The usual warmth counts as so many nights of one's own: an assumption."""

YEAR, DAY, TREE, REST = range(4)


@dataclass(frozen=True, slots=True, eq=False)
class SapModel:
    """What is expected of any hole in any night.

    Attributes
    ----------
    priors
        What it began with.
    effects, fit
        Where each effect stands, and what was found of it.
    others
        Effects of trees that are not among these.
    usual
        What stands for what nobody knows.
    day_c
        Warmth of the nights with records, the usual one where nobody knows, by the date on which they end.
    nights_of, nights
        Nights that records tell of, by tree key and in all; a night of one hole counts once.
    left_out
        Collections that came after too many nights to tell anything.
    """

    priors: Priors
    effects: Effects
    fit: Fit
    others: OtherTrees
    usual: Usual
    day_c: Mapping[date, float]
    nights_of: Mapping[str, int]
    nights: int
    left_out: int

    def night(
        self,
        tree_key: str,
        girth_mm: float | None = None,
        day: date | None = None,
        mean_c: float | None = None,
        year: int | None = None,
    ) -> NightRun:
        """Return what one hole of a tree gives in one night; see `logs`."""
        return self.night_of_each([tree_key], [girth_mm], day, mean_c, year)[0]

    def night_of_each(
        self,
        tree_keys: Sequence[str],
        girths_mm: Sequence[float | None],
        day: date | None = None,
        mean_c: float | None = None,
        year: int | None = None,
    ) -> tuple[NightRun, ...]:
        """Return what one hole of each of these trees gives in one and the same night; see `logs`."""
        middles, spreads = self.logs(tree_keys, girths_mm, day, mean_c, year)
        said: dict[int, str] = {}
        runs = []
        for key, middle, spread in zip(tree_keys, np.exp(middles).tolist(), spreads.tolist(), strict=True):
            own = self.nights_of.get(key, 0)
            if own not in said:
                said[own] = self._basis(own)
            runs.append(NightRun(middle, spread, said[own], assumed=not self.nights))
        return tuple(runs)

    def logs(
        self,
        tree_keys: Sequence[str],
        girths_mm: Sequence[float | None],
        day: date | None = None,
        mean_c: float | None = None,
        year: int | None = None,
    ) -> tuple[Floats, Floats]:
        """Return mean and standard deviation of the logarithm of each tree's millilitres in one night.

        Parameters
        ----------
        tree_keys
            Any; of one without records nothing is known but its girth.
        girths_mm
            None for one that nobody measured.
        day
            On which the night ends; None for any night.
        mean_c
            How warm it is; None where nobody knows, or for a past night as it was recorded.
        year
            Used where there is no day; None without both for any year.
        """
        if day is not None:
            year = day.year
            mean_c = self.day_c.get(day) if mean_c is None else mean_c
        variances = self.fit.variances()
        theta, covariance = self.fit.theta, self.fit.covariance
        where = np.zeros((len(tree_keys), FIXED + 3), np.int64)
        times = np.zeros(where.shape)
        where[:, :FIXED] = range(FIXED)
        times[:, 0] = 1.0
        times[:, 1] = self.usual.thickness(np.array([math.nan if g is None else g for g in girths_mm], np.float64))
        times[:, 2] = self.usual.warmth(np.array(math.nan if mean_c is None else mean_c))
        unknown_c2 = self.usual.warmth_spread_c**2 if mean_c is None else 0.0
        spread2 = np.full(len(tree_keys), variances[REST] + unknown_c2 * (theta[2] ** 2 + covariance[2, 2]))
        this_year = None if year is None else self.effects.year_at.get(year)
        if this_year is None:
            spread2 += variances[YEAR]
        else:
            where[:, FIXED + YEAR], times[:, FIXED + YEAR] = this_year, 1.0
        before = None if day is None else self.effects.night_before(day)
        if before is None:
            spread2 += variances[DAY]
        else:
            # A night with records is itself; a later one has a part of the last of them.
            part = self.fit.lasting ** before[1]
            where[:, FIXED + DAY], times[:, FIXED + DAY] = before[0], part
            spread2 += variances[DAY] * (1 - part**2)
        own = np.array([self.effects.tree_at.get(key, -1) for key in tree_keys], np.int64)
        where[:, FIXED + TREE], times[:, FIXED + TREE] = np.maximum(own, 0), own >= 0
        among = covariance[where[:, :, None], where[:, None, :]]
        spread2 += np.einsum("ni,nij,nj->n", times, among, times, optimize=True)
        alone, alone2 = self.others.of(tree_keys, float(variances[TREE]))
        middle = (theta[where] * times).sum(axis=1) + np.where(own < 0, alone, 0.0)
        return middle, np.sqrt(spread2 + np.where(own < 0, alone2, 0.0))

    def _basis(self, own: int) -> str:
        if not self.nights:
            return ASSUMED_BASIS
        if own:
            return f"{_nights(own)} of this tree among {self.nights} of this stand"
        return f"{_nights(self.nights)} of this stand"


def _nights(count: int) -> str:
    return "1 recorded night" if count == 1 else f"{count} recorded nights"


def learn(records: SapRecords, priors: Priors = PUBLISHED) -> SapModel:
    """Return what records teach; without any, what the priors say.

    The same records give the same to the last bit, in whatever order they were written down.
    """
    usual = usual_of(records, priors, USUAL_NIGHTS)
    few = _few(records)
    effects = effects_of(few)
    fit = fitted(design_of(few, effects, usual), groups_of(effects, priors))
    nights = np.bincount(records.part_tree, minlength=len(records.tree_keys))
    warmth = usual.warmth(records.day_c) + usual.from_c
    return SapModel(
        priors=priors,
        effects=effects,
        fit=fit,
        others=others_of(records, effects, usual, fit) if few is not records else NO_OTHERS,
        usual=usual,
        day_c=dict(zip(records.days, warmth.tolist(), strict=True)),
        nights_of=dict(zip(records.tree_keys, nights.tolist(), strict=True)),
        nights=len(records.part_row),
        left_out=records.left_out,
    )


def _few(records: SapRecords) -> SapRecords:
    """Return the rows of so many trees as may be fitted at once: evenly spaced in the order of their keys."""
    trees = len(records.tree_keys)
    if trees <= MOST_TREES:
        return records
    chosen = np.zeros(trees, np.bool_)
    chosen[np.linspace(0, trees - 1, MOST_TREES).round().astype(np.int64)] = True
    first_part = np.searchsorted(records.part_row, np.arange(records.rows))
    return records.kept(np.logical_and.reduceat(chosen[records.part_tree], first_part))
