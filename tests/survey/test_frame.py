"""The working frame: metres there and back, scale, convergence and its sign, and where the centre falls."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS, Proj

from standmap.errors import UserError
from standmap.survey.frame import (
    WorkingFrame,
    centre_of,
    middle_of,
    rough_distance_m,
    true_azimuth,
    true_distance,
)

# A stand's centre has six decimals; nearer to the equator than that, but not on it, the projection is off by a fifth of
# a millimetre.
centres = st.builds(
    lambda lon, lat: WorkingFrame(round(lon, 6), round(lat, 6)), st.floats(-180, 180), st.floats(-80, 80)
)
offsets = st.floats(-5000, 5000)


@given(centres, offsets, offsets)
def test_there_and_back_within_a_millimetre(frame: WorkingFrame, x: float, y: float) -> None:
    lon, lat = frame.to_lonlat(np.array([x]), np.array([y]))
    back_x, back_y = frame.to_xy(lon, lat)
    assert abs(back_x[0] - x) < 0.001
    assert abs(back_y[0] - y) < 0.001


@given(centres, offsets, offsets)
def test_grid_distance_is_the_geodesic_within_its_scale_error(frame: WorkingFrame, x: float, y: float) -> None:
    lon, lat = frame.to_lonlat(np.array([x]), np.array([y]))
    true = true_distance((frame.lon0, frame.lat0), (float(lon[0]), float(lat[0])))
    assert true == pytest.approx(float(np.hypot(x, y)), rel=0.4e-6, abs=1e-5)


@given(centres, offsets, offsets, st.floats(0, 360), st.floats(1, 300))
def test_grid_bearing_plus_convergence_is_the_true_bearing(
    frame: WorkingFrame, x: float, y: float, grid_deg: float, length: float
) -> None:
    xs = np.array([x, x + length * np.sin(np.radians(grid_deg))])
    ys = np.array([y, y + length * np.cos(np.radians(grid_deg))])
    lon, lat = frame.to_lonlat(xs, ys)
    a, b = zip(lon.tolist(), lat.tolist(), strict=True)
    azimuth = true_azimuth(a, b)
    by_hand = grid_deg + float(frame.convergence_deg(lon[:1], lat[:1])[0])
    by_frame = float(frame.true_bearing_deg(xs[:1], ys[:1], xs[1:], ys[1:])[0])
    assert abs((by_hand - azimuth + 180) % 360 - 180) < 0.001
    assert abs((by_frame - azimuth + 180) % 360 - 180) < 0.001
    assert 0 <= by_frame < 360 or by_frame == pytest.approx(360)


def test_convergence_is_positive_east_of_the_centre_in_the_north_and_negative_in_the_south() -> None:
    north, south = WorkingFrame(27.6, 61.9), WorkingFrame(27.6, -61.9)
    east = np.array([27.7])
    assert north.convergence_deg(east, np.array([61.9]))[0] == pytest.approx(0.1 * np.sin(np.radians(61.9)), abs=1e-4)
    assert south.convergence_deg(east, np.array([-61.9]))[0] < 0


@given(st.floats(-80, 80), st.floats(-50_000, 50_000))
def test_scale_error_agrees_with_the_projection_library(lat0: float, x: float) -> None:
    frame = WorkingFrame(27.6, lat0)
    lon, lat = frame.to_lonlat(np.array([x]), np.array([0.0]))
    factors = Proj(frame.proj_text).get_factors(float(lon[0]), float(lat[0]))
    # The factors are made by small differences and hold about 1e-3 millionths.
    assert frame.scale_error_ppm(np.array([x]))[0] == pytest.approx(1e6 * (factors.meridional_scale - 1), abs=0.01)


def test_its_text_is_a_coordinate_system_that_others_read() -> None:
    crs = CRS.from_user_input(WorkingFrame(27.6, 61.9).proj_text)
    assert crs.is_projected
    assert crs.datum is not None
    assert "World Geodetic System 1984" in crs.datum.name
    assert [axis.unit_name for axis in crs.axis_info] == ["metre", "metre"]


def test_far_positions_and_such_that_are_none_are_refused() -> None:
    frame = WorkingFrame(27.6, 61.9)
    for lon, lat in ((27.6, 63.0), (-27.6, 61.9), (float("nan"), 61.9), (27.6, float("inf")), (27.6, 91.0)):
        with pytest.raises(UserError, match="100 km"):
            frame.to_xy(np.array([27.6, lon]), np.array([61.9, lat]))
        assert frame.reaches(np.array([27.6, lon]), np.array([61.9, lat])).tolist() == [True, False]
    with pytest.raises(ValueError, match="outside the working frame"):
        frame.to_lonlat(np.array([150_000.0]), np.array([0.0]))


@pytest.mark.parametrize(("lon", "lat"), [(0.0, 90.0), (10.0, -89.5)])
def test_no_frame_at_a_pole(lon: float, lat: float) -> None:
    with pytest.raises(UserError, match="pole"):
        WorkingFrame(lon, lat)


@pytest.mark.parametrize(("lon", "lat"), [(181.0, 0.0), (0.0, 91.0), (float("nan"), 0.0), (0.0, float("inf"))])
def test_no_frame_off_the_earth(lon: float, lat: float) -> None:
    with pytest.raises(ValueError, match="no position on Earth"):
        WorkingFrame(lon, lat)


@given(
    st.lists(st.tuples(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05)), min_size=1, max_size=20), st.floats(-180, 180)
)
def test_centre_lies_among_the_points_on_any_meridian(points: list[tuple[float, float]], lon0: float) -> None:
    turned = [((lon0 + dx + 180) % 360 - 180, 60 + dy) for dx, dy in points]
    frame = centre_of(turned)
    lon, lat = np.array(turned).T
    assert frame.reaches(lon, lat).all()
    x, y = frame.to_xy(lon, lat)
    slack = 2.0  # six decimals of a degree, and a parallel is no straight line on the grid
    assert x.min() - slack <= 0 <= x.max() + slack
    assert y.min() - slack <= 0 <= y.max() + slack
    assert frame == centre_of(turned[::-1])


def test_centre_across_the_antimeridian_and_beside_an_outlier() -> None:
    assert centre_of([(179.99, 66.0), (-179.99, 66.0)]) in (WorkingFrame(-180.0, 66.0), WorkingFrame(180.0, 66.0))
    assert centre_of([(27.6, 61.9), (27.61, 61.91), (27.62, 61.92), (-3.0, 50.0), (27.605, 61.905)]).lat0 == 61.905
    assert centre_of([(27.123456789, 61.123456789)]) == WorkingFrame(27.123457, 61.123457)


def test_centre_needs_points_on_earth() -> None:
    for points in ([], [(27.6, float("nan"))], [(200.0, 0.0)]):
        with pytest.raises(ValueError, match="at least one position"):
            centre_of(points)
    with pytest.raises(UserError, match="pole"):
        centre_of([(0.0, 89.9)])


@given(st.floats(-180, 180), st.floats(-89, 89), st.floats(-1, 1), st.floats(-1, 1))
def test_rough_distance_is_good_to_half_a_percent(lon: float, lat: float, dx: float, dy: float) -> None:
    other = ((lon + dx + 180) % 360 - 180, max(-90.0, min(90.0, lat + dy)))
    rough = float(rough_distance_m(np.array([other[0]]), np.array([other[1]]), lon, lat)[0])
    assert rough == pytest.approx(true_distance((lon, lat), other), rel=0.006, abs=0.01)


def test_azimuth_of_one_and_the_same_place_is_nought() -> None:
    assert true_azimuth((27.6, 61.9), (27.6, 61.9)) == 0.0
    assert true_azimuth((27.6, 61.9), (27.6, 61.8)) == pytest.approx(180.0)
    assert true_azimuth((27.6, 61.9), (27.5, 61.9)) == pytest.approx(270.0, abs=0.1)


def test_middle_is_the_median() -> None:
    assert middle_of(np.array([1.0, 2.0, 50.0]), np.array([3.0, 1.0, 2.0])) == (2.0, 2.0)
