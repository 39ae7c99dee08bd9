"""The map of a walk sheet as numbers: its true scale, and where numbers stand so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.formats.walk_sheet_values import XY

FloatArray = NDArray[np.float64]

SCALES = (250, 500, 750, 1000, 1250, 1500, 2000, 2500, 3000, 4000, 5000, 7500, 10_000, 15_000, 20_000, 25_000, 50_000)
"""Round scales; the largest that fits is taken."""

COARSEST = 25_000
"""What does not fit at any of the scales is drawn at the next multiple of this."""

ROOM_MM = 7.0
"""Kept free between what is walked and the frame of the map."""

TURNS = 16
"""So many directions round a mark are tried for its number."""

GAPS_MM = (0.4, 1.6, 3.2, 5.0, 7.0, 9.5, 12.5, 16.0, 20.0, 25.0)
"""So far from its mark a number may stand, the nearest place that is free being taken."""

MARK_MM = 1.0
"""Radius of the mark of a stop, with the white round it."""

CELL_MM = 0.5
"""So finely the lines walked are counted under a number."""

LED_FROM_MM = 2.2
"""A number farther away than this is led to its mark by a thin line."""


@dataclass(frozen=True, slots=True)
class MapView:
    """A piece of ground on paper, north up.

    Attributes
    ----------
    width_mm, height_mm
        Of the map on paper.
    scale
        A metre on paper is so many on the ground.
    centre
        What is in the middle, metres.
    """

    width_mm: float
    height_mm: float
    scale: int
    centre: XY

    def on_paper(self, points: Sequence[XY] | FloatArray) -> FloatArray:
        """Return positions as millimetres from the lower left corner of the map, shape (n, 2)."""
        metres = np.asarray(points, dtype=np.float64).reshape(-1, 2) - self.centre
        moved: FloatArray = metres * (1000 / self.scale) + (self.width_mm / 2, self.height_mm / 2)
        return moved

    def holds(self, spots_mm: FloatArray) -> NDArray[np.bool_]:
        """Return which places on paper lie within the map."""
        within: NDArray[np.bool_] = np.all((spots_mm >= 0) & (spots_mm <= (self.width_mm, self.height_mm)), axis=1)
        return within


def view_of(points: FloatArray, width_mm: float, height_mm: float) -> MapView:
    """Return the view at the largest round scale that holds all points, metres, shape (n, 2), n at least 1."""
    low, high = points.min(axis=0), points.max(axis=0)
    room = np.array([width_mm, height_mm]) - 2 * ROOM_MM
    least = float(((high - low) * 1000 / room).max())
    scale = next((s for s in SCALES if s >= least), int(np.ceil(least / COARSEST)) * COARSEST)
    east, north = (low + high) / 2
    return MapView(width_mm, height_mm, scale, (float(east), float(north)))


def number_places(
    marks_mm: FloatArray, sizes_mm: FloatArray, taken_mm: FloatArray, lines_mm: FloatArray, view: MapView
) -> FloatArray:
    """Return where the middle of each number stands: the nearest place that no other number, mark or sign covers.

    Parameters
    ----------
    marks_mm
        The marks that the numbers belong to, shape (n, 2).
    sizes_mm
        Width and height of each number with the room it needs, shape (n, 2).
    taken_mm
        Boxes to keep clear, shape (m, 4): left, lower, right, upper.
    lines_mm
        Points along the lines walked, shape (k, 2): of the free places the one is taken that covers fewest of them.

    Returns
    -------
    FloatArray
        Shape (n, 2). Where all places are covered, the number stands where it covers least.
    """
    turns = np.arange(TURNS) * 2 * np.pi / TURNS + np.pi / 4
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    boxes = np.empty((len(taken_mm) + len(marks_mm), 4))
    boxes[: len(taken_mm)] = taken_mm
    count = len(taken_mm)
    counted = _counted(lines_mm, view)
    found = np.zeros_like(marks_mm)
    for k, (mark, size) in enumerate(zip(marks_mm, sizes_mm, strict=True)):
        half = size / 2
        # As far out as the box's own edge is in that direction.
        edge = 1 / np.maximum(np.abs(ways[:, 0]) / half[0], np.abs(ways[:, 1]) / half[1])
        spots = np.concatenate([mark + ways * (MARK_MM + gap + edge)[:, None] for gap in GAPS_MM])
        held = view.holds(spots - half) & view.holds(spots + half)
        covered = _covered(spots, half, boxes[:count])
        crossed = _points_in(counted, spots - half, spots + half)
        farther = np.repeat(np.arange(len(GAPS_MM)), TURNS)
        cost = 1e6 * ~held + 1e3 * (covered + (covered > 0)) + 4.0 * farther + np.minimum(crossed, 12)
        best = int(np.argmin(cost))
        found[k] = spots[best]
        boxes[count] = (*(spots[best] - half), *(spots[best] + half))
        count += 1
    return found


def _counted(points_mm: FloatArray, view: MapView) -> FloatArray:
    """Return how many points lie left of and below each corner of a fine grid over the map."""
    edges = [np.arange(0, size + CELL_MM, CELL_MM) for size in (view.width_mm, view.height_mm)]
    cells, _, _ = np.histogram2d(points_mm[:, 0], points_mm[:, 1], bins=edges)
    return np.pad(cells.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))


def _points_in(counted: FloatArray, low_mm: FloatArray, high_mm: FloatArray) -> FloatArray:
    """Return how many of the counted points lie in each box, to the width of a cell."""
    most = np.array(counted.shape) - 1
    (left, lower), (right, upper) = (np.clip(np.rint(at / CELL_MM).astype(int), 0, most).T for at in (low_mm, high_mm))
    found: FloatArray = counted[right, upper] - counted[left, upper] - counted[right, lower] + counted[left, lower]
    return found


def _covered(spots: FloatArray, half: FloatArray, boxes: FloatArray) -> FloatArray:
    """Return how many square millimetres of other boxes a box of this half size covers at each spot."""
    low = np.maximum(spots[:, None, :] - half, boxes[:, :2])
    high = np.minimum(spots[:, None, :] + half, boxes[:, 2:])
    both: FloatArray = np.maximum(high - low, 0).prod(axis=2).sum(axis=1)
    return both
