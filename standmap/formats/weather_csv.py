"""Reading a table of daily weather; its columns and their units are found out by the headings."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import date, time
from pathlib import Path

from standmap.formats.content import Findings, FoundStation
from standmap.formats.delimited import DELIMITERS, Table, open_table, unguarded
from standmap.formats.faults import Unusable, refused, shown, unreadable
from standmap.formats.quantities import number_of
from standmap.formats.texts import clock_of, day_of, name_of
from standmap.formats.weather_columns import Column, column_of, columns_of, is_weather
from standmap.formats.weather_days import MISSING, NOT_SAID, Reading, checked, gathered
from standmap.formats.weather_stations import Stations
from standmap.progress import Progress, Unwatched

UNDERSTOOD = (
    "date (2026-03-28) or year, month and day; tmin, tmax, tmean or temperature, with the unit such as tmin_f or "
    "'Tmax (°C)'; rain_mm; wind_m_s; station, lat, lon, elevation"
)
"""The column names, for a person."""

WARM_MEAN_C, WARM_MOST_C = 33.0, 42.0
"""Warmer days in a file whose headings tell no unit are taken for Fahrenheit and asked about: assumptions, for woods
where birches grow."""

FIRST_YEAR = 1700
"""Nobody read a thermometer by the day before (from memory: the longest series begin in the 18th century)."""

HEAD_BYTES = 4096
MOST_BEFORE = 40
"""So many lines of notes may stand before the headings."""

_EMPTY = "leave a cell empty where nothing was measured"
_DAYS = "write days like 2026-03-28"
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})(\d{2})?(\d{2})?")
_SLASHED = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")
_CLOCK = re.compile(r"[T ]\s*(\d{1,2}:\d{2})")
_TRACE = frozenset({"t", "trace"})
"""Rain too little to be measured."""


def is_weather_table(head: bytes) -> bool:
    """Return whether a text, given its first bytes, has the headings of a table of daily weather."""
    return _heading_line(head) is not None


def _heading_line(head: bytes) -> int | None:
    """Return how many lines stand before the headings of a table of weather; None where it is none."""
    for codec in ("utf-8-sig", "utf-16", "cp1252"):
        for number, line in enumerate(head.decode(codec, errors="ignore").splitlines()[:MOST_BEFORE]):
            for delimiter in DELIMITERS:
                try:
                    headings = next(csv.reader([line], delimiter=delimiter), [])
                except csv.Error:
                    continue
                if len(headings) > 1 and is_weather(headings):
                    return number
    return None


def read_weather_csv(path: Path, *, station: str | None = None, progress: Progress | None = None) -> Findings:
    """Read a table of daily weather, or of readings by the hour, which are gathered to days.

    Parameters
    ----------
    station
        Read the rows of this one alone; it gives a table that names none its name.

    Raises
    ------
    UserError
        If the file is no such table, or a row says what cannot be: its line is named, and nothing of it is used.
    """
    table = open_table(path, lambda name: column_of(0, name) is not None, understood=UNDERSTOOD, skip=_before(path))
    columns = columns_of(table.written)
    if not is_weather(table.written):
        raise refused(path, "tells no temperatures by day", f"the headings must name: {UNDERSTOOD}")
    reader = _Rows(path, table, columns, Stations(path, station), (station or "").strip())
    days, parts = gathered(path, reader.readings(progress or Unwatched()))
    reader.stations.check()
    if not days:
        raise refused(path, "tells no temperature of any day", "export it again")
    _check_unit(path, reader)
    return Findings(
        "weather",
        reader.read,
        weather=days,
        stations=tuple(reader.stations.found.values()),
        skipped=parts,
        told=(*table.told, *reader.told()),
    )


def _before(path: Path) -> int:
    try:
        with path.open("rb") as file:
            return _heading_line(file.read(HEAD_BYTES)) or 0
    except OSError as error:
        raise unreadable(path, error) from None


class _Rows:
    """Reads the rows of one table and remembers what was said along the way."""

    def __init__(self, path: Path, table: Table, columns: dict[str, Column], stations: Stations, nameless: str) -> None:
        self._path, self._table, self._columns = path, table, columns
        self._nameless = "" if {"station", "name"} & columns.keys() else nameless
        self.stations = stations
        self.read = 0
        self.comma = False
        self.warmest: dict[str, tuple[float, str]] = {}
        self._month_first = False

    def readings(self, progress: Progress) -> Iterator[Reading]:
        """Yield what can be used; a row without any value is left out silently."""
        width = len(self._table.written)
        self._month_first = self._writes_month_first()
        for line, cells in self._table.rows(progress):
            where = f"line {line}"
            if any(cell.strip() for cell in cells[width:]):
                raise refused(
                    self._path,
                    f"{len(cells)} cells, but the header names {width}",
                    "is a decimal comma without its quotes? write the table with semicolons",
                    where=where,
                )
            try:
                station = self._station(cells)
                if station is None:
                    continue
                day, at_hour = self._possible_day(cells)
                values = {what: self._value(what, cells) for what in ("least", "mean", "most", "air", "rain", "wind")}
            except Unusable as reason:
                what, _, remedy = str(reason).partition("; ")
                raise refused(self._path, what, remedy or _EMPTY, where=where) from None
            self.read += 1
            if all(value is None for value in values.values()):
                continue
            self._heed(values, where)
            reading = Reading(
                where,
                station,
                day,
                values["least"],
                values["mean"] if values["mean"] is not None else values["air"],
                values["most"],
                values["rain"],
                values["wind"],
                at_hour=True if at_hour else None if self._only_air else False,
            )
            yield checked(self._path, reading)

    @property
    def _only_air(self) -> bool:
        """Whether the temperatures may be those of moments: no heading says that they are a day's."""
        return "air" in self._columns and not {"least", "mean", "most"} & self._columns.keys()

    def told(self) -> list[str]:
        """Return what a person should know of how the table was read."""
        air = [c for what, c in self._columns.items() if what in ("least", "mean", "most", "air")]
        found = []
        if self._table.skip:
            found.append(f"the headings are in line {self._table.skip + 1}")
        if self._month_first:
            found.append("days are written month first")
        if not any(column.told for column in air):
            found.append("the headings tell no unit: temperatures are taken to be °C")
        elif any(column.unit != "°C" for column in air):
            found.append(f"temperatures are in {next(c.unit for c in air if c.unit != '°C')}")
        if self.comma:
            found.append("numbers have a decimal comma")
        return found

    def _cell(self, what: str, cells: list[str]) -> str:
        column = self._columns.get(what)
        return cells[column.index].strip() if column is not None and column.index < len(cells) else ""

    def _possible_day(self, cells: list[str]) -> tuple[date, bool]:
        day, at_hour = self._day(cells)
        if day.year < FIRST_YEAR:
            raise Unusable(f"nobody measured on {day.isoformat()}; check the year")
        return day, at_hour

    def _day(self, cells: list[str]) -> tuple[date, bool]:
        """Return the day of a row, and whether the row tells an hour of it."""
        hour = self._cell("clock", cells)
        if "date" not in self._columns:
            parts = [self._cell(what, cells) for what in ("year", "month", "day of month")]
            try:
                return date(*(int(part) for part in parts)), _an_hour(hour)
            except (ValueError, OverflowError):
                raise Unusable(f"'{shown('-'.join(parts))}' is no day of the calendar; {_DAYS}") from None
        text = self._cell("date", cells)
        if found := _COMPACT.fullmatch(text):
            try:
                return date(int(found[1]), int(found[2]), int(found[3])), found[4] is not None or _an_hour(hour)
            except ValueError:
                raise Unusable(f"'{shown(text)}' is no day of the calendar; {_DAYS}") from None
        clock = _CLOCK.search(text)
        written = text[: clock.start()] if clock else text
        if self._month_first and (slashed := _SLASHED.fullmatch(written.strip())):
            written = f"{slashed[3]}-{slashed[1]}-{slashed[2]}"
        return day_of(written.strip().rstrip("T")), _an_hour(hour or (clock[1] if clock else ""))

    def _writes_month_first(self) -> bool:
        """Return whether days are written like 3/20/2026: some row says so, and none the other way round."""
        if "date" not in self._columns:
            return False
        month_first = False
        for _, cells in self._table.rows(Unwatched()):
            found = _SLASHED.match(self._cell("date", cells))
            if found is None or int(found[1]) > 12:
                return False
            month_first = month_first or int(found[2]) > 12
        return month_first

    def _value(self, what: str, cells: list[str]) -> float | None:
        column = self._columns.get(what)
        text = self._cell(what, cells)
        if column is None or text.casefold() in NOT_SAID:
            return None
        if what == "rain" and text.casefold() in _TRACE:
            return 0.0
        number = float(number_of(text, self._written(column)))
        if number in MISSING:
            return None
        self.comma = self.comma or "," in text
        value = column.value(number)
        if what not in ("rain", "wind") and not column.told and 60 < value < 135:
            raise Unusable(
                f"{number:g} cannot be °C, and the heading tells no unit; "
                f"if it is Fahrenheit, call the column '{self._written(column)}_f'"
            )
        return value

    def _heed(self, values: dict[str, float | None], where: str) -> None:
        """Remember the warmest of each column whose heading tells no unit."""
        for what in ("mean", "air", "most"):
            value, column = values[what], self._columns.get(what)
            if value is not None and column is not None and not column.told:
                self.warmest[what] = max(self.warmest.get(what, (-999.0, "")), (value, where), key=lambda pair: pair[0])

    def _written(self, column: Column) -> str:
        return shown(self._table.written[column.index].strip())

    def _station(self, cells: list[str]) -> str | None:
        """Return the station of a row; None where another is wanted."""
        station = name_of(unguarded(self._cell("station", cells) or self._cell("name", cells)), "station")
        station = station or self._nameless
        if self.stations.new(station):
            name = name_of(unguarded(self._cell("name", cells)), "station") or ""
            self.stations.add(FoundStation(station, name, self._at(cells), self._height(cells)))
        return station if self.stations.wanted(station) else None

    def _at(self, cells: list[str]) -> tuple[float, float] | None:
        try:
            lon, lat = (float(number_of(self._cell(what, cells), what)) for what in ("lon", "lat"))
        except Unusable:
            return None
        return (lon, lat) if -180 <= lon <= 180 and -90 <= lat <= 90 else None

    def _height(self, cells: list[str]) -> float | None:
        column = self._columns.get("elevation")
        if column is None:
            return None
        try:
            height = column.value(float(number_of(self._cell("elevation", cells), "elevation")))
        except Unusable:
            return None
        return height if -500 < height < 9000 else None


def _an_hour(clock: str) -> bool:
    """Return whether a time of day is more than the midnight that many archives write beside a whole day."""
    if clock.isdigit() and int(clock) <= 24:
        return int(clock) % 24 != 0
    return bool(clock) and clock_of(clock).replace(tzinfo=None) != time(0)


def _check_unit(path: Path, reader: _Rows) -> None:
    for what, most in (("mean", WARM_MEAN_C), ("air", WARM_MOST_C), ("most", WARM_MOST_C)):
        value, where = reader.warmest.get(what, (-999.0, ""))
        if value > most:
            raise refused(
                path,
                f"{value:g} is too warm for °C, and the heading tells no unit",
                f"say it, such as '{what}_f' or '{what}_c'",
                where=where,
            )
