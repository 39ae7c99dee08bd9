"""The tables of a stand, as SQL, and how they are registered in the GeoPackage.

Our schema number stands in `standmap_schema`; SQLite's application_id and user_version belong to the standard.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

APPLICATION_ID = 0x47504B47  # "GPKG"
USER_VERSION = 10300  # GeoPackage 1.3.0
SCHEMA = 3
"""Number of the table layout below; raised together with a migration."""


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns after `fid` (and `geom` for a feature table) and what it is for."""

    name: str
    columns: str
    about: str
    geometry: str | None = None


_SOURCE = "source_key TEXT REFERENCES source(key) DEFERRABLE INITIALLY DEFERRED"


def _of(table: str, column: str = "", *, needed: bool = True) -> str:
    required = " NOT NULL" if needed else ""
    return f"{column or table + '_key'} TEXT{required} REFERENCES {table}(key) DEFERRABLE INITIALLY DEFERRED"


TABLES: tuple[Table, ...] = (
    Table(
        "tree",
        f"""key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, species TEXT, standing TEXT NOT NULL, standing_since DATE,
        {_of("tree", "merged_into", needed=False)}, soundness TEXT, rootstock TEXT, proposed BOOLEAN NOT NULL,
        tag_confirmed BOOLEAN NOT NULL, pinned BOOLEAN NOT NULL, var_e_m2 REAL, var_n_m2 REAL, cov_en_m2 REAL,
        {_of("walk", needed=False)}, note TEXT NOT NULL, {_SOURCE}""",
        "stems that can be told from their neighbours",
        "POINT",
    ),
    Table(
        "place",
        f"key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, kind TEXT NOT NULL, note TEXT NOT NULL, {_SOURCE}",
        "gates, tanks, landmarks, hazards and bridges",
        "POINT",
    ),
    Table(
        "line",
        f"key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, kind TEXT NOT NULL, note TEXT NOT NULL, {_SOURCE}",
        "paths, streams and fences",
        "LINESTRING",
    ),
    Table(
        "area",
        f"""key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, kind TEXT NOT NULL, owner TEXT NOT NULL, from_date DATE,
        until_date DATE, most_trees INTEGER, note TEXT NOT NULL, {_SOURCE}""",
        "where tapping is permitted and where it is not",
        "POLYGON",
    ),
    Table(
        "walk",
        f"""key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, fix_times BLOB NOT NULL, fix_sigmas BLOB NOT NULL,
        fix_elevations BLOB NOT NULL, fix_segments BLOB NOT NULL, note TEXT NOT NULL, {_SOURCE}""",
        "walks with a receiver; times (seconds since 1970 UTC), sigmas and elevations (metres) as little-endian"
        " doubles, segments as little-endian 32-bit numbers, one for each vertex",
        "LINESTRING",
    ),
    Table(
        "stop",
        f"""key TEXT NOT NULL UNIQUE, {_of("walk")}, from_at TEXT NOT NULL, to_at TEXT NOT NULL,
        fix_count INTEGER NOT NULL, var_e_m2 REAL NOT NULL, var_n_m2 REAL NOT NULL, cov_en_m2 REAL NOT NULL,
        {_of("tree", needed=False)}, state TEXT NOT NULL, shared_m2 REAL NOT NULL DEFAULT 0""",
        "where the walker stood still",
        "POINT",
    ),
    Table(
        "taken_position",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree", needed=False)}, {_of("place", needed=False)}, var_e_m2 REAL NOT NULL,
        var_n_m2 REAL NOT NULL, cov_en_m2 REAL NOT NULL, origin TEXT NOT NULL, taken_at TEXT,
        {_of("walk", needed=False)}, used BOOLEAN NOT NULL, note TEXT NOT NULL, {_SOURCE},
        CHECK ((tree_key IS NULL) <> (place_key IS NULL))""",
        "positions of trees and places as they were taken",
        "POINT",
    ),
    Table(
        "sight",
        f"""key TEXT NOT NULL UNIQUE, from_key TEXT NOT NULL, to_key TEXT NOT NULL, toward_key TEXT, bearing_deg REAL,
        back_bearing_deg REAL, north TEXT, declination_deg REAL, distance_m REAL, given TEXT NOT NULL,
        given_unit TEXT NOT NULL, slope_deg REAL NOT NULL, along_m REAL, offset_m REAL, sigma_deg REAL, sigma_m REAL,
        measured_on DATE, used BOOLEAN NOT NULL, written_at TEXT NOT NULL, note TEXT NOT NULL, {_SOURCE}""",
        "bearings, distances and offsets from one tree or place to another, as they were read",
    ),
    Table(
        "measurement",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree")}, measured_on DATE, girth_mm REAL, diameter_mm REAL,
        given TEXT NOT NULL, given_unit TEXT NOT NULL, at_height_mm REAL NOT NULL, note TEXT NOT NULL, {_SOURCE},
        CHECK ((girth_mm IS NULL) <> (diameter_mm IS NULL))""",
        "girths and diameters, as given and in millimetres",
    ),
    Table(
        "tap_hole",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree")}, number INTEGER NOT NULL, kind TEXT NOT NULL, made_on DATE NOT NULL,
        made_at TEXT, height_mm REAL, side_deg REAL, depth_mm REAL, bit_mm REAL, note TEXT NOT NULL, {_SOURCE}""",
        "holes and slits",
    ),
    Table(
        "collection",
        f"""key TEXT NOT NULL UNIQUE, {_of("tap_hole", "hole_key")}, collected_on DATE NOT NULL, collected_at TEXT,
        volume_ml REAL NOT NULL, given TEXT NOT NULL, given_unit TEXT NOT NULL, {_of("batch", needed=False)},
        note TEXT NOT NULL, {_SOURCE}, overflowed BOOLEAN NOT NULL DEFAULT 0, total_key TEXT""",
        "sap taken from a hole; those with one total_key are shares of what was measured together",
    ),
    Table(
        "batch",
        """key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, made_on DATE NOT NULL, purpose TEXT NOT NULL, volume_ml REAL,
        sugar_brix REAL, note TEXT NOT NULL, temperature_c REAL, fate TEXT NOT NULL DEFAULT '', fate_on DATE""",
        "sap brought together for one use, and what became of it",
    ),
    Table(
        "observation",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree")}, {_of("tap_hole", "hole_key", needed=False)}, what TEXT NOT NULL,
        observed_on DATE NOT NULL, observed_at TEXT, note TEXT NOT NULL, {_SOURCE}""",
        "what was done to, or seen at, a tree or a hole; corrections too",
    ),
    Table(
        "source",
        """key TEXT NOT NULL UNIQUE, file_name TEXT NOT NULL, sha256 TEXT NOT NULL, format TEXT NOT NULL,
        size_bytes INTEGER NOT NULL, read_at TEXT NOT NULL, skipped INTEGER NOT NULL""",
        "files that were brought in",
    ),
    Table(
        "media",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree", needed=False)}, file_name TEXT NOT NULL, media_type TEXT NOT NULL,
        content BLOB NOT NULL, taken_at TEXT, note TEXT NOT NULL, {_SOURCE}""",
        "pictures kept with a tree",
    ),
    Table(
        "weather",
        f"""key TEXT NOT NULL UNIQUE, day DATE NOT NULL, least_c REAL, mean_c REAL, most_c REAL, rain_mm REAL,
        wind_m_s REAL, {_SOURCE}, station TEXT NOT NULL DEFAULT ''""",
        "weather by day",
    ),
    Table(
        "season_sign",
        f"""key TEXT NOT NULL UNIQUE, what TEXT NOT NULL, seen_on DATE NOT NULL, note TEXT NOT NULL, {_SOURCE}""",
        "days on which the stand showed where the season is, such as leaf-out",
    ),
    Table(
        "planned_walk",
        """key TEXT NOT NULL UNIQUE, day DATE NOT NULL, purpose TEXT NOT NULL, made_at TEXT NOT NULL,
        content TEXT NOT NULL, note TEXT NOT NULL""",
        "walks as they were given out, as JSON, to be held against what came home",
    ),
    Table(
        "terrain",
        f"""key TEXT NOT NULL UNIQUE, east_m REAL NOT NULL, north_m REAL NOT NULL, cell_m REAL NOT NULL,
        row_count INTEGER NOT NULL, column_count INTEGER NOT NULL, heights BLOB NOT NULL,
        note TEXT NOT NULL, {_SOURCE}""",
        "heights of the ground in the working frame, metres, as little-endian floats, row by row from the south",
    ),
    Table(
        "plan",
        f"""key TEXT NOT NULL UNIQUE, {_of("tree")}, season INTEGER NOT NULL, holes INTEGER NOT NULL,
        note TEXT NOT NULL""",
        "trees marked for a season",
    ),
    Table("setting", "name TEXT NOT NULL UNIQUE, value TEXT NOT NULL", "settings of this stand, values as JSON"),
    Table(
        "event",
        """at TEXT NOT NULL, kind TEXT NOT NULL, label TEXT NOT NULL, group_name TEXT,
        undoes INTEGER REFERENCES event(fid), undone_by INTEGER REFERENCES event(fid), changes BLOB NOT NULL""",
        "every edit, with what is needed to take it back",
    ),
    Table("standmap_schema", "number INTEGER NOT NULL", "number of this table layout"),
)

TABLE = {t.name: t for t in TABLES}

_CORE = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
"""

_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],'
    'AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,'
    'AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]'
)

