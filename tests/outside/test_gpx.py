"""Our GPX against facts of the GPX 1.1 schema (TopoGrafix 2004), and our reader against gpxpy."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

import gpxpy
import pytest

from standmap.formats.door import read
from standmap.formats.gpx_writing import write_gpx
from standmap.formats.round_files import StopRow, TripLine, WalkFile, walk_gpx
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Tree

NAMESPACE = "http://www.topografix.com/GPX/1/1"
IN_GPX = ["metadata", "wpt", "rte", "trk", "extensions"]
IN_POINT = ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat"]
IN_POINT += ["hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"]
IN_ROUTE = ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"]
IN_METADATA = ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"]
XSD_DECIMAL = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")

DATA = sorted((Path(__file__).parents[1] / "data" / "gpx").glob("*.gpx"))


def stand_bytes() -> bytes:
    return write_gpx(
        Stand(
            trees=(
                Tree("k1", "A <1> & \x0b", (29.763_600_000_000_1, 62.601), "Betula pendula", note="two\nlines"),
                Tree("k2", "dateline", (180.0, -1e-7)),
                Tree("k3", "other side", (-180.0, 89.999_999_999)),
            ),
            measurements=(Measurement("m1", "k1", date(2025, 3, 1), 718.0, None, "71.8", "cm"),),
            places=(Place("p1", "gate", PlaceKind.GATE, (29.7, 62.6), "locked"),),
        )
    )


def walk_bytes() -> bytes:
    stops = (StopRow(1, "A", "k1", (29.1, 62.1), 3.0, 3.0, 10.0, 45.0, 1.0),)
    course = ((29.0, 62.0), (29.1, 62.1), (29.0, 62.0))
    return walk_gpx(WalkFile("Round", date(2025, 4, 2), (TripLine(1, 1, course, stops), TripLine(2, 2, course, ()))))


WRITTEN = [pytest.param(stand_bytes(), id="stand"), pytest.param(walk_bytes(), id="walk")]


def names(element: ET.Element) -> list[str]:
    found = [child.tag.split("}") for child in element]
    assert all(parts[0] == "{" + NAMESPACE for parts in found)
    return [parts[1] for parts in found]


def assert_ordered(found: list[str], order: list[str], repeated: set[str]) -> None:
    assert found == sorted(found, key=order.index)
    for name in found:
        assert name in repeated or found.count(name) == 1


@pytest.mark.parametrize("content", WRITTEN)
def test_elements_and_attributes_are_those_of_the_schema_in_its_order(content: bytes) -> None:
    root = ET.fromstring(content)  # noqa: S314 - our own bytes
    assert root.tag == f"{{{NAMESPACE}}}gpx"
    assert root.attrib["version"] == "1.1"
    assert root.attrib["creator"]
    assert_ordered(names(root), IN_GPX, {"wpt", "rte", "trk"})
    for metadata in root.iter(f"{{{NAMESPACE}}}metadata"):
        assert_ordered(names(metadata), IN_METADATA, {"link"})
    for route in root.iter(f"{{{NAMESPACE}}}rte"):
        assert_ordered(names(route), IN_ROUTE, {"link", "rtept"})
    points = [*root.iter(f"{{{NAMESPACE}}}wpt"), *root.iter(f"{{{NAMESPACE}}}rtept")]
    assert points
    for point in points:
        assert_ordered(names(point), IN_POINT, {"link"})
        assert set(point.attrib) == {"lat", "lon"}
        assert all(XSD_DECIMAL.fullmatch(text) for text in point.attrib.values())
        assert -90 <= float(point.attrib["lat"]) <= 90
        assert -180 <= float(point.attrib["lon"]) < 180


@pytest.mark.parametrize("content", WRITTEN)
def test_the_file_says_its_encoding_and_keeps_to_it(content: bytes) -> None:
    assert content.startswith(b"<?xml version='1.0' encoding='UTF-8'?>")
    content.decode("utf-8")


def test_a_second_reader_finds_the_same_in_our_stand() -> None:
    theirs = gpxpy.parse(stand_bytes().decode())
    assert [(w.name, w.longitude, w.latitude, w.type) for w in theirs.waypoints] == [
        ("A <1> & \ufffd", 29.763_600_000_000_1, 62.601, "tree"),
        ("dateline", -180.0, -1e-7, "tree"),
        ("other side", -180.0, 89.999_999_999, "tree"),
        ("gate", 29.7, 62.6, "gate"),
    ]
    assert theirs.waypoints[0].description == "two\nlines"
    assert theirs.waypoints[0].comment == "Betula pendula; girth 71.8 cm on 2025-03-01"


def test_a_second_reader_finds_the_same_in_our_walk() -> None:
    theirs = gpxpy.parse(walk_bytes().decode())
    assert [[(p.longitude, p.latitude, p.name) for p in route.points] for route in theirs.routes] == [
        [(29.0, 62.0, None), (29.1, 62.1, "A"), (29.0, 62.0, None)],
        [(29.0, 62.0, None), (29.1, 62.1, None), (29.0, 62.0, None)],
    ]
    assert len(theirs.waypoints) == 1


@pytest.mark.parametrize(
    "path", [path for path in DATA if path.stem != "derived-truncated"], ids=lambda path: path.stem
)
def test_a_second_reader_counts_the_same(path: Path) -> None:
    theirs = gpxpy.parse(path.read_text(encoding="utf-8-sig"))
    ours = read(path)
    assert len(ours.trees) + len(ours.places) == len(theirs.waypoints)
    assert ours.read == len(theirs.waypoints) + len(theirs.routes) + len(theirs.tracks)
    usable = [track for track in theirs.tracks if track.get_points_no() >= 2]
    assert len(ours.walks) == len(usable)
    for walk, track in zip(ours.walks, usable, strict=True):
        points = [point for segment in track.segments for point in segment.points]
        assert walk.fixes.lon.tolist() == [point.longitude for point in points]
        assert walk.fixes.lat.tolist() == [point.latitude for point in points]
        assert walk.fixes.timed == all(point.time is not None for point in points)
        times = [point.time.timestamp() for point in points if point.time is not None]
        assert walk.fixes.time_s[: len(times)].tolist() == pytest.approx(times, abs=1e-6)
        filled = [segment for segment in track.segments if segment.points]
        assert len(set(walk.fixes.segment.tolist())) == len(filled)


@pytest.mark.parametrize(
    ("name", "waypoints", "tracks", "points"),
    [  # as counted with gpxpy, see data/gpx/README.md
        ("cerknicko-jezero", 7, 8, 296),
        ("north_core", 0, 10, 34),
        ("run", 0, 1, 206),
        ("wpt", 40, 0, 0),
    ],
)
def test_known_counts(name: str, waypoints: int, tracks: int, points: int) -> None:
    (path,) = [path for path in DATA if path.stem == name]
    found = read(path)
    assert (len(found.trees), found.read) == (waypoints, waypoints + tracks)
    assert sum(len(walk.fixes) for walk in found.walks) == points
