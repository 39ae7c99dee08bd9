"""What a day's weather may be, whatever file tells it: bounds, missing codes, and readings gathered to days."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from statistics import fmean

from standmap.formats.content import FoundDay
from standmap.formats.faults import refused

LEAST_C, MOST_C = -90.0, 60.0
"""No colder or warmer air was ever measured near the ground (World Meteorological Organization's archive of extremes,
-89.2 and 56.7 °C, from memory)."""

MOST_RAIN_MM = 2000.0
"""No wetter day was ever measured (1825 mm, same archive, from memory)."""

MOST_WIND_M_S = 115.0
"""No stronger gust was ever measured (113 m/s, same archive, from memory)."""

MISSING = frozenset({-9999.0, -999.0})
"""Numbers that say that there is none: those of GHCN-Daily and of the German weather service."""

NOT_SAID = frozenset({"", "na", "n/a", "nan", "null", "none", "-", "--", "---", "m", "missing"})
"""Words that say the same."""

SAME = 0.051
"""Two tellings of one day that differ by no more are one."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of a file; `at_hour` tells a reading of a moment from a day's own values."""

    where: str
    station: str
    day: date
    least_c: float | None = None
    mean_c: float | None = None
    most_c: float | None = None
    rain_mm: float | None = None
    wind_m_s: float | None = None
    at_hour: bool = False


def checked(path: Path, reading: Reading) -> Reading:
    """Return a row whose values can be.

    Raises
    ------
    UserError
        If one cannot; its line is named.
    """
    for what, value in (("least", reading.least_c), ("mean", reading.mean_c), ("greatest", reading.most_c)):
        if value is not None and not LEAST_C <= value <= MOST_C:
            raise refused(
                path,
                f"a {what} temperature of {value:.1f} °C is not possible",
                "say the unit in the heading, such as tmin_f, and leave a cell empty where nothing was measured",
                where=reading.where,
            )
    low, high = reading.least_c, reading.most_c
    if low is not None and high is not None and low > high + SAME:
        raise refused(
            path,
            f"the least temperature, {low:.1f} °C, is above the greatest, {high:.1f} °C",
            "are the columns exchanged?",
            where=reading.where,
        )
    mean = reading.mean_c
    if mean is not None and ((low is not None and mean < low - 1) or (high is not None and mean > high + 1)):
        raise refused(
            path,
            f"the mean temperature, {mean:.1f} °C, lies outside the day's least and greatest",
            "check the columns and their units",
            where=reading.where,
        )
    for what, amount, most, unit in (
        ("rain", reading.rain_mm, MOST_RAIN_MM, "mm"),
        ("wind", reading.wind_m_s, MOST_WIND_M_S, "m/s"),
    ):
        if amount is not None and not 0 <= amount <= most:
            raise refused(
                path, f"{what} of {amount:g} {unit} is not possible", "check the column's unit", where=reading.where
            )
    return reading


def gathered(path: Path, readings: Iterable[Reading]) -> tuple[FoundDay, ...]:
    """Return the days of a file, each station's in the order of time, readings of moments brought together.

    Raises
    ------
    UserError
        If a day stands twice with other values.
    """
    by_day: dict[tuple[str, date], list[Reading]] = {}
    for one in readings:
        by_day.setdefault((one.station, one.day), []).append(one)
    return tuple(_day(path, by_day[key]) for key in sorted(by_day))


def _day(path: Path, rows: list[Reading]) -> FoundDay:
    first = rows[0]
    if any(row.at_hour for row in rows):
        return _from_hours(rows)
    told = FoundDay(first.where, first.station, first.day)
    for row in rows:
        for name in ("least_c", "mean_c", "most_c", "rain_mm", "wind_m_s"):
            value, before = getattr(row, name), getattr(told, name)
            if value is None:
                continue
            if before is not None and abs(before - value) > SAME:
                raise refused(
                    path,
                    f"{row.day.isoformat()} was told already on {first.where}, with other values",
                    "keep one of them",
                    where=row.where,
                )
            told = replace(told, **{name: value})
    return told


def _from_hours(rows: list[Reading]) -> FoundDay:
    first = rows[0]
    air = [row.mean_c for row in rows if row.mean_c is not None]
    lows = [row.least_c for row in rows if row.least_c is not None] or air
    highs = [row.most_c for row in rows if row.most_c is not None] or air
    rain = [row.rain_mm for row in rows if row.rain_mm is not None]
    wind = [row.wind_m_s for row in rows if row.wind_m_s is not None]
    return FoundDay(
        where=first.where,
        station=first.station,
        day=first.day,
        least_c=min(lows, default=None),
        mean_c=fmean(air) if air else None,
        most_c=max(highs, default=None),
        rain_mm=sum(rain) if rain else None,
        wind_m_s=fmean(wind) if wind else None,
    )
