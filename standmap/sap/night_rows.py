"""Recorded volumes as rows that are linear in effects, near the effects at which they are looked at.

A part (one hole in one night) has a run whose logarithm is normal round the sum of its effects. A row is the sum of
its parts. The logarithm of a sum is taken to be normal too (Fenton 1960, doi 10.1109/TCOM.1960.1097606), and linear
in the effects near a point at which it is looked at; of a row of one part both are exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEPS_AN_OCTAVE = 4
"""Rows whose noise is alike are summed up together: those of as many equal parts, to so fine a step."""


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Rows, and which effects each of their parts is the sum of.

    Attributes
    ----------
    parts
        Shape (parts, effects), sorted by row.
    row
        Row of each part; every row has one.
    log_ml
        Logarithm of each row's millilitres.
    side
        0 where that is what it gave, 1 where it gave at least that much, -1 at most; shape (rows,).
    """

    parts: csr_array
    row: Ints
    log_ml: Floats
    side: Ints

    @property
    def effects(self) -> int:
        """How many effects there are."""
        return int(self.parts.shape[1])

    @property
    def has_sums(self) -> bool:
        """Whether a row has more than one part."""
        return len(self.row) > len(self.log_ml)


@dataclass(frozen=True, slots=True, eq=False)
class Alike:
    """Exact rows with the same share of noise, summed up: all that a normal likelihood asks of them.

    Attributes
    ----------
    share, count
        Of the noise (see `sum_spread2`), and how many rows.
    across, ones
        Rows' effects times themselves, and summed up.
    toward, square, plain
        Logarithms times effects, times themselves, and summed up.
    """

    share: float
    count: int
    across: Floats
    toward: Floats
    ones: Floats
    square: float
    plain: float


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Every two effects that meet in a row: rows are short, so that is little beside a matrix of all effects."""

    row: Ints
    first: Ints
    second: Ints
    times: Floats

    def across(self, weight: Floats, effects: int) -> Floats:
        """Return the sum of the rows' effects times themselves, weighted; shape (effects, effects)."""
        place = self.first * effects + self.second
        found = np.bincount(place, weight[self.row] * self.times, effects**2)
        return np.asarray(found.reshape(effects, effects), np.float64)

    def leverage(self, covariance: Floats, rows: int) -> Floats:
        """Return the variance of each row's middle."""
        found = np.bincount(self.row, covariance[self.first, self.second] * self.times, rows)
        return np.asarray(found, np.float64)


def pairs_of(slopes: csr_array) -> Pairs:
    """Return the pairs of a matrix's rows."""
    counts = np.diff(slopes.indptr).astype(np.int64)
    begins = slopes.indptr[:-1].astype(np.int64)
    row = np.repeat(np.arange(len(counts)), counts**2)
    within = np.arange(len(row)) - np.repeat(np.cumsum(counts**2) - counts**2, counts**2)
    first, second = begins[row] + within // counts[row], begins[row] + within % counts[row]
    indices = slopes.indices.astype(np.int64)
    return Pairs(row, indices[first], indices[second], slopes.data[first] * slopes.data[second])


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """A design seen near one point: rows are linear in the effects.

    Attributes
    ----------
    alike
        Exact rows by their share of noise.
    bounded, bound, bound_side, bound_share
        Rows known from one side only: their effects, what is left of the logarithm, side, and share of noise.
    pairs
        Of the effects of these rows.
    """

    alike: tuple[Alike, ...]
    bounded: csr_array
    bound: Floats
    bound_side: Floats
    bound_share: Floats
    pairs: Pairs


def sum_spread2(sigma: float, share: Floats | float) -> Floats:
    """Return the variance of a sum's logarithm: `share` is the sum of the squares of its parts' shares (1 of one)."""
    return np.asarray(np.log1p(np.asarray(share) * math.expm1(sigma**2)), np.float64)


def sum_gain(sigma: float, share: Floats | float) -> Floats:
    """Return by how much a sum's logarithm lies above that of its parts' medians on average."""
    return np.asarray((sigma**2 - sum_spread2(sigma, share)) / 2, np.float64)


def linear(design: Design, theta: Floats) -> Linear:
    """Return a design as it is seen near these effects."""
    rows = len(design.log_ml)
    starts = np.searchsorted(design.row, np.arange(rows))
    eta = np.asarray(design.parts @ theta)
    top = np.maximum.reduceat(eta, starts) if rows else np.zeros(0)
    weight = np.exp(eta - top[design.row])
    total = np.add.reduceat(weight, starts) if rows else np.zeros(0)
    weight = weight / total[design.row]
    mix = csr_array(
        (weight, np.arange(len(design.row)), np.append(starts, len(design.row))), shape=(rows, len(design.row))
    )
    slopes = csr_array(mix @ design.parts) if design.has_sums else design.parts
    left = design.log_ml - (top + np.log(total) - slopes @ theta)
    level = np.round(-STEPS_AN_OCTAVE * np.log2(np.asarray(mix.power(2).sum(axis=1)))).astype(np.int64)
    share = np.exp2(-level / STEPS_AN_OCTAVE)
    alike = tuple(
        _summed_up(float(np.exp2(-step / STEPS_AN_OCTAVE)), slopes[mine], left[mine])
        for step in np.unique(level[design.side == 0])
        if len(mine := np.flatnonzero((level == step) & (design.side == 0)))
    )
    bounded = np.flatnonzero(design.side)
    beside = slopes[bounded]
    side = design.side[bounded].astype(np.float64)
    return Linear(alike, beside, left[bounded], side, share[bounded], pairs_of(beside))


def _summed_up(share: float, slopes: csr_array, left: Floats) -> Alike:
    return Alike(
        share,
        len(left),
        np.asarray((slopes.T @ slopes).toarray()),
        np.asarray(slopes.T @ left),
        np.asarray(slopes.T @ np.ones(len(left))),
        float(left @ left),
        float(left.sum()),
    )
