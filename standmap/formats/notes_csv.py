"""Reading time notes: a table that says when something was written down, and what, but not where.

A row says its moment, and of the tree that stood there whatever a table of trees can say: name, girth, species,
soundness, a note. Which tree it was is found out from the walk of that day.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from standmap.formats.content import Findings, FoundNote, Skipped
from standmap.formats.csv_table import TreeColumns, TreeRows, is_known
from standmap.formats.delimited import DELIMITERS, Table, open_table
from standmap.formats.faults import Unusable, refused, shown
from standmap.formats.quantities import THICKNESS_COLUMNS, plain
from standmap.formats.texts import clock_of, day_of, moment_of
from standmap.progress import Progress, Unwatched

_TIMES = ("time", "moment", "datetime", "timestamp", "clock", "timeofday", "at", "when", "localtime", "utc", "timeutc")
_DAYS = ("date", "day", "measuredon")
_PLACES = frozenset({"lon", "longitude", "lng", "long", "lat", "latitude", "x", "y", "xm", "ym", "easting", "northing"})
_UTC = frozenset({"utc", "timeutc"})

UNDERSTOOD = (
    "time (2026-03-28T10:15:30+02:00, or 10:15:30 beside a column date), name (tree, tag), girth_mm or girth_cm, _m, "
    "_in, dbh_cm or diameter_mm and kin, species, soundness, note"
)
"""The column names, for a person."""

_CLOCK_AT_END = re.compile(r"(.*?)[T ,]\s*(\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:[.,]\d+)?)?\s*(?:Z|[+-]\d{2}:?\d{2})?)")
_CLOCK = re.compile(r"(?:^|[T ])\d{1,2}[:.]\d{2}(?![.\d]*\d{4})")
_LOOKED_AT = 8


def is_time_notes(head: bytes) -> bool:
    """Return whether the first lines of a text, given its first bytes, are a table with a time of day and no place."""
    for codec in ("utf-8-sig", "utf-16", "cp1252"):
        text = head.decode(codec, errors="ignore")
        lines = [line for line in text.splitlines() if line.strip()][:_LOOKED_AT]
        if any(_tells_times(lines, delimiter) for delimiter in DELIMITERS):
            return True
    return False


def _tells_times(lines: list[str], delimiter: str) -> bool:
    try:
        rows = list(csv.reader(lines, delimiter=delimiter))
    except csv.Error:
        return False
    if len(rows) < 2 or len(rows[0]) < 2:
        return False
    header = [plain(cell) for cell in rows[0]]
    if _PLACES & set(header) or "what" in header:  # "what" heads a table of returns
        return False
    columns = [i for i, name in enumerate(header) if name in _TIMES or name in _DAYS]
    known = any(is_known(name) and name not in _DAYS for name in header) or bool(THICKNESS_COLUMNS.keys() & set(header))
    if "id" in header and not set(_TIMES) & set(header):
        return False  # a list of trees whose days are written with a time
    return known and any(_CLOCK.search(row[i].strip()) for row in rows[1:] for i in columns if i < len(row))


def read_notes_csv(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read time notes; a row that cannot be used is skipped and told.

    Raises
    ------
    UserError
        If the file is no table, or no column tells a time.
    """
    table = open_table(path, lambda name: is_known(name) or name in _TIMES or name in _DAYS, understood=UNDERSTOOD)
    when = _When.of(table)
    columns = TreeColumns.of(table, nameless=True)
    # The day is told by the moment, and only once.
    taken = when.taken
    columns = replace(
        columns,
        at={m: i for m, i in columns.at.items() if i not in taken},
        unused=tuple(
            u for i, u in enumerate(w.strip() for w in table.written) if u in columns.unused and i not in taken
        ),
    )
    reader = TreeRows(columns)
    notes: list[FoundNote] = []
    skipped: list[Skipped] = []
    zones: set[bool] = set()
    for line, cells in table.rows(progress or Unwatched()):
        where = f"line {line}"
        try:
            moment = when.read(cells)
            tree = reader.tree(where, cells, nameless=True)
        except Unusable as reason:
            skipped.append(Skipped(where, str(reason)))
            continue
        dated = tuple(replace(m, measured_on=moment.day) for m in tree.measurements)
        notes.append(FoundNote(where, moment.time_s, replace(tree, measurements=dated), moment.zone_told))
        zones.add(moment.zone_told)
    told = [*table.told, *columns.told()]
    if reader.comma:
        told.append("numbers have a decimal comma")
    if False in zones:
        told.append("the times name no zone; it is found out from the walk, or said by --notes-zone")
    return Findings("notes", len(notes) + len(skipped), notes=tuple(notes), skipped=tuple(skipped), told=tuple(told))


