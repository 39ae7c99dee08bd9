"""How fast one walks: by the slope that is met, on a path or in open wood.

The hiking function is that of W. Tobler, "Three presentations on geographical analysis and modeling", NCGIA Technical
Report 93-1, 1993: 6 km/h times exp(-3.5 |S + 0.05|), S being the rise for each metre of level distance; off paths three
fifths of it. It was fitted to marching men with little to carry; what a load does is told apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.heights import Heights

FloatArray = NDArray[np.float64]

FASTEST_KM_H = 6.0
STEEPNESS = 3.5
EASIEST_SLOPE = -0.05
OFF_PATH = 3 / 5

LEVEL_KM_H = FASTEST_KM_H * math.exp(-STEEPNESS * abs(EASIEST_SLOPE))
"""5.0367 km/h on level ground."""

FORD_MIN = 1.0
"""Minutes lost at a ford, for finding a footing with full cans: an assumption."""

MOST_SAMPLES = 2_000_000
"""Heights looked up at once."""


def speed_km_h(slope: FloatArray) -> FloatArray:
    """Return the speed on a path of that slope, rise over level distance, positive uphill."""
    return FASTEST_KM_H * np.exp(-STEEPNESS * np.abs(np.asarray(slope) - EASIEST_SLOPE))


def slowness(slope: FloatArray) -> FloatArray:
    """Return how many times as long a slope takes as level ground."""
    return np.exp(STEEPNESS * (np.abs(np.asarray(slope) - EASIEST_SLOPE) - abs(EASIEST_SLOPE)))


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast somebody walks on level ground with nothing to carry.

    Attributes
    ----------
    path_m_per_min, wood_m_per_min
        On a mapped path, and everywhere else.
    ford_min
        Minutes lost at each ford.

    Raises
    ------
    ValueError
        If a speed is not finite and above 0, or the minutes are below 0.
    """

    path_m_per_min: float = LEVEL_KM_H * 1000 / 60
    wood_m_per_min: float = LEVEL_KM_H * OFF_PATH * 1000 / 60
    ford_min: float = FORD_MIN

    def __post_init__(self) -> None:
        for speed in (self.path_m_per_min, self.wood_m_per_min):
            if not (math.isfinite(speed) and speed > 0):
                raise ValueError(f"a speed must be finite and above 0, not {speed}")
        if not (math.isfinite(self.ford_min) and self.ford_min >= 0):
            raise ValueError(f"ford_min must be finite and at least 0, not {self.ford_min}")


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Straight stretches of ground, each as it is walked there and back.

    Attributes
    ----------
    metres
        Level distance, shape (k,).
    there_m, back_m
        The level distance that would take as long, shape (k,).
    up_m, down_m
        What one climbs on the way there, and on the way back, shape (k,).
    """

    metres: FloatArray
    there_m: FloatArray
    back_m: FloatArray
    up_m: FloatArray
    down_m: FloatArray


def stretches(start: FloatArray, end: FloatArray, heights: Heights | None) -> Stretches:
    """Return what straight stretches are like to walk.

    Parameters
    ----------
    start, end
        Shape (k, 2), metres.
    heights
        Looked up at least once a cell along each stretch; level where they are not known.
    """
    metres = np.hypot(*(end - start).T)
    if heights is None:
        return Stretches(metres, metres, metres, np.zeros(len(metres)), np.zeros(len(metres)))
    there, back, up, down = (np.zeros(len(metres)) for _ in range(4))
    pieces = np.maximum(1, np.ceil(metres / heights.cell_m)).astype(np.intp)
    order = np.argsort(pieces, kind="stable")
    cuts = np.flatnonzero(np.diff(pieces[order])) + 1
    for alike in np.split(order, cuts):
        if len(alike) == 0:
            continue
        many = int(pieces[alike[0]])
        along = np.linspace(0.0, 1.0, many + 1)[:, None]
        at_once = max(1, MOST_SAMPLES // (many + 1))
        for first in range(0, len(alike), at_once):
            part = alike[first : first + at_once]
            points = start[part, None, :] + along * (end - start)[part, None, :]
            rise = np.nan_to_num(np.diff(heights.at(points), axis=1))
            step = np.maximum(metres[part, None] / many, 1e-9)
            there[part] = (step * slowness(rise / step)).sum(axis=1)
            back[part] = (step * slowness(-rise / step)).sum(axis=1)
            up[part] = np.maximum(rise, 0).sum(axis=1)
            down[part] = np.maximum(-rise, 0).sum(axis=1)
    return Stretches(metres, there, back, up, down)
