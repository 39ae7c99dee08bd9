"""Reading a table of daily weather; its columns and their units are found out by the headings."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from standmap.formats.content import Findings, FoundStation, Skipped
from standmap.formats.delimited import DELIMITERS, Table, open_table
from standmap.formats.faults import Unusable, refused, shown
from standmap.formats.texts import day_of
from standmap.formats.weather_columns import Column, column_of, columns_of, is_weather
from standmap.formats.weather_days import MISSING, NOT_SAID, Reading, checked, gathered
from standmap.progress import Progress, Unwatched

UNDERSTOOD = (
    "date (2026-03-28) or year, month and day; tmin, tmax, tmean or temperature, with the unit such as tmin_f or "
    "'Tmax (°C)'; rain_mm; wind_m_s; station, lat, lon, elevation"
)
"""The column names, for a person."""

WARM_MEAN_C, WARM_MOST_C = 45.0, 57.0
"""Warmer days in a file whose headings tell no unit are taken for Fahrenheit and asked about."""

_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})(\d{2})?(\d{2})?")
_CLOCK = re.compile(r"[T ]\s*(\d{1,2}):(\d{2})")


def is_weather_table(head: bytes) -> bool:
    """Return whether a text, given its first bytes, has the headings of a table of daily weather."""
    for codec in ("utf-8-sig", "utf-16", "cp1252"):
        lines = [line for line in head.decode(codec, errors="ignore").splitlines() if line.strip()]
        for delimiter in DELIMITERS if lines else ():
            try:
                headings = next(csv.reader(lines[:1], delimiter=delimiter))
            except (csv.Error, StopIteration):
                continue
            if len(headings) > 1 and is_weather(headings):
                return True
    return False


def read_weather_csv(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read a table of daily weather, or of readings by the hour, which are gathered to days.

    Raises
    ------
    UserError
        If the file is no such table, or a row says what cannot be: its line is named, and nothing of it is used.
    """
    table = open_table(path, lambda name: column_of(0, name) is not None, understood=UNDERSTOOD)
    columns = columns_of(table.written)
    if not is_weather(table.written):
        raise refused(path, "tells no temperatures by day", f"the headings must name: {UNDERSTOOD}")
    reader = _Rows(path, table, columns)
    days = gathered(path, reader.readings(progress or Unwatched()))
    if not days:
        raise refused(path, "tells no temperature of any day", "export it again")
    _check_unit(path, reader)
    return Findings(
        "weather",
        reader.read,
        weather=days,
        stations=tuple(reader.stations.values()),
        skipped=tuple(reader.skipped),
        told=(*table.told, *reader.told()),
    )


class _Rows:
    """Reads the rows of one table and remembers what was said along the way."""

    def __init__(self, path: Path, table: Table, columns: dict[str, Column]) -> None:
        self._path, self._table, self._columns = path, table, columns
        self.read = 0
        self.comma = False
        self.stations: dict[str, FoundStation] = {}
        self.skipped: list[Skipped] = []
        self.warmest: dict[str, tuple[float, str]] = {}

    def readings(self, progress: Progress) -> Iterator[Reading]:
        """Yield what can be used; a row without any value is left out silently."""
        for line, cells in self._table.rows(progress):
            where = f"line {line}"
            self.read += 1
            try:
                day, at_hour = self._day(cells)
            except Unusable as reason:
                raise refused(self._path, str(reason), "write days like 2026-03-28", where=where) from None
            values = {
                what: self._value(what, cells, where) for what in ("least", "mean", "most", "air", "rain", "wind")
            }
            if all(value is None for value in values.values()):
                continue
            hourly = at_hour or ("air" in self._columns and "mean" not in self._columns)
            reading = Reading(
                where,
                self._station(cells),
                day,
                values["least"],
                values["mean"] if values["mean"] is not None else values["air"],
                values["most"],
                values["rain"],
                values["wind"],
                at_hour=hourly,
            )
            yield checked(self._path, reading)

    def told(self) -> list[str]:
        """Return what a person should know of how the table was read."""
        air = [c for what, c in self._columns.items() if what in ("least", "mean", "most", "air")]
        found = []
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

    def _day(self, cells: list[str]) -> tuple[date, bool]:
        if "date" not in self._columns:
            parts = [self._cell(what, cells) for what in ("year", "month", "day of month")]
            try:
                return date(*(int(part) for part in parts)), bool(self._cell("clock", cells))
            except ValueError:
                raise Unusable(f"'{shown('-'.join(parts))}' is no day of the calendar") from None
        text = self._cell("date", cells)
        if found := _COMPACT.fullmatch(text):
            try:
                return date(int(found[1]), int(found[2]), int(found[3])), found[4] is not None
            except ValueError:
                raise Unusable(f"'{shown(text)}' is no day of the calendar") from None
        clock = _CLOCK.search(text)
        written = text[: clock.start()] if clock else text
        # Many archives write midnight beside a day that is a whole day.
        return day_of(written.strip().rstrip("T")), clock is not None and (clock[1], clock[2]) not in (
            ("00", "00"),
            ("0", "00"),
        )

    def _value(self, what: str, cells: list[str], where: str) -> float | None:
        column = self._columns.get(what)
        text = self._cell(what, cells)
        if column is None or text.casefold() in NOT_SAID:
            return None
        if "," in text and "." not in text:
            self.comma = True
            text = text.replace(",", ".")
        try:
            number = float(text.replace("\u2212", "-"))
        except ValueError:
            raise refused(
                self._path,
                f"'{shown(text)}' is no number",
                "leave the cell empty where nothing was measured",
                where=where,
            ) from None
        if number in MISSING:
            return None
        value = column.value(number)
        if not column.told and what in ("mean", "air", "most") and value > self.warmest.get(what, (-999.0, ""))[0]:
            self.warmest[what] = (value, where)
        if what in ("mean", "air", "most", "least") and not column.told and 60 < value < 135:
            raise refused(
                self._path,
                f"{number:g} cannot be °C, and the heading tells no unit",
                f"if it is Fahrenheit, call the column '{self._table.written[column.index].strip()}_f'",
                where=where,
            )
        return value

    def _station(self, cells: list[str]) -> str:
        station = self._cell("station", cells) or self._cell("name", cells)
        if station not in self.stations:
            self.stations[station] = FoundStation(
                station, self._cell("name", cells), self._at(cells), self._height(cells)
            )
        return station

    def _at(self, cells: list[str]) -> tuple[float, float] | None:
        try:
            lon, lat = (float(self._cell(what, cells).replace(",", ".")) for what in ("lon", "lat"))
        except ValueError:
            return None
        return (lon, lat) if -180 <= lon <= 180 and -90 <= lat <= 90 else None

    def _height(self, cells: list[str]) -> float | None:
        try:
            height = float(self._cell("elevation", cells).replace(",", "."))
        except ValueError:
            return None
        return height if -500 < height < 9000 else None


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
