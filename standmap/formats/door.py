"""The one door for files that come in: the format is told from the content, never from the name."""

from __future__ import annotations

import codecs
from datetime import date
from pathlib import Path

from standmap.formats.content import Findings
from standmap.formats.faults import refused, unreadable, within
from standmap.progress import Progress, Unwatched

MOST_BYTES = 512_000_000
"""Nothing larger is opened, whatever its format; each format may allow less."""

_HEAD = 4096
_BINARY = {
    b"SQLite format 3\0": ("is a GeoPackage or another SQLite file", "export its layers as GeoJSON or CSV"),
    b"PK\x03\x04": ("is a ZIP archive", "unpack it, or save a spreadsheet as CSV"),
    b"\x1f\x8b": ("is compressed by gzip", "unpack it"),
    b"BZh": ("is compressed by bzip2", "unpack it"),
    b"\xfd7zXZ\0": ("is compressed by xz", "unpack it"),
    b"7z\xbc\xaf\x27\x1c": ("is a 7z archive", "unpack it"),
    b"%PDF-": ("is a PDF document", "export the data behind it as GPX, GeoJSON or CSV"),
    b"\xd0\xcf\x11\xe0": ("is an old office document", "save the table as CSV"),
    b"\x7fELF": ("is a program", "give GPX, GeoJSON, CSV, an NMEA log or a picture"),
}
_BLANK = b" \t\r\n\0"


def read(
    path: Path,
    *,
    crs: str | None = None,
    day: date | None = None,
    pace_m: float | None = None,
    station: str | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Read a file of any format that is known: GPX, GeoJSON, NMEA, weather, delimited text or a picture.

    Parameters
    ----------
    crs
        Coordinate system of the columns x and y of a table, such as "EPSG:3067"; other formats are in WGS 84.
    day
        On which an NMEA log begins that does not tell it.
    pace_m
        Metres in one pace, for a field sheet that does not tell it.
    station
        Whose weather is read of a file of several stations; all of them when left out.

    Returns
    -------
    Findings
        What the file holds, not judged yet; its `format` says what it was read as.

    Raises
    ------
    UserError
        If the file cannot be read as any of them; the message begins with the file's name.
    """
    watched = progress or Unwatched()
    # The readers are imported when needed: a table does not need the XML parser.
    match _format(path):
        case "gpx":
            from standmap.formats.gpx import read_gpx

            return read_gpx(path, progress=watched)
        case "geojson":
            from standmap.formats.geojson import read_geojson

            return read_geojson(path, progress=watched)
        case "nmea":
            from standmap.formats.nmea import read_nmea

            return read_nmea(path, day=day, progress=watched)
        case "field sheet":
            from standmap.formats.field_sheet import read_field_sheet

            return read_field_sheet(path, pace_m=pace_m, progress=watched)
        case "notes":
            from standmap.formats.notes_csv import read_notes_csv

            return read_notes_csv(path, progress=watched)
        case "ghcn":
            from standmap.formats.ghcn import read_ghcn

            return read_ghcn(path, station=station, progress=watched)
        case "weather":
            from standmap.formats.weather_csv import read_weather_csv

            return read_weather_csv(path, station=station, progress=watched)
        case "signs":
            from standmap.formats.signs_csv import read_signs_csv

            return read_signs_csv(path, progress=watched)
        case "photo":
            from standmap.formats.photos import read_photo

            return read_photo(path, progress=watched)
        case _:
            from standmap.formats.csv_table import read_trees_csv

            return read_trees_csv(path, crs=crs, progress=watched)


def _format(path: Path) -> str:
    within(path, MOST_BYTES, "split it")
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
            first = head.lstrip(_BLANK)
            while not first and (more := file.read(_HEAD)):  # a long run of blanks
                first = more.lstrip(_BLANK)
    except OSError as error:
        raise unreadable(path, error) from None
    for magic, (what, remedy) in _BINARY.items():
        if head.startswith(magic):
            raise refused(path, what, remedy)
    from standmap.formats.photos import is_heic, is_photo

    if is_heic(head):
        raise refused(path, "is a HEIC picture, which is not read", "save it as JPEG")
    if is_photo(head):
        return "photo"
    wide = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or head[:2] in {b"<\0", b"\0<"}
    if not wide and _is_nmea(path, head):
        return "nmea"
    if not wide and b"\0" in head:
        raise refused(path, "is not a text file", "give GPX, GeoJSON, CSV, an NMEA log or a picture")
    for mark in (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        first = first.removeprefix(mark).lstrip(_BLANK)
    if not first:
        raise refused(path, "holds nothing but blanks", "export or copy it again")
    if first.startswith(b"<"):
        return "gpx"
    if first[:1] in {b"{", b"["}:
        return "geojson"
    if _is_ghcn(first):
        return "ghcn"
    from standmap.formats.field_sheet import is_field_sheet

    if is_field_sheet(head.lstrip(b" \t\r\n")):
        return "field sheet"
    from standmap.formats.weather_csv import is_weather_table

    if is_weather_table(head.lstrip(b" \t\r\n")):
        return "weather"
    from standmap.formats.signs_csv import is_signs_table

    if is_signs_table(head.lstrip(b" \t\r\n")):
        return "signs"
    from standmap.formats.notes_csv import is_time_notes

    return "notes" if is_time_notes(head.lstrip(b" \t\r\n")) else "csv"


def _is_ghcn(first: bytes) -> bool:
    from standmap.formats.ghcn import is_access, is_by_year, is_dly

    return is_dly(first) or is_by_year(first) or is_access(first)


def _is_nmea(path: Path, head: bytes) -> bool:
    from standmap.formats.nmea import HEAD_BYTES, is_nmea

    if b"$" in head and is_nmea(head):
        return True
    if b"\0" not in head:
        return False
    with path.open("rb") as file:  # a log may begin with binary messages
        return is_nmea(file.read(HEAD_BYTES))
