"""Models of leaf-out by warmth, each reckoned over one season of daily means.

A season runs from the first day of chilling, 1 November in the north and 1 May in the south, for `SEASON_DAYS` days.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SEASON_DAYS = 273
"""From 1 November to the end of July."""

BASE_WARMTH_C = 2.0
"""The warmest of the base temperatures of -1 to +2 °C that predicted the bud burst of birch well, warmth summed from
1 January (Rousi and Pusenius 2005, Tree Physiology 25, 201-210, abstract)."""

PLAIN_WANTED = 346.0
"""Degree days above 2 °C at leaf-out, an assumption: the mean of what had been reached on the days that the chilling
model below tells for downy birch, over nine springs of a central European series (Göttingen 2002-2010). Where there is
weather of earlier seasons the same is reckoned from that (`at_home`)."""

MENZEL_CHILL_C, MENZEL_BASE_C, MENZEL_A, MENZEL_B = 9.0, 5.0, 1438.0, -261.0
"""Downy birch (Betula pubescens): chill days at or below 9 °C from 1 November, warmth above 5 °C from 1 February;
leaves unfold once the warmth reaches 1438 - 261 ln(chill days). A. Menzel 1997, Phänologie von Waldbäumen unter sich
ändernden Klimabedingungen, Forstliche Forschungsberichte München; constants read in the R package vegperiod."""

DECAY_A, DECAY_B, DECAY_R = -66.0, 733.0, -0.0088
"""The form a + b e^(rC) with the same days and bases: a, b and r are ours, laid on the curve above, within 4 degree
days of it between 60 and 190 chill days, for the published ones for birch were not found."""


def south(latitude_deg: float) -> bool:
    """Return whether spring comes in the second half of the year."""
    return latitude_deg < 0


def chilling_begins(season: int, *, southern: bool) -> date:
    """Return the first day of a season's daily means."""
    return date(season, 5, 1) if southern else date(season - 1, 11, 1)


def warmth_begins(season: int, *, southern: bool) -> date:
    """Return the day from which plain warmth is summed: 1 January, in the south 1 July."""
    return date(season, 7, 1) if southern else date(season, 1, 1)


def degree_days(mean_c: FloatArray, base_c: float, from_index: int = 0) -> FloatArray:
    """Return the warmth above a base summed up day by day, shape (n,); 0 before `from_index`."""
    above = np.maximum(mean_c - base_c, 0.0)
    above[:from_index] = 0.0
    return np.cumsum(above)


def chill_days(mean_c: FloatArray, at_most_c: float) -> FloatArray:
    """Return the number of days at or below a temperature so far, shape (n,)."""
    return np.cumsum(mean_c <= at_most_c).astype(np.float64)


def decaying(a: float, b: float, r: float) -> Callable[[FloatArray], FloatArray]:
    """Return the warmth wanted after chilling, a + b e^(rC).

    M. G. R. Cannell and R. I. Smith 1983, Journal of Applied Ecology 20(3), 951-963; for Betula pendula M. B. Murray,
    M. G. R. Cannell and R. I. Smith 1989.
    """
    return lambda chill: a + b * np.exp(r * chill)


def logarithmic(a: float, b: float) -> Callable[[FloatArray], FloatArray]:
    """Return the warmth wanted after chilling, a + b ln C, and a before any (A. Menzel 1997)."""
    return lambda chill: a + b * np.log(np.maximum(chill, 1.0))


def responding(mean_c: FloatArray, slope: float, middle_c: float) -> FloatArray:
    """Return the forcing of each day, 1 / (1 + e^(slope (T - middle))), shape (n,): I. Chuine 2000, from memory."""
    return 1.0 / (1.0 + np.exp(slope * (mean_c - middle_c)))


