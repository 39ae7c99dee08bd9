"""What is taken to hold of effects before any record: how far each may be from its middle, and which go together.

Years, trees and what is left are independent. A night takes a part of its effect from the night before it, as slow
changes of soil and season make it: one part a night, so that a night recorded two nights later has the part squared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.sap.priors import Belief

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Precision:
    """A sparse symmetric matrix: its diagonal, and what stands beside it, each pair once.

    Attributes
    ----------
    log_det
        Logarithm of the determinant, or its slope where the matrix is a slope itself.
    """

    own: Floats
    first: Ints
    second: Ints
    beside: Floats
    log_det: float

    def times(self, theta: Floats) -> Floats:
        """Return the matrix times a vector."""
        size = len(theta)
        crossed = np.bincount(self.first, self.beside * theta[self.second], size)
        return self.own * theta + crossed + np.bincount(self.second, self.beside * theta[self.first], size)

    def dense(self) -> Floats:
        """Return all of it."""
        found = np.diag(self.own)
        found[self.first, self.second] = found[self.second, self.first] = self.beside
        return found

    def against(self, covariance: Floats) -> Floats:
        """Return the diagonal of the matrix times a covariance."""
        size = len(self.own)
        crossed = self.beside * covariance[self.first, self.second]
        return (
            self.own * np.diag(covariance)
            + np.bincount(self.first, crossed, size)
            + np.bincount(self.second, crossed, size)
        )


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """Which effects share a standard deviation, and which follow one another.

    Attributes
    ----------
    center, own
        Middle and precision of every effect before any record; the precision of those in a group is not used.
    group
        Number of each effect's group, -1 for those with a precision of their own; shape (effects,).
    earlier, later, gap
        Effects of one group that follow one another, and by how many nights; each follows one other at most.
    beliefs
        About each group's standard deviation, and last about that of the rest.
    lasting
        What is believed of the part that a night takes from the one before; its spread is that of the logarithm of
        part over remainder.
    """

    center: Floats
    own: Floats
    group: Ints
    earlier: Ints
    later: Ints
    gap: Floats
    beliefs: tuple[Belief, ...]
    lasting: Belief

    def sizes(self, rows: int) -> Floats:
        """Return how many effects share each standard deviation; the rest's is shared by the rows."""
        counts = np.bincount(self.group[self.group >= 0], minlength=len(self.beliefs) - 1)
        return np.append(counts, rows).astype(np.float64)

    def precision(self, log_sd: Floats, part: float) -> Precision:
        """Return the precision under standard deviations, where so much of a night's effect lasts to the next."""
        shared = np.where(self.group < 0, self.own, np.exp(-2 * log_sd)[self.group])
        lasting = part**self.gap
        left = 1 - lasting**2
        own = shared.copy()
        own[self.earlier] += shared[self.earlier] * lasting**2 / left
        # Each follows one other at most: what is added to it is added once.
        own[self.later] += shared[self.later] * lasting**2 / left
        beside = -shared[self.later] * lasting / left
        log_det = float(np.log(shared).sum() - np.log(left).sum())
        return Precision(own, self.earlier, self.later, beside, log_det)

    def precision_slope(self, log_sd: Floats, part: float) -> Precision:
        """Return the slope of the precision by the logarithm of the lasting part over the remainder."""
        shared = np.where(self.group < 0, self.own, np.exp(-2 * log_sd)[self.group])
        lasting = part**self.gap
        left = 1 - lasting**2
        slope = self.gap * lasting * (1 - part)
        own = np.zeros(len(shared))
        own[self.earlier] += shared[self.earlier] * 2 * lasting / left**2 * slope
        own[self.later] += shared[self.later] * 2 * lasting / left**2 * slope
        beside = -shared[self.later] * (1 + lasting**2) / left**2 * slope
        return Precision(own, self.earlier, self.later, beside, float((2 * lasting / left * slope).sum()))
