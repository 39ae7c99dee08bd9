"""Several nights of many holes at once: what is expected of each, and what they have in common."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.sap.effects import FIXED

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

Floats = NDArray[np.float64]

YEAR, DAY, TREE, REST = range(4)


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """Logarithms of the millilitres of n holes in k nights, jointly normal.

    Attributes
    ----------
    middles
        Shape (n, k).
    covariances
        Of one hole's nights, shape (n, k, k).
    shared
        Of a usual hole's nights without what is its own, shape (k, k): the level, the years, the nights and their
        warmth, which all holes have in common.
    """

    middles: Floats
    covariances: Floats
    shared: Floats


def together(
    model: SapModel,
    tree_keys: Sequence[str],
    girths_mm: Sequence[float | None],
    nights: Sequence[tuple[date, float | None]],
) -> Together:
    """Return what holes give in nights that follow each other; of one night the same as `SapModel.logs`.

    Parameters
    ----------
    tree_keys, girths_mm
        The tree of each hole; None for a girth that nobody measured.
    nights
        The date on which each ends, each once, and how warm it is in °C; None where nobody knows.
    """
    count, variances = len(tree_keys), model.fit.variances()
    theta, covariance, usual = model.fit.theta, model.fit.covariance, model.usual
    girths = np.array([math.nan if girth is None else girth for girth in girths_mm], np.float64)
    # The last row is the usual hole, which has no tree of its own.
    thickness = usual.thickness(np.append(girths, math.nan))
    own = np.array([*(model.effects.tree_at.get(key, -1) for key in tree_keys), -1], np.int64)
    alone, alone2 = model.others.of(tree_keys, float(variances[TREE]))
    places, times = [], []
    for day, given_c in nights:
        mean_c = model.day_c.get(day) if given_c is None else given_c
        before, gap = model.effects.night_before(day) or (-1, 0)
        known = (model.effects.year_at.get(day.year, -1), before)
        place = np.column_stack([np.tile([*range(FIXED), *known], (count + 1, 1)), own])
        time = (place >= 0).astype(np.float64)
        time[:, FIXED + DAY] *= model.fit.lasting**gap
        time[:, 1], time[:, 2] = thickness, usual.warmth(np.array(math.nan if mean_c is None else mean_c))
        places.append(np.maximum(place, 0))
        times.append(time)
    among = np.zeros((count + 1, len(nights), len(nights)))
    for one, other in product(range(len(nights)), repeat=2):
        block = covariance[places[one][:, :, None], places[other][:, None, :]]
        among[:, one, other] = np.einsum("ni,nij,nj->n", times[one], block, times[other], optimize=True)
    among += _new(model, nights, variances)
    middles = np.column_stack([(theta[place] * time).sum(axis=1) for place, time in zip(places, times, strict=True)])
    strange = own[:-1] < 0
    return Together(
        middles[:-1] + np.where(strange, alone, 0.0)[:, None],
        among[:-1] + np.where(strange, alone2, 0.0)[:, None, None] + variances[REST] * np.eye(len(nights)),
        among[-1],
    )


def alike(run_ml: float, holes: int, nights: int) -> Together:
    """Return holes that give the same in every night, for certain."""
    nothing = np.zeros((holes, nights, nights))
    return Together(np.full((holes, nights), math.log(run_ml)), nothing, np.zeros((nights, nights)))


def _new(model: SapModel, nights: Sequence[tuple[date, float | None]], variances: Floats) -> Floats:
    """Return what is new in years, nights and warmth, as a covariance of nights."""
    theta, covariance, usual = model.fit.theta, model.fit.covariance, model.usual
    warmth2 = usual.warmth_spread_c**2 * (theta[2] ** 2 + covariance[2, 2])
    found = np.zeros((len(nights), len(nights)))
    for (one, (day, mean_c)), (other, (that, _)) in product(enumerate(nights), repeat=2):
        if day.year == that.year and day.year not in model.effects.year_at:
            found[one, other] += variances[YEAR]
        found[one, other] += variances[DAY] * _goes_on(model, day, that)
        if one == other:
            found[one, one] += warmth2 * (mean_c is None and model.day_c.get(day) is None)
    return found


def _goes_on(model: SapModel, day: date, that: date) -> float:
    """Return which part of a night's variance two nights have in common beyond what the last recorded one tells."""
    if day.year != that.year:
        return 0.0
    before, other = model.effects.night_before(day), model.effects.night_before(that)
    lasting = model.fit.lasting
    goes_on = float(lasting ** abs((day - that).days))
    if before is None and other is None:
        return goes_on
    if before is None or other is None or before[0] != other[0]:
        return 0.0
    return goes_on - float(lasting ** (before[1] + other[1]))
