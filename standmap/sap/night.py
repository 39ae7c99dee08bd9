"""One hole's run in one night as a spread: the median, what nine nights of ten stay below, and a vessel differ."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class NightRun:
    """What one hole gives in one night: the logarithm of its millilitres is taken to be normal.

    Attributes
    ----------
    median_ml
        As often less as more.
    spread
        Standard deviation of the logarithm; it holds the night, the tree and what is not known of both.
    basis
        What the figures rest on, in words.
    assumed
        Whether they rest on published figures and assumptions alone.
    """

    median_ml: float
    spread: float
    basis: str
    assumed: bool

    @property
    def mean_ml(self) -> float:
        """The mean: what many such nights come to, one with another."""
        return self.median_ml * math.exp(self.spread**2 / 2)

    def quantile_ml(self, part: float) -> float:
        """Return what this part of such nights stays below.

        Raises
        ------
        ValueError
            If the part is not between 0 and 1.
        """
        if not 0 < part < 1:
            raise ValueError("a part of nights lies between 0 and 1")
        return self.median_ml * math.exp(self.spread * _NORMAL.inv_cdf(part)) if self.spread > 0 else self.median_ml

    @property
    def most_ml(self) -> float:
        """Nine nights of ten stay below this."""
        return self.quantile_ml(0.9)

    def overflow_chance(self, vessel_ml: float, part: float = 1.0) -> float:
        """Return how likely a vessel runs over while this part of the night's run comes."""
        if part <= 0:
            return 0.0
        if self.spread <= 0:
            return float(self.median_ml * part > vessel_ml)
        return 1 - _NORMAL.cdf(math.log(vessel_ml / (self.median_ml * part)) / self.spread)

    def vessel_ml(self, chance: float) -> float:
        """Return the vessel that runs over with this chance."""
        return self.quantile_ml(1 - chance)
