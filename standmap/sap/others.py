"""Effects of trees that were not in the fit: each by itself, with all that the fit tells taken for certain."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from standmap.sap.effects import Effects, Usual, design_of
from standmap.sap.fit import Fit
from standmap.sap.night_rows import sum_gain, sum_spread2
from standmap.sap.records import SapRecords

Floats = NDArray[np.float64]

STEPS = 50


@dataclass(frozen=True, slots=True, eq=False)
class OtherTrees:
    """Middle and variance of each tree's effect, by where its key stands."""

    at: Mapping[str, int]
    middle: Floats
    spread2: Floats

    def of(self, tree_keys: Sequence[str], unknown: float) -> tuple[Floats, Floats]:
        """Return middles and variances; a tree of which nothing is known has 0 and `unknown`."""
        place = np.array([self.at.get(key, len(self.middle)) for key in tree_keys], np.int64)
        return np.append(self.middle, 0.0)[place], np.append(self.spread2, unknown)[place]


NO_OTHERS = OtherTrees({}, np.zeros(0), np.zeros(0))


def others_of(records: SapRecords, effects: Effects, usual: Usual, fit: Fit) -> OtherTrees:
    """Return the effects of trees that have none yet, from their rows; rows of several trees tell nothing of one.

    Nights that were not in the fit are of unknown height: what they may add is noise.
    """
    known = np.array([key in effects.tree_at for key in records.tree_keys], np.bool_)
    first_part = np.searchsorted(records.part_row, np.arange(records.rows))
    tree = records.part_tree[first_part]
    one_tree = np.logical_and.reduceat(records.part_tree == tree[records.part_row], first_part)
    rows = records.kept(one_tree & ~known[tree])
    if not rows.rows:
        return NO_OTHERS
    design = design_of(rows, effects, usual)
    first_part = np.searchsorted(rows.part_row, np.arange(rows.rows))
    tree = rows.part_tree[first_part]
    run = np.exp(np.asarray(design.parts @ fit.theta))
    total = np.add.reduceat(run, first_part)
    share = np.add.reduceat(run**2, first_part) / total**2
    sigma = math.exp(fit.log_sd[-1])
    unseen = np.array([day not in effects.day_at for day in rows.days], np.bool_)[rows.part_day]
    more = np.add.reduceat(run**2 * unseen, first_part) / total**2 * math.exp(2 * fit.log_sd[1])
    spread2 = sum_spread2(sigma, share) + more
    left = design.log_ml - np.log(total) - sum_gain(sigma, share)
    side, count = design.side, len(rows.tree_keys)
    precision = math.exp(-2 * fit.log_sd[2])
    theta = np.zeros(count)
    for _ in range(STEPS):
        off = left - theta[tree]
        beyond = -side * off / np.sqrt(spread2)
        hazard = np.exp(-(beyond**2) / 2 - log_ndtr(beyond)) / math.sqrt(2 * math.pi)
        toward = np.where(side == 0, off / spread2, side * hazard / np.sqrt(spread2))
        weight = np.where(side == 0, 1.0, hazard * (beyond + hazard)) / spread2
        bent = np.bincount(tree, weight, count) + precision
        step = (np.bincount(tree, toward, count) - precision * theta) / bent
        # A full step may overshoot where a row is known from one side only.
        theta = theta + np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < 1e-10:
            break
    return OtherTrees({key: n for n, key in enumerate(rows.tree_keys)}, theta, 1 / bent)
