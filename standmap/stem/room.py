"""Where on a stem the next hole has most room: the stem unrolled, its ends joined."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GRID_MM = 10.0
FINE_MM = 1.0
"""Places are looked at this close together, at first and round the best ones."""

TRIED = 8
"""So many of the best places are looked at more closely."""


@dataclass(frozen=True, slots=True)
class Old:
    """An old hole on the unrolled stem.

    Attributes
    ----------
    around_mm
        Along the girth, clockwise from north.
    height_mm
        Above ground.
    half_width_mm, half_length_mm
        Half of what it left that carries no more sap, round the stem and along it; 0 where new wood covers it.
    """

    around_mm: float
    height_mm: float
    half_width_mm: float = 0.0
    half_length_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Room:
    """A place for a hole.

    Attributes
    ----------
    side_deg
        Clockwise from true north.
    clearance_mm
        To the nearest old hole, along the bark; infinite where there is none.
    """

    height_mm: float
    side_deg: float
    clearance_mm: float


def widest_room(
    girth_mm: float,
    band_mm: tuple[float, float],
    old: Sequence[Old],
    spacing_mm: float,
    half_width_mm: float = 0.0,
    half_length_mm: float = 0.0,
) -> Room | None:
    """Return the place with the largest clearance, or None where no place keeps the spacing and clear of old columns.

    Parameters
    ----------
    band_mm
        Least and greatest height above ground.
    spacing_mm
        What a rule asks for between holes.
    half_width_mm, half_length_mm
        Half of what the new hole will leave: it may not meet what old ones left.

    Raises
    ------
    ValueError
        If the girth or the band is empty.

    Notes
    -----
    Of places equally far from all old holes the lowest is taken, then the most northerly clockwise. Every place of a
    10 mm grid is looked at, then the best ones to the millimetre.
    """
    low, high = band_mm
    if not (math.isfinite(girth_mm) and girth_mm > 0 and high >= low):
        raise ValueError("a stem needs a girth above 0 and a band whose end is not below its beginning")
    if not old:
        return Room(low, 0.0, math.inf)

    def clearance(around: FloatArray, height: FloatArray) -> FloatArray:
        """Return the clearance of places, below 0 where they may not be used."""
        nearest = np.full(around.shape, np.inf)
        for one in old:
            off = np.abs(around - one.around_mm) % girth_mm
            sideways, along = np.minimum(off, girth_mm - off), np.abs(height - one.height_mm)
            away = np.hypot(sideways, along)
            if one.half_width_mm > 0:
                meets = (sideways < one.half_width_mm + half_width_mm) & (along < one.half_length_mm + half_length_mm)
                away = np.where(meets, -1.0, away)
            nearest = np.minimum(nearest, away)
        return nearest

    around, height = np.meshgrid(_steps(0.0, girth_mm, GRID_MM)[:-1], _steps(low, high, GRID_MM))
    found = clearance(around, height)
    best: tuple[float, float, float] | None = None
    for at in np.argsort(-found, axis=None, kind="stable")[:TRIED]:
        a, h = float(around.flat[at]), float(height.flat[at])
        near_a, near_h = np.meshgrid(
            a + _steps(-GRID_MM, GRID_MM, FINE_MM), np.clip(h + _steps(-GRID_MM, GRID_MM, FINE_MM), low, high)
        )
        closer = clearance(near_a % girth_mm, near_h)
        top = int(closer.argmax())
        rank = (round(float(closer.flat[top]), 6), -float(near_h.flat[top]), -float(near_a.flat[top] % girth_mm))
        if best is None or rank > best:
            best = rank
    if best is None or best[0] < max(spacing_mm, 0.0):
        return None
    return Room(-best[1], -best[2] * 360 / girth_mm, best[0])


def _steps(low: float, high: float, step: float) -> FloatArray:
    """Return both ends and what lies evenly between them, no farther apart than a step."""
    return np.linspace(low, high, max(1, math.ceil((high - low) / step)) + 1)
