"""Whatever the bytes, a reader answers with findings or with one line that names the file."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.content import Findings
from standmap.formats.csv_table import UNDERSTOOD, read_trees_csv
from standmap.formats.door import read
from standmap.formats.geojson import read_geojson
from standmap.formats.gpx import read_gpx
from standmap.formats.records_csv import HEADER, read_records_csv

STARTS = [
    b"",
    b"<gpx>",
    b'<gpx version="1.1"><wpt lat="1" lon="2"/>',
    b"{",
    b'{"type": "Feature", ',
    b"name,lon,lat\n",
    b"date,tmin,tmax\n2026-03-01,1,",
    b"sign,date,note\nleaf-out,",
    b"USW00094728,20240715,TMAX,356,,,W,2400\nUSW",
    b"STATION,DATE,TMAX,TMAX_ATTRIBUTES\nX,2026-03-01,",
    b"AE000041196194403TMAX-9999   -9999   ",
]

NUMBERS = st.one_of(
    st.integers(), st.floats(), st.integers(-200, 200), st.sampled_from(["", "1e999", "-0", "٣", "1_0", "0x1", " 7 "])
)
WORDS = st.one_of(st.text(max_size=12), st.sampled_from(["gate", "path", "permitted", "tree", "2025-04-01", "tapped"]))


def answered(reader: Callable[[Path], object], content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "some.file"
        path.write_bytes(content)
        said: list[str] = []
        try:
            found = reader(path)
        except UserError as refusal:
            said = [str(refusal)]
        else:
            said = [f"some.file {row.where}: {row.why}" for row in found.skipped] if isinstance(found, Findings) else []
    for text in said:
        assert text.startswith("some.file")
        assert not set(text) & set("\r\n\x1b\0\u2028")


@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=400))
@settings(deadline=None, max_examples=150)
@example(b"", b"\xff\xfe\x00")
@example(b"", b"\xff\xfe\x00\x00A\x00\x00\x00")
@example(b"", b"\xfe\xff\xd8\x00")
@example(b"", b"+/v8-")
@example(b"", b"<\x00g\x00p\x00x\x00/\x00>\x00")
def test_any_bytes(start: bytes, rest: bytes) -> None:
    for reader in (read, read_gpx, read_geojson, read_trees_csv, read_records_csv):
        answered(reader, start + rest)


TAGS = ["wpt", "trk", "trkseg", "trkpt", "rte", "rtept", "name", "type", "ele", "time", "hdop", "accuracy", "x"]


@st.composite
def elements(draw: st.DrawFn, depth: int = 0) -> str:
    tag = draw(st.sampled_from(TAGS))
    attributes = "".join(f' {name}="{draw(NUMBERS)}"' for name in ("lat", "lon") if draw(st.booleans()))
    text = draw(
        st.one_of(NUMBERS, st.sampled_from(["2025-04-01T07:30:00Z", "gate", "&lt;", "<![CDATA[x]]>", "<!--x-->"]))
    )
    inside = "" if depth > 3 else "".join(draw(st.lists(elements(depth + 1), max_size=3)))
    return f"<{tag}{attributes}>{text}{inside}</{tag}>"


@given(inside=st.lists(elements(), max_size=4))
@settings(deadline=None, max_examples=100)
def test_any_gpx(inside: list[str]) -> None:
    answered(read, f"<gpx>{''.join(inside)}</gpx>".encode())


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), NUMBERS, WORDS),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=8,
)
PROPERTY_NAMES = [
    *("id", "kind", "name", "species", "girth_mm", "dbh_cm", "girth", "measured_on", "standing", "soundness"),
    *("var_e_m2", "var_n_m2", "measurements", "holes", "observations", "pinned", "note", "owner", "from", "made_on"),
    *("most_trees", "collections", "volume_ml", "collected_on", "what", "hole", "observed_on", "number", "made_at"),
]
PROPERTIES = st.dictionaries(st.sampled_from(PROPERTY_NAMES), VALUES, max_size=6)
SHAPES = st.sampled_from(
    [
        "Point",
        "LineString",
        "Polygon",
        "MultiPoint",
        "MultiLineString",
        "MultiPolygon",
        "GeometryCollection",
        "Feature",
        "",
    ]
)
ARRAYS = st.recursive(NUMBERS | st.none(), lambda inner: st.lists(inner, max_size=5), max_leaves=20)
GEOMETRIES = st.one_of(
    st.none(),
    st.fixed_dictionaries({"type": SHAPES, "coordinates": ARRAYS}),
    st.fixed_dictionaries({"type": SHAPES, "geometries": st.lists(VALUES, max_size=3)}),
    st.just({"type": "Point", "coordinates": [29, 62]}),
)
NESTED = st.fixed_dictionaries(
    {},
    optional={
        "measurements": st.lists(PROPERTIES, max_size=2),
        "holes": st.lists(PROPERTIES, max_size=2),
        "observations": st.lists(PROPERTIES, max_size=2),
        "id": WORDS,
    },
)


@given(
    features=st.lists(
        st.fixed_dictionaries(
            {"type": st.just("Feature"), "geometry": GEOMETRIES, "properties": PROPERTIES | NESTED | VALUES},
            optional={"id": VALUES, "bbox": ARRAYS},
        ),
        max_size=3,
    )
)
@settings(deadline=None, max_examples=200)
def test_any_geojson(features: list[dict[str, Any]]) -> None:
    answered(read, json.dumps({"type": "FeatureCollection", "features": features}).encode())


TREE_COLUMNS = [word.strip("()") for part in UNDERSTOOD.split(",") for word in part.split()]


@given(
    header=st.lists(st.sampled_from([*HEADER, *TREE_COLUMNS, "lon", "lat", "dbh_cm", "given"]), max_size=8),
    rows=st.lists(st.lists(st.one_of(NUMBERS, WORDS), max_size=9), max_size=4),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
@settings(deadline=None, max_examples=200)
def test_any_table(header: list[str], rows: list[list[object]], delimiter: str, encoding: str) -> None:
    lines = [delimiter.join(header), *(delimiter.join(str(cell) for cell in row) for row in rows)]
    content = "\n".join(lines).encode(encoding, errors="replace")
    answered(read, content)
    answered(read_records_csv, content)
    answered(lambda path: read_trees_csv(path, crs="EPSG:3067"), content)


DAYS = st.sampled_from(["2026-03-01", "2024-02-29", "2025-02-29", "1.3.2026", "20260301", "2026-03-01 07:00", "", "x"])


@given(
    headings=st.lists(
        st.sampled_from(["date", "time", "tmin", "tmax_f", "Temp (K)", "rain in", "wind kn", "station", "lat", "x"]),
        min_size=1,
        max_size=6,
    ),
    rows=st.lists(st.tuples(DAYS, st.lists(st.one_of(NUMBERS.map(str), WORDS), max_size=6)), max_size=4),
    station=st.none() | st.text(max_size=5),
)
@settings(deadline=None, max_examples=150)
def test_any_cells_of_weather(headings: list[str], rows: list[tuple[str, list[str]]], station: str | None) -> None:
    lines = [",".join(["date", *headings]), *(",".join([day, *cells]) for day, cells in rows)]
    content = "\n".join(lines).encode("utf-8", "replace")
    answered(lambda path: read(path, station=station), content)
