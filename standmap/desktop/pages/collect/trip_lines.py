"""What the map needs to know of a walk, planned here or given out: courses, stops, and where cans are emptied."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.jobs.given_walk import GivenWalk
from standmap.jobs.planned_round import PlannedRound
from standmap.stand.tree import LonLat

AnyWalk = PlannedRound | GivenWalk


@dataclass(frozen=True, slots=True)
class TripLine:
    """One trip.

    Attributes
    ----------
    orders, tree_keys
        Of its stops, in the order walked.
    emptied_at
        Where it ends; None where it ends as it began.
    """

    course: tuple[LonLat, ...]
    stops: tuple[LonLat, ...]
    orders: tuple[int, ...]
    tree_keys: tuple[str, ...]
    emptied_at: LonLat | None = None


def trip_lines(walk: AnyWalk) -> tuple[TripLine, ...]:
    """Return the trips of a walk."""
    if isinstance(walk, GivenWalk):
        return tuple(
            TripLine(
                trip.course,
                tuple(stop.at for stop in trip.stops),
                tuple(stop.order for stop in trip.stops),
                tuple(stop.tree_key for stop in trip.stops),
                _elsewhere(trip.course),
            )
            for trip in walk.trips
        )
    return tuple(
        TripLine(
            trip.course,
            tuple(stop.tree.at for stop in trip.stops),
            tuple(stop.order for stop in trip.stops),
            tuple(stop.tree.key for stop in trip.stops),
            trip.end.at if trip.end is not None and trip.end != trip.start else None,
        )
        for trip in walk.trips
    )


def _elsewhere(course: tuple[LonLat, ...]) -> LonLat | None:
    return course[-1] if course and course[0] != course[-1] else None
