"""Handing a stand on in open formats."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.jobs.weather_stations import kept_stations
from standmap.jobs.writing_files import write_files
from standmap.stand.snapshot import Stand

FILES = {
    "geojson": "stand.geojson",
    "csv": "trees.csv",
    "records": "records.csv",
    "gpx": "stand.gpx",
    "weather": "weather.csv",
    "signs": "signs.csv",
}
"""What can be written, and the file it goes to."""


def export(stand: Stand, folder: Path, *, what: Sequence[str] = (), replace: bool = False) -> tuple[Path, ...]:
    """Write the stand's files into a folder, all of them or none.

    Parameters
    ----------
    what
        Keys of `FILES`; when empty all of which the stand holds something.
    replace
        Whether files that are there already may be written over.

    Raises
    ------
    UserError
        If a file is there already, cannot be written, or `what` names something unknown.
    NothingToDo
        If the stand holds nothing yet.
    """
    from standmap.formats import csv_writing, geojson_writing, gpx_writing, records_csv, signs_csv, weather_writing

    writers = {
        "geojson": geojson_writing.write_trees_geojson,
        "csv": csv_writing.write_trees_csv,
        "records": records_csv.write_records_csv,
        "gpx": gpx_writing.write_gpx,
        "weather": lambda held: weather_writing.write_weather_csv(held, kept_stations(held.settings)),
        "signs": signs_csv.write_signs_csv,
    }
    unknown = [w for w in what if w not in FILES]
    if unknown:
        raise UserError(f"'{unknown[0]}' cannot be written", f"choose from {', '.join(FILES)}")
    if not (stand.present or stand.places or stand.lines or stand.areas or stand.weather or stand.signs):
        raise NothingToDo("the stand holds nothing yet: bring something in first")
    empty = {kind for kind, rows in (("weather", stand.weather), ("signs", stand.signs)) if not rows}
    if len(what) == 1 and what[0] in empty:
        raise NothingToDo(f"the stand holds no {what[0]} yet")
    contents = {FILES[kind]: writers[kind](stand) for kind in (what or FILES) if kind not in empty}
    return write_files(folder, contents, replace=replace)
