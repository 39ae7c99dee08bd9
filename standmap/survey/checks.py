"""Plain checks on positions that come in: whether they can be of this stand, and which of them coincide."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from standmap.stand.tree import LonLat
from standmap.stand.walks import FloatArray
from standmap.survey.frame import middle_of, rough_distance_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

FAR_FROM_STAND_M = 10_000.0
"""A position farther than this from the stand's centre is doubted."""

FAR_FROM_FILE_M = 50_000.0
"""While the stand is empty: a position farther than this from the middle of its own file is doubted."""

NULL_ISLAND_M = 1.0
"""A position within this of latitude 0, longitude 0 is taken for one that was never measured."""

SAME_PLACE_M = 0.5
"""Trees nearer to each other than this may be stems of one rootstock, or one tree twice."""


def doubt(lon: FloatArray, lat: FloatArray, centre: LonLat | None) -> list[str | None]:
    """Return for each position why it can hardly be of this stand, or None.

    Parameters
    ----------
    lon, lat
        Degrees, shape (n,).
    centre
        The stand's centre; None while the stand is empty, then the file's own median stands in for it.

    Returns
    -------
    list
        n sentences without a full stop, or None for a position that nothing speaks against.
    """
    lon, lat = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
    reasons: list[str | None] = [None] * len(lon)
    with np.errstate(invalid="ignore"):
        finite = np.isfinite(lon) & np.isfinite(lat)
        on_earth = finite & (np.abs(lon) <= 180) & (np.abs(lat) <= 90)
        nowhere = on_earth & (rough_distance_m(lon, lat, 0.0, 0.0) <= NULL_ISLAND_M)

    usable = on_earth & ~nowhere
    limit = FAR_FROM_STAND_M if centre is not None else FAR_FROM_FILE_M
    of_what = "the stand's centre" if centre is not None else "the middle of the file's positions"
    middle = centre if centre is not None else middle_of(lon[usable], lat[usable]) if usable.any() else None

    away = np.zeros(len(lon))
    swapped = np.zeros(len(lon), dtype=bool)
    if middle is not None:
        away[usable] = rough_distance_m(lon[usable], lat[usable], *middle)
        turnable = finite & (np.abs(lat) <= 180) & (np.abs(lon) <= 90) & (~usable | (away > FAR_FROM_STAND_M))
        swapped[turnable] = rough_distance_m(lat[turnable], lon[turnable], *middle) <= FAR_FROM_STAND_M
    far = usable & ~swapped & (away > limit)

    for i in np.flatnonzero(~usable | swapped | far):
        if not finite[i]:
            reasons[i] = "the position is not a number"
        elif swapped[i]:
            reasons[i] = f"latitude and longitude look swapped: {lon[i]:.6f}, {lat[i]:.6f}"
        elif not on_earth[i]:
            reasons[i] = f"longitude {lon[i]:.6f}, latitude {lat[i]:.6f} is not on Earth"
        elif nowhere[i]:
            reasons[i] = "the position is latitude 0, longitude 0: it was hardly measured there"
        else:
            reasons[i] = f"{away[i] / 1000:.1f} km from {of_what} (more than {limit / 1000:.0f} km)"
    return reasons


def close_pairs(xy: FloatArray, limit_m: float = SAME_PLACE_M) -> list[tuple[int, int]]:
    """Return pairs of positions no farther apart than a limit.

    Every position that has another within the limit is paired with its nearest one; positions with the very
    same coordinates are paired in a row. So there are never more than n pairs, however crowded a spot is.

    Parameters
    ----------
    xy
        Metres, finite, shape (n, 2).

    Returns
    -------
    list
        Pairs (i, j), i < j, in ascending order, each once.
    """
    xy = np.asarray(xy, dtype=float).reshape(-1, 2)
    if len(xy) < 2:
        return []
    spots, first, member = np.unique(xy, axis=0, return_index=True, return_inverse=True)
    order = np.lexsort((np.arange(len(xy)), member))
    same = member[order][1:] == member[order][:-1]
    pairs = {(int(i), int(j)) for i, j in zip(order[:-1][same], order[1:][same], strict=True)}
    here, there = _nearest(spots, limit_m)
    pairs |= {(int(min(i, j)), int(max(i, j))) for i, j in zip(first[here], first[there], strict=True)}
    return sorted(pairs)


def _nearest(spots: FloatArray, limit_m: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return pairs of different spots, each with its nearest neighbour; equally near ones are all named."""
    import shapely

    points = shapely.points(spots)
    # The tree's own max_distance would look at every neighbour within it: quadratic in a crowded spot.
    found, apart = shapely.STRtree(np.asarray(points, dtype=object)).query_nearest(
        points, exclusive=True, return_distance=True
    )
    within = apart <= limit_m
    return found[0][within], found[1][within]
