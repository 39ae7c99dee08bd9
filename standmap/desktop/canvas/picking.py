"""Which tree lies under the pointer, inside an outline, or next in a direction. No Qt here."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.detail import Detail
from standmap.desktop.canvas.trees import LEAST_RADIUS_PX, MOST_RADIUS_PX, Trees

FloatArray = NDArray[np.float64]

GRAB_PX = 5.0
"""A small dot is taken hold of from this far."""

SAME_SPOT_PX = 1e-3
"""Trees no farther apart on the view stand on one spot."""


def trees_at(trees: Trees, camera: Camera, level: Detail, px: float, py: float) -> list[int]:
    """Return the trees whose dials lie at a place in the view, the one whose middle is nearest first."""
    x, y = camera.point_to_world(px, py)
    most = max(level.radius_px(MOST_RADIUS_PX) + 1, GRAB_PX)
    rows, away_m = trees.nearby.about(x, y, most / camera.px_per_m)
    full = LEAST_RADIUS_PX + (MOST_RADIUS_PX - LEAST_RADIUS_PX) * trees.sizes[rows]
    drawn = np.full(len(rows), level.dot_px) if level.dial_scale is None else full * level.dial_scale
    hit = np.flatnonzero(away_m * camera.px_per_m <= np.maximum(drawn + 1, GRAB_PX))
    return [int(row) for row in rows[hit]]


def trees_inside(trees: Trees, camera: Camera, outline_px: FloatArray) -> list[int]:
    """Return the trees whose middle lies in an outline drawn on the view, shape (k, 2), in the stand's order."""
    if len(outline_px) < 3:
        return []
    import shapely

    outline = camera.to_world(outline_px)
    low, high = outline.min(axis=0), outline.max(axis=0)
    rows = np.sort(trees.nearby.within((float(low[0]), float(low[1]), float(high[0]), float(high[1]))))
    # A line drawn by hand crosses itself: what it goes round counts.
    shape = shapely.make_valid(shapely.Polygon(outline), method="structure", keep_collapsed=False)
    shapely.prepare(shape)
    inside = shapely.intersects_xy(shape, trees.xy[rows, 0], trees.xy[rows, 1])
    return [int(row) for row in rows[inside]]


def next_tree(
    trees: Trees, camera: Camera, start: tuple[float, float], right: int, down: int, but: int | None
) -> int | None:
    """Return the next tree from a place of the view in a direction of the screen, or None at the edge of the wood.

    The nearest tree ahead, sideways steps counted double, so that a row of trees is walked along. Of trees on one spot
    each is stepped to: rightwards and downwards in the stand's order, the other way backwards.

    Parameters
    ----------
    right, down
        One of (1, 0), (-1, 0), (0, 1) and (0, -1).
    but
        The tree at the place itself, which is not next.
    """
    x, y = camera.point_to_world(*start)
    onward = right + down > 0
    if but is not None:
        here, _ = trees.nearby.about(x, y, SAME_SPOT_PX / camera.px_per_m)
        beyond = here[here > but] if onward else here[here < but]
        if but in here and len(beyond):
            return int(beyond.min() if onward else beyond.max())
    reach = 24.0 / camera.px_per_m
    farthest = _farthest_m(trees, x, y)
    while True:
        rows, _ = trees.nearby.about(x, y, reach)
        gone = camera.to_screen(trees.xy[rows]) - start
        ahead = gone @ (float(right), float(down))
        aside = np.abs(gone @ (float(down), float(right)))
        fit = np.flatnonzero((ahead > SAME_SPOT_PX) & (ahead >= 0.5 * aside))
        cost = ahead[fit] + 2 * aside[fit]
        # One farther out could still be better than the best, unless that lies well within what was searched.
        if len(fit) and (cost.min() <= reach * camera.px_per_m or reach > farthest):
            nearest = rows[fit[cost <= cost.min() + SAME_SPOT_PX]]
            return int(nearest.min() if onward else nearest.max())
        if reach > farthest:
            return None
        reach *= 2


def _farthest_m(trees: Trees, x: float, y: float) -> float:
    known = trees.xy[np.isfinite(trees.xy).all(axis=1)]
    return float(np.hypot(*(known - (x, y)).T).max()) if len(known) else 0.0
