"""Standard deviations of effects, and the effects themselves, from recorded volumes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError, inv
from scipy.optimize import minimize

from standmap.sap.likelihood import Design, Linear, Mode, linear, mode
from standmap.sap.priors import Belief

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_SD, MOST_SD = 0.01, 3.0
"""Within these a standard deviation of a logarithm is looked for."""

MOST_LOOKS = 8
"""How often sums are made linear anew, each time at the most likely effects found so far."""

SAME = 1e-4
"""Standard deviations that change by less than this part are found."""

STEP = 1e-4
"""Step of differences in the logarithm of a standard deviation."""


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """Which effects share a standard deviation.

    Attributes
    ----------
    center, precision
        Of every effect before any record; the precision of those in a group is not used.
    group
        Number of each effect's group, -1 for those with a prior of their own; shape (effects,).
    beliefs
        About each group's standard deviation, and last about that of the rest.
    """

    center: Floats
    precision: Floats
    group: Ints
    beliefs: tuple[Belief, ...]

    def precision_at(self, log_sd: Floats) -> Floats:
        """Return the precision of every effect under these standard deviations."""
        own = np.exp(-2 * log_sd)[self.group]
        return np.where(self.group < 0, self.precision, own)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What was found.

    Attributes
    ----------
    theta, covariance
        Of the effects, under the standard deviations found.
    log_sd, log_sd_spread
        The most likely standard deviations as logarithms, the rest's last, and how sure each is.
    """

    theta: Floats
    covariance: Floats
    log_sd: Floats
    log_sd_spread: Floats

    def variances(self) -> Floats:
        """Return the variances, the mean of what they may be: above their most likely values while few are known."""
        return np.asarray(np.exp(2 * self.log_sd + 2 * self.log_sd_spread**2))


def fitted(design: Design, groups: Groups) -> Fit:
    """Return the most likely standard deviations and effects; the same rows give the same to the last bit."""
    medians = np.log([belief.value for belief in groups.beliefs])
    spreads = np.array([belief.spread for belief in groups.beliefs])
    if not len(design.log_ml):
        return Fit(groups.center, np.diag(1 / groups.precision_at(medians)), medians, spreads)
    log_sd, theta = medians, groups.center
    for look in range(MOST_LOOKS):
        seen = linear(design, theta)
        loss = _loss(seen, groups, medians, spreads, theta)
        found = minimize(
            lambda at, loss=loss: loss(at)[0],
            log_sd,
            jac=lambda at, loss=loss: _slope(lambda there: loss(there)[0], at),
            method="L-BFGS-B",
            bounds=[(math.log(LEAST_SD), math.log(MOST_SD))] * len(log_sd),
            options={"maxiter": 60, "ftol": 1e-12, "gtol": 1e-4},
        )
        change = float(np.abs(found.x - log_sd).max())
        log_sd = np.asarray(found.x, np.float64)
        best = loss(log_sd)[1]
        moved = float(np.abs(best.theta - theta).max())
        theta = best.theta
        if not design.has_sums or (look and change < SAME and moved < SAME):
            break
    bent = _bend(lambda at: loss(at)[0], log_sd)
    return Fit(theta, best.covariance(), log_sd, _spreads_from(bent, spreads))


def _loss(
    seen: Linear, groups: Groups, medians: Floats, spreads: Floats, start: Floats
) -> Callable[[Floats], tuple[float, Mode]]:
    def loss(log_sd: Floats) -> tuple[float, Mode]:
        precision = groups.precision_at(log_sd)
        found = mode(seen, groups.center, precision, math.exp(log_sd[-1]), start)
        off = (log_sd - medians) / spreads
        marginal = found.loss + found.log_det / 2 - float(np.log(precision).sum()) / 2
        return marginal + float(off @ off) / 2, found

    return loss


def _slope(loss: Callable[[Floats], float], at: Floats) -> Floats:
    steps = STEP * np.eye(len(at))
    return np.array([(loss(at + step) - loss(at - step)) / (2 * STEP) for step in steps])


def _bend(loss: Callable[[Floats], float], at: Floats) -> Floats:
    """Return the second derivatives of a loss by differences of slopes."""
    wide = 10 * STEP
    rows = [(_slope(loss, at + step) - _slope(loss, at - step)) / (2 * wide) for step in wide * np.eye(len(at))]
    bent = np.array(rows)
    return np.asarray((bent + bent.T) / 2)


def _spreads_from(bent: Floats, before: Floats) -> Floats:
    """Return how sure each logarithm is; never less sure than before any record."""
    try:
        found = np.diag(inv(bent))
    except LinAlgError:
        return before
    sure = np.where(found > 0, np.sqrt(np.maximum(found, 0)), before)
    return np.asarray(np.minimum(sure, before))
