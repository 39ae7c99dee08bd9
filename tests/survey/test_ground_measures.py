"""Lengths and areas on the ellipsoid, and the length of a scale bar."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.survey.frame import WorkingFrame
from standmap.survey.measuring import area, line, nice_length

FRAME = WorkingFrame(29.76, 62.6)


def on_ground(*xy: tuple[float, float]) -> list[tuple[float, float]]:
    lon, lat = FRAME.to_lonlat(*np.array(xy, dtype=float).T)
    return [(float(a), float(b)) for a, b in zip(lon, lat, strict=True)]


def test_a_line_has_legs_and_bearings() -> None:
    measured = line(on_ground((0, 0), (0, 30), (40, 30)))
    assert measured.legs_m == pytest.approx((30.0, 40.0), abs=1e-5)
    assert measured.length_m == pytest.approx(70.0, abs=1e-5)
    assert measured.bearings_deg == pytest.approx((0.0, 90.0), abs=1e-3)


def test_an_area_has_a_perimeter_whichever_way_round() -> None:
    corners = on_ground((0, 0), (40, 0), (40, 25), (0, 25))
    for points in (corners, corners[::-1]):
        measured = area(points)
        assert measured.area_m2 == pytest.approx(1000.0, abs=1e-3)
        assert measured.perimeter_m == pytest.approx(130.0, abs=1e-5)
        assert not measured.crosses_itself


def test_an_outline_that_crosses_itself_has_no_area() -> None:
    measured = area(on_ground((0, 0), (40, 25), (40, 0), (0, 25)))
    assert measured.crosses_itself
    assert math.isnan(measured.area_m2)
    assert measured.perimeter_m == pytest.approx(2 * (math.hypot(40, 25) + 25), abs=1e-4)


def test_an_area_across_the_antimeridian() -> None:
    here = area([(24.0, 60.0), (25.0, 60.0), (25.0, 60.5), (24.0, 60.5)])
    there = area([(179.5, 60.0), (-179.5, 60.0), (-179.5, 60.5), (179.5, 60.5)])
    assert there.area_m2 == pytest.approx(here.area_m2, rel=1e-9)
    assert not there.crosses_itself


@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=3, max_size=8, unique=True))
def test_areas_agree_with_a_second_implementation(xy: list[tuple[float, float]]) -> None:
    points = on_ground(*xy)
    measured = area(points)
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in points:
        polygon.AddPoint(lat, lon)
    _, perimeter, size = polygon.Compute(reverse=False, sign=True)
    assert measured.perimeter_m == pytest.approx(perimeter, abs=1e-6)
    if not measured.crosses_itself:
        assert measured.area_m2 == pytest.approx(abs(size), abs=0.02)


def test_too_few_points() -> None:
    with pytest.raises(UserError, match="a line needs two points"):
        line([(29.0, 62.0)])
    with pytest.raises(UserError, match="an area needs three points"):
        area([(29.0, 62.0), (29.1, 62.0)])


@pytest.mark.parametrize(
    ("most", "nice"),
    [(1, 1), (1.99, 1), (2, 2), (4.9, 2), (5, 5), (9.99, 5), (10, 10), (137, 100), (0.3, 0.2), (2e5, 2e5)],
)
def test_nice_lengths(most: float, nice: float) -> None:
    assert nice_length(most) == pytest.approx(nice)
