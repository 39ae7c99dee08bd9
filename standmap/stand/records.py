"""What stands beside the trees: where data came from, pictures, weather, and what is planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

RECORDS_FORMAT = "records"
"""Format of a source that was written down by `record`, and not brought in."""


@dataclass(frozen=True, slots=True)
class Source:
    """A file that was brought in: its hash tells whether it comes again.

    Attributes
    ----------
    skipped
        How many of its features could not be used; such a file is read again when it comes again.
    """

    key: str
    file_name: str
    sha256: str
    format: str
    size_bytes: int
    read_at: datetime
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class Media:
    """A small picture or other file kept with a tree."""

    key: str
    tree_key: str | None
    file_name: str
    media_type: str
    content: bytes
    taken_at: datetime | None = None
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Weather:
    """One day's weather at the stand, or at a station near it."""

    key: str
    day: date
    least_c: float | None
    mean_c: float | None
    most_c: float | None
    rain_mm: float | None = None
    wind_m_s: float | None = None
    source_key: str | None = None
    station: str = ""


def day_mean_c(least_c: float | None, mean_c: float | None, most_c: float | None) -> float | None:
    """Return a day's mean: as told, else the middle of its least and its greatest; None where neither is known."""
    if mean_c is not None or least_c is None or most_c is None:
        return mean_c
    return (least_c + most_c) / 2


@dataclass(frozen=True, slots=True)
class SeasonSign:
    """A day on which the stand showed where the season is: first sap, buds opening, leaf-out."""

    key: str
    what: str
    seen_on: date
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class PlannedWalk:
    """A walk as it was given out on paper or a phone, to be held against what came home.

    Attributes
    ----------
    content
        JSON: the stops in their order with what was expected of each.
    """

    key: str
    day: date
    purpose: str
    made_at: datetime
    content: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Terrain:
    """Heights of the ground on a regular grid in the stand's working frame.

    Attributes
    ----------
    east_m, north_m
        The middle of the south-western cell.
    heights
        Little-endian 32-bit floats, metres, row by row from the south; NaN where nothing is known.
    """

    key: str
    east_m: float
    north_m: float
    cell_m: float
    row_count: int
    column_count: int
    heights: bytes
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """A tree marked for a season."""

    key: str
    tree_key: str
    season: int
    holes: int = 1
    note: str = ""