_REFERENCE_SYSTEMS = (
    ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "undefined Cartesian coordinate reference system"),
    ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinate reference system"),
    ("WGS 84 geodetic", 4326, "EPSG", 4326, _WGS84, "longitude and latitude in decimal degrees on WGS 84"),
)

# Annex F.3 of OGC 12-128r17 (1.3); bodies as the standard words them for table t, geometry column geom and key fid.
_RTREE = """
CREATE VIRTUAL TABLE rtree_{t}_geom USING rtree(id, minx, maxx, miny, maxy);
CREATE TRIGGER rtree_{t}_geom_insert AFTER INSERT ON {t} WHEN (NEW.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN INSERT OR REPLACE INTO rtree_{t}_geom VALUES ({box}); END;
CREATE TRIGGER rtree_{t}_geom_update1 AFTER UPDATE OF geom ON {t}
WHEN OLD.fid = NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN INSERT OR REPLACE INTO rtree_{t}_geom VALUES ({box}); END;
CREATE TRIGGER rtree_{t}_geom_update2 AFTER UPDATE OF geom ON {t}
WHEN OLD.fid = NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; END;
CREATE TRIGGER rtree_{t}_geom_update3 AFTER UPDATE ON {t}
WHEN OLD.fid != NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; INSERT OR REPLACE INTO rtree_{t}_geom VALUES ({box}); END;
CREATE TRIGGER rtree_{t}_geom_update4 AFTER UPDATE ON {t}
WHEN OLD.fid != NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id IN (OLD.fid, NEW.fid); END;
CREATE TRIGGER rtree_{t}_geom_delete AFTER DELETE ON {t} WHEN OLD.geom NOT NULL
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; END;
"""
_BOX = "NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)"
_RTREE_DEFINITION = "http://www.geopackage.org/spec130/#extension_rtree"


