"""What a day's weather may be, whatever file tells it: bounds, missing codes, and readings gathered to days."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import fmean, median

from standmap.formats.content import FoundDay, Skipped
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

MEAN_OUTSIDE_C = 10.0
"""A mean that lies farther outside the day's least and greatest is in another unit: an assumption. Some lies outside
in good archives, where the mean is taken from midnight to midnight and the extremes from evening to evening."""

PART_OF_A_DAY = 0.5
"""A day with fewer readings than this part of what the file's days mostly have is no whole day: an assumption."""

MEASURED = ("least_c", "mean_c", "most_c", "rain_mm", "wind_m_s")
"""What a day's weather is told by."""

SAME = 0.051
"""Two tellings of one day that differ by no more are one."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of a file.

    Attributes
    ----------
    at_hour
        Whether it is a reading of a moment, and none of a day's own values; None where the file does not tell.
    """

    where: str
    station: str
    day: date
    least_c: float | None = None
    mean_c: float | None = None
    most_c: float | None = None
    rain_mm: float | None = None
    wind_m_s: float | None = None
    at_hour: bool | None = False


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
    if mean is not None and (
        (low is not None and mean < low - MEAN_OUTSIDE_C) or (high is not None and mean > high + MEAN_OUTSIDE_C)
    ):
        raise refused(
            path,
            f"the mean temperature, {mean:.1f} °C, lies far outside the day's least and greatest",
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


def gathered(path: Path, readings: Iterable[Reading]) -> tuple[tuple[FoundDay, ...], tuple[Skipped, ...]]:
    """Return the days of a file, each station's in the order of time, and those of which too little is told.

    Readings of moments are brought together: least, mean and greatest, the sum of the rain.

    Raises
    ------
    UserError
        If a day stands twice with other values.
    """
    by_day: dict[tuple[str, date], list[Reading]] = {}
    for one in readings:
        by_day.setdefault((one.station, one.day), []).append(one)
    # Rows that do not tell are readings of moments where the file mostly has several a day.
    unsaid = median([len(rows) for rows in by_day.values()] or [0]) > 1
    by_hours = {key for key, rows in by_day.items() if any(r.at_hour or (unsaid and r.at_hour is None) for r in rows)}
    usual = median([len(by_day[key]) for key in by_hours] or [0])
    days: list[FoundDay] = []
    parts: list[Skipped] = []
    for key in sorted(by_day):
        rows = by_day[key]
        if key not in by_hours:
            days.append(_told_day(path, rows))
        elif len(rows) < usual * PART_OF_A_DAY:
            day = rows[0].day.isoformat()
            parts.append(Skipped(rows[0].where, f"{day} has {len(rows)} of about {usual:.0f} readings: no whole day"))
        else:
            days.append(_from_hours(rows))
    return tuple(days), tuple(parts)


def _told_day(path: Path, rows: list[Reading]) -> FoundDay:
    first = rows[0]
    told: dict[str, float] = {}
    for row in rows:
        for name in MEASURED:
            value = getattr(row, name)
            if value is None:
                continue
            if abs(told.get(name, value) - value) > SAME:
                raise refused(
                    path,
                    f"{row.day.isoformat()} was told already on {first.where}, with other values",
                    "keep one of them",
                    where=row.where,
                )
            told[name] = value
    return FoundDay(first.where, first.station, first.day, **told)


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
