"""A planned walk as files for the woods: GPX to follow, GeoJSON to look at, CSV to print."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from standmap.formats.csv_writing import number
from standmap.formats.delimited import guarded, to_bytes
from standmap.formats.geojson_writing import collection_of, feature_of
from standmap.formats.gpx_writing import add, add_point, document
from standmap.formats.gpx_writing import to_bytes as gpx_bytes
from standmap.stand.tree import LonLat

HEADER = (
    "trip",
    "collector",
    "order",
    "tree",
    "id",
    "lon",
    "lat",
    "litres",
    "load_kg",
    "leg_m",
    "bearing_true_deg",
    "minutes",
)


@dataclass(frozen=True, slots=True)
class StopRow:
    """One tree to stop at.

    Attributes
    ----------
    order
        Place in the round, from 1.
    litres
        Sap expected here.
    load_kg
        What is carried on from here.
    leg_m, bearing_true_deg
        The way to here from the stop before: metres, and the true bearing on which it sets off, degrees.
    minutes
        On arriving here, since this collector first set out.
    """

    order: int
    tree: str
    id: str
    at: LonLat
    litres: float
    load_kg: float
    leg_m: float
    bearing_true_deg: float
    minutes: float


@dataclass(frozen=True, slots=True)
class TripLine:
    """One way out and back.

    Attributes
    ----------
    course
        Every position of the way in order, the way back included.
    """

    number: int
    collector: int | str
    course: tuple[LonLat, ...]
    stops: tuple[StopRow, ...]


@dataclass(frozen=True, slots=True)
class WalkFile:
    """All trips of one day."""

    title: str
    day: date
    trips: tuple[TripLine, ...]


def walk_gpx(walk: WalkFile) -> bytes:
    """Return a walk as GPX 1.1: a waypoint a stop, then a route a trip with a point at every position of its course."""
    root = document()
    metadata = add(root, "metadata")
    add(metadata, "name", f"{walk.title}, {walk.day.isoformat()}")
    for trip in walk.trips:
        for stop in trip.stops:
            add_point(root, "wpt", stop.at, name=stop.tree, desc=_described(trip, stop), type="tree")
    for trip in walk.trips:
        route = add(root, "rte")
        add(route, "name", f"{walk.title}, trip {trip.number}")
        add(route, "desc", f"{walk.day.isoformat()}, collector {trip.collector}")
        for position, names in _named_course(trip):
            add_point(route, "rtept", position, name=names)
    return gpx_bytes(root)


def _described(trip: TripLine, stop: StopRow) -> str:
    return (
        f"trip {trip.number}, stop {stop.order}: {stop.litres:.1f} L, then {stop.load_kg:.1f} kg; "
        f"{stop.leg_m:.0f} m at {stop.bearing_true_deg:.0f}° true to get here"
    )


def _named_course(trip: TripLine) -> list[tuple[LonLat, str]]:
    """Return each position of the course with the trees whose stops are there, in the order of the stops."""
    waiting = list(trip.stops)
    named: list[tuple[LonLat, str]] = []
    for position in trip.course:
        names: list[str] = []
        while waiting and waiting[0].at == position:
            tree = waiting.pop(0).tree
            if tree not in names:
                names.append(tree)
        named.append((position, ", ".join(names)))
    return named


def walk_geojson(walk: WalkFile) -> bytes:
    """Return a walk as GeoJSON: for each trip its line, where it has one, and a point a stop."""
    features: list[dict[str, Any]] = []
    for trip in walk.trips:
        common = {"title": walk.title, "date": walk.day, "trip": trip.number, "collector": trip.collector}
        if len(trip.course) > 1:
            course = [list(position) for position in trip.course]
            features.append(feature_of("LineString", course, {"kind": "trip", **common}, None))
        for stop in trip.stops:
            facts = {
                "order": stop.order,
                "tree": stop.tree,
                "id": stop.id,
                "litres": stop.litres,
                "load_kg": stop.load_kg,
                "leg_m": stop.leg_m,
                "bearing_true_deg": stop.bearing_true_deg,
                "minutes": stop.minutes,
            }
            features.append(feature_of("Point", list(stop.at), {"kind": "stop", **common, **facts}, None))
    return collection_of(features)


def walk_csv(walk: WalkFile) -> bytes:
    """Return a walk as RFC 4180 text, one row a stop."""
    return to_bytes(
        HEADER,
        [
            [
                str(trip.number),
                guarded(str(trip.collector)),
                str(stop.order),
                guarded(stop.tree),
                guarded(stop.id),
                *map(number, stop.at),
                *map(number, (stop.litres, stop.load_kg, stop.leg_m, stop.bearing_true_deg, stop.minutes)),
            ]
            for trip in walk.trips
            for stop in trip.stops
        ],
    )
