"""A stand held against the GeoPackage standard, by plain sqlite3 and by GDAL, never by our own reader.

Source of the facts: OGC 12-128r19, GeoPackage 1.4.0 (requirements by number) and, for the trigger names of 1.3.0, the
file that GDAL's own writer makes for VERSION=1.3. GDAL is Debian's gdal-bin.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import struct
import subprocess
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
FEATURES = {
    "tree": "POINT",
    "place": "POINT",
    "line": "LINESTRING",
    "area": "POLYGON",
    "walk": "LINESTRING",
    "stop": "POINT",
    "taken_position": "POINT",
}
ATTRIBUTES = {
    "measurement",
    "sight",
    "tap_hole",
    "collection",
    "batch",
    "observation",
    "source",
    "media",
    "weather",
    "plan",
    "event",
    "setting",
}


@pytest.fixture
def path(stand_file: StandFile, stand_path: Path) -> Path:
    ring = ((24.9, 60.1), (25.0, 60.1), (25.0, 60.2), (24.9, 60.1))
    with stand_file.writing("plant", NOW) as writing:
        writing.insert(
            Tree("1", "B1 'ä' 🌳", (24.9384, 60.1699), "Betula pendula"),
            Tree("2", "B2", (24.94, 60.17)),
            Place("p", "gate", PlaceKind.GATE, (24.93, 60.16)),
            Line("l", "brook", LineKind.STREAM, ((24.9, 60.1), (25.0, 60.2))),
            Area("a", "east", AreaKind.NO_GO, (ring,)),
            TapHole("h", "1", 1, Wound.HOLE, date(2026, 3, 20)),
        )
    stand_file.close()
    return stand_path


@pytest.fixture
def db(path: Path) -> Iterator[sqlite3.Connection]:
    db = sqlite3.connect(path)
    yield db
    db.close()


def test_application_id_user_version_and_integrity(db: sqlite3.Connection) -> None:
    """Req. 2 (0x47504B47; 10300 for 1.3.0), 6 and 7."""
    assert db.execute("PRAGMA application_id").fetchone() == (1196444487,)
    assert db.execute("PRAGMA user_version").fetchone() == (0x283C,)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_reference_systems(db: sqlite3.Connection) -> None:
    """Req. 10-12: 4326 of EPSG, and the two undefined ones; each one used is there."""
    rows = db.execute(
        "SELECT srs_id, organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys ORDER BY srs_id"
    ).fetchall()
    assert [r[:3] for r in rows] == [(-1, "NONE", -1), (0, "NONE", 0), (4326, "EPSG", 4326)]
    assert [r[3] for r in rows[:2]] == ["undefined", "undefined"]
    assert rows[2][3].startswith("GEOGCS[")


def test_contents_and_geometry_columns(db: sqlite3.Connection) -> None:
    """Req. 13-16, 18, 21-30, 146."""
    contents = db.execute("SELECT table_name, data_type, srs_id, last_change FROM gpkg_contents").fetchall()
    kinds = {r[0]: r[1] for r in contents}
    assert {n for n, k in kinds.items() if k == "features"} == set(FEATURES)
    assert {n for n, k in kinds.items() if k == "attributes"} >= ATTRIBUTES
    for name, kind, srs, changed in contents:
        assert srs == (4326 if kind == "features" else None)
        datetime.strptime(changed, "%Y-%m-%dT%H:%M:%S.%fZ")  # noqa: DTZ007 - the Z is matched as text
        columns = db.execute(f"PRAGMA table_info({name})").fetchall()
        assert [c[1:3] for c in columns if c[5]] == [("fid", "INTEGER")]
    rows = db.execute("SELECT table_name, column_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns")
    assert {r[0]: r[1:] for r in rows} == {t: ("geom", g, 4326, 0, 0) for t, g in FEATURES.items()}


def test_bounds_are_those_of_the_features(db: sqlite3.Connection) -> None:
    bounds = db.execute("SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'tree'").fetchone()
    # The index holds 32-bit floats, rounded outwards.
    assert bounds == pytest.approx((24.9384, 60.1699, 24.94, 60.17), abs=1e-5)


@pytest.mark.parametrize("table", FEATURES)
def test_spatial_index_and_its_triggers(db: sqlite3.Connection, table: str) -> None:
    """Req. 75-77: the extension row, the index table, and the triggers."""
    row = db.execute(
        "SELECT extension_name, scope FROM gpkg_extensions WHERE table_name = ? AND column_name = 'geom'", (table,)
    ).fetchall()
    assert row == [("gpkg_rtree_index", "write-only")]
    triggers = {
        r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,))
    }
    names = ("insert", "update1", "update2", "update3", "update4", "delete")
    assert triggers == {f"rtree_{table}_geom_{n}" for n in names}
    columns = [c[1] for c in db.execute(f"PRAGMA table_info(rtree_{table}_geom)")]
    assert columns == ["id", "minx", "maxx", "miny", "maxy"]


def test_geometry_blob_of_a_point(db: sqlite3.Connection) -> None:
    """Req. 19: the bytes of POINT(24.9384 60.1699), computed by struct and a WKB writer."""
    (blob,) = db.execute("SELECT geom FROM tree WHERE fid = 1").fetchone()
    assert blob.hex() == "47500001e6100000010100000000917efb3af0384092cb7f48bf154e40"


def test_geometry_blobs_hold_header_envelope_and_srs(db: sqlite3.Connection) -> None:
    for table in ("line", "area"):
        (blob,) = db.execute(f"SELECT geom FROM {table}").fetchone()
        magic, version, flags, srs, *box = struct.unpack_from("<2sBBi4d", blob)
        assert (magic, version, flags & 1, flags >> 1 & 7, srs) == (b"GP", 0, 1, 1, 4326)
        assert box == [24.9, 25.0, 60.1, 60.2]


# GDAL


def gdal(*command: str) -> str:
    """Run a GDAL program; anything on stderr, and any warning, is a failure."""
    assert shutil.which(command[0]), "GDAL's programs are wanted: apt-get install gdal-bin"
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stderr) == (0, "")
    assert "warning" not in done.stdout.casefold()
    return done.stdout


def test_gdal_opens_every_table_without_a_warning(path: Path) -> None:
    told = gdal("ogrinfo", "-al", "-so", str(path))
    for table in (*FEATURES, *ATTRIBUTES):
        assert f"Layer name: {table}\n" in told
    assert told.count('ID["EPSG",4326]') == len(FEATURES)


def test_gdal_reads_what_was_written(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "tree.geojson"
    gdal("ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", str(out), str(path), "tree")
    features = json.loads(out.read_text(encoding="utf-8"))["features"]
    assert [f["properties"]["name"] for f in features] == ["B1 'ä' 🌳", "B2"]
    assert features[0]["geometry"]["coordinates"] == [24.9384, 60.1699]


def test_gdal_edits_and_the_stand_reads_on(path: Path) -> None:
    """The triggers run in another program's connection, and what it wrote is read here."""
    sql = "UPDATE tree SET geom = (SELECT geom FROM place), note = 'moved in a GIS' WHERE key = '2'"
    gdal("ogrinfo", "-q", str(path), "-sql", sql)
    with StandFile.open(path) as file:
        tree = file.stand().by_key["2"]
        assert (tree.at, tree.note) == ((24.93, 60.16), "moved in a GIS")
    db = sqlite3.connect(path)
    box = db.execute("SELECT minx, maxy FROM rtree_tree_geom WHERE id = 2").fetchone()
    db.close()
    assert box == pytest.approx((24.93, 60.16), abs=1e-5)
