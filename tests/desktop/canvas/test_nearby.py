"""Finding points among many, and how far apart they stand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.canvas.detail import DIAL_ROOM_PX, detail
from standmap.desktop.canvas.nearby import Nearby, spacing_m

numbers = st.floats(-100, 100) | st.integers(-5, 5).map(float)
points = st.lists(st.tuples(numbers | st.just(np.nan), numbers), max_size=30).map(lambda p: np.array(p).reshape(-1, 2))


@given(points, numbers, numbers, st.floats(0, 100), st.floats(0, 100))
def test_a_box_finds_what_lies_in_it(xy: np.ndarray, x: float, y: float, wide: float, high: float) -> None:
    found = Nearby(xy).within((x, y, x + wide, y + high))
    inside = (xy[:, 0] >= x) & (xy[:, 0] <= x + wide) & (xy[:, 1] >= y) & (xy[:, 1] <= y + high)
    assert sorted(found.tolist()) == np.flatnonzero(inside).tolist()


@given(points, numbers, numbers, st.floats(0, 100))
def test_a_place_finds_what_is_near_the_nearest_first(xy: np.ndarray, x: float, y: float, reach: float) -> None:
    rows, away = Nearby(xy).about(x, y, reach)
    apart = np.hypot(xy[:, 0] - x, xy[:, 1] - y)
    clear = np.abs(apart - reach) > 1e-9 * max(reach, 1.0)  # at the very rim rounding decides
    assert (
        sorted(set(rows.tolist()) & set(np.flatnonzero(clear).tolist()))
        == np.flatnonzero((apart <= reach) & clear).tolist()
    )
    assert (np.diff(away) >= 0).all()


def test_spacing_is_that_of_a_grid_and_one_far_tree_does_not_change_it() -> None:
    xy = np.array([(5.0 * i, 5.0 * k) for i in range(40) for k in range(40)])
    assert spacing_m(xy) == pytest.approx(5, rel=0.15)
    assert spacing_m(np.vstack([xy, [[90_000.0, 90_000.0]]])) == pytest.approx(spacing_m(xy), rel=0.05)


def test_spacing_of_two_woods_is_not_that_of_the_meadow_between() -> None:
    wood = np.array([(5.0 * i, 5.0 * k) for i in range(30) for k in range(30)])
    assert spacing_m(np.vstack([wood, wood + np.array([3000, 0])])) == pytest.approx(5, rel=0.5)


def test_one_tree_or_a_hundred_on_one_spot_are_no_trouble() -> None:
    assert spacing_m(np.zeros((1, 2))) == np.inf
    assert spacing_m(np.zeros((100, 2))) >= 0
    assert spacing_m(np.zeros((0, 2))) == np.inf


def test_trees_are_dials_near_by_and_dots_from_afar() -> None:
    near, far = detail(5.0, 100.0), detail(5.0, 0.1)
    assert (near.dial_scale, near.names) == (1.0, True)
    assert (far.dial_scale, far.dot_px, far.names) == (None, 0.5, False)
    radii = [detail(1.0, px).radius_px(12.0) for px in np.geomspace(0.1, 2 * DIAL_ROOM_PX, 60)]
    assert radii == sorted(radii)
    assert detail(5.0, 200.0, 2.0).dial_scale == 2.0
