"""Invents the weather of a station near a sample wood, and what the wood showed of each spring.

Days follow the sun with warm and cold spells that last for some days; each spring is early or late by a few days, as
the first tapping of the wood's records has it. Buds have their own, hidden sum of warmth, so that leaf-out follows
weather.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from standmap.survey.frame import WorkingFrame

if TYPE_CHECKING:
    from sample_stands.plain import degrees, table
else:  # run as a script, its own folder is looked in
    from plain import degrees, table

FIRST_DAY = date(2019, 10, 1)
LATE_DAYS = {2020: -2, 2021: 4, 2022: 3, 2023: 6, 2024: -4, 2025: 0, 2026: -2}
"""By how many days a spring comes later than others."""

YEAR_MEAN_C, SWING_C, COLDEST_DAY = 6.0, 11.0, 18
SPELL_C, SPELL_KEEPS = 3.0, 0.8
BASE_C, BUDS_SUM, LEAF_SUM = 2.0, 58.0, 130.0
"""The hidden warmth of buds and leaves: degree days above a base from February on."""

GAP = (date(2023, 2, 6), date(2023, 2, 9))
"""Days on which the thermometer stood still."""


def season_files(
    station: Mapping[str, Any],
    frame: WorkingFrame,
    first_days: Mapping[int, date],
    last: date,
    rng: np.random.Generator,
) -> dict[str, bytes]:
    """Return weather.csv up to a day, and signs.csv of the seasons with records."""
    days = [FIRST_DAY + timedelta(days=n) for n in range((last - FIRST_DAY).days + 1)]
    least, most = _temperatures(days, rng)
    rain = np.where(rng.random(len(days)) < 0.42, rng.exponential(3.5, len(days)), 0.0)
    ((lon, lat),) = degrees(frame, [station["at"]])
    place = (station["name"], f"{lat:.3f}", f"{lon:.3f}", str(station["elevation_m"]))
    rows = (
        (*place, day.isoformat(), f"{low:.1f}", f"{high:.1f}", f"{wet:.1f}")
        for day, low, high, wet in zip(days, least, most, rain, strict=True)
        if not GAP[0] <= day <= GAP[1]
    )
    mean = dict(zip(days, (least + most) / 2, strict=True))
    return {
        "weather.csv": table(("station", "lat", "lon", "elevation_m", "date", "tmin_c", "tmax_c", "rain_mm"), rows),
        "signs.csv": table(("sign", "date", "note"), _signs(mean, first_days, rng)),
    }


def _temperatures(days: list[date], rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return the least and the greatest temperature of each day, °C to a tenth."""
    spell, least, most = 0.0, [], []
    for day in days:
        late = LATE_DAYS.get(day.year + (day.month >= 7), 0)
        year_part = 2 * math.pi * (day.timetuple().tm_yday - COLDEST_DAY - late) / 365.25
        winter = 0.5 + 0.5 * math.cos(year_part)
        spell = SPELL_KEEPS * spell + rng.normal(0, SPELL_C * (0.6 + 0.4 * winter)) * math.sqrt(1 - SPELL_KEEPS**2)
        mean = YEAR_MEAN_C - SWING_C * math.cos(year_part) + spell
        half = max(1.0, 2.3 + 3.2 * (1 - winter) + rng.normal(0, 0.9))
        least.append(round(mean - half, 1))
        most.append(round(mean + half, 1))
    return np.array(least), np.array(most)


def _signs(
    mean: Mapping[date, float], first_days: Mapping[int, date], rng: np.random.Generator
) -> list[tuple[str, str, str]]:
    """Return first sap, opening buds and leaf-out of each season, as far as its weather goes."""
    found = []
    for year, tapped in sorted(first_days.items()):
        found.append(("first sap", (tapped - timedelta(days=int(rng.integers(0, 2)))).isoformat(), ""))
        warmth, day = 0.0, date(year, 2, 1)
        for sign, wanted in (("buds opening", BUDS_SUM), ("leaf-out", LEAF_SUM)):
            while day in mean and warmth < wanted:
                warmth += max(0.0, mean[day] - BASE_C)
                day += timedelta(days=1)
            if warmth >= wanted:
                note = "the trees by the brook last" if (sign, year) == ("leaf-out", 2024) else ""
                found.append((sign, (day + timedelta(days=int(rng.integers(-1, 2)))).isoformat(), note))
    return found
