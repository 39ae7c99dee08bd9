"""What can be said of a spring on one of its days: where the season stands, and when it begins and ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Phase(StrEnum):
    """Where the season stands on a day."""

    UNKNOWN = "not known"
    TOO_EARLY = "too early"
    SOON = "soon"
    RUNNING = "running"
    LAST_DAYS = "last days"
    OVER = "over"


class Sign(StrEnum):
    """What the stand showed on a day."""

    FIRST_SAP = "first sap"
    BUDS_OPENING = "buds opening"
    LEAF_OUT = "leaf-out"
    LAST_SAP = "last sap"


@dataclass(frozen=True, slots=True)
class DaySpread:
    """A day that is not known for sure: in one year of twenty it is before `early`, in one of twenty after `late`."""

    early: date
    likely: date
    late: date


@dataclass(frozen=True, slots=True)
class ModelTold:
    """What one model says of leaf-out.

    Attributes
    ----------
    title, about
        A short name, and how it reckons, in words.
    source
        Where its form and its numbers come from; what is assumed says so.
    leaf_out
        None where the weather does not allow an answer.
    own_years
        So many leaf-out dates of the stand it was fitted to; with fewer than three it keeps its defaults.
    error_days
        Root mean square error over those years, each told from the others; None with fewer than three.
    mean_error_days
        The same of simply taking the mean date of the other years.
    reached, wanted
        Warmth so far and warmth at leaf-out, degree days.
    """

    title: str
    about: str
    source: str
    leaf_out: DaySpread | None
    own_years: int
    error_days: float | None
    mean_error_days: float | None
    reached: float
    wanted: float


@dataclass(frozen=True, slots=True)
class Advised:
    """A first or a last advisable day, what it rests on, and who says so."""

    days: DaySpread
    why: str
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class YearCourse:
    """The warmth of one year, to be drawn beside others.

    Attributes
    ----------
    days
        Day of the season for each value, counted from the day on which the sums begin, shape (n,).
    sums
        Degree days by the plain model, shape (n,).
    known_until
        Values up to this index rest on weather of the year itself; later ones on that of other years.
    signs
        What was seen, by day of the season.
    """

    year: int
    days: FloatArray
    sums: FloatArray
    known_until: int
    signs: tuple[tuple[Sign, float], ...]


@dataclass(frozen=True, slots=True)
class SeasonAnswer:
    """All that is said of one season.

    Attributes
    ----------
    day
        The day asked about.
    season
        Its year.
    begins_on
        The day from which warmth is summed: 1 January, in the south 1 July.
    station, station_km
        Whose weather it is, and how far away it was taken; None where its position is not known.
    weather_until
        The newest day with weather; None without any.
    first, last
        The first advisable day to tap and the last one; None where nothing can be said.
    years
        This year and earlier ones, newest first.
    missing_days
        Days of this season until `weather_until` without a temperature; they are filled and told.
    notes, cautions
        In plain words.
    """

    day: date
    season: int
    begins_on: date
    station: str
    station_km: float | None
    weather_until: date | None
    missing_days: int
    phase: Phase
    phase_why: str
    models: tuple[ModelTold, ...]
    leaf_out_seen: date | None
    first: Advised | None
    last: Advised | None
    years: tuple[YearCourse, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
