"""How well standard deviations explain recorded volumes, whatever the effects: by Laplace's approximation.

Rows known from one side only make the effects' density other than normal: it is taken as normal round its mode. The
slope is exact, the mode's own moving with the standard deviations included.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.linalg.lapack import dpotri
from scipy.sparse import csr_array
from scipy.special import log_ndtr

from standmap.sap.night_rows import Alike, Linear, sum_gain, sum_spread2
from standmap.sap.precision import Precision

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEWTON_STEPS = 60
NEWTON_GAIN = 1e-12
"""Newton's method ends where a step would gain less than this part."""


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """The most likely effects under given standard deviations.

    Attributes
    ----------
    theta
        The effects.
    factor
        Lower Cholesky factor of the curvature there.
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
        below = np.tril(dpotri(self.factor, lower=1)[0])
        return np.asarray(below + np.tril(below, -1).T, np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Bounded:
    """Rows known from one side, under one standard deviation of the rest.

    `beyond` is by how many standard deviations a row's middle lies on its side; the hazard is the slope of the
    logarithm of its chance.
    """

    slopes: csr_array
    side: Floats
    rest: Floats
    spread: Floats

    def beyond(self, theta: Floats) -> Floats:
        return np.asarray(self.side * (self.slopes @ theta - self.rest) / self.spread)


def _hazard(beyond: Floats) -> Floats:
    return np.asarray(np.exp(-(beyond**2) / 2 - log_ndtr(beyond)) / math.sqrt(2 * math.pi))


def _bounded(seen: Linear, sigma: float) -> _Bounded:
    spread = np.sqrt(sum_spread2(sigma, seen.bound_share))
    return _Bounded(seen.bounded, seen.bound_side, seen.bound - sum_gain(sigma, seen.bound_share), spread)


def mode(seen: Linear, center: Floats, precision: Precision, sigma: float, start: Floats) -> Mode:
    """Return the most likely effects: in one step without bounded rows, else by Newton's method.

    Parameters
    ----------
    center, precision
        Of the effects before any record.
    sigma
        Standard deviation of what is left, of one part.
    start
        Where to begin.
    """
    curvature = precision.dense()
    toward = precision.times(center)
    constant = float(center @ toward) / 2
    for rows in seen.alike:
        s2, gain = float(sum_spread2(sigma, rows.share)), float(sum_gain(sigma, rows.share))
        curvature += rows.across / s2
        toward += (rows.toward - gain * rows.ones) / s2
        constant += (rows.square - 2 * gain * rows.plain + rows.count * gain**2) / (2 * s2)
        constant += rows.count * math.log(s2) / 2

    def loss(theta: Floats, beyond: Floats) -> float:
        return float(theta @ (curvature @ theta) / 2 - toward @ theta) + constant - float(log_ndtr(beyond).sum())

    if not len(seen.bound):
        factor = _factor(curvature)
        theta = _solved(factor, toward)
        return Mode(theta, factor, loss(theta, np.zeros(0)))
    bounded = _bounded(seen, sigma)
    theta, beyond = start, bounded.beyond(start)
    now = loss(theta, beyond)
    for _ in range(NEWTON_STEPS):
        hazard = _hazard(beyond)
        slope = curvature @ theta - toward - bounded.slopes.T @ (bounded.side * hazard / bounded.spread)
        factor = _factor(curvature + seen.pairs.across(hazard * (beyond + hazard) / bounded.spread**2, len(theta)))
        step = _solved(factor, slope)
        if float(slope @ step) <= NEWTON_GAIN * (1 + abs(now)):
            break
        part = 1.0
        while part > 1e-6:
            tried = theta - part * step
            beyond_there = bounded.beyond(tried)
            there = loss(tried, beyond_there)
            if there <= now:
                theta, beyond, now = tried, beyond_there, there
                break
            part /= 2
        else:
            break
    return Mode(theta, factor, now)


def _factor(curvature: Floats) -> Floats:
    return np.asarray(np.tril(cho_factor(curvature, lower=True, check_finite=False)[0]))


def _solved(factor: Floats, right: Floats) -> Floats:
    return np.asarray(cho_solve((factor, True), right, check_finite=False))


def slope_of_marginal(
    seen: Linear, precision: Precision, turned: Precision, sigma: float, group: Ints, found: Mode
) -> Floats:
    """Return how the marginal loss (the mode's, plus half the logarithm of curvature over precision) changes.

    Parameters
    ----------
    precision, sigma, found
        As given to `mode`, and what it returned.
    turned
        Slope of the precision by one thing more.
    group
        Number of each effect's standard deviation, from 0; -1 for effects whose precision stays.

    Returns
    -------
    Slopes by the logarithm of each standard deviation, the rest's after the groups', and by that one thing more; shape
    (groups + 2,).
    """
    theta, covariance = found.theta, found.covariance()
    groups = int(group.max()) + 1
    rest = np.zeros(len(theta))
    slope = np.zeros(groups + 2)
    for rows in seen.alike:
        slope[groups] += _slope_of_alike(rows, sigma, theta, covariance, rest)
    # How the curvature answers to a shift of the mode: only where rows are known from one side.
    answer = np.zeros(len(theta))
    if len(seen.bound):
        slope[groups] += _slope_of_bounded(seen, sigma, theta, covariance, rest, answer)
        answer = covariance @ answer
    slope[groups] -= float(answer @ rest)
    own = precision.times(theta) * (2 * answer - theta) - precision.against(covariance) + 1
    grouped = group >= 0
    slope[:groups] = np.bincount(group[grouped], own[grouped], groups)
    slope[-1] = (
        float(turned.times(theta) @ (theta - 2 * answer) + turned.against(covariance).sum() - turned.log_det) / 2
    )
    return slope


def _slope_of_alike(rows: Alike, sigma: float, theta: Floats, covariance: Floats, rest: Floats) -> float:
    """Return the slope by the logarithm of sigma; `rest` gains how the slope by the effects changes."""
    s2, gain = float(sum_spread2(sigma, rows.share)), float(sum_gain(sigma, rows.share))
    s2_slope = float(_spread2_slope(sigma, np.array(rows.share)))
    gain_slope = sigma**2 - s2_slope / 2
    pull = rows.across @ theta - rows.toward + gain * rows.ones
    squares = rows.square - 2 * gain * rows.plain + rows.count * gain**2
    squares += float(theta @ (pull - rows.toward + gain * rows.ones))
    left = rows.plain - rows.count * gain - float(rows.ones @ theta)
    rest += gain_slope * rows.ones / s2 - s2_slope * pull / s2**2
    trace = float((covariance * rows.across).sum())
    return s2_slope * (rows.count / (2 * s2) - (squares + trace) / (2 * s2**2)) - gain_slope * left / s2


def _slope_of_bounded(
    seen: Linear, sigma: float, theta: Floats, covariance: Floats, rest: Floats, answer: Floats
) -> float:
    """Return the slope by the logarithm of sigma; see `_slope_of_alike`, and `answer` gains that of the curvature."""
    rows = _bounded(seen, sigma)
    beyond = rows.beyond(theta)
    hazard = _hazard(beyond)
    s2_slope = _spread2_slope(sigma, seen.bound_share)
    spread2 = rows.spread**2
    # Slopes by the logarithm of sigma, the effects held.
    moved = rows.side * (sigma**2 - s2_slope / 2) / rows.spread - beyond * s2_slope / (2 * spread2)
    bend = hazard * (beyond + hazard)
    bend_slope = hazard * (1 - bend - (beyond + hazard) ** 2)
    leverage = seen.pairs.leverage(covariance, len(beyond))
    rest += rows.slopes.T @ (rows.side * (bend * moved + hazard * s2_slope / (2 * spread2)) / rows.spread)
    answer += rows.slopes.T @ (leverage * bend_slope * rows.side / rows.spread**3) / 2
    curving = bend_slope * moved / spread2 - bend * s2_slope / spread2**2
    return float(leverage @ curving) / 2 - float(hazard @ moved)


def _spread2_slope(sigma: float, share: Floats) -> Floats:
    """Return how a sum's variance grows with the logarithm of sigma."""
    return np.asarray(share * math.exp(sigma**2) * 2 * sigma**2 / (1 + share * math.expm1(sigma**2)))
