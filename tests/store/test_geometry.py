"""Geometry blobs, held against shapely as a second reader and writer."""

from __future__ import annotations

import struct

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from standmap.store import geometry

degrees = st.tuples(
    st.floats(-180, 180, allow_nan=False, allow_subnormal=False),
    st.floats(-90, 90, allow_nan=False, allow_subnormal=False),
)


@given(degrees)
def test_point_comes_back_exactly(at: tuple[float, float]) -> None:
    blob = geometry.point_blob(at)
    assert geometry.point_of(blob) == at
    assert shapely.from_wkb(blob[8:]).coords[0] == at


@given(st.lists(degrees, min_size=2, max_size=20))
def test_line_comes_back_exactly_with_its_envelope(course: list[tuple[float, float]]) -> None:
    blob = geometry.line_blob(course)
    assert geometry.line_of(blob) == tuple(course)
    low_x, high_x, low_y, high_y = struct.unpack_from("<4d", blob, 8)
    assert (low_x, low_y, high_x, high_y) == shapely.from_wkb(blob[40:]).bounds


def test_polygon_with_a_hole_comes_back() -> None:
    outer = ((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0), (0.0, 0.0))
    hole = ((1.0, 1.0), (1.0, 2.0), (2.0, 2.0), (1.0, 1.0))
    blob = geometry.polygon_blob((outer, hole))
    assert geometry.polygon_of(blob) == (outer, hole)
    assert shapely.from_wkb(blob[40:]).area == 16 - 0.5


@pytest.mark.parametrize("byte_order", [0, 1])
def test_reads_what_another_program_wrote(byte_order: int) -> None:
    point = shapely.to_wkb(shapely.Point(24.5, 60.25), byte_order=byte_order)
    line = shapely.to_wkb(shapely.LineString([(1, 2), (3, 4)]), byte_order=byte_order)
    envelope = struct.pack("<4d", 24.5, 24.5, 60.25, 60.25)
    header = struct.pack("<2sBBi", b"GP", 0, 0b11, 4326)
    assert geometry.point_of(header + envelope + point) == (24.5, 60.25)
    bare = struct.pack("<2sBBi", b"GP", 0, 1, 4326)
    assert geometry.line_of(bare + line) == ((1.0, 2.0), (3.0, 4.0))
    assert [geometry.SQL_FUNCTIONS[f](bare + line) for f in ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY")] == [
        1,
        3,
        2,
        4,
    ]


def test_an_empty_point_is_empty_and_no_position() -> None:
    empty = bytes.fromhex("47500011e61000000101000000000000000000f87f000000000000f87f")
    assert geometry.SQL_FUNCTIONS["ST_IsEmpty"](empty) == 1
    assert geometry.SQL_FUNCTIONS["ST_IsEmpty"](geometry.point_blob((1, 2))) == 0
    assert geometry.SQL_FUNCTIONS["ST_MinX"](None) is None