def _quoted(*values: str | int | None) -> str:
    return ", ".join("NULL" if v is None else str(v) if isinstance(v, int) else f"'{v}'" for v in values)


def _create(table: Table) -> str:
    geometry = f"geom {table.geometry} NOT NULL, " if table.geometry else ""
    sql = f"CREATE TABLE {table.name} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {geometry}{table.columns});\n"
    kind, srs = ("features", 4326) if table.geometry else ("attributes", None)
    sql += (
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES "
        f"({_quoted(table.name, kind, table.name, table.about, srs)});\n"
    )
    if table.geometry:
        sql += (
            f"INSERT INTO gpkg_geometry_columns VALUES ({_quoted(table.name, 'geom', table.geometry, 4326, 0, 0)});\n"
        )
        extension = _quoted(table.name, "geom", "gpkg_rtree_index", _RTREE_DEFINITION, "write-only")
        sql += f"INSERT INTO gpkg_extensions VALUES ({extension});\n"
        sql += _RTREE.format(t=table.name, box=_BOX)
    return sql


# Each column that points at another row: without its index every deletion would read the whole table.
_INDEXES = """
CREATE INDEX measurement_tree ON measurement(tree_key);
CREATE INDEX tap_hole_tree ON tap_hole(tree_key);
CREATE INDEX collection_hole ON collection(hole_key);
CREATE INDEX observation_tree ON observation(tree_key);
CREATE INDEX stop_walk ON stop(walk_key);
CREATE INDEX tree_merged ON tree(merged_into);
CREATE INDEX tree_walk ON tree(walk_key);
CREATE INDEX stop_tree ON stop(tree_key);
CREATE INDEX media_tree ON media(tree_key);
CREATE INDEX plan_tree ON plan(tree_key);
CREATE INDEX observation_hole ON observation(hole_key);
CREATE INDEX collection_batch ON collection(batch_key);
"""
_INDEXES_OF_2 = """
CREATE INDEX taken_tree ON taken_position(tree_key);
CREATE INDEX taken_place ON taken_position(place_key);
CREATE INDEX taken_walk ON taken_position(walk_key);
CREATE INDEX sight_from ON sight(from_key);
CREATE INDEX sight_to ON sight(to_key);
"""


