"""How warm the soil is, from the air alone, and when sap sours."""

from __future__ import annotations

import numpy as np

from standmap.season.thermal import FloatArray

SOIL_DAYS = 11
"""The soil follows the mean of the air over eleven days: D. Zheng, E. R. Hunt and S. W. Running 1993, A daily soil
temperature model based on air temperature and precipitation for continental applications, Climate Research 2, 183-191
(from memory). Snow and shade are left out, so it is a sign and no measurement."""

FIRST_SAP_SOIL_C = 10.0
"""First sap of birch at a soil of about 50 °F (Cornell Cooperative Extension, R. Gast)."""

SOUR_C = 10.0
"""Sap ferments in the vessel after several days with a mean above +10 °C (Gryazkin et al. 2023,
doi 10.37482/0536-1036-2023-4-180-189, abstract)."""

SOUR_AFTER_DAYS = 3
"""What several days are taken to be: an assumption."""


def soil_c(mean_c: FloatArray) -> FloatArray:
    """Return the mean of the last eleven days on each day, shape (n,); NaN on the first ten."""
    found = np.full(len(mean_c), np.nan)
    if len(mean_c) >= SOIL_DAYS:
        found[SOIL_DAYS - 1 :] = np.convolve(mean_c, np.full(SOIL_DAYS, 1 / SOIL_DAYS), mode="valid")
    return found


def sours(mean_c: FloatArray, from_index: int = 0) -> int | None:
    """Return the index of the last of the first three days in a row whose means are above 10 °C; None without such."""
    warm = mean_c > SOUR_C
    warm[:from_index] = False
    run = np.convolve(warm.astype(np.int64), np.ones(SOUR_AFTER_DAYS, np.int64))[: len(warm)]
    there = run >= SOUR_AFTER_DAYS
    return int(there.argmax()) if there.any() else None