@dataclass(frozen=True, slots=True)
class _Moment:
    time_s: float
    zone_told: bool
    day: date


class _When:
    """Reads the moment of a row; a day that is not repeated goes on to the rows below."""

    def __init__(self, time: int | None, day: int | None, *, utc: bool) -> None:
        self._time, self._day, self._utc = time, day, utc
        self._last: date | None = None

    @property
    def taken(self) -> frozenset[int]:
        """The columns that tell the moment."""
        return frozenset(i for i in (self._time, self._day) if i is not None)

    @classmethod
    def of(cls, table: Table) -> _When:
        """Find the columns of a header.

        Raises
        ------
        UserError
            If there is none, or one name stands there twice.
        """
        found: dict[str, int] = {}
        for index, name in enumerate(table.header):
            kind = "time" if name in _TIMES else "day" if name in _DAYS else None
            if kind is None:
                continue
            if name in table.header[:index]:
                raise refused(table.path, f"two columns are called '{shown(table.written[index])}'", "keep one of them")
            found.setdefault(kind, index)
        if not found:
            raise refused(table.path, "no column tells a time", f"add one of: {UNDERSTOOD}")
        time = found.get("time")
        return cls(time, found.get("day"), utc=time is not None and table.header[time] in _UTC)

    def read(self, cells: list[str]) -> _Moment:
        """Read the moment of one row.

        Raises
        ------
        Unusable
            If it is none, or no row so far has told the day.
        """
        time, day = _cell(cells, self._time), _cell(cells, self._day)
        if not time and not day:
            raise Unusable("tells no time")
        written, clock = _divided(time) if time else _divided(day)
        if clock is None:
            raise Unusable(f"time '{shown(time or day)}' has no time of day; write it like 07:30:15")
        if written:
            told_day = day_of(written)
        elif day:
            told_day = day_of(day)
        elif self._last is not None:
            told_day = self._last
        else:
            raise Unusable("does not say its day; add a column date")
        self._last = told_day
        try:
            moment = datetime.combine(told_day, clock_of(clock))
            if moment.tzinfo is not None:
                return _Moment(moment.timestamp(), zone_told=True, day=told_day)
            return _Moment(moment.replace(tzinfo=UTC).timestamp(), zone_told=self._utc, day=told_day)
        except (ValueError, OverflowError):
            raise Unusable(f"time '{shown(time or day)}' is not a moment of the calendar") from None


def _cell(cells: list[str], index: int | None) -> str:
    return cells[index].strip() if index is not None and index < len(cells) else ""


def _divided(text: str) -> tuple[str, str | None]:
    """Return the day and the time of day in a text, either perhaps missing."""
    try:
        whole = moment_of(text, "time")
        offset = whole.isoformat()[-6:]
        return whole.date().isoformat(), f"{whole:%H:%M:%S}.{whole.microsecond:06d}{offset}"
    except Unusable:
        pass
    if found := _CLOCK_AT_END.fullmatch(text):
        return found[1].strip(), found[2]
    return ("", text) if ":" in text or re.fullmatch(r"\d{1,2}\.\d{2}", text) else (text, None)