@dataclass(frozen=True, slots=True)
class LeafOutModel:
    """A way to tell leaf-out from daily means.

    Attributes
    ----------
    title, about, source
        In words.
    base_c
        Warmth counts above it.
    months_on
        Whole months from the first day of a season to that on which warmth begins to count.
    chill_c
        Days at or below it chill; None where chilling does not matter.
    wanted_of
        Warmth wanted after so many chill days, before `factor`.
    factor
        What a stand of its own wants more or less.
    """

    title: str
    about: str
    source: str
    base_c: float
    months_on: int
    chill_c: float | None
    wanted_of: Callable[[FloatArray], FloatArray]
    factor: float = 1.0

    def reached(self, mean_c: FloatArray, begins: date) -> FloatArray:
        """Return the warmth so far on each day of a season that begins on a day, shape (n,)."""
        return degree_days(mean_c, self.base_c, days_of_months(begins, self.months_on))

    def wanted(self, mean_c: FloatArray) -> FloatArray:
        """Return the warmth wanted as things stand on each day, shape (n,)."""
        chill = np.zeros_like(mean_c) if self.chill_c is None else chill_days(mean_c, self.chill_c)
        return self.factor * self.wanted_of(chill)

    def leaf_out(self, mean_c: FloatArray, begins: date) -> int | None:
        """Return the index of the first day on which what is wanted is reached; None where it never is."""
        reached = self.reached(mean_c, begins)
        # After some 250 chill days the published curve wants less than nothing; without warmth no leaf comes out.
        there = (reached >= self.wanted(mean_c)) & (reached > 0)
        there[: days_of_months(begins, self.months_on)] = False
        return int(there.argmax()) if there.any() else None


def at_home(models: Sequence[LeafOutModel], seasons: Sequence[tuple[date, FloatArray]]) -> tuple[LeafOutModel, ...]:
    """Return the models with the plain sum wanted as it is where they are used.

    Parameters
    ----------
    seasons
        First days and daily means of whole seasons of earlier years, without NaN.

    Notes
    -----
    How much plain warmth stands at leaf-out depends on the winters of a place. So the plain sum is taken to be the mean
    of what had been reached on the days that the published chilling model tells there: an assumption.
    """
    plain, published, *others = models
    told = [(mean, begins, published.leaf_out(mean, begins)) for begins, mean in seasons]
    sums = [float(plain.reached(mean, begins)[day]) for mean, begins, day in told if day is not None]
    if not sums:
        return tuple(models)
    wanted = sum(sums) / len(sums)
    return replace(plain, wanted_of=lambda chill: np.full_like(chill, wanted)), published, *others


def days_of_months(begins: date, months: int) -> int:
    """Return how many days there are from a first of a month to the first of a later month."""
    later = begins.month - 1 + months
    return (date(begins.year + later // 12, later % 12 + 1, 1) - begins).days


def birch_models() -> tuple[LeafOutModel, ...]:
    """Return the models of leaf-out of birch with what is published and, where nothing is, what is assumed."""
    return (
        LeafOutModel(
            "plain warmth",
            f"degree days above {BASE_WARMTH_C:g} °C from midwinter on",
            "form and base: Rousi & Pusenius 2005, Tree Physiology 25 (abstract); plain sums did best for birch: "
            "Linkosalo, Lappalainen & Hari 2008, Tree Physiology 28 (abstract); the sum wanted is an assumption",
            BASE_WARMTH_C,
            2,
            None,
            lambda chill: np.full_like(chill, PLAIN_WANTED),
        ),
        LeafOutModel(
            "warmth after chilling",
            f"degree days above {MENZEL_BASE_C:g} °C, fewer after more days at or below {MENZEL_CHILL_C:g} °C",
            "Menzel 1997, downy birch, constants read in the R package vegperiod",
            MENZEL_BASE_C,
            3,
            MENZEL_CHILL_C,
            logarithmic(MENZEL_A, MENZEL_B),
        ),
        LeafOutModel(
            "warmth after chilling, levelling off",
            f"the same days by a + b·e^(rC): a {DECAY_A:g}, b {DECAY_B:g}, r {DECAY_R:g}",
            "form: Cannell & Smith 1983, Murray, Cannell & Smith 1989; its constants for birch were not found, ours "
            "are an assumption laid on Menzel's curve",
            MENZEL_BASE_C,
            3,
            MENZEL_CHILL_C,
            decaying(DECAY_A, DECAY_B, DECAY_R),
        ),
    )
