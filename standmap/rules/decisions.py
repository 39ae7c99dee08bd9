"""The small decisions that every verdict is made of, written once.

The reasons of one tree and the columns of a whole stand both call these, so that they cannot disagree on a limit.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from enum import Enum
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from standmap.errors import UserError
from standmap.rules.ruleset import RuleSet
from standmap.rules.species import Species, recognise
from standmap.stand.ground import Area
from standmap.stand.tree import Measurement, Standing, Tree
from standmap.units import girth_of

ALWAYS = date.min.year
"""Stands for "in every season" where a year is not known."""

Year = TypeVar("Year", int, NDArray[np.int64])


@dataclass(frozen=True, slots=True)
class Threshold:
    """A thickness to be reached, or passed where `beyond`; compared in the quantity that was measured."""

    diameter_mm: float
    girth_mm: float
    beyond: bool

    @property
    def passes(self) -> Callable[[Any, Any], Any]:
        """The comparison of a value with a limit, for numbers and for arrays alike."""
        return operator.gt if self.beyond else operator.ge

    def limit_for(self, measurement: Measurement) -> tuple[float, float]:
        """Return the measured value and the limit in the same quantity, millimetres."""
        if measurement.diameter_mm is not None:
            return measurement.diameter_mm, self.diameter_mm
        return measurement.girth(), self.girth_mm

    def reached_by(self, measurement: Measurement) -> bool:
        """Return whether the stem is thick enough."""
        return bool(self.passes(*self.limit_for(measurement)))


def threshold(diameter_mm: float, *, beyond: bool = False) -> Threshold:
    """Return the threshold for a diameter in millimetres."""
    return Threshold(diameter_mm, girth_of(diameter_mm), beyond)


def least_thickness(rules: RuleSet) -> Threshold:
    """Return what a stem must reach to be tapped."""
    figure = rules.figure("least_diameter_mm")
    return threshold(figure.value, beyond=figure.beyond)


def hole_thresholds(rules: RuleSet) -> tuple[tuple[Threshold, int, str], ...]:
    """Return the steps of the number of holes, thickest first: threshold, holes, source."""
    return tuple((threshold(s.from_diameter_mm), s.holes, s.source) for s in reversed(rules.hole_steps))


class Fit(Enum):
    """How a recorded name sits with the species of a rule set."""

    MISSING = 0
    OTHER = 1
    GENUS_ONLY = 2
    SPECIES = 3


@lru_cache(maxsize=4096)
def fit_of(text: str | None, species: tuple[str, ...]) -> tuple[Fit, Species | None]:
    """Return how a recorded name sits with a set's binomials, and what tree it means where that is known."""
    if text is None or not text.strip():
        return Fit.MISSING, None
    found = recognise(text)
    if found is None:
        return Fit.OTHER, None
    if found.binomial is None:
        return (Fit.GENUS_ONLY if any(s.split()[0] == found.genus for s in species) else Fit.OTHER), found
    return (Fit.SPECIES if found.binomial in species else Fit.OTHER), found


def gone_from(tree: Tree) -> int | None:
    """Return the first season in which a dead or felled tree no longer counts as standing; None if it stands."""
    if tree.standing not in (Standing.DEAD, Standing.FELLED):
        return None
    return ALWAYS if tree.standing_since is None else tree.standing_since.year


def in_force(area: Area, season: int) -> bool:
    """Return whether the dates of a permission touch the season's year."""
    first, last = area.from_date or date.min, area.until_date or date.max
    return first <= last and first.year <= season <= last.year


def season_back(last_tapped: Year, return_after_years: int) -> Year:
    """Return the first season in which a root tapped last in that season may be tapped again."""
    return last_tapped + return_after_years


def open_too_long(seen_open: Year, made: Year, years: int) -> Any:
    """Return whether a wound of one season was still seen open more than so many years on; with 0 none ever is."""
    return (seen_open - made > years) & (years > 0)


def measured_year(measurement: Measurement) -> int:
    """Return the year of a measurement; one without a date was always there."""
    return ALWAYS if measurement.measured_on is None else measurement.measured_on.year


def check_season(season: int) -> None:
    """Refuse a season that is no year of the calendar.

    Raises
    ------
    UserError
        If it is outside 1 to 9999.
    """
    if not date.min.year <= season <= date.max.year:
        raise UserError(f"season {season} is not a year", "give a year such as 2026")
