"""How much of a tree is drawn at which distance. No Qt here."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

DIAL_ROOM_PX = 26.0
"""Room a tree at which dials are drawn in full."""

DIAL_SCALES = (0.6, 0.72, 0.86, 1.0)
"""Sizes of dials; below the least the marks could not be read."""

DOT_RADII_PX = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
"""Sizes of the dots that stand for trees from farther away."""

DOT_PART = 0.36
"""Radius of a dot as a part of the room that a tree has."""

NAMES_ROOM_PX = 34.0
"""Room a tree at which names are written."""


@dataclass(frozen=True, slots=True)
class Detail:
    """What is drawn for a tree.

    Attributes
    ----------
    dial_scale
        Size of the dials, None where dots are drawn.
    dot_px
        Radius of the dots.
    names
        Whether names are written.
    """

    dial_scale: float | None
    dot_px: float
    names: bool

    def radius_px(self, radius_px: float) -> float:
        """Return how large a dial of this full radius is drawn."""
        return self.dot_px if self.dial_scale is None else radius_px * self.dial_scale


def detail(spacing_m: float, px_per_m: float, text_scale: float = 1.0) -> Detail:
    """Return what to draw where trees stand so far apart.

    Parameters
    ----------
    text_scale
        Size of the window's text, 1.0 up to 2.0: dials grow with it.
    """
    room_px = spacing_m * px_per_m / text_scale
    step = bisect_right([s * DIAL_ROOM_PX for s in DIAL_SCALES], room_px)
    if step:
        return Detail(DIAL_SCALES[step - 1] * text_scale, 0.0, room_px >= NAMES_ROOM_PX)
    dot = bisect_right([r / DOT_PART for r in DOT_RADII_PX], room_px)
    return Detail(None, DOT_RADII_PX[max(dot - 1, 0)] * text_scale, names=False)
