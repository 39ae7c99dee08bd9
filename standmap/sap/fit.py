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
from standmap.sap.precision import Groups

Floats = NDArray[np.float64]

LEAST_SD, MOST_SD = 0.01, 3.0
"""Within these a standard deviation of a logarithm is looked for."""

LEAST_LASTING, MOST_LASTING = 1e-6, 0.98
"""And so the part of a night's effect that lasts to the next."""

KNOWN_OF_LASTING = 0.07
"""About how much one night more tells of that part, as a precision."""

MOST_LOOKS = 5
"""How often sums are made linear anew, each time at the most likely effects found so far."""

MOST_STEPS, NEAR, SAME = 30, 1e-3, 0.02
"""Of one search; its end, and when no new look is needed, both in about the standard errors of what is sought."""

STEP = 0.05
"""Step by which slopes are compared, in the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What was found.

    Attributes
    ----------
    theta, covariance
        Of the effects, under the standard deviations found.
    log_sd, log_sd_spread
        The most likely standard deviations as logarithms, the rest's last, and how sure each is.
    lasting
        Which part of a night's effect the next night has too.
    """

    theta: Floats
    covariance: Floats
    log_sd: Floats
    log_sd_spread: Floats
    lasting: float

    def variances(self) -> Floats:
        """Return the variances, the mean of what they may be: above their most likely values while few are known."""
        return np.asarray(np.exp(2 * self.log_sd + 2 * self.log_sd_spread**2))


def fitted(design: Design, groups: Groups) -> Fit:
    """Return the most likely standard deviations and effects; the same rows give the same to the last bit."""
    middles = np.array([*(math.log(belief.value) for belief in groups.beliefs), _over(groups.lasting.value)])
    spreads = np.array([belief.spread for belief in (*groups.beliefs, groups.lasting)])
    if not len(design.log_ml):
        covariance = np.diag(1 / groups.precision(middles[:-1], 0.0).own)
        return Fit(groups.center, covariance, middles[:-1], spreads[:-1], groups.lasting.value)
    # In about the standard errors that are to come the search is round, and "near enough" means something.
    known = np.append(2 * groups.sizes(len(design.log_ml)), KNOWN_OF_LASTING * len(groups.gap))
    scale = 1 / np.sqrt(spreads**-2 + known)
    least = [*[math.log(LEAST_SD)] * len(groups.beliefs), _over(LEAST_LASTING)]
    most = [*[math.log(MOST_SD)] * len(groups.beliefs), _over(MOST_LASTING)]
    sought, theta = middles, groups.center
    for look in range(MOST_LOOKS):
        marginal = _Marginal(linear(design, theta), groups, middles, spreads, theta)
        found = minimize(
            marginal.loss_and_slope,
            sought / scale,
            args=(scale,),
            jac=True,
            method="L-BFGS-B",
            bounds=list(zip(least / scale, most / scale, strict=True)),
            options={"maxiter": MOST_STEPS, "ftol": 0.0, "gtol": NEAR},
        )
        change = float(np.abs(found.x - sought / scale).max())
        sought = np.asarray(found.x * scale, np.float64)
        best = marginal.mode(sought)
        theta = best.theta
        if not design.has_sums or (look and change < SAME):
            break
    steps = STEP * np.eye(len(sought))
    slopes = [[marginal.loss_and_slope(sought / scale + way * step, scale)[1] for way in (-1, 1)] for step in steps]
    bent = np.array([(after - before) / (2 * STEP) for before, after in slopes]) / np.outer(scale, scale)
    sure = _spreads_from(bent, spreads)
    return Fit(theta, best.covariance(), sought[:-1], sure[:-1], _part(float(sought[-1])))


def _over(part: float) -> float:
    """Return the logarithm of a part over the remainder."""
    return math.log(part / (1 - part))


def _part(over: float) -> float:
    return 1 / (1 + math.exp(-over))


class _Marginal:
    """The loss of what is sought as one pass of the search asks for it; it begins where it last ended.

    Sought are the logarithms of the standard deviations, the rest's after the groups', and that of the lasting part
    over the remainder.
    """

    def __init__(self, seen: Linear, groups: Groups, middles: Floats, spreads: Floats, start: Floats) -> None:
        self._seen, self._groups = seen, groups
        self._middles, self._spreads = middles, spreads
        self._start = start

    def mode(self, sought: Floats) -> Mode:
        """Return the most likely effects under these."""
        precision = self._groups.precision(sought[:-1], _part(float(sought[-1])))
        found = mode(self._seen, self._groups.center, precision, math.exp(sought[-2]), self._start)
        self._start = found.theta
        return found

    def loss_and_slope(self, at: Floats, scale: Floats) -> tuple[float, Floats]:
        """Return minus the logarithm of the density of what is sought, but for a constant, and its slope.

        Parameters
        ----------
        at, scale
            What is sought in units of its own, and these units.
        """
        sought = at * scale
        log_sd, part = sought[:-1], _part(float(sought[-1]))
        found = self.mode(sought)
        precision, turned = self._groups.precision(log_sd, part), self._groups.precision_slope(log_sd, part)
        off = (sought - self._middles) / self._spreads
        loss = found.loss + found.log_det / 2 - precision.log_det / 2 + float(off @ off) / 2
        slope = slope_of_marginal(self._seen, precision, turned, math.exp(log_sd[-1]), self._groups.group, found)
        return loss, (slope + off / self._spreads) * scale


def _spreads_from(bent: Floats, before: Floats) -> Floats:
    """Return how sure each logarithm is; never less sure than before any record."""
    try:
        found = np.diag(inv((bent + bent.T) / 2))
    except LinAlgError:
        return before
    sure = np.where(found > 0, np.sqrt(np.maximum(found, 0)), before)
    return np.asarray(np.minimum(sure, before))
