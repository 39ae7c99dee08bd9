"""The heights of the ground on a regular grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """Heights at points that stand evenly apart.

    Attributes
    ----------
    east_m, north_m
        The south-western point, metres in the working frame.
    cell_m
        How far neighbouring points are apart.
    grid_m
        Shape (rows, columns), rows from the south, columns from the west; NaN where the height is not known.

    Raises
    ------
    ValueError
        If the grid has fewer than two rows or columns, or its place or spacing is not finite and above 0.
    """

    east_m: float
    north_m: float
    cell_m: float
    grid_m: NDArray[np.float32]

    def __post_init__(self) -> None:
        if self.grid_m.ndim != 2 or min(self.grid_m.shape) < 2:
            raise ValueError(f"heights need at least two rows and two columns, not {self.grid_m.shape}")
        if not (np.isfinite((self.east_m, self.north_m, self.cell_m)).all() and self.cell_m > 0):
            raise ValueError("heights need a finite place and a spacing above 0")

    def at(self, xy: FloatArray) -> FloatArray:
        """Return the heights at points, metres, between the four around each by bilinear interpolation.

        Parameters
        ----------
        xy
            Shape (..., 2), metres.

        Returns
        -------
        Shape (...), NaN outside the grid and where one of the four is not known.
        """
        rows, columns = self.grid_m.shape
        across = (xy[..., 0] - self.east_m) / self.cell_m
        up = (xy[..., 1] - self.north_m) / self.cell_m
        inside = (across >= 0) & (across <= columns - 1) & (up >= 0) & (up <= rows - 1)
        column = np.clip(np.nan_to_num(across), 0, columns - 1.000001).astype(np.intp)
        row = np.clip(np.nan_to_num(up), 0, rows - 1.000001).astype(np.intp)
        right, above = across - column, up - row
        first = row * columns + column
        flat = self.grid_m.ravel()
        lower = flat[first] * (1 - right) + flat[first + 1] * right
        upper = flat[first + columns] * (1 - right) + flat[first + columns + 1] * right
        found: FloatArray = np.where(inside, lower * (1 - above) + upper * above, np.nan)
        return found
