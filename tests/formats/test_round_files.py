from __future__ import annotations

import csv
import io
import json
from datetime import date
from xml.etree import ElementTree as ET

import pytest

from standmap.formats.round_files import HEADER, StopRow, TripLine, WalkFile, walk_csv, walk_geojson, walk_gpx

GATE = (29.0, 62.0)
A = (29.001, 62.0)
B = (29.002, 62.001)
BEND = (29.0015, 62.0005)


def stop(order: int, tree: str, at: tuple[float, float]) -> StopRow:
    return StopRow(order, tree, f"id-{tree}", at, 3.1, 3.1 * order, 52.5, 87.25, 1.5)


@pytest.fixture
def walk() -> WalkFile:
    return WalkFile(
        "Round",
        date(2025, 4, 2),
        (
            TripLine(
                1,
                1,
                (GATE, A, BEND, B, BEND, GATE),
                (stop(1, "A", A), stop(2, "=B", B), stop(3, "=B", B), stop(4, "C", BEND)),
            ),
            TripLine(2, 1, (GATE, A, GATE), (stop(1, "A", A),)),
        ),
    )


def test_gpx_has_a_route_a_trip_and_a_waypoint_a_stop(walk: WalkFile) -> None:
    gpx = {"": "http://www.topografix.com/GPX/1/1"}
    root = ET.fromstring(walk_gpx(walk))  # noqa: S314 - our own bytes
    assert [point.findtext("name", namespaces=gpx) for point in root.findall("wpt", gpx)] == ["A", "=B", "=B", "C", "A"]
    routes = root.findall("rte", gpx)
    assert [route.findtext("name", namespaces=gpx) for route in routes] == ["Round, trip 1", "Round, trip 2"]
    points = routes[0].findall("rtept", gpx)
    assert [(float(p.attrib["lon"]), float(p.attrib["lat"])) for p in points] == [GATE, A, BEND, B, BEND, GATE]
    assert [p.findtext("name", namespaces=gpx) for p in points] == [None, "A", None, "=B", "C", None]


def test_geojson_has_a_line_a_trip_and_a_point_a_stop(walk: WalkFile) -> None:
    features = json.loads(walk_geojson(walk))["features"]
    assert [f["geometry"]["type"] for f in features] == ["LineString", *["Point"] * 4, "LineString", "Point"]
    assert features[0]["geometry"]["coordinates"] == [list(p) for p in (GATE, A, BEND, B, BEND, GATE)]
    assert features[2]["properties"] == {
        "kind": "stop",
        "title": "Round",
        "date": "2025-04-02",
        "trip": 1,
        "collector": 1,
        "order": 2,
        "tree": "=B",
        "id": "id-=B",
        "litres": 3.1,
        "load_kg": 6.2,
        "leg_m": 52.5,
        "bearing_true_deg": 87.25,
        "minutes": 1.5,
    }


def test_csv_has_a_row_a_stop(walk: WalkFile) -> None:
    rows = list(csv.DictReader(io.StringIO(walk_csv(walk).decode(), newline="")))
    assert tuple(rows[0]) == HEADER
    assert [(row["trip"], row["order"], row["tree"]) for row in rows] == [
        ("1", "1", "A"),
        ("1", "2", "'=B"),
        ("1", "3", "'=B"),
        ("1", "4", "C"),
        ("2", "1", "A"),
    ]
    assert (rows[1]["lon"], rows[1]["lat"], rows[1]["bearing_true_deg"]) == ("29.002", "62.001", "87.25")


def test_a_trip_that_goes_nowhere_has_no_line() -> None:
    walk = WalkFile("Round", date(2025, 4, 2), (TripLine(1, 1, (GATE,), (stop(1, "A", GATE),)),))
    assert [f["geometry"]["type"] for f in json.loads(walk_geojson(walk))["features"]] == ["Point"]


def test_a_walk_without_trips_is_written() -> None:
    walk = WalkFile("Round", date(2025, 4, 2), ())
    assert json.loads(walk_geojson(walk)) == {"type": "FeatureCollection", "features": []}
    assert walk_csv(walk) == (",".join(HEADER) + "\r\n").encode()
    assert b"<rte>" not in walk_gpx(walk)
