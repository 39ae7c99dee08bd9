"""Standard deviations of effects, and the effects themselves, from recorded volumes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError, inv
from scipy.optimize import minimize

from standmap.sap.laplace import Mode, mode, slope_of_marginal
from standmap.sap.night_rows import Design, Linear, linear
from standmap.sap.priors import Belief

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_SD, MOST_SD = 0.01, 3.0
"""Within these a standard deviation of a logarithm is looked for."""

MOST_LOOKS = 5
"""How often sums are made linear anew, each time at the most likely effects found so far."""

MOST_STEPS, NEAR, SAME = 30, 1e-3, 0.02
"""Of one search; its end, and when no new look is needed, both in about the standard errors of what is sought."""

STEP = 0.05
"""Step by which slopes are compared, in the same."""


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

    def sizes(self, rows: int) -> Floats:
        """Return how many effects share each standard deviation; the rest's is shared by the rows."""
        counts = np.bincount(self.group[self.group >= 0], minlength=len(self.beliefs) - 1)
        return np.append(counts, rows).astype(np.float64)

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
    # In about the standard errors that are to come the search is round, and "near enough" means something.
    scale = 1 / np.sqrt(spreads**-2 + 2 * groups.sizes(len(design.log_ml)))
    bounds = [(math.log(LEAST_SD) / one, math.log(MOST_SD) / one) for one in scale]
    log_sd, theta = medians, groups.center
    for look in range(MOST_LOOKS):
        marginal = _Marginal(linear(design, theta), groups, medians, spreads, theta)
        found = minimize(
            marginal.loss_and_slope,
            log_sd / scale,
            args=(scale,),
            jac=True,
            method="L-BFGS-B",
            bounds=bounds,
            options={"maxiter": MOST_STEPS, "ftol": 0.0, "gtol": NEAR},
        )
        change = float(np.abs(found.x - log_sd / scale).max())
        log_sd = np.asarray(found.x * scale, np.float64)
        best = marginal.mode(log_sd)
        theta = best.theta
        if not design.has_sums or (look and change < SAME):
            break
    steps = STEP * np.eye(len(log_sd))
    slopes = [[marginal.loss_and_slope(log_sd / scale + way * step, scale)[1] for way in (-1, 1)] for step in steps]
    bent = np.array([(after - before) / (2 * STEP) for before, after in slopes]) / np.outer(scale, scale)
    return Fit(theta, best.covariance(), log_sd, _spreads_from(bent, spreads))


class _Marginal:
    """The loss of standard deviations as one pass of the search asks for it; it begins where it last ended."""

    def __init__(self, seen: Linear, groups: Groups, medians: Floats, spreads: Floats, start: Floats) -> None:
        self._seen, self._groups = seen, groups
        self._medians, self._spreads = medians, spreads
        self._start = start

    def mode(self, log_sd: Floats) -> Mode:
        """Return the most likely effects under standard deviations."""
        precision = self._groups.precision_at(log_sd)
        found = mode(self._seen, self._groups.center, precision, math.exp(log_sd[-1]), self._start)
        self._start = found.theta
        return found

    def loss_and_slope(self, at: Floats, scale: Floats) -> tuple[float, Floats]:
        """Return minus the logarithm of the standard deviations' density, but for a constant, and its slope.

        Parameters
        ----------
        at, scale
            The logarithms of the standard deviations in units of their own, and these units.
        """
        log_sd = at * scale
        found = self.mode(log_sd)
        precision = self._groups.precision_at(log_sd)
        off = (log_sd - self._medians) / self._spreads
        loss = found.loss + found.log_det / 2 - float(np.log(precision).sum()) / 2 + float(off @ off) / 2
        slope = slope_of_marginal(self._seen, precision, math.exp(log_sd[-1]), self._groups.group, found)
        return loss, (slope + off / self._spreads) * scale


def _spreads_from(bent: Floats, before: Floats) -> Floats:
    """Return how sure each logarithm is; never less sure than before any record."""
    try:
        found = np.diag(inv((bent + bent.T) / 2))
    except LinAlgError:
        return before
    sure = np.where(found > 0, np.sqrt(np.maximum(found, 0)), before)
    return np.asarray(np.minimum(sure, before))
