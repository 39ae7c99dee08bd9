"""The wood that a hole leaves behind that carries no more sap: how much, and a shape to reckon with.

How much is published for paper birch: 220 times the drilled volume on average, very variable (A. K. van den Berg, M. L.
Isselhardt and T. D. Perkins, Agricultural Sciences 9(3), 2018, doi 10.4236/as.2018.93018, from memory). The shape is a
model of ours: as deep as the hole, three bits wide, and as long along the stem as the volume asks for, half of it above
the hole and half below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

BIRCH_RATIO = 220.0
"""Volume of wood that carries no more sap, in drilled volumes."""

RATIO_TOLD = (
    "220 times the drilled volume on average, very variable (van den Berg, Isselhardt & Perkins 2018, "
    "doi 10.4236/as.2018.93018, for paper birch); its shape is a model"
)
"""How much a hole leaves, and who says so."""

WIDTH_IN_BITS = 3.0
"""How wide the model takes it to be."""


@dataclass(frozen=True, slots=True)
class Column:
    """Wood that carries no more sap, as the model shapes it.

    Attributes
    ----------
    depth_mm, width_mm, length_mm
        Into the wood, round the stem, and along it.
    """

    depth_mm: float
    width_mm: float
    length_mm: float

    @property
    def volume_ml(self) -> float:
        """The volume."""
        return self.depth_mm * self.width_mm * self.length_mm / 1000


def drilled_ml(bit_mm: float, depth_mm: float) -> float:
    """Return the volume that a hole takes out of the wood, millilitres."""
    return math.pi / 4 * bit_mm**2 * depth_mm / 1000


def column_of(bit_mm: float, depth_mm: float, ratio: float = BIRCH_RATIO) -> Column:
    """Return what a hole leaves behind.

    Raises
    ------
    ValueError
        If a measure is not finite and above 0.
    """
    if not all(math.isfinite(v) and v > 0 for v in (bit_mm, depth_mm, ratio)):
        raise ValueError("bit, depth and ratio must be finite and above 0")
    width = WIDTH_IN_BITS * bit_mm
    return Column(depth_mm, width, drilled_ml(bit_mm, depth_mm) * 1000 * ratio / (depth_mm * width))


def buried(depth_mm: float, growth_mm: float) -> bool:
    """Return whether new wood as thick as holes are deep has grown over what an old one left.

    Parameters
    ----------
    depth_mm
        Of the holes made now.
    growth_mm
        Thickness of the wood that has grown since. Growth buries old columns (T. D. Perkins and A. K. van den Berg, "A
        Model of the Tapping Zone", 2014): a new hole then meets none of them.
    """
    return growth_mm >= depth_mm