_INDEXES_OF_3 = "CREATE INDEX planned_walk_day ON planned_walk(day);\n"


def creation_sql() -> str:
    """Return the script that makes an empty stand of the present schema, without BEGIN and COMMIT."""
    reference = "".join(f"INSERT INTO gpkg_spatial_ref_sys VALUES ({_quoted(*row)});\n" for row in _REFERENCE_SYSTEMS)
    tables = "".join(_create(t) for t in TABLES)
    indexes = _INDEXES + _INDEXES_OF_2 + _INDEXES_OF_3
    return f"{_CORE}{reference}{tables}{indexes}INSERT INTO standmap_schema (number) VALUES ({SCHEMA});\n"


def layout_2_sql() -> list[str]:
    """Return the statements that turn layout 1 into layout 2: what positions rest on.

    Until then the part of a stop's variance that its walk shares was always that of 1.5 m.
    """
    made = "".join(_create(TABLE[name]) for name in ("taken_position", "sight"))
    return [
        "ALTER TABLE stop ADD COLUMN shared_m2 REAL NOT NULL DEFAULT 0",
        "UPDATE stop SET shared_m2 = 2.25",
        *_statements(made + _INDEXES_OF_2),
    ]


def layout_3_sql() -> list[str]:
    """Return the statements that turn layout 2 into layout 3: walks given out, heights, signs of the season."""
    made = "".join(_create(TABLE[name]) for name in ("season_sign", "planned_walk", "terrain"))
    return [
        "ALTER TABLE collection ADD COLUMN overflowed BOOLEAN NOT NULL DEFAULT 0",
        "ALTER TABLE collection ADD COLUMN total_key TEXT",
        "ALTER TABLE batch ADD COLUMN temperature_c REAL",
        "ALTER TABLE batch ADD COLUMN fate TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE batch ADD COLUMN fate_on DATE",
        "ALTER TABLE weather ADD COLUMN station TEXT NOT NULL DEFAULT ''",
        *_statements(made + _INDEXES_OF_3),
    ]


def _statements(script: str) -> list[str]:
    """Return the statements of a script one by one; a trigger holds several semicolons."""
    found: list[str] = []
    begun = ""
    for piece in script.split(";"):
        begun = f"{begun};{piece}" if begun else piece
        if sqlite3.complete_statement(f"{begun};"):
            if begun.strip():
                found.append(begun.strip())
            begun = ""
    return found
