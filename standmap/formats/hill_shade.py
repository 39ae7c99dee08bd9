"""Hill shade: how light falls on a terrain, as a veil of light and shadow that any ground colour shows through."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LIGHT_FROM_DEG = 315.0
LIGHT_HEIGHT_DEG = 45.0
"""Light from the north-west, half-way up: common practice in drawing maps, no source."""

DEEPEST_SHADOW = 0.8
BRIGHTEST_LIGHT = 0.7
"""Opacity of the darkest and of the lightest slope; chosen by eye."""

STEEPER = 2.5
"""A veil is drawn as if the ground were so many times steeper: a wood's own slopes are gentle. Chosen by eye."""


def slopes(heights_m: NDArray[np.float32], cell_m: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the rise toward east and toward north, metres a metre, of all cells but those at the rim.

    The weighted differences over 3 by 3 cells of B. K. P. Horn, Hill shading and the reflectance map, Proceedings of
    the IEEE 69 (1), 14-47, 1981 (from memory).

    Parameters
    ----------
    heights_m
        Heights of a regular grid, first row in the north, shape (rows, columns); NaN where unknown.
    cell_m
        Width of a cell in metres.

    Returns
    -------
    Two arrays of shape (rows - 2, columns - 2); NaN where a height nearby is unknown.
    """
    z = heights_m
    west = z[:-2, :-2] + 2 * z[1:-1, :-2] + z[2:, :-2]
    east = z[:-2, 2:] + 2 * z[1:-1, 2:] + z[2:, 2:]
    north = z[:-2, :-2] + 2 * z[:-2, 1:-1] + z[:-2, 2:]
    south = z[2:, :-2] + 2 * z[2:, 1:-1] + z[2:, 2:]
    reach = 8 * cell_m
    return np.asarray((east - west) / reach, np.float32), np.asarray((north - south) / reach, np.float32)


def shade(heights_m: NDArray[np.float32], cell_m: float) -> NDArray[np.float32]:
    """Return how strongly each inner cell is lit, 0 (away from the light) to 1 (facing it); see `slopes`."""
    east, north = slopes(heights_m, cell_m)
    azimuth, height = np.radians(LIGHT_FROM_DEG), np.radians(LIGHT_HEIGHT_DEG)
    # The cosine between the light and the upward normal of the ground, (-east, -north, 1) made one long.
    toward = np.sin(height) - np.cos(height) * (east * np.sin(azimuth) + north * np.cos(azimuth))
    return np.asarray(np.clip(toward / np.sqrt(1 + east**2 + north**2), 0.0, 1.0), dtype=np.float32)


def veil(heights_m: NDArray[np.float32], cell_m: float) -> NDArray[np.uint8]:
    """Return hill shade as a picture: black over shadow, white over light, nothing over level ground.

    Returns
    -------
    Red, green, blue and opacity, shape (rows - 2, columns - 2, 4).
    """
    lit = shade(heights_m * np.float32(STEEPER), cell_m)
    level = np.float32(np.sin(np.radians(LIGHT_HEIGHT_DEG)))
    opacity = np.where(
        lit < level, (level - lit) / level * DEEPEST_SHADOW, (lit - level) / (1 - level) * BRIGHTEST_LIGHT
    )
    picture = np.zeros((*lit.shape, 4), np.uint8)
    picture[..., :3] = np.where(lit > level, 255, 0).astype(np.uint8)[..., None]
    picture[..., 3] = np.round(255 * np.nan_to_num(opacity, nan=0.0)).astype(np.uint8)
    return picture
