"""Whether a later stop of a walk was made at a tree that the same walk stopped at before, and that nobody knew.

Two stops at one tree differ by their own errors alone; what all stops of the walk share falls out. Against that stands
another tree: as densely as the walk stopped, and not nearer than trees grow. A walk seldom comes back.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from standmap.survey.stops import FoundStop

SURE_RETURN = 0.9
"""A return that is less likely than this is shown as doubtful: an assumption."""

BACK = 0.1
"""How often a walk stops at a tree again, against a first stop: an assumption."""

FEW, USUAL_APART_M, APART_M = 5, 6.0, (1.0, 15.0)
"""With fewer stops than the first, trees are held to stand the second apart; never closer or farther than the third
(assumptions)."""

_LEAST_VARIANCE_M2 = 0.01


class Returns:
    """The stops of one walk, compared with each other."""

    def __init__(self, stops: Sequence[FoundStop]) -> None:
        self._apart_m = _usually_apart_m(stops)

    def chance(self, stop: FoundStop, earlier: FoundStop) -> float:
        """Return how likely two stops were made at one tree, from 0 to 1."""
        var_e, var_n, cov = _own_m2(stop)
        other_e, other_n, other_cov = _own_m2(earlier)
        var_e, var_n, cov = var_e + other_e, var_n + other_n, cov + other_cov
        east, north = stop.x - earlier.x, stop.y - earlier.y
        determinant = max(var_e * var_n - cov * cov, 1e-12)
        square = (var_n * east**2 - 2 * cov * east * north + var_e * north**2) / determinant
        same = BACK * math.exp(-square / 2) / (2 * math.pi * math.sqrt(determinant))
        # Trees keep a distance, averaged over where the two may truly be (as in survey.matching).
        near_m2 = (self._apart_m / 2) ** 2
        wide_m2 = near_m2 + (var_e + var_n) / 2
        room = 1 - near_m2 / wide_m2 * math.exp(-(east**2 + north**2) / (2 * wide_m2))
        other = room / self._apart_m**2
        return same / (same + other)


def _own_m2(stop: FoundStop) -> tuple[float, float, float]:
    """Return the covariance of what a stop does not share with its walk."""
    return (
        max(stop.var_e_m2 - stop.shared_m2, _LEAST_VARIANCE_M2),
        max(stop.var_n_m2 - stop.shared_m2, _LEAST_VARIANCE_M2),
        stop.cov_en_m2,
    )


def _usually_apart_m(stops: Sequence[FoundStop]) -> float:
    """Return how far apart neighbouring stops of a walk usually are, metres."""
    if len(stops) < FEW:
        return USUAL_APART_M
    from scipy.spatial import cKDTree

    places = np.array([(stop.x, stop.y) for stop in stops])
    nearest = np.asarray(cKDTree(places).query(places, k=[2])[0])[:, 0]
    return float(np.clip(np.median(nearest), *APART_M))
