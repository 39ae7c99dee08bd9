"""Daily weather and signs of the season that a file brings: one row a day and station."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from standmap.formats.content import Findings, FoundDay, FoundStation, Skipped
from standmap.jobs.keys import new_key
from standmap.jobs.when import STATIONS_SETTING
from standmap.messages import Messages
from standmap.stand.records import SeasonSign, Source, Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat

FAR_KM = 50.0
VERY_FAR_KM = 150.0
"""A station farther away is cautioned of: assumptions."""

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
        self._signs = {(row.what, row.seen_on) for row in self.stand.signs}

    def take(
        self, findings: Findings, source: Source, today: date, at: LonLat | None, messages: Messages
    ) -> tuple[int, int, list[Skipped]]:
        """Take what one file says in.

        Parameters
        ----------
        at
            Where the stand is; None for an empty one.

        Returns
        -------
        tuple
            How many days and signs are new, how many are told more or otherwise than before, and what is left out.
        """
        skipped = []
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
            if sign.seen_on > today:
                skipped.append(Skipped(sign.where, "is after today"))
            elif (sign.what, sign.seen_on) not in self._signs:
                self._signs.add((sign.what, sign.seen_on))
                self.signs.append(SeasonSign(new_key(), sign.what, sign.seen_on, sign.note, source.key))
                added += 1
        self._take_stations(findings.stations)
        for text in _told_of(findings, at):
            messages.caution(text)
        if added or updated:
            years = sorted({day.day.year for day in findings.weather if day.day <= today})
            if years:
                messages.tell(f"{source.file_name}: weather of {_years(years)}")
        return added, updated, skipped

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
        kept = self.stand.settings.get(STATIONS_SETTING) if self.stations is None else self.stations
        known: dict[str, object] = dict(kept) if isinstance(kept, Mapping) else {}
        fresh = {
            s.station: {"lon": s.at[0], "lat": s.at[1], "elevation_m": s.elevation_m, "name": s.name}
            for s in stations
            if s.at is not None
        }
        if any(known.get(name) != place for name, place in fresh.items()):
            self.stations = {**known, **fresh}


def _told_of(findings: Findings, at: LonLat | None) -> list[str]:
    """Return cautions about stations that are far from the stand."""
    from standmap.survey.frame import true_distance

    if at is None:
        return []
    found = []
    for station in findings.stations:
        if station.at is None:
            continue
        km = true_distance(at, station.at) / 1000
        called = station.name or station.station
        if km > VERY_FAR_KM:
            found.append(f"{called} is {km:.0f} km from the stand: its spring is another's; look for a nearer station")
        elif km > FAR_KM:
            found.append(f"{called} is {km:.0f} km from the stand: spring there may be days earlier or later")
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
