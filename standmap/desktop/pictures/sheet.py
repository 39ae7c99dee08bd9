"""A sheet of paper with the map on it at a true scale: its measures and where everything goes. No Qt here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.desktop.canvas.camera import Camera
from standmap.errors import UserError

PX_PER_MM = 96 / 25.4
"""Logical pixels of the map's own drawing on a millimetre of paper: a dial keeps its size in both."""

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "Letter": (215.9, 279.4),
}
"""Width and height in millimetres, upright (ISO 216; ANSI Y14.1 for Letter; from memory)."""

NEEDED = "as needed"
"""In place of a paper: as large as the stand is at the scale."""

MARGIN_MM = 10.0
HEAD_MM = 11.0
FOOT_MM = 27.0
ROOM_MM = 6.0
"""Kept free between the outermost trees and the frame of the map."""

LEAST_MAP_MM = 150.0
MOST_MM = 5000.0

SCALES = (50, 100, 200, 250, 500, 750, 1000, 1500, 2000, 2500, 4000, 5000, 7500, 10_000, 15_000, 20_000, 25_000, 50_000)
LEAST_SCALE, MOST_SCALE = 10, 250_000

Box = tuple[float, float, float, float]
"""Least x, least y, most x, most y, metres; or left, top, width, height, millimetres."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet.

    Attributes
    ----------
    width_mm, height_mm
        The paper.
    map_mm
        Left, top, width and height of the map on it.
    scale
        A metre on paper is so many on the ground.
    camera
        What is on the map, for a view as large as the map in logical pixels; see `PX_PER_MM`.
    """

    width_mm: float
    height_mm: float
    map_mm: Box
    scale: float
    camera: Camera

    def outside(self, xy: NDArray[np.float64]) -> int:
        """Return how many positions, metres, shape (n, 2), are not on the map."""
        px = self.camera.to_screen(xy[np.isfinite(xy).all(axis=1)])
        size = (self.camera.width, self.camera.height)
        return int((~((px >= 0) & (px <= size)).all(axis=1)).sum())


def extent_of(*tables: NDArray[np.float64]) -> Box | None:
    """Return the box that holds all positions, each table metres of shape (n, 2); None without any."""
    held = np.concatenate([np.asarray(t, float).reshape(-1, 2) for t in tables]) if tables else np.zeros((0, 2))
    held = held[np.isfinite(held).all(axis=1)]
    if not len(held):
        return None
    (west, south), (east, north) = held.min(axis=0), held.max(axis=0)
    return float(west), float(south), float(east), float(north)


def sheet_for(extent: Box, *, scale: float | None = None, paper: str = "A4", landscape: bool | None = None) -> Sheet:
    """Return the sheet that shows an extent in its middle, north up.

    Parameters
    ----------
    extent
        What is to be on the map, metres.
    scale
        True scale; None for the largest common one at which everything is on the sheet.
    paper
        A key of `PAPERS`, or `NEEDED`.
    landscape
        Which way the paper lies; None for the way that suits the extent.

    Raises
    ------
    UserError
        If the paper or the scale makes no sense.
    """
    if scale is not None and not LEAST_SCALE <= scale <= MOST_SCALE:
        raise UserError(f"a scale of 1:{scale:g} makes no map", f"choose from 1:{LEAST_SCALE} to 1:{MOST_SCALE}")
    if paper != NEEDED and paper not in PAPERS:
        raise UserError(f"'{paper[:40]}' is no paper known here", f"choose {', '.join(PAPERS)} or '{NEEDED}'")
    wide_m, high_m = max(extent[2] - extent[0], 1.0), max(extent[3] - extent[1], 1.0)
    if paper == NEEDED:
        scale = 1000.0 if scale is None else scale
        width = max(wide_m * 1000 / scale + 2 * ROOM_MM, LEAST_MAP_MM) + 2 * MARGIN_MM
        height = max(high_m * 1000 / scale + 2 * ROOM_MM, LEAST_MAP_MM / 2) + 2 * MARGIN_MM + HEAD_MM + FOOT_MM
        if max(width, height) > MOST_MM:
            raise UserError(
                f"at 1:{scale:g} the sheet would be {max(width, height) / 1000:.1f} m long", "choose a smaller scale"
            )
        return _sheet(width, height, scale, extent)
    if landscape is None:
        landscape = wide_m > high_m
    short, long = PAPERS[paper]
    width, height = (long, short) if landscape else (short, long)
    if scale is None:
        room_w, room_h = _map_of(width, height)[2:]
        least = max(wide_m * 1000 / (room_w - 2 * ROOM_MM), high_m * 1000 / (room_h - 2 * ROOM_MM))
        scale = next((float(s) for s in SCALES if s >= least), float(np.ceil(least / 10_000) * 10_000))
    return _sheet(width, height, scale, extent)


def scale_of(text: str) -> float:
    """Return a scale from what was typed: "1000" or "1:1000".

    Raises
    ------
    UserError
        If it is none.
    """
    cleaned = text.strip().removeprefix("1:").replace(" ", "").replace("\u202f", "")
    if not (cleaned.isascii() and cleaned.isdecimal() and LEAST_SCALE <= int(cleaned[:9]) <= MOST_SCALE):
        raise UserError(
            f"'{text.strip()[:40]}' is no scale of a map",
            f"write it like 1:1000, from 1:{LEAST_SCALE} to 1:{MOST_SCALE}",
        )
    return float(cleaned)


def _map_of(width: float, height: float) -> Box:
    return MARGIN_MM, MARGIN_MM + HEAD_MM, width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - HEAD_MM - FOOT_MM


def _sheet(width: float, height: float, scale: float, extent: Box) -> Sheet:
    map_mm = _map_of(width, height)
    camera = Camera(
        centre_x=(extent[0] + extent[2]) / 2,
        centre_y=(extent[1] + extent[3]) / 2,
        px_per_m=1000 / scale * PX_PER_MM,
        width=map_mm[2] * PX_PER_MM,
        height=map_mm[3] * PX_PER_MM,
    )
    return Sheet(width, height, map_mm, scale, camera)
