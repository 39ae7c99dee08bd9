"""Our GeoJSON against RFC 7946 (Butler et al. 2016), read by nothing but json."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from standmap.formats.door import read
from standmap.formats.geojson_writing import write_trees_geojson
from standmap.formats.round_files import StopRow, TripLine, WalkFile, walk_geojson
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind, Ring
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

OUTER: Ring = ((29.0, 62.0), (29.4, 62.0), (29.4, 62.4), (29.0, 62.4), (29.0, 62.0))
HOLE: Ring = ((29.1, 62.1), (29.2, 62.1), (29.2, 62.2), (29.1, 62.1))


def stand_bytes(outline: tuple[Ring, ...] = (OUTER, HOLE)) -> bytes:
    return write_trees_geojson(
        Stand(
            trees=(Tree("k1", "A", (29.763_600_000_000_1, 1e-7)), Tree("k2", "B 🌳", (-180.0, -90.0))),
            places=(Place("p1", "gate", PlaceKind.GATE, (29.7, 62.6)),),
            lines=(Line("l1", "path", LineKind.PATH, ((29.0, 62.0), (29.1, 62.1))),),
            areas=(Area("a1", "lot", AreaKind.PERMITTED, outline),),
        )
    )


def walk_bytes() -> bytes:
    stops = (StopRow(1, "A", "k1", (29.1, 62.1), 3.0, 3.0, 10.0, 45.0, 1.0),)
    return walk_geojson(WalkFile("R", date(2025, 4, 2), (TripLine(1, 1, ((29.0, 62.0), (29.1, 62.1)), stops),)))


WRITTEN = [pytest.param(stand_bytes(), id="stand"), pytest.param(walk_bytes(), id="walk")]


def strict(content: bytes) -> Any:
    def no_constant(text: str) -> Any:
        raise AssertionError(text)

    def no_double(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len(dict(pairs)) == len(pairs)
        return dict(pairs)

    return json.loads(content.decode("utf-8"), parse_constant=no_constant, object_pairs_hook=no_double)


def positions(coordinates: Any) -> Iterator[list[float]]:
    if isinstance(coordinates[0], list):
        for inner in coordinates:
            yield from positions(inner)
    else:
        yield coordinates


def signed_area(ring: list[list[float]]) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) / 2


@pytest.mark.parametrize("content", WRITTEN)
def test_the_document_is_a_feature_collection(content: bytes) -> None:
    document = strict(content)
    assert set(document) == {"type", "features"}  # section 4: no crs
    assert document["type"] == "FeatureCollection"
    for feature in document["features"]:
        assert feature["type"] == "Feature"
        assert {"type", "geometry", "properties"} <= set(feature) <= {"type", "geometry", "properties", "id", "bbox"}
        assert isinstance(feature["properties"], dict)
        assert isinstance(feature.get("id", ""), str)
        assert set(feature["geometry"]) == {"type", "coordinates"}


@pytest.mark.parametrize("content", WRITTEN)
def test_positions_are_longitude_then_latitude(content: bytes) -> None:
    for feature in strict(content)["features"]:
        for position in positions(feature["geometry"]["coordinates"]):
            assert len(position) == 2  # section 3.1.1
            assert -180 <= position[0] <= 180
            assert -90 <= position[1] <= 90
    assert strict(stand_bytes())["features"][0]["geometry"]["coordinates"] == [29.763_600_000_000_1, 1e-7]


@pytest.mark.parametrize(
    "outline", [(OUTER, HOLE), (OUTER[::-1], HOLE[::-1]), (OUTER, HOLE[::-1]), (OUTER[::-1], HOLE)]
)
def test_rings_are_closed_and_wound_by_the_right_hand_rule(outline: tuple[Ring, ...]) -> None:
    (area,) = [f for f in strict(stand_bytes(outline))["features"] if f["geometry"]["type"] == "Polygon"]
    outer, hole = area["geometry"]["coordinates"]
    for ring, source in ((outer, OUTER), (hole, HOLE)):  # section 3.1.6
        assert len(ring) >= 4
        assert ring[0] == ring[-1]
        assert sorted(map(tuple, ring)) == sorted(source)
    assert signed_area(outer) > 0
    assert signed_area(hole) < 0


def test_a_line_has_two_positions_or_more() -> None:
    lines = [
        feature["geometry"]["coordinates"]
        for content in (stand_bytes(), walk_bytes())
        for feature in strict(content)["features"]
        if feature["geometry"]["type"] == "LineString"
    ]
    assert len(lines) == 2
    assert all(len(line) >= 2 for line in lines)  # section 3.1.4


def test_the_examples_of_the_antimeridian_are_read(tmp_path: Path) -> None:
    # Section 3.1.9: a line from 45 N, 170 E to 45 N, 170 W cut at 180 degrees; section 5.2: Fiji's bbox, west > east.
    document = {
        "type": "FeatureCollection",
        "bbox": [177.0, -20.0, -178.0, -16.0],
        "features": [
            {
                "type": "Feature",
                "geometry": {
                    "type": "MultiLineString",
                    "coordinates": [[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]],
                },
                "properties": {"kind": "path"},
            }
        ],
    }
    path = tmp_path / "cut.geojson"
    path.write_text(json.dumps(document))
    assert [line.course for line in read(path).lines] == [
        ((170.0, 45.0), (180.0, 45.0)),
        ((-180.0, 45.0), (-170.0, 45.0)),
    ]
