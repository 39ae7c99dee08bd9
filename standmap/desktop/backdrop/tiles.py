"""How a backdrop is cut into squares, so that what was drawn once need not be drawn again. No Qt here."""

from __future__ import annotations

import math
from dataclasses import dataclass

from standmap.formats.raster_window import Window

SIDE_PX = 512
"""Pixels along one side of a square."""

MOST_AT_ONCE = 200
"""More squares than this are never asked for at once; a level farther out is taken instead."""


@dataclass(frozen=True, slots=True)
class Square:
    """A square of the working frame.

    Attributes
    ----------
    level
        Its pixels are 2 to the power of this wide, metres.
    column, row
        Counted east and north from the frame's centre.
    """

    level: int
    column: int
    row: int

    @property
    def cell_m(self) -> float:
        """Metres a pixel."""
        return 2.0**self.level

    @property
    def side_m(self) -> float:
        """Metres along one side."""
        return SIDE_PX * self.cell_m

    @property
    def window(self) -> Window:
        """Where it lies."""
        return Window(self.column * self.side_m, (self.row + 1) * self.side_m, self.cell_m, SIDE_PX, SIDE_PX)


def level_for(px_per_m: float, finest_m: float) -> int:
    """Return the level whose pixels come nearest to those of the screen, but not much finer than the file is.

    Parameters
    ----------
    px_per_m
        Physical pixels a metre.
    finest_m
        Size of one cell of the file, metres.
    """
    return max(round(-math.log2(px_per_m)), math.floor(math.log2(finest_m)) - 1)


def squares_in(box_m: tuple[float, float, float, float], level: int) -> list[Square]:
    """Return the squares that cover a box (least x, least y, most x, most y), those in its middle first."""
    side = SIDE_PX * 2.0**level
    first_column, first_row = math.floor(box_m[0] / side), math.floor(box_m[1] / side)
    last_column, last_row = math.ceil(box_m[2] / side), math.ceil(box_m[3] / side)
    if (last_column - first_column) * (last_row - first_row) > MOST_AT_ONCE:
        return squares_in(box_m, level + 1)
    middle_x, middle_y = (box_m[0] + box_m[2]) / 2 / side - 0.5, (box_m[1] + box_m[3]) / 2 / side - 0.5
    found = [Square(level, c, r) for c in range(first_column, last_column) for r in range(first_row, last_row)]
    return sorted(found, key=lambda s: (math.hypot(s.column - middle_x, s.row - middle_y), s.column, s.row))
