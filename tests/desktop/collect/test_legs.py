"""Lines of a round on the screen: cut at stops, moved aside, arrows, numbers clear of lines."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from standmap.desktop.pages.collect.legs import ARROW_AT, ASIDE_PX, Lines, legs_of, number_places

FloatArray = NDArray[np.float64]


def same(points: FloatArray) -> FloatArray:
    return points


def test_a_course_is_cut_at_its_stops_where_it_reaches_them() -> None:
    course = np.array([[0, 0], [5, 5], [10, 0], [10, 10], [5, 5], [0, 0]], float)
    legs = legs_of(course, np.array([[10, 0], [10, 10.05]]))
    assert [leg.tolist() for leg in legs] == [
        [[0, 0], [5, 5], [10, 0]],
        [[10, 0], [10, 10]],
        [[10, 10], [5, 5], [0, 0]],
    ]


def test_two_stops_at_one_spot_make_a_leg_of_one_point() -> None:
    course = np.array([[0, 0], [10, 0], [0, 0]], float)
    legs = legs_of(course, np.array([[10, 0], [10, 0]]))
    assert [len(leg) for leg in legs] == [2, 1, 2]
    drawn = Lines([legs]).on_screen(same, 0, 0)
    assert [len(trip) for trip in drawn.trips] == [2]


def test_lines_run_at_the_right_of_the_way_and_keep_clear_of_marks() -> None:
    there = np.array([[0, 0], [50, 0], [50, 0], [50, 50]], float)
    back = there[::-1].copy()
    drawn = Lines([[there, back]]).on_screen(same, 10, 5)
    out, home = drawn.trips[0]
    right = ASIDE_PX
    assert np.allclose(out[0], [10, right])
    assert np.allclose(out[1], [50 - right, right])  # at the right of both stretches
    assert np.allclose(out[-1], [50 - right, 45])
    assert np.allclose(home[0], [50 + right, 45])
    assert np.allclose(home[-1], [10, -right])


def test_a_sharp_turn_makes_no_spike() -> None:
    line = np.array([[0, 0], [50, 0], [0, 0.1]], float)
    (drawn,) = Lines([[line]]).on_screen(same, 0, 0).trips[0]
    assert np.hypot(*(drawn - (50, 0)).T).min() < 3 * ASIDE_PX
    assert drawn[:, 0].max() < 50 + 3 * ASIDE_PX


def test_a_leg_too_short_to_be_seen_is_left_out() -> None:
    near, far = np.array([[0, 0], [15, 0]], float), np.array([[15, 0], [90, 0]], float)
    drawn = Lines([[near, far], [near[::-1]]]).on_screen(same, 8, 8)
    assert [len(trip) for trip in drawn.trips] == [1, 0]
    assert len(drawn.arrows) == 1
    assert drawn.arrow_trips.tolist() == [0]


def test_a_round_draws_itself_from_its_start() -> None:
    trips = [[np.array([[0, 0], [100, 0]], float)], [np.array([[100, 0], [100, 100]], float)]]
    half = Lines(trips).on_screen(same, 0, 0, part=0.25)
    assert half.trips[1] == ()
    assert half.trips[0][0][-1][0] == pytest.approx(50, abs=1)
    assert Lines(trips).on_screen(same, 0, 0, part=0.0).trips == ((), ())
    assert len(Lines(trips).on_screen(same, 0, 0, part=0.75).trips[1]) == 1


def test_the_arrow_stands_on_the_longest_stretch_and_points_along() -> None:
    line = np.array([[0, 0], [10, 0], [10, 60]], float)
    (arrow,) = Lines([[line]]).on_screen(same, 0, 0).arrows
    assert arrow == pytest.approx((10 - ASIDE_PX, 60 * ARROW_AT, np.pi / 2), abs=2)
    assert len(Lines([[np.array([[0, 0], [10, 0]], float)]]).on_screen(same, 0, 0).arrows) == 0


def test_no_lines_are_no_lines() -> None:
    drawn = Lines([[np.zeros((1, 2))]]).on_screen(same, 5, 5)
    assert drawn.trips == ((),)
    assert drawn.arrows.shape == (0, 3)


def test_numbers_are_clear_of_lines_and_of_each_other() -> None:
    stops = np.array([[100, 100], [130, 100]], float)
    across = np.array([[0, 100], [300, 100]], float)
    up = np.array([[100, 100], [100, 0]], float)
    sizes = [(16.0, 15.0)] * 2
    places = number_places(stops, [12.0, 12.0], sizes, [across, up], np.array([[85.0, 85.0]]))
    for (x, y), stop in zip(places, stops, strict=True):
        assert abs(y - 100) > 7.5  # not on the line across
        assert 12 <= np.hypot(x - stop[0], y - stop[1]) < 50
    assert abs(places[0][0] - 100) > 8  # not on the line up
    assert np.hypot(*(places[0] - places[1])) > 16
    assert np.hypot(*(places[0] - (85, 85))) > 16


def test_a_number_without_anything_round_its_stop_stands_up_to_the_right() -> None:
    (place,) = number_places(np.array([[50.0, 50.0]]), [10.0], [(8.0, 15.0)], [], np.zeros((0, 2)))
    assert place[0] > 50
    assert place[1] < 50
