"""How well effects and standard deviations explain recorded volumes, by Laplace's approximation.

A part (one hole in one night) has a run whose logarithm is normal round the sum of its effects. A row is the sum of
its parts. The logarithm of a sum is taken to be normal too (Fenton 1960, doi 10.1109/TCOM.1960.1097606), and linear
in the effects near a point at which it is looked at; of a row of one part both are exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import csr_array
from scipy.special import log_ndtr

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEPS_AN_OCTAVE = 4
"""Rows whose noise is alike are summed up together: those of as many equal parts, to so fine a step."""

NEWTON_STEPS = 60
NEWTON_GAIN = 1e-11


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
class _Alike:
    """Exact rows with the same share of noise, summed up: all that a normal likelihood asks of them."""

    share: float
    count: int
    across: Floats
    toward: Floats
    ones: Floats
    square: float
    plain: float


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """A design seen near one point: rows are linear in the effects.

    Attributes
    ----------
    alike
        Exact rows by their share of noise.
    bounded, bound, bound_side, bound_share
        Rows known from one side only: their effects, what is left of the logarithm, side, and share of noise.
    """

    alike: tuple[_Alike, ...]
    bounded: csr_array
    bound: Floats
    bound_side: Floats
    bound_share: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """The most likely effects under given standard deviations.

    Attributes
    ----------
    theta
        The effects.
    factor
        Cholesky factor of the curvature there.
    loss
        Minus the logarithm of the joint density, but for constants.
    """

    theta: Floats
    factor: Floats
    loss: float

    @property
    def log_det(self) -> float:
        """Logarithm of the curvature's determinant."""
        return 2 * float(np.log(np.diag(self.factor)).sum())

    def covariance(self) -> Floats:
        """Return the covariance of the effects, exactly symmetric."""
        found = cho_solve((self.factor, True), np.eye(len(self.theta)))
        return np.asarray((found + found.T) / 2, np.float64)


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
    return Linear(alike, slopes[bounded], left[bounded], design.side[bounded].astype(np.float64), share[bounded])


def _summed_up(share: float, slopes: csr_array, left: Floats) -> _Alike:
    return _Alike(
        share,
        len(left),
        np.asarray((slopes.T @ slopes).toarray()),
        np.asarray(slopes.T @ left),
        np.asarray(slopes.T @ np.ones(len(left))),
        float(left @ left),
        float(left.sum()),
    )


def mode(seen: Linear, center: Floats, precision: Floats, sigma: float, start: Floats) -> Mode:
    """Return the most likely effects: in one step without bounded rows, else by Newton's method.

    Parameters
    ----------
    center, precision
        Of the effects before any record: independent normal ones.
    sigma
        Standard deviation of what is left, of one part.
    start
        Where to begin.
    """
    curvature = np.diag(precision)
    toward = precision * center
    constant = float(precision @ center**2) / 2
    for rows in seen.alike:
        s2, gain = float(sum_spread2(sigma, rows.share)), float(sum_gain(sigma, rows.share))
        curvature += rows.across / s2
        toward += (rows.toward - gain * rows.ones) / s2
        constant += (rows.square - 2 * gain * rows.plain + rows.count * gain**2) / (2 * s2)
        constant += rows.count * math.log(s2) / 2
    spread = np.sqrt(sum_spread2(sigma, seen.bound_share))
    rest = seen.bound - sum_gain(sigma, seen.bound_share)

    def loss(theta: Floats, beyond: Floats) -> float:
        return float(theta @ (curvature @ theta) / 2 - toward @ theta) + constant - float(log_ndtr(beyond).sum())

    def beyond_at(theta: Floats) -> Floats:
        return np.asarray(seen.bound_side * (seen.bounded @ theta - rest) / spread)

    if not len(rest):
        factor = np.tril(cho_factor(curvature, lower=True)[0])
        theta = np.asarray(cho_solve((factor, True), toward))
        return Mode(theta, factor, loss(theta, np.zeros(0)))
    theta, beyond = start, beyond_at(start)
    now = loss(theta, beyond)
    for _ in range(NEWTON_STEPS):
        hazard = np.exp(-(beyond**2) / 2 - log_ndtr(beyond)) / math.sqrt(2 * math.pi)
        slope = curvature @ theta - toward - seen.bounded.T @ (seen.bound_side * hazard / spread)
        weight = hazard * (beyond + hazard) / spread**2
        bent = curvature + (seen.bounded.T @ (csr_array(seen.bounded.multiply(weight[:, None])))).toarray()
        factor = np.tril(cho_factor(bent, lower=True)[0])
        step = np.asarray(cho_solve((factor, True), slope))
        gain = float(slope @ step)
        if gain <= NEWTON_GAIN * (1 + abs(now)):
            break
        part = 1.0
        while part > 1e-6:
            tried = theta - part * step
            beyond_there = beyond_at(tried)
            there = loss(tried, beyond_there)
            if there <= now:
                theta, beyond, now = tried, beyond_there, there
                break
            part /= 2
        else:
            break
    return Mode(theta, factor, now)
