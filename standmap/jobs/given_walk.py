"""A walk as it was given out, on paper or a phone, kept so that what comes home can be held against it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from standmap.errors import UserError
from standmap.jobs.keys import new_key
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.stand.records import PlannedWalk
from standmap.stand.tree import LonLat
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class GivenStop:
    """One stop as it was given out.

    Attributes
    ----------
    key
        Of the stop in its walk: see `RoundStop.key`.
    hole_key
        None for a hole that was yet to be made.
    minutes
        On arriving, since its collector set out.
    """

    key: str
    tree_key: str
    hole_key: str | None
    hole_number: int
    order: int
    litres: float
    high_l: float
    minutes: float
    at: LonLat


@dataclass(frozen=True, slots=True)
class GivenTrip:
    """One trip as it was given out."""

    number: int
    collector: int
    length_m: float
    minutes: float
    course: tuple[LonLat, ...]
    stops: tuple[GivenStop, ...]


@dataclass(frozen=True, slots=True)
class GivenWalk:
    """A whole walk as it was given out."""

    key: str
    day: date
    purpose: Purpose
    made_at: datetime
    sets_out: datetime | None
    length_m: float
    minutes: float
    trips: tuple[GivenTrip, ...]

    @property
    def stops(self) -> tuple[GivenStop, ...]:
        """All stops, trip by trip."""
        return tuple(stop for trip in self.trips for stop in trip.stops)


def given_walk(planned: PlannedRound, now: datetime, key: str | None = None) -> GivenWalk:
    """Return a planned walk as it is given out now, under a fresh key where none is named.

    Numbers are kept to the millimetre, the millilitre and a thousandth of a minute.
    """
    return GivenWalk(
        key=key or new_key(),
        day=planned.day,
        purpose=planned.purpose,
        made_at=now,
        sets_out=planned.sets_out,
        length_m=round(planned.length_m, 3),
        minutes=round(planned.minutes, 3),
        trips=tuple(
            GivenTrip(
                trip.number,
                trip.collector,
                round(trip.length_m, 3),
                round(trip.minutes, 3),
                trip.course,
                tuple(
                    GivenStop(
                        key=stop.key,
                        tree_key=stop.tree.key,
                        hole_key=None if stop.hole is None else stop.hole.key,
                        hole_number=stop.hole_number,
                        order=stop.order,
                        litres=round(stop.litres, 3),
                        high_l=round(stop.high_l, 3),
                        minutes=round(stop.minutes, 3),
                        at=stop.tree.at,
                    )
                    for stop in trip.stops
                ),
            )
            for trip in planned.trips
        ),
    )


def give_out(file: StandFile, given: GivenWalk) -> GivenWalk:
    """Keep a walk in the stand, as one step.

    Returns
    -------
    GivenWalk
        The walk as it is kept: one that was given out before, stop by stop the same, is not kept twice.

    Raises
    ------
    UserError
        If the stand may not be written.
    """
    content = _content(given)
    for row in file.rows(PlannedWalk):
        if (row.day, row.purpose, row.content) == (given.day, given.purpose.value, content):
            return _read(row)
    with file.writing(f"walk of {given.day.isoformat()} given out ({given.purpose})", given.made_at) as writing:
        writing.insert(PlannedWalk(given.key, given.day, given.purpose.value, given.made_at, content))
    return given


def walks_given_out(file: StandFile, day: date | None = None) -> tuple[GivenWalk, ...]:
    """Return the walks that were given out, of one day where it is named, the newest first."""
    rows = [row for row in file.rows(PlannedWalk) if day is None or row.day == day]
    return tuple(_read(row) for row in sorted(rows, key=lambda row: row.made_at, reverse=True))


def _content(given: GivenWalk) -> str:
    """Return what is kept of a walk beside its own columns."""
    trips = [
        {
            "number": trip.number,
            "collector": trip.collector,
            "length_m": trip.length_m,
            "minutes": trip.minutes,
            "course": [list(at) for at in trip.course],
            "stops": [
                {
                    "key": stop.key,
                    "tree": stop.tree_key,
                    "hole": stop.hole_key,
                    "hole_number": stop.hole_number,
                    "order": stop.order,
                    "litres": stop.litres,
                    "high_l": stop.high_l,
                    "minutes": stop.minutes,
                    "at": list(stop.at),
                }
                for stop in trip.stops
            ],
        }
        for trip in given.trips
    ]
    whole = {
        "sets_out": None if given.sets_out is None else given.sets_out.isoformat(),
        "length_m": given.length_m,
        "minutes": given.minutes,
        "trips": trips,
    }
    return json.dumps(whole, ensure_ascii=False, separators=(",", ":"))


def _read(row: PlannedWalk) -> GivenWalk:
    try:
        held = json.loads(row.content)
        return GivenWalk(
            key=row.key,
            day=row.day,
            purpose=Purpose(row.purpose),
            made_at=row.made_at,
            sets_out=None if held["sets_out"] is None else datetime.fromisoformat(held["sets_out"]),
            length_m=held["length_m"],
            minutes=held["minutes"],
            trips=tuple(_trip(trip) for trip in held["trips"]),
        )
    except (ValueError, KeyError, TypeError) as error:
        raise UserError(
            f"the walk kept of {row.day.isoformat()} cannot be read ({type(error).__name__})",
            "plan the day again and give it out anew",
        ) from None


def _trip(held: Mapping[str, Any]) -> GivenTrip:
    stops = tuple(
        GivenStop(
            key=stop["key"],
            tree_key=stop["tree"],
            hole_key=stop["hole"],
            hole_number=stop["hole_number"],
            order=stop["order"],
            litres=stop["litres"],
            high_l=stop["high_l"],
            minutes=stop["minutes"],
            at=(stop["at"][0], stop["at"][1]),
        )
        for stop in held["stops"]
    )
    course = tuple((at[0], at[1]) for at in held["course"])
    return GivenTrip(held["number"], held["collector"], held["length_m"], held["minutes"], course, stops)
