"""Daily weather and signs of the season that a file brings: one row a day and station."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from statistics import fmean

import numpy as np

from standmap.errors import UserError
from standmap.formats.content import Findings, FoundDay, FoundSign, FoundStation, Skipped
from standmap.jobs.keys import new_key
from standmap.jobs.weather_stations import FAR_KM, STATIONS_SETTING, with_stations
from standmap.messages import Messages
from standmap.stand.records import SeasonSign, Source, Weather, day_mean_c
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.stand.walks import Walk

VERY_FAR_KM = 150.0
"""A station farther away is cautioned of in stronger words: an assumption."""

HIGHER_M = 200.0
"""A station so much higher or lower than the stand is cautioned of: an assumption."""

WINTRY_LAT, WINTER_DAYS, WARM_WINTER_C = 45.0, 5, 14.0
"""North of this (or as far south) no winter of five days or more is so warm: assumptions."""

COOLER_C_PER_100_M = 0.65
"""By how much air is cooler higher up on average (International Standard Atmosphere, 6.5 °C a kilometre)."""

MEASURED = ("least_c", "mean_c", "most_c", "rain_mm", "wind_m_s")


@dataclass
class WeatherTaken:
    """What the files of one command bring of weather, beside what was known before.

    Attributes
    ----------
    new, changed
        Rows by station and day.
    stations
        The setting that keeps where stations stand, as it is to be; None where it stays.
    """

    stand: Stand
    new: dict[tuple[str, date], Weather] = field(default_factory=dict)
    changed: dict[tuple[str, date], Weather] = field(default_factory=dict)
    signs: list[SeasonSign] = field(default_factory=list)
    stations: dict[str, object] | None = None

    def __post_init__(self) -> None:
        self._known = {(row.station, row.day): row for row in self.stand.weather}
        self._signs = [(row.what, row.seen_on) for row in self.stand.signs]

    def take(
        self,
        findings: Findings,
        source: Source,
        today: date,
        at: LonLat | None,
        messages: Messages,
        *,
        height_m: float | None = None,
    ) -> tuple[int, int, list[Skipped]]:
        """Take what one file says in.

        Parameters
        ----------
        at
            Where the stand is; None for an empty one.
        height_m
            How high it lies, where something tells it.

        Returns
        -------
        tuple
            How many days and signs are new, how many are told more or otherwise than before, and what is left out.

        Raises
        ------
        UserError
            If the winter told is none.
        """
        _check_winter(findings.weather, source, at)
        skipped: list[Skipped] = []
        added = updated = 0
        ahead = [day for day in findings.weather if day.day > today]
        if ahead:
            days = "1 day" if len(ahead) == 1 else f"{len(ahead)} days"
            skipped.append(Skipped(ahead[0].where, f"{days} after today: what is to come is no record"))
        for found in findings.weather:
            if found.day <= today:
                what = self._take_day(found, source)
                added += what == "added"
                updated += what == "updated"
        for sign in findings.signs:
            what = self._take_sign(sign, source, today)
            added += what == "added"
            if what not in ("added", "same"):
                skipped.append(Skipped(sign.where, what))
        self._take_stations(findings.stations)
        for text in _told_of(findings.stations, at, height_m):
            messages.caution(text)
        years = sorted({day.day.year for day in findings.weather if day.day <= today})
        if years and (added or updated):
            messages.tell(f"{source.file_name}: weather of {_years(years)}")
        return added, updated, skipped

    def _take_sign(self, sign: FoundSign, source: Source, today: date) -> str:
        from standmap.jobs.when import season_of, stand_is_southern

        if (sign.what, sign.seen_on) in self._signs:
            return "same"
        if sign.seen_on > today:
            return "is after today"
        southern = stand_is_southern(self.stand)
        season = season_of(sign.seen_on, southern=southern)
        for what, seen_on in self._signs:
            if what == sign.what and season_of(seen_on, southern=southern) == season:
                return f"{what} was seen on {seen_on.isoformat()} already"
        self._signs.append((sign.what, sign.seen_on))
        self.signs.append(SeasonSign(new_key(), sign.what, sign.seen_on, sign.note, source.key))
        return "added"

    def _take_day(self, found: FoundDay, source: Source) -> str:
        key = (found.station, found.day)
        told = {name: getattr(found, name) for name in MEASURED if getattr(found, name) is not None}
        known = self._known.get(key)
        if known is None:
            row = Weather(new_key(), found.day, None, None, None, source_key=source.key, station=found.station)
            self._known[key] = self.new[key] = replace(row, **told)
            return "added"
        fresh = replace(known, **told)
        if fresh == known:
            return "same"
        self._known[key] = fresh
        (self.new if key in self.new else self.changed)[key] = fresh
        return "updated"

    def _take_stations(self, stations: Iterable[FoundStation]) -> None:
        fresh = with_stations(
            self.stand.settings if self.stations is None else {STATIONS_SETTING: self.stations}, stations
        )
        self.stations = self.stations if fresh is None else fresh


def _check_winter(days: Iterable[FoundDay], source: Source, at: LonLat | None) -> None:
    """Refuse winter days as warm as no wood of this latitude has: °F under a heading that does not say so.

    Raises
    ------
    UserError
        If they are.
    """
    if at is None or abs(at[1]) < WINTRY_LAT:
        return
    months = (12, 1, 2) if at[1] > 0 else (6, 7, 8)
    winter = [day for day in days if day.day.month in months]
    told = (day_mean_c(day.least_c, day.mean_c, day.most_c) for day in winter)
    means = [mean for mean in told if mean is not None]
    if len(means) >= WINTER_DAYS and fmean(means) > WARM_WINTER_C:
        raise UserError(
            f"{source.file_name}, {winter[0].where}: its winter days have {fmean(means):.0f} °C on average",
            "say the unit in the headings, such as tmin_f, if they are °F; else take a station nearer to the stand",
        )


def height_m_of(walks: Iterable[Walk]) -> float | None:
    """Return how high a stand lies: the middle of the heights of all fixes, None where none has any."""
    heights = [walk.fixes.elevation_m[np.isfinite(walk.fixes.elevation_m)] for walk in walks]
    told = np.concatenate(heights) if heights else np.empty(0)
    return float(np.median(told)) if len(told) else None


def _told_of(stations: Iterable[FoundStation], at: LonLat | None, height_m: float | None) -> list[str]:
    """Return cautions about stations that are far from the stand, or much higher or lower."""
    from standmap.survey.frame import true_distance

    found = []
    for station in stations:
        called = station.name or station.station
        if at is not None and station.at is not None:
            km = true_distance(at, station.at) / 1000
            if km > VERY_FAR_KM:
                found.append(
                    f"{called} is {km:.0f} km from the stand: its spring is another's; look for a nearer station"
                )
            elif km > FAR_KM:
                found.append(f"{called} is {km:.0f} km from the stand: spring there may be days earlier or later")
        if height_m is not None and station.elevation_m is not None:
            up = station.elevation_m - height_m
            by = abs(up) / 100 * COOLER_C_PER_100_M
            if up > HIGHER_M:
                found.append(f"{called} lies {up:.0f} m above the stand: it is {by:.1f} °C cooler there on average")
            elif up < -HIGHER_M:
                found.append(f"{called} lies {-up:.0f} m below the stand: it is {by:.1f} °C warmer there on average")
    return found


def _years(years: list[int]) -> str:
    """Return years in words, runs of them as from-to."""
    parts: list[list[int]] = []
    for year in years:
        if parts and parts[-1][-1] == year - 1:
            parts[-1].append(year)
        else:
            parts.append([year])
    return ", ".join(str(p[0]) if len(p) == 1 else f"{p[0]}-{p[-1]}" for p in parts)
