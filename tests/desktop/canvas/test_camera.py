"""The view of the plane: there and back, zoom about a point, and fitting between what floats over the map."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from standmap.desktop.canvas.camera import MOST_PX_PER_M, Camera

metres = st.floats(-5000, 5000)
cameras = st.builds(
    Camera,
    metres,
    metres,
    st.floats(0.01, 200),
    st.floats(0, 360, exclude_max=True),
    st.floats(200, 3000),
    st.floats(200, 2000),
)
pixels = st.tuples(st.floats(-500, 3500), st.floats(-500, 2500))
positions = st.lists(st.tuples(metres, metres), min_size=1, max_size=12)


@given(cameras, positions)
def test_screen_and_world_are_each_other_s_inverse(camera: Camera, points: list[tuple[float, float]]) -> None:
    xy = np.array(points)
    assert camera.to_world(camera.to_screen(xy)) == pytest.approx(xy, abs=1e-6)


@given(cameras, st.floats(0.2, 5), pixels)
def test_zoom_keeps_what_lies_under_the_pointer(camera: Camera, factor: float, at: tuple[float, float]) -> None:
    x, y = camera.point_to_world(*at)
    assert camera.zoomed(factor, at).point_to_screen(x, y) == pytest.approx(at, abs=1e-5)


@given(cameras, st.floats(-720, 720), pixels)
def test_turning_keeps_what_it_turns_about(camera: Camera, bearing: float, at: tuple[float, float]) -> None:
    x, y = camera.point_to_world(*at)
    turned = camera.turned(bearing, at)
    assert turned.point_to_screen(x, y) == pytest.approx(at, abs=1e-4)
    assert 0 <= turned.turn_deg < 360


@given(cameras, pixels)
def test_pushing_moves_everything_by_as_much(camera: Camera, by: tuple[float, float]) -> None:
    before = camera.to_screen(np.array([[0.0, 0.0], [10.0, 3.0]]))
    after = camera.panned(*by).to_screen(np.array([[0.0, 0.0], [10.0, 3.0]]))
    assert after - before == pytest.approx(np.array([by, by]), abs=1e-4)


@given(
    cameras,
    positions,
    st.tuples(st.floats(0, 350), st.floats(0, 60), st.floats(0, 350), st.floats(0, 60)),
)
def test_fit_holds_all_points_in_the_free_part(
    camera: Camera, points: list[tuple[float, float]], margins: tuple[float, float, float, float]
) -> None:
    left, top, right, bottom = margins
    assume(camera.width - left - right > 120)
    assume(camera.height - top - bottom > 120)
    fitted = camera.fitted(np.array(points), margins)
    at = fitted.to_screen(np.array(points))
    assert (at[:, 0] >= left - 1e-6).all()
    assert (at[:, 0] <= fitted.width - right + 1e-6).all()
    assert (at[:, 1] >= top - 1e-6).all()
    assert (at[:, 1] <= fitted.height - bottom + 1e-6).all()
    assert fitted.turn_deg == camera.turn_deg


@given(cameras, cameras)
def test_the_way_to_another_view_begins_here_and_ends_there(one: Camera, other: Camera) -> None:
    start, end = one.toward(other, 0.0), one.toward(other, 1.0)
    assert (start.centre_x, start.centre_y, start.px_per_m) == pytest.approx((one.centre_x, one.centre_y, one.px_per_m))
    assert end == other


def test_the_shorter_way_round_is_turned() -> None:
    assert Camera(turn_deg=350).toward(Camera(turn_deg=20), 0.5).turn_deg == pytest.approx(5)


def test_north_is_up_and_a_bearing_that_is_turned_to_points_up() -> None:
    camera = Camera(width=200, height=100)
    assert camera.point_to_screen(0, 10) == pytest.approx((100, 40))
    assert camera.point_to_screen(10, 0) == pytest.approx((110, 50))
    assert camera.turned(90).point_to_screen(10, 0) == pytest.approx((100, 40))


@given(cameras)
def test_the_box_holds_the_corners_of_the_view(camera: Camera) -> None:
    low_x, low_y, high_x, high_y = camera.box_m()
    for corner in ((0.0, 0.0), (camera.width, camera.height)):
        x, y = camera.point_to_world(*corner)
        assert low_x - 1e-6 <= x <= high_x + 1e-6
        assert low_y - 1e-6 <= y <= high_y + 1e-6


def test_nothing_to_fit_changes_nothing_and_one_tree_is_not_blown_up() -> None:
    camera = Camera(3, 4, 2, width=800, height=600)
    assert camera.fitted(np.full((3, 2), np.nan)) == camera
    alone = camera.fitted(np.array([[100.0, 50.0]]), (300, 0, 0, 0))
    assert alone.px_per_m < 20
    assert alone.point_to_screen(100, 50) == pytest.approx((550, 300))


def test_zoom_has_an_end() -> None:
    camera = Camera(width=800, height=600)
    assert camera.zoomed(1e9).px_per_m == MOST_PX_PER_M
    assert math.isfinite(camera.zoomed(1e-300).px_per_m)
