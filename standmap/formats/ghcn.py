"""Reading GHCN-Daily, the public archive of daily weather of many nations: its .dly and its csv forms.

Facts of the format (README FILE FOR DAILY GLOBAL HISTORICAL CLIMATOLOGY NETWORK, NOAA NCEI, version 3.00, section III,
read; held by tests/outside/test_ghcn_daily.py): a line of .dly is a month of one element at one station: characters
1-11 the station, 12-15 the year, 16-17 the month, 18-21 the element, then 31 times a value of five characters and three
flags: measurement, quality, source. Temperatures are tenths of °C, rain tenths of mm, wind tenths of m/s; -9999 means
missing; a quality flag means that a value failed a check: it is not used. The csv forms hold the same values.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from standmap.formats.content import Findings, FoundDay, FoundStation, Skipped
from standmap.formats.faults import go_on, refused, shown, unreadable, within
from standmap.formats.texts import line_of
from standmap.formats.weather_days import MEAN_OUTSIDE_C, MEASURED, SAME, Reading, checked, gathered
from standmap.formats.weather_stations import Stations
from standmap.progress import Progress, Unwatched
from standmap.stand.names import LONGEST_NAME

MOST_BYTES = 512_000_000
MISSING = -9999

ELEMENTS: Mapping[str, str] = {
    "TMIN": "least_c",
    "TMAX": "most_c",
    "TAVG": "mean_c",
    "PRCP": "rain_mm",
    "AWND": "wind_m_s",
}
"""The elements that are read; all are in tenths of °C, mm or m/s."""

_DLY = re.compile(rb"[A-Z]{2}[A-Z0-9_\-]{9}\d{4}(0[1-9]|1[0-2])[A-Z0-9]{4}[ \d\-]{5}")
_BY_YEAR = re.compile(rb'"?[A-Z]{2}[A-Z0-9_\-]{9}"?,"?\d{8}"?,"?[A-Z0-9]{4}"?,"?-?\d+"?,')
_HEADINGS = re.compile(rb'"?(ID|STATION)"?,"?(DATE|YEAR/MONTH/DAY)"?,"?ELEMENT"?,', re.IGNORECASE)
_WHOLE = re.compile(r" *-?[0-9]{1,6} *")
_WIDTH = 21 + 31 * 8


def is_dly(head: bytes) -> bool:
    """Return whether a text begins as a .dly file does, given its first bytes."""
    return _DLY.match(head) is not None and b"," not in head.split(b"\n")[0]


def is_by_year(head: bytes) -> bool:
    """Return whether a text begins as the csv form of one value a line does, with headings or without."""
    bare = head.removeprefix(b"\xef\xbb\xbf")
    return _BY_YEAR.match(bare) is not None or _HEADINGS.match(bare) is not None


def is_access(head: bytes) -> bool:
    """Return whether a text has the headings of the csv form of one station, with an attribute beside each element."""
    first = head.removeprefix(b"\xef\xbb\xbf").split(b"\n")[0].upper().replace(b'"', b"").strip()
    names = set(first.split(b","))
    return {b"STATION", b"DATE"} <= names and any(name.endswith(b"_ATTRIBUTES") for name in names)


def read_ghcn(path: Path, *, station: str | None = None, progress: Progress | None = None) -> Findings:
    """Read a file of GHCN-Daily in any of its forms.

    Parameters
    ----------
    station
        Read the lines of this one alone.

    Raises
    ------
    UserError
        If a line is none of the format, a value cannot be, or too many stations are in it.
    """
    size = within(path, MOST_BYTES, "cut the lines of one station out of it")
    reader = _Reader(path, size, Stations(path, station), progress or Unwatched())
    try:
        with path.open("rb") as raw:
            head = raw.read(4096)
    except OSError as error:
        raise unreadable(path, error) from None
    how = reader.dly if is_dly(head) else reader.access if is_access(head) else reader.by_year
    days, _ = gathered(path, how())
    reader.stations.check()
    if not days:
        raise refused(path, "tells no temperature, rain or wind of any day", "export it again")
    fit, torn = _fitting(days)
    return Findings(
        "ghcn",
        reader.read,
        weather=fit,
        stations=tuple(reader.stations.found.values()),
        skipped=torn,
        told=tuple(reader.told()),
    )


def _fitting(days: tuple[FoundDay, ...]) -> tuple[tuple[FoundDay, ...], tuple[Skipped, ...]]:
    """Return the days without temperatures that contradict each other, and where that left something out."""
    fit: list[FoundDay] = []
    torn: list[Skipped] = []
    for day in days:
        low, mean, high = day.least_c, day.mean_c, day.most_c
        if low is not None and high is not None and low > high + SAME:
            torn.append(Skipped(day.where, f"{day.day}: the least temperature is above the greatest: neither is used"))
            low = high = None
        if mean is not None and (
            (low is not None and mean < low - MEAN_OUTSIDE_C) or (high is not None and mean > high + MEAN_OUTSIDE_C)
        ):
            torn.append(Skipped(day.where, f"{day.day}: the mean temperature is far outside the day's: not used"))
            mean = None
        kept = replace(day, least_c=low, mean_c=mean, most_c=high)
        if any(getattr(kept, name) is not None for name in MEASURED):
            fit.append(kept)
    return tuple(fit), tuple(torn)


class _Reader:
    """Reads one file and counts what failed its checks."""

    def __init__(self, path: Path, size: int, stations: Stations, progress: Progress) -> None:
        self._path, self._size, self._progress = path, size, progress
        self.stations = stations
        self.read = 0
        self.failed = 0

    def told(self) -> list[str]:
        """Return what a person should know."""
        if not self.failed:
            return []
        values = "1 value" if self.failed == 1 else f"{self.failed} values"
        return [f"{values} failed the archive's own checks: left out"]

    def dly(self) -> Iterator[Reading]:
        """Yield the values of a file of fixed columns, one element of one day each."""
        for number, line in self._lines():
            where = f"line {number}"
            if len(line) < _WIDTH - 3 or not _DLY.match(line.encode("ascii", "replace")):
                raise refused(self._path, "is no line of a .dly file", "fetch it again", where=where)
            station, element = line[:11], line[17:21]
            if not self._wanted(station) or element not in ELEMENTS:
                continue
            year, month = int(line[11:15]), int(line[15:17])
            for index in range(31):
                cell = line[21 + 8 * index : 29 + 8 * index].ljust(8)
                value = self._whole(cell[:5], where)
                if value is None:
                    continue
                try:
                    day = date(year, month, index + 1)
                except ValueError:
                    raise refused(
                        self._path,
                        f"tells a value of {year}-{month:02d}-{index + 1}, which is no day",
                        "fetch it again",
                        where=where,
                    ) from None
                yield from self._value(where, station, day, element, value, cell[6])

    def by_year(self) -> Iterator[Reading]:
        """Yield the values of a table without headings: station, day, element, value, three flags, hour."""
        for number, line in self._lines():
            where = f"line {number}"
            if number == 1 and _HEADINGS.match(line.encode("ascii", "replace")):
                continue
            cells = self._cells(line, where)
            if len(cells) < 7 or not _BY_YEAR.match(line.encode("ascii", "replace")):
                raise refused(self._path, "is no line of the archive's table by year", "fetch it again", where=where)
            station, written, element = cells[:3]
            if not self._wanted(station) or element not in ELEMENTS:
                continue
            value = self._whole(cells[3], where)
            if value is None:
                continue
            yield from self._value(where, station, self._day(written, where), element, value, cells[5])

    def access(self) -> Iterator[Reading]:
        """Yield the values of one station's table; its numbers are tenths, set to the right in their cells.

        Raises
        ------
        UserError
            If they are not: the same headings head tables in other units, too.
        """
        lines = self._lines()
        headings = [cell.strip().upper() for cell in self._cells(next(lines)[1], "line 1")]
        at = {name: index for index, name in enumerate(headings)}
        for number, line in lines:
            where = f"line {number}"
            cells = self._cells(line, where)
            if len(cells) < len(headings):
                raise refused(self._path, "has fewer cells than headings", "fetch it again", where=where)
            station = cells[at["STATION"]].strip()
            if not self._wanted(station, cells, at):
                continue
            day = self._day(cells[at["DATE"]].strip().replace("-", ""), where)
            for element in ELEMENTS:
                written = cells[at[element]] if element in at else ""
                if not written.strip():
                    continue
                if not re.fullmatch(r" *-?\d+", written) or (len(written) < 5 and written.strip() != str(MISSING)):
                    raise refused(
                        self._path,
                        f"'{shown(written)}' is not in tenths as the archive's own table is",
                        f"call the columns {element.lower()}_c or {element.lower()}_f, and take the attributes out",
                        where=where,
                    )
                value = self._whole(written, where)
                flags = cells[at[f"{element}_ATTRIBUTES"]] if f"{element}_ATTRIBUTES" in at else ""
                quality = [*flags.split(","), "", ""][1]
                if value is not None:
                    yield from self._value(where, station, day, element, value, quality)

    def _value(self, where: str, station: str, day: date, element: str, value: int, quality: str) -> Iterator[Reading]:
        if quality.strip():
            self.failed += 1
            return
        told: dict[str, Any] = {ELEMENTS[element]: value / 10}
        yield checked(self._path, Reading(where, station, day, **told))

    def _whole(self, text: str, where: str) -> int | None:
        if not _WHOLE.fullmatch(text):
            raise refused(self._path, f"'{shown(text.strip())}' is no whole number", "fetch it again", where=where)
        number = int(text)
        return None if number == MISSING else number

    def _day(self, text: str, where: str) -> date:
        try:
            return date.fromisoformat(f"{text[:4]}-{text[4:6]}-{text[6:]}")
        except ValueError:
            raise refused(
                self._path, f"'{shown(text)}' is no day of the calendar", "fetch it again", where=where
            ) from None

    def _cells(self, line: str, where: str) -> list[str]:
        try:
            return next(csv.reader([line]))
        except csv.Error:
            raise refused(self._path, "the cells cannot be told apart", "fetch it again", where=where) from None

    def _wanted(self, station: str, cells: list[str] | None = None, at: Mapping[str, int] | None = None) -> bool:
        if self.stations.new(station):
            self.stations.add(_station_of(station, cells or [], at or {}))
        return self.stations.wanted(station)

    def _lines(self) -> Iterator[tuple[int, str]]:
        try:
            with self._path.open("rb") as raw, io.TextIOWrapper(raw, encoding="utf-8-sig", errors="replace") as text:
                for number, line in enumerate(text, start=1):
                    if number % 5000 == 1:
                        go_on(self._path, self._progress, raw.tell(), self._size)
                    if line.strip():
                        self.read += 1
                        yield number, line.rstrip("\r\n")
        except OSError as error:
            raise unreadable(self._path, error) from None


def _station_of(station: str, cells: list[str], at: Mapping[str, int]) -> FoundStation:
    """Return a station with what the cells of its table tell of it."""
    name, place, height = "", None, None
    if cells:
        name = line_of(cells[at["NAME"]])[:LONGEST_NAME] if "NAME" in at else ""
        try:
            lon, lat = (float(cells[at[what]]) for what in ("LONGITUDE", "LATITUDE"))
            place = (lon, lat) if -180 <= lon <= 180 and -90 <= lat <= 90 else None
            height = float(cells[at["ELEVATION"]])
        except (KeyError, ValueError):
            height = None
    # The archive writes -999.9 for a height that is not known.
    return FoundStation(station, name, place, height if height is not None and -500 < height < 9000 else None)
