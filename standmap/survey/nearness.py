"""Which known trees are near a position, and how likely it is that the position is at each, by both covariances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standmap.stand.walks import FloatArray

FAR_MISFIT = 13.8
"""A squared distance in covariances that one of a thousand true ones exceeds (chi-square, two degrees of freedom)."""


@dataclass(frozen=True, slots=True)
class NearTree:
    """A tree by its row in the columns asked about.

    Attributes
    ----------
    away_m
        Distance, metres.
    misfit
        Squared distance in both covariances: above `FAR_MISFIT` it is hardly that tree.
    share
        How likely it is this tree, if it is one of those near.
    """

    row: int
    away_m: float
    misfit: float
    share: float


def near_trees(
    at: FloatArray,
    covariance_m2: FloatArray,
    trees: FloatArray,
    tree_covariances_m2: FloatArray,
    untold_sigma_m: float,
    most: int = 6,
) -> list[NearTree]:
    """Return the nearest trees, nearest first.

    Parameters
    ----------
    at
        Metres, shape (2,).
    covariance_m2
        Variance east, north, and covariance, shape (3,).
    trees
        Metres, NaN where out of reach, shape (n, 2).
    tree_covariances_m2
        As `covariance_m2`, NaN where unknown, shape (n, 3).
    untold_sigma_m
        Standard deviation of one axis that is assumed for a tree whose accuracy nobody told.
    """
    off = trees - at
    away = np.hypot(off[:, 0], off[:, 1])
    rows = np.argsort(np.where(np.isfinite(away), away, np.inf), kind="stable")
    rows = rows[np.isfinite(away[rows])][: max(most, 12)]
    if not len(rows):
        return []
    known = tree_covariances_m2[rows]
    assumed = np.array([untold_sigma_m**2, untold_sigma_m**2, 0.0])
    told = np.asarray(np.isfinite(known[:, :2]).all(axis=1))
    both = np.where(told[:, np.newaxis], np.nan_to_num(known), assumed) + covariance_m2
    det = both[:, 0] * both[:, 1] - both[:, 2] ** 2
    dx, dy = off[rows, 0], off[rows, 1]
    misfit = (both[:, 1] * dx**2 - 2 * both[:, 2] * dx * dy + both[:, 0] * dy**2) / det
    log = -misfit / 2 - np.log(det) / 2
    weight = np.exp(log - log.max())
    share = weight / weight.sum()
    found = zip(rows.tolist(), away[rows].tolist(), misfit.tolist(), share.tolist(), strict=True)
    return [NearTree(*one) for one in found][:most]


def combined(
    a: FloatArray, a_covariance: FloatArray, b: FloatArray, b_covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the best position from two that are independent of each other, and its covariance.

    Parameters
    ----------
    a, b
        Metres, shape (2,).
    a_covariance, b_covariance
        Square metres, shape (2, 2), positive definite.
    """
    gain = a_covariance @ np.linalg.inv(a_covariance + b_covariance)
    place = a + gain @ (b - a)
    covariance = a_covariance - gain @ a_covariance
    return np.asarray(place), np.asarray((covariance + covariance.T) / 2)
