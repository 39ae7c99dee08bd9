"""How much of the wood within reach of a drill still carries sap.

The tapping zone is the band of wood round a stem that new holes can reach: as deep as they are drilled, as high as one
taps, and as long as the girth; what old holes left lies in it until growth has buried it deeper than holes reach (T. D.
Perkins and A. K. van den Berg, "A Model of the Tapping Zone", 2014). The stem is unrolled, so that the zone is reckoned
as deep wide inside as outside. Birch has no clear edge of heartwood: all of the zone counts as sound but what old holes
left, which is a model (see `column`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from standmap.stem.column import Column

ZONE_TOLD = (
    "within reach is what new holes can meet, depth by height by girth (Perkins & van den Berg 2014, "
    "A Model of the Tapping Zone); birch has no clear edge of heartwood, so all but what holes left counts as sound"
)
"""What the share that is clear rests on."""


@dataclass(frozen=True, slots=True)
class Left:
    """What an old hole left, on the unrolled stem.

    Attributes
    ----------
    around_mm, height_mm
        Where its middle is: along the girth clockwise from north, and above ground.
    cover_mm
        Wood that has grown over it since.
    """

    around_mm: float
    height_mm: float
    column: Column
    cover_mm: float = 0.0


def zone_ml(girth_mm: float, band_mm: tuple[float, float], depth_mm: float) -> float:
    """Return the volume of a tapping zone, millilitres."""
    return girth_mm * (band_mm[1] - band_mm[0]) * depth_mm / 1000


def clear_share(girth_mm: float, band_mm: tuple[float, float], depth_mm: float, lefts: Sequence[Left]) -> float:
    """Return the share of a tapping zone that carries sap, 0 to 1; what several holes left at one place counts once.

    Raises
    ------
    ValueError
        If the zone is empty or a measure is not finite.
    """
    if not all(map(math.isfinite, (girth_mm, depth_mm, *band_mm))) or zone_ml(girth_mm, band_mm, depth_mm) <= 0:
        raise ValueError("a tapping zone needs a girth, a depth and a band above 0")
    boxes = [box for left in lefts for box in _boxes(left, girth_mm, band_mm, depth_mm)]
    if not boxes:
        return 1.0
    # Every edge of a box is an edge of a cell: a cell is then wholly in or out.
    edges = [np.unique([box[side][k] for box in boxes for side in range(2)]) for k in range(3)]
    taken = np.zeros([len(edge) - 1 for edge in edges], bool)
    for low, high in boxes:
        at = [slice(*np.searchsorted(edges[k], (low[k], high[k]))) for k in range(3)]
        taken[at[0], at[1], at[2]] = True
    sides = [np.diff(edge) for edge in edges]
    lost = float(np.einsum("ijk,i,j,k->", taken.astype(float), *sides))
    return max(0.0, 1.0 - lost / 1000 / zone_ml(girth_mm, band_mm, depth_mm))


Corner = tuple[float, float, float]


def _boxes(
    left: Left, girth_mm: float, band_mm: tuple[float, float], depth_mm: float
) -> Iterator[tuple[Corner, Corner]]:
    """Yield what of a column lies in the zone, as corners round, up and in; two pieces where it reaches over north."""
    half_wide, half_long = min(left.column.width_mm, girth_mm) / 2, left.column.length_mm / 2
    low, high = max(left.height_mm - half_long, band_mm[0]), min(left.height_mm + half_long, band_mm[1])
    deep = min(left.cover_mm + left.column.depth_mm, depth_mm)
    if low >= high or left.cover_mm >= deep:
        return
    begin = (left.around_mm - half_wide) % girth_mm
    end = begin + 2 * half_wide
    for first, last in ((begin, min(end, girth_mm)), (0.0, end - girth_mm)):
        if last > first:
            yield (first, low, left.cover_mm), (last, high, deep)
